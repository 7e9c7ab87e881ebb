"""What happened in the demo yard in the last weeks, told by running the real actions in the order of their times."""

from __future__ import annotations

import heapq
import random
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from config.demo.walking import Fault, Odometer, Walker
from config.demo.yard import (
    BASE_GEAR,
    CARTS,
    CUSTOMERS,
    FUEL_TANKS_L,
    MAKES,
    PASSWORD,
    PEOPLE,
    PINS,
    axle_groups,
    gross_limit_kg,
    tank_size_m,
)
from fleet.actions.carts import CartDetails, add_cart, fit_gear
from fleet.actions.equipment import record_document
from fleet.actions.readings import change_meter
from fleet.models.carts import Cart
from fleet.vin import check_digit
from hire.actions import agreements, customers
from hire.models.agreements import Line
from hire.models.customers import Customer
from hire.suiting import ANY_CART, Needs
from inspections.editions import NothingToPublish, publish_edition
from inspections.models import SiteWalker
from people.actions import add_first_manager, add_staff
from people.models import Staff
from people.tablets.actions import set_pin
from people.yard import at_local, yard_day

# How far back km and depths go, brought over from workshop cards, and what each cart ran in that time.
PAST, PAST_KM = timedelta(days=300), 9000

Step = Callable[[datetime], object]


@dataclass
class World:
    """The yard as the story goes on."""

    now: datetime
    walker: Walker
    people: dict[str, Staff] = field(default_factory=dict)
    customers: list[Customer] = field(default_factory=list)
    carts: dict[str, Cart] = field(default_factory=dict)
    lines: dict[str, Line] = field(default_factory=dict)
    # Customers' drivers who sign their pre-starts themselves, by cart.
    drivers: dict[str, SiteWalker] = field(default_factory=dict)

    @property
    def today(self) -> date:
        return yard_day(self.now)

    def when(self, days: int, hour: int, minute: int = 0) -> datetime:
        """A local time some days from today."""
        return at_local(self.today + timedelta(days=days), time(hour, minute))


class Script:
    """Steps with their times; played in order, and only those whose time has come."""

    def __init__(self) -> None:
        self._steps: list[tuple[datetime, int, Step]] = []

    def at(self, when: datetime, step: Step) -> None:
        heapq.heappush(self._steps, (when, len(self._steps), step))

    def play(self, *, until: datetime) -> int:
        played = 0
        while self._steps and self._steps[0][0] <= until:
            when, _, step = heapq.heappop(self._steps)
            step(when)
            played += 1
        return played


def set_up(world: World) -> None:
    """People, customers, check sheets and carts, as they stood four weeks ago."""
    at = world.when(-28, 8)
    for username, full_name, role, mobile in PEOPLE:
        reach = {"email": f"{username}@redgumflat.example", "mobile": mobile}
        if role == "fleet_manager":
            world.people[username] = add_first_manager(
                username=username, full_name=full_name, password=PASSWORD, **reach, at=at
            )
        else:
            world.people[username] = add_staff(
                username=username,
                full_name=full_name,
                role=role,
                password=PASSWORD,
                **reach,
                by=world.people["noor"],
                at=at,
            )
    for username, pin in PINS.items():
        set_pin(pin=pin, by=world.people[username], at=at)
    # The start published the library already; the story only makes sure of it.
    with suppress(NothingToPublish):
        publish_edition(why="The library of this version of Slake.", by=None, at=at)
    for name, contact, phone, email, address in CUSTOMERS:
        world.customers.append(
            customers.add_customer(
                name=name,
                contact_name=contact,
                phone=phone,
                email=email,
                address=address,
                by=world.people["dot"],
                at=at,
            )
        )
    record_document(
        cart=None,
        kind="insurance",
        number="RGF-POL-2201",
        issued_on=world.today - timedelta(days=200),
        expires_on=world.today + timedelta(days=165),
        by=world.people["noor"],
        at=at,
    )
    for n in range(len(CARTS)):
        _cart(world, n, at)


def _vin(n: int) -> str:
    body = f"7RG0W{n % 10}K7{'ABCDEFGHJKLMNPRSTUVWXYZ'[n % 23]}0{n:06d}"
    body = (body + "0" * 17)[:17]
    return body[:8] + check_digit(body) + body[9:]


