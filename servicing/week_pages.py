"""The plan of the coming weeks: for every cart what happens to it next and why, and on which day it can be done."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID

from fleet.models.carts import Cart
from fleet.needs import Promise, promises
from fleet.records import record_url
from people.templatetags.screen import day, day_year, span_words
from people.yard import at_local, yard_day, yard_policy
from servicing.coming import Item, coming, weeks_from
from servicing.models.plans import Visit
from servicing.service_forms import WeeksFilter
from servicing.week_strip import Strip, strip
from servicing.workshop_days import TOGETHER_DAYS, DayFor, Job, Stay, suggest_day, together

WEEKS = 8


@dataclass(frozen=True)
class ItemLine:
    """One thing that falls due, in words."""

    item: Item
    when: str

    @property
    def url(self) -> str:
        return record_url(self.item.record.kind, self.item.record.id)


@dataclass(frozen=True)
class VisitLine:
    """A day for a visit: what is said of it, and what a press of "Book it" would book. shape: safe, caution or stop."""

    shape: str
    words: str
    items: tuple[ItemLine, ...]
    suggested: DayFor
    where: str
    what_for: str


@dataclass(frozen=True)
class WeekRow:
    cart: Cart
    items: tuple[ItemLine, ...]
    visits: tuple[VisitLine, ...]
    booked: tuple[Visit, ...]
    stays: tuple[Stay, ...]
    first_monday: date

    # Drawn for the rows of one page alone.

    @property
    def strip(self) -> Strip:
        days = [one.suggested.on for one in self.visits if one.suggested.on and one.suggested.kind != "gives"]
        return strip(
            self.first_monday, WEEKS, stays=self.stays, items=[line.item for line in self.items], suggested=days,
            booked=[visit.on for visit in self.booked],
        )  # fmt: skip

    @property
    def strip_words(self) -> str:
        hires = "; ".join(
            f"{stay.label} {day(stay.first)} to {day(stay.last) if stay.last else 'its return'}"
            for stay in self.stays
        )
        due = "; ".join(f"{line.item.words} {line.when}" for line in self.items)
        return f"Hires: {hires or 'none'}. Falls due: {due or 'nothing'}."


def _stay(promise: Promise) -> Stay:
    """A cart still out past its time has no last day: it is there when it is there."""
    last = None if promise.is_late else yard_day(promise.end)
    return Stay(yard_day(promise.start), last, promise.label, promise.is_out)


def _when(item: Item, *, on: date) -> str:
    if item.on < on:
        return f"since {'about ' if item.is_forecast else ''}{day_year(item.on)}"
    if not item.is_forecast:
        return "now" if item.on <= on else day(item.on)
    latest = f"to {day(item.high)}" if item.high else "or later"
    return f"about {day(item.on)} ({day(item.low)} {latest})"


def _line(item: Item, *, on: date) -> ItemLine:
    return ItemLine(item, _when(item, on=on))


def _visit_words(found: DayFor) -> tuple[str, str, str]:
    """Sign, sentence and place of a suggested day."""
    when = f"{found.on:%A} {found.on.day} {found.on:%b}" if found.on else ""
    takes = span_words(timedelta(minutes=found.minutes))
    hires = " and ".join(dict.fromkeys(stay.label for stay in found.gives))
    if found.kind == "free":
        return "safe", f"{when}: free, {takes}.", "yard"
    if found.kind == "late":
        return (
            "caution",
            f"{when}: the first free day, after it may fall due and within what it may wait; {takes}.",
            "yard",
        )
    if found.kind == "past":
        return (
            "stop",
            f"{when}: the first free day. Something has run out, so it stays in the yard until then; {takes}.",
            "yard",
        )
    if found.kind == "gives" and hires:
        out = any(stay.is_out and stay.covers(found.on) for stay in found.gives if found.on)
        way = (
            "send a fitter out to it, or ask them for it back"
            if out
            else "move that hire, or put another cart on it"
        )
        return (
            "stop",
            f"No free day before it falls due: {hires} has it on {when}. Either {way}.",
            "site" if out else "yard",
        )
    if found.kind == "gives":
        return "stop", f"The workshop’s days are full: make room on {when}.", "yard"
    return "stop", "No working day is left before it falls due.", "yard"


@dataclass
class _Room:
    """How many minutes of each day are taken."""

    taken: dict[date, int]
    day_minutes: int


def _covers(visit: Visit, item: Item, *, on: date) -> bool:
    """Whether a booked day is near enough to do this too: not long before it falls due, nor after it may wait; and what is
    due already is done on the next booked day."""
    near = item.low - timedelta(days=TOGETHER_DAYS)
    return near <= visit.on <= max(item.latest_on, item.low) or item.low <= on <= visit.on


def _visits(
    items: Sequence[Item], stays: Sequence[Stay], booked: Sequence[Visit], room: _Room, *, on: date
) -> list[VisitLine]:
    """A day for each visit a cart wants, in order, taking the time of each day as it goes. What a booked day covers wants
    no other."""
    by_key = {item.key: item for item in items if item.minutes}
    jobs = [
        Job(item.key, max(item.low, on), max(item.latest_on, item.low), item.minutes)
        for item in by_key.values()
        if not any(_covers(visit, item, on=on) for visit in booked)
    ]
    lines = []
    for visit in together(jobs):
        found = suggest_day(
            visit, stays=stays, on=on, taken_minutes=room.taken, day_minutes=room.day_minutes,
            closed=yard_policy().closed_days,
        )  # fmt: skip
        if found.on and found.kind != "gives":
            room.taken[found.on] = room.taken.get(found.on, 0) + found.minutes
        shape, words, where = _visit_words(found)
        mine = tuple(_line(by_key[job.key], on=on) for job in visit)
        lines.append(
            VisitLine(shape, words, mine, found, where, ", ".join(line.item.words for line in mine)[:240])
        )
    return lines


def _booked(*, on: date) -> dict[UUID, list[Visit]]:
    found: defaultdict[UUID, list[Visit]] = defaultdict(list)
    for visit in Visit.objects.filter(cancelled_at=None, on__gte=on):
        found[visit.cart_id].append(visit)
    return found


def week_rows(carts: Sequence[Cart], *, at: datetime) -> list[WeekRow]:
    """Every cart with what falls due in the coming weeks, what comes first first; carts with nothing due come last. Days
    are given out in that order, so that what runs out first has the choice. Queries do not grow with the carts."""
    on = yard_day(at)
    mondays = weeks_from(on, WEEKS)
    until = mondays[-1] + timedelta(days=6)
    due = coming(carts, until=until, at=at)
    hires = promises(carts, start=at_local(on, time.min), end=at_local(until, time.max), at=at)
    booked = _booked(on=on)
    room = _Room({}, int(yard_policy().workshop_day.total_seconds() // 60))
    for pile in booked.values():
        for visit in pile:
            room.taken[visit.on] = room.taken.get(visit.on, 0) + visit.minutes
    rows = []
    ordered = sorted(
        carts,
        key=lambda cart: (
            min((item.low for item in due.get(cart.pk, ())), default=date.max),
            cart.fleet_number,
        ),
    )
    for cart in ordered:
        items, stays = due.get(cart.pk, []), [_stay(one) for one in hires.get(cart.pk, ())]
        visits = _visits(items, stays, booked.get(cart.pk, ()), room, on=on)
        lines = tuple(_line(item, on=on) for item in items)
        rows.append(
            WeekRow(cart, lines, tuple(visits), tuple(booked.get(cart.pk, ())), tuple(stays), mondays[0])
        )
    return rows


def narrowed(rows: Iterable[WeekRow], filters: WeeksFilter) -> list[WeekRow]:
    kind, wants = filters.chosen("kind"), filters.chosen("wants")

    def fits(row: WeekRow) -> bool:
        if kind and not any(line.item.kind == kind for line in row.items):
            return False
        if wants == "booked":
            return bool(row.booked)
        if wants == "open":
            return bool(row.visits)
        return wants != "gives" or any(one.suggested.kind in ("gives", "none") for one in row.visits)

    return [row for row in rows if fits(row)]


def order_inputs() -> list[tuple[str, str, str]]:
    """What the suggested days are reckoned with, for components/working.html."""
    return [
        ("One visit", f"{TOGETHER_DAYS} days", "what falls due within it comes in together"),
        ("A workshop day", span_words(yard_policy().workshop_day), "all its people together, a setting"),
        ("Working days", "Monday to Friday", ""),
    ]


WEEKS_HEAD = (
    "Cart",
    "What falls due",
    "Why",
    "Day",
    "Earliest",
    "Latest",
    "May wait until",
    "Minutes",
    "Suggested day",
    "Booked",
)


def week_table(rows: Iterable[WeekRow]) -> Iterator[tuple[object, ...]]:
    """A line for each thing that falls due, for a file."""
    for row in rows:
        days = {line.item.key: visit.suggested.on for visit in row.visits for line in visit.items}
        booked = ", ".join(visit.on.isoformat() for visit in row.booked)
        for line in row.items:
            item = line.item
            yield (
                row.cart.fleet_number, item.words, item.why, item.on, item.low, item.high, item.latest_on, item.minutes,
                days.get(item.key), booked,
            )  # fmt: skip
