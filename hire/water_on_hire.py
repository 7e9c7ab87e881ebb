"""What water carts carried on their hires: as loads were put down, as daily dockets say, and as was told at the return.

Read beside the yard's own record of a tank (fleet.water_told): a load taken back, a docket replaced and an answer put right count
no more, with nothing to keep in step.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.db.models import Count, Max, Min, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from fleet.models.carts import Cart
from fleet.readiness import Record
from fleet.water.history import UNKNOWN, named_in
from fleet.water_told import Told
from hire.models.agreements import Line
from hire.models.daily import DailyDocket
from hire.models.loads import Load
from hire.models.water import WaterTold
from people.yard import yard_day

# Potable water of a hire that is over: it spoils nothing, and is read for a tank's own page alone.
PAST_POTABLE = Q(line__back_at__isnull=False)


@dataclass
class _Water:
    """One water of one hire while it is gathered. loads of taps and dockets apart: a docket counts the taps again."""

    first: datetime
    last: datetime
    taps: int = 0
    by_dockets: int = 0
    places: set[str] = field(default_factory=set)
    # Null: as long as is told.
    until: datetime | None = None

    def add(self, first: datetime, last: datetime, place: str) -> None:
        self.first, self.last = min(self.first, first), max(self.last, last)
        self.places |= {place} if place else set()


@dataclass(frozen=True)
class _Hire:
    line_id: UUID
    cart_id: UUID
    number: str
    is_out: bool


_Waters = dict[tuple[_Hire, str], _Water]
_HIRE = ("line", "line__cart", "line__agreement__number", "line__back_at")


def _day(when: datetime) -> str:
    on = yard_day(when)
    return f"{on.day} {on:%b}"


def _place(point: str, permit: str) -> str:
    return f"{point}; licence or standpipe {permit}" if permit else point


def _loads(carts: Collection[Cart], waters: _Waters, *, whole: bool) -> None:
    rows = Load.objects.counted().filter(line__cart__in=carts).order_by()
    if not whole:
        rows = rows.exclude(PAST_POTABLE, source="potable")
    counted = rows.values_list(*_HIRE, "source", "fill_point", "permit_words").annotate(
        count=Count("pk"), first=Min("taken_at"), last=Max("taken_at")
    )
    for line_id, cart_id, number, back_at, source, point, permit, count, first, last in counted:
        if water := source or named_in(point):
            kept = waters.setdefault(
                (_Hire(line_id, cart_id, number, back_at is None), water), _Water(first, last)
            )
            kept.add(first, last, _place(point, permit))
            kept.taps += count


def _dockets(carts: Collection[Cart], waters: _Waters, *, whole: bool) -> None:
    rows = DailyDocket.objects.standing().filter(line__cart__in=carts, cancelled_late=False).order_by()
    rows = rows.exclude(water_source="", water_words="")
    if not whole:
        rows = rows.exclude(PAST_POTABLE, water_source="potable")
    told = rows.annotate(when=Coalesce("finishes_at", "made_at"))
    for line_id, cart_id, number, back_at, source, words, loads, when in told.values_list(
        *_HIRE, "water_source", "water_words", "loads", "when"
    ):
        if water := source or named_in(words):
            kept = waters.setdefault(
                (_Hire(line_id, cart_id, number, back_at is None), water), _Water(when, when)
            )
            kept.add(when, when, words)
            kept.by_dockets += loads


def _words(hire: _Hire, water: _Water) -> str:
    loads = water.taps or water.by_dockets
    if not loads:
        return f"on hire {hire.number}, by its docket of {_day(water.last)}"
    return f"on hire {hire.number}, {loads} load{'' if loads == 1 else 's'} from {_day(water.first)}"


def _at_the_return(carts: Collection[Cart], waters: _Waters, *, whole: bool) -> Iterator[tuple[UUID, Told]]:
    """As was told when a hire was over; where nobody told, the worst that it allowed: nothing but potable water, or nobody
    knows."""
    spoilt = defaultdict(list)
    for (hire, source), water in waters.items():
        if source != "potable":
            spoilt[hire.line_id].append(water)
    newest = WaterTold.objects.filter(line=OuterRef("pk")).order_by("-told_at", "pk").values("source")[:1]
    rows = Line.objects.filter(cart__in=carts, back_at__isnull=False).annotate(told=Subquery(newest))
    rows = rows.exclude(told=None, agreement__water="potable")
    if not whole:
        rows = rows.filter(Q(told=None) | ~Q(told="potable"))
    told = rows.order_by().values_list("pk", "cart", "back_at", "told", "agreement__number")
    for line_id, cart_id, back_at, source, number in told:
        if back_at is None:
            continue
        if not source and line_id in spoilt:
            # What loads and dockets say is told; for all anybody knows it was in the tank until the return.
            for water in spoilt[line_id]:
                water.until = back_at
            continue
        how = "as told when it came" if source else "which came"
        words = f"on hire {number}, {how} back on {_day(back_at)}"
        yield cart_id, Told(source or UNKNOWN, back_at, words, (), Record("hire_line", line_id))


def told_on_hires(carts: Collection[Cart], *, whole: bool) -> dict[UUID, list[Told]]:
    """By cart id; see fleet.water_told. Three queries however many carts."""
    waters: _Waters = {}
    _loads(carts, waters, whole=whole)
    _dockets(carts, waters, whole=whole)
    found: defaultdict[UUID, list[Told]] = defaultdict(list)
    for cart_id, told in _at_the_return(carts, waters, whole=whole):
        found[cart_id].append(told)
    for (hire, source), water in waters.items():
        record, places = Record("hire_line", hire.line_id), tuple(sorted(water.places))
        found[hire.cart_id].append(
            Told(source, water.until or water.last, _words(hire, water), places, record, is_out=hire.is_out)
        )
    return dict(found)


def told_of_line(line: Line) -> list[Told]:
    """All that was told of one hire, what is not potable first, each the newest before."""
    told = told_on_hires([line.cart], whole=True).get(line.cart_id, [])
    mine = sorted((one for one in told if one.record.id == line.pk), key=lambda one: one.at, reverse=True)
    return sorted(mine, key=lambda one: one.source == "potable")


def carried_on(line: Line) -> str:
    """What loads and dockets of a hire say it carried, the worst first; "" where they say nothing."""
    return next((one.source for one in told_of_line(line) if one.source != UNKNOWN), "")
