"""What is on record of carts that a site may ask for. Reads only; queries do not grow with the carts."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db.models import Q

from fleet.models.carts import Cart
from fleet.models.equipment import Document
from hire.availability import builds
from hire.models.agreements import Line
from hire.models.sites import SiteSet
from hire.site_rules import WASH_DOWN, CartFacts, PaperHeld, site_key
from people.yard import yard_day
from servicing.due import current_fittings, extinguishers_for

DECIBELS = re.compile(r"(\d{2,3}(?:\.\d)?)\s*dB", re.IGNORECASE)
Site = tuple[UUID, str]


@dataclass(frozen=True)
class Use:
    """Where and from when a cart is to be used. site: (customer, key of the place); line_id: the hire itself, if there is one."""

    site: Site
    start: datetime
    line_id: UUID | None = None


def site_of(line: Line) -> Site:
    return line.agreement.customer_id, site_key(line.agreement.place_of_work)


def sets_for(customers: Iterable[UUID]) -> dict[Site, SiteSet]:
    """The sets in force of some customers, by site; key "" is for their sites without a set of their own. One query."""
    found = SiteSet.objects.filter(customer__in=set(customers)).in_force()
    return {(one.customer_id, one.site_key): one for one in found}


def set_at(site: Site, sets: Mapping[Site, SiteSet]) -> SiteSet | None:
    return sets.get(site) or sets.get((site[0], ""))


def set_of(line: Line) -> SiteSet | None:
    """The set a hire is worked under; None: nobody wrote one down."""
    return set_at(site_of(line), sets_for([line.agreement.customer_id]))


def noise_of(number: str) -> Decimal | None:
    """The figure in the number of a noise paper, as in "74 dB(A) at 7 m"; None where it has none."""
    found = DECIBELS.search(number)
    return Decimal(found[1]) if found else None


def _elsewhere(uses: Mapping[UUID, Use]) -> dict[UUID, list[Line]]:
    """Hires of these carts at other sites, or promised before their use. One query."""
    lines = Line.objects.standing().filter(cart__in=uses).for_list().order_by("promised")
    found: defaultdict[UUID, list[Line]] = defaultdict(list)
    latest = max((use.start for use in uses.values()), default=None)
    for line in lines.filter(Q(handed_over_at__isnull=False) | Q(promised__startswith__lt=latest)):
        use = uses[line.cart_id]
        if line.pk != use.line_id and site_of(line) != use.site:
            found[line.cart_id].append(line)
    return found


def void_words(issued_on: date | None, elsewhere: Iterable[Line], *, start: datetime) -> str:
    """Why a wash-down of a day holds no more when the cart is used from `start`: it worked elsewhere since, or works there before.
    Where is not said: the words go to another customer."""
    for line in elsewhere:
        ended = line.back_at
        after = issued_on is None or ended is None or yard_day(ended) > issued_on
        began = line.handed_over_at or line.promised.lower
        if after and began < start:
            return f"is void: the cart {'worked' if line.handed_over_at else 'is to work'} elsewhere after it"
    return ""


def _papers(uses: Mapping[UUID, Use]) -> dict[UUID, dict[str, tuple[PaperHeld, ...]]]:
    """The papers of each cart and the yard's own, a wash-down with why it is void. Two queries."""
    rows = list(Document.objects.filter(Q(cart__in=uses) | Q(cart=None)))
    elsewhere = _elsewhere(uses) if any(row.kind == WASH_DOWN for row in rows) else {}
    found: dict[UUID, defaultdict[str, list[PaperHeld]]] = {pk: defaultdict(list) for pk in uses}
    for row in rows:
        for cart_id in [row.cart_id] if row.cart_id else list(uses):
            void = ""
            if row.kind == WASH_DOWN:
                void = void_words(row.issued_on, elsewhere.get(cart_id, ()), start=uses[cart_id].start)
            found[cart_id][row.kind].append(PaperHeld(row.number, row.issued_on, row.expires_on, void))
    return {pk: {kind: tuple(held) for kind, held in kinds.items()} for pk, kinds in found.items()}


def facts_of(carts: Sequence[Cart], *, uses: Mapping[UUID, Use]) -> dict[UUID, CartFacts]:
    """What is on record of each cart for its use, by cart id. Eight queries."""
    kinds, papers, aboard = builds(carts), _papers(uses), extinguishers_for(carts)
    treads: defaultdict[UUID, list[tuple[Decimal, str]]] = defaultdict(list)
    unread: defaultdict[UUID, int] = defaultdict(int)
    for fitting in current_fittings(carts):
        position, depth = fitting.wheel_position, getattr(fitting, "last_depth_mm", None)
        if depth is None:
            unread[position.cart_id] += 1
        else:
            treads[position.cart_id].append((depth, position.words))
    return {
        cart.pk: CartFacts(
            gear=kinds[cart.pk].gear,
            isolated=kinds[cart.pk].isolated,
            papers=papers[cart.pk],
            least_tread=min(treads[cart.pk], default=None),
            unread=unread[cart.pk],
            extinguishers=tuple(
                (one.agent, one.size_kg) for one in aboard.get(cart.pk, []) if not one.is_discharged
            ),
            noise_db=_noise(papers[cart.pk].get("noise", ())),
        )
        for cart in carts
    }


def _noise(held: Iterable[PaperHeld]) -> Decimal | None:
    newest = max(held, key=lambda one: one.issued_on or date.min, default=None)
    return noise_of(newest.number) if newest else None
