"""What is on record of carts that a site may ask for. Reads only; queries do not grow with the carts."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
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
from people.yard import day_bounds, yard_day
from servicing.due import current_fittings, extinguishers_for

DECIBELS = re.compile(r"(\d{2,3}(?:\.\d)?)\s*dB", re.IGNORECASE)
Site = tuple[UUID, str]
WORKED = "is void: the cart worked elsewhere after it"
TO_WORK = "is void: the cart is to work elsewhere after it"


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


def void_words(issued_on: date | None, elsewhere: Iterable[Line], *, start: datetime) -> str:
    """Why a wash-down of a day holds no more when the cart is used from `start`: it worked elsewhere since, or works there before.
    Where is not said: the words go to another customer."""
    for line in elsewhere:
        ended = line.back_at
        after = issued_on is None or ended is None or yard_day(ended) > issued_on
        began = line.handed_over_at or line.promised.lower
        if after and began < start:
            return WORKED if line.handed_over_at else TO_WORK
    return ""


@dataclass(frozen=True)
class Records:
    """What is on record of carts, by cart id, read once for every use of them. facts: as if no wash-down were void; hires: those
    that may have made one so."""

    facts: Mapping[UUID, CartFacts]
    hires: Mapping[UUID, Sequence[Line]]

    def of(self, cart_id: UUID, use: Use, *, proposed: Iterable[Use] = ()) -> CartFacts:
        """What is on record of a cart for its use, a wash-down with why it is void. proposed: uses it may have besides."""
        facts = self.facts[cart_id]
        if WASH_DOWN not in facts.papers:
            return facts
        elsewhere = [
            line
            for line in self.hires.get(cart_id, ())
            if line.pk != use.line_id and site_of(line) != use.site
        ]
        is_away = any(one.site != use.site and one.start < use.start for one in proposed)
        to_work = TO_WORK if is_away else ""
        held = tuple(
            replace(one, void_words=void_words(one.issued_on, elsewhere, start=use.start) or to_work)
            for one in facts.papers[WASH_DOWN]
        )
        return replace(facts, papers={**facts.papers, WASH_DOWN: held})


def _hires(
    washed: Mapping[UUID, Sequence[PaperHeld]], *, latest: datetime, moved: Line | None, but: Collection[UUID]
) -> dict[UUID, list[Line]]:
    """Hires of carts since their first wash-down on record, that left or are promised before an instant. but: these lines count for
    none. One query."""
    if not washed:
        return {}
    began = Q(handed_over_at__isnull=False) | Q(promised__startswith__lt=latest)
    lines = Line.objects.standing().filter(began, cart__in=washed).exclude(pk__in=but)
    lines = lines.for_list().order_by("promised")
    issued = [one.issued_on for held in washed.values() for one in held]
    dated = [on for on in issued if on is not None]
    if len(dated) == len(issued):
        lines = lines.filter(Q(back_at=None) | Q(back_at__gte=day_bounds(min(dated))[0]))
    found: defaultdict[UUID, list[Line]] = defaultdict(list)
    for line in [one for one in lines if moved is None or one.pk != moved.pk] + ([moved] if moved else []):
        found[line.cart_id].append(line)
    return found


def records_of(
    carts: Sequence[Cart], *, latest: datetime, moved: Line | None = None, but: Collection[UUID] = ()
) -> Records:
    """What is on record of each cart that is used from some instant up to `latest`; moved: a hire as if it had the period it
    bears; but: lines that are none of their carts'. Eight queries."""
    kinds, papers, aboard = builds(carts), _papers(carts), extinguishers_for(carts)
    treads: defaultdict[UUID, list[tuple[Decimal, str]]] = defaultdict(list)
    unread: defaultdict[UUID, int] = defaultdict(int)
    for fitting in current_fittings(carts):
        position, depth = fitting.wheel_position, getattr(fitting, "last_depth_mm", None)
        if depth is None:
            unread[position.cart_id] += 1
        else:
            treads[position.cart_id].append((depth, position.words))
    facts = {
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
    washed = {pk: held[WASH_DOWN] for pk, held in papers.items() if WASH_DOWN in held}
    return Records(facts, _hires(washed, latest=latest, moved=moved, but=but))


def facts_of(carts: Sequence[Cart], *, uses: Mapping[UUID, Use]) -> dict[UUID, CartFacts]:
    """What is on record of each cart for its use, by cart id. Eight queries."""
    if not carts:
        return {}
    records = records_of(carts, latest=max(use.start for use in uses.values()))
    return {cart.pk: records.of(cart.pk, uses[cart.pk]) for cart in carts}


def _papers(carts: Sequence[Cart]) -> dict[UUID, dict[str, tuple[PaperHeld, ...]]]:
    """The papers of each cart and the yard's own. One query."""
    found: dict[UUID, defaultdict[str, list[PaperHeld]]] = {cart.pk: defaultdict(list) for cart in carts}
    for row in Document.objects.filter(Q(cart__in=carts) | Q(cart=None)):
        for cart_id in [row.cart_id] if row.cart_id else list(found):
            found[cart_id][row.kind].append(PaperHeld(row.number, row.issued_on, row.expires_on))
    return {pk: {kind: tuple(held) for kind, held in kinds.items()} for pk, kinds in found.items()}


def _noise(held: Iterable[PaperHeld]) -> Decimal | None:
    newest = max(held, key=lambda one: one.issued_on or date.min, default=None)
    return noise_of(newest.number) if newest else None
