"""Two carts of the demo yard are hired in: one is out for a customer, the other's hire has ended and its owner was not rung."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from decimal import Decimal
from functools import partial

from config.demo.story import Script, World
from hire.actions.hired_in import OwnerTerms, hire_in_cart
from hire.actions.owners import add_owner, record_owner_paper
from hire.models.owners import Owner

# Cart, from and until in days from today, a day, a week, 4 weeks, minimum.
HIRED_IN = (("WC-17", -4, 12, 240, 1200, 4100, 7), ("WC-23", -14, 1, 210, 1050, None, 3))


def _owner(world: World, at: datetime) -> Owner:
    dot = world.people["dot"]
    owner = add_owner(
        name="Ninefold Plant", contact_name="Bel Ostrow", phone="08 5550 0377", email="yard@ninefold.example", by=dot, at=at
    )  # fmt: skip
    record_owner_paper(
        owner=owner,
        kind="insurance",
        number="NF-POL-318",
        expires_on=world.today + timedelta(days=140),
        by=dot,
        at=at,
    )
    return owner


def _hire_in(world: World, n: int, at: datetime) -> None:
    cart, first, last, day, week, four_weeks, minimum = HIRED_IN[n]
    owner = Owner.objects.first() or _owner(world, at)
    terms = OwnerTerms(
        Decimal(day), Decimal(week), Decimal(four_weeks) if four_weeks else None, minimum_days=minimum, cut_off=time(12),
        order_number=f"PO-69{n}0",
    )  # fmt: skip
    hire_in_cart(
        owner=owner, cart=world.carts[cart], starts_at=world.when(first, 6), ends_at=world.when(last, 16), terms=terms,
        by=world.people["dot"], at=at,
    )  # fmt: skip


def hired_in(world: World, script: Script) -> None:
    for n, (_, first, *_) in enumerate(HIRED_IN):
        script.at(world.when(first - 2, 9), partial(_hire_in, world, n))
