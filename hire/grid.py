"""The grid of hires: carts down, days across, with what each is promised, out on, pencilled or booked into the workshop for."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.db.models import Q
from django.urls import reverse

from fleet.models.carts import Cart
from fleet.sentences import moment_words
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from hire.querysets import overdue
from people.yard import day_bounds, yard_day, yard_policy
from servicing.models.plans import Visit

DAY_WIDTH, ROW_HEIGHT = 28, 34
# A name shorter than its bar stands in it, at about so many units a letter; a longer one is cut.
LETTER_WIDTH, PAD = 7.6, 6
DAY = timedelta(days=1)


@dataclass(frozen=True)
class Bar:
    """One stretch of a cart's days. kind: past | out | promised | pencil | visit. x, width in units; words: what it is, whole,
    for whoever hears it; label: as much of the name as fits."""

    kind: str
    x: float
    width: float
    label: str
    words: str
    url: str

    @property
    def text_x(self) -> float:
        return round(self.x + PAD, 1)

    @property
    def mark(self) -> str:
        """The path of a workshop day: a triangle in the middle of its day."""
        return f"M{round(self.x + DAY_WIDTH / 2 - 8, 1)} 9h16l-8 15z"


@dataclass(frozen=True)
class GridRow:
    cart: Cart
    bars: tuple[Bar, ...]


@dataclass(frozen=True)
class Tick:
    """One day of the head. month: its name where the grid or a month begins; is_rest: the yard is closed."""

    on: date
    x: int
    month: str
    is_rest: bool

    @property
    def text_x(self) -> int:
        return self.x + 4


@dataclass(frozen=True)
class Scale:
    """So many days from a day on, as units across."""

    first: date
    days: int

    @property
    def last(self) -> date:
        return self.first + (self.days - 1) * DAY

    @property
    def width(self) -> int:
        return self.days * DAY_WIDTH

    @property
    def span(self) -> tuple[datetime, datetime]:
        return day_bounds(self.first)[0], day_bounds(self.last)[1]

    def x(self, at: datetime) -> float:
        """Where an instant stands: whole days of the yard, and the part of the day it is. Inside the grid."""
        on = yard_day(at)
        start, end = day_bounds(on)
        part = (at - start) / (end - start)
        return round(min(max(((on - self.first).days + part) * DAY_WIDTH, 0), self.width), 1)

    def ticks(self) -> Iterator[Tick]:
        policy = yard_policy()
        for n in range(self.days):
            on = self.first + n * DAY
            month = f"{on:%B}" if n == 0 or on.day == 1 else ""
            yield Tick(on, n * DAY_WIDTH, month, is_rest=policy.is_closed(on))

    def rest_path(self, top: int, height: int) -> str:
        """The days the yard is closed as one path; drawn once a row, it spares a shape a day."""
        return "".join(
            f"M{tick.x} {top}h{DAY_WIDTH}v{height}h-{DAY_WIDTH}z" for tick in self.ticks() if tick.is_rest
        )


def _bar(scale: Scale, span: tuple[datetime, datetime], kind: str, *, who: str, words: str, url: str) -> Bar:
    x, end = scale.x(span[0]), scale.x(span[1])
    width = round(max(end - x, 4), 1)
    fits = int((width - PAD) / LETTER_WIDTH)
    label = who if len(who) <= fits else f"{who[: fits - 1]}…" if fits >= 4 else ""
    return Bar(kind, x, width, label, words, url)


def _line_bar(line: Line, scale: Scale, at: datetime) -> Bar:
    starts, ends = line.handed_over_at or line.promised.lower, line.expected_back
    kind = "past" if line.back_at else "out" if line.handed_over_at else "promised"
    if line.back_at:
        ends = max(line.back_at, starts)
    elif line.is_overdue(at=at):
        # Out past its day: it is there until somebody says it is back.
        ends = at
    who, stands = (
        line.agreement.customer.name,
        {"past": "was with", "out": "out with", "promised": "promised to"}[kind],
    )
    late = (
        ", past its day"
        if line.is_overdue(at=at)
        else ", off hire"
        if line.is_out and line.kept_until
        else ""
    )
    span = f"{moment_words(starts, at=at)} to {moment_words(ends, at=at)}"
    words = f"{line.cart.fleet_number} {stands} {who}, {line.agreement.number}, {span}{late}"
    url = reverse("hire:line_detail", args=[line.pk])
    return _bar(scale, (starts, ends), kind, who=who, words=words, url=url)


def grid(carts: Sequence[Cart], scale: Scale, *, at: datetime) -> list[GridRow]:
    """The rows of the grid in the order of the carts. Three queries however many carts and hires."""
    span, bars = DateTimeTZRange(*scale.span), defaultdict[UUID, list[Bar]](list)
    still_out = Q(handed_over_at__isnull=False, back_at=None)
    shown = Q(kept__overlap=span) | still_out & (overdue(at=at) | Q(kept_until__gt=scale.span[0]))
    by_id = {cart.pk: cart for cart in carts}
    lines = Line.objects.standing().filter(shown, cart__in=carts).select_related("agreement__customer")
    # Only what a bar says: a quarter's hires of a page of carts are thousands of rows.
    for line in lines.only(
        "cart",
        "promised",
        "kept_until",
        "handed_over_at",
        "back_at",
        "agreement__number",
        "agreement__customer__name",
    ):
        line.cart = by_id[line.cart_id]
        bars[line.cart_id].append(_line_bar(line, scale, at))
    for one in Pencil.objects.standing(at=at).filter(cart__in=carts, period__overlap=span).for_list():
        until = moment_words(one.expires_at, at=at)
        words = f"{one.cart.fleet_number} pencilled for {one.caller_words}, kept until {until}"
        period, url = (one.period.lower, one.period.upper), reverse("hire:line_list")
        bars[one.cart_id].append(_bar(scale, period, "pencil", who=one.caller_words, words=words, url=url))
    visits = Visit.objects.filter(cart__in=carts, cancelled_at=None, on__range=(scale.first, scale.last))
    for visit in visits.select_related("cart"):
        words = f"{visit.cart.fleet_number} {visit.get_where_display().lower()} on {visit.on.day} {visit.on:%b}: {visit.words}"
        url = f"{reverse('servicing:week_list')}?cart={visit.cart.fleet_number}"
        bars[visit.cart_id].append(_bar(scale, day_bounds(visit.on), "visit", who="", words=words, url=url))
    return [GridRow(cart, tuple(sorted(bars[cart.pk], key=lambda bar: bar.x))) for cart in carts]