def _cart(world: World, n: int, at: datetime) -> None:
    plan, (make, model), noor = CARTS[n], MAKES[n % len(MAKES)], world.people["noor"]
    length, width, height = tank_size_m(plan)
    details = CartDetails(
        fleet_number=plan.fleet_number,
        make=make,
        model=model,
        build_year=plan.build_year,
        tank_length_m=length,
        tank_width_m=width,
        tank_height_m=height,
        tank_capacity_l=plan.capacity_l,
        gross_limit_kg=gross_limit_kg(plan),
        plate=f"RG{n + 11:02d} WC",
        vin=_vin(n),
        steering_side=plan.steering_side,
        tank_shape=plan.shape,
        tank_material=plan.material,
        fuel_tank_l=FUEL_TANKS_L[plan.axles],
        home_yard="Redgum Flat",
    )
    cart = add_cart(details=details, axle_groups=axle_groups(plan), by=noor, at=at)
    world.carts[plan.fleet_number] = cart
    for kind in (*BASE_GEAR, *plan.extra):
        count = 2 if kind == "emergency_stop" else 1
        fit_gear(cart=cart, kind=kind, count=count, fitted_on=yard_day(at), by=noor, at=at)
    _meters(world, cart, n, at)
    _papers(world, cart, n, at)


def _meters(world: World, cart: Cart, n: int, at: datetime) -> None:
    meters = Odometer(Decimal(2200 + 431 * n), Decimal(1100 + 205 * n), Decimal(41000 + 7013 * n))
    world.walker.meters[cart.pk] = meters
    for kind in ("engine_hours", "pump_hours", "km"):
        change_meter(
            cart=cart,
            kind=kind,
            changed_at=at - PAST if kind == "km" else at,
            last_value=None,
            first_value=meters.km - PAST_KM if kind == "km" else getattr(meters, kind),
            words="First reading on record.",
            by=world.people["bruna"],
            at=at,
        )


def _papers(world: World, cart: Cart, n: int, at: datetime) -> None:
    lapses = {"WC-20": -3, "WC-22": 10}.get(cart.fleet_number, 90 + 9 * n)
    record_document(
        cart=cart,
        kind="registration",
        number=cart.plate,
        issued_on=yard_day(at) - timedelta(days=250),
        expires_on=world.today + timedelta(days=lapses),
        # It goes with a limit anyway, for its cannon.
        conditions="By day only, and not over 80 km/h." if cart.fleet_number == "WC-21" else "",
        by=world.people["noor"],
        at=at,
    )
    if "rops" in CARTS[n].extra:
        record_document(
            cart=cart,
            kind="rops_plate",
            number=f"RP-{n:03d}",
            issued_on=date(2020, 3, 1),
            by=world.people["noor"],
            at=at,
        )


# What was asked of carts, kept with the hires: this one goes with a limit, the cannon being none of it.
ASKED = {
    "WC-02": Needs(litres=14_000, gear=frozenset({"cannon", "rops"}), drive_axles=2),
    "WC-16": Needs(litres=13_000, gear=frozenset({"cannon", "hose_reel"})),
    "WC-21": Needs(litres=17_000, gear=frozenset({"rops", "camera"})),
    "WC-14": Needs(litres=8_000),
}


def promise(
    world: World, cart: str, customer: int, start: datetime, end: datetime, *, by_road: bool, at: datetime
) -> Line:
    """Make an agreement for one cart."""
    place = (
        "Callabar pit",
        "Weir Street works",
        "Ridge Track",
        "Gullwing Road",
        "Opaline estate",
        "Mine haul road",
    )[customer]
    line = agreements.make_agreement(
        customer=world.customers[customer],
        place_of_work=place,
        leaves_by="road" if by_road else "float",
        works_on="road" if by_road else "site",
        pre_start_book="theirs" if customer == 5 else "ours",
        order_number=f"PO-{7100 + len(world.lines)}",
        cart=world.carts[cart],
        starts_at=start,
        ends_at=end,
        needs=ASKED.get(cart, ANY_CART),
        by=world.people["dot"],
        at=at,
    )
    world.lines[cart] = line
    return line


def chance_of(seed: int) -> random.Random:
    return random.Random(seed)  # noqa: S311 - chance for variety, not for secrets


__all__ = ["Fault", "Script", "World", "chance_of", "promise", "set_up"]
