"""The runs of a day: carts leaving, moving from site to site and coming back, with what each driver has to know."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from uuid import UUID

from django.db.models import Q

from fleet.gear import GEAR
from fleet.sentences import moment_words
from fleet.yards import Yards
from hire.charge_stop import hour_words
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.off_hire import OffHire
from hire.models.runs import RunNote
from hire.suiting import asked_words
from people.yard import at_local, day_bounds, yard_day, yard_policy

Notes = dict[tuple[UUID, str], RunNote]
DAY = timedelta(days=1)
LEAVES, MOVES, BACK, PICK_UP, BOOKED = "Leaves", "Moves", "Comes back", "Pick-up", "Leaves, cart not chosen"
OVERDUE = "Overdue back"
# The longest a yard is closed on end; past that the day before is taken whatever it is.
LONGEST_CLOSED = 14


@dataclass(frozen=True)
class Run:
    """One cart's way on one day. at: when it leaves, is or was expected back, or (a pick-up) was called off. line: none for a
    booking whose cart is not chosen. missing: what nobody has written down, in words; urgent: those of it that stop a driver."""

    what: str
    at: datetime
    leg: str
    cart: str
    customer: str
    place: str
    order_number: str
    line: Line | None = None
    note: RunNote | None = None
    said: str = ""
    is_floated: bool = False

    @property
    def urgent(self) -> list[str]:
        if self.line is None:
            return ["cart"]
        note = self.note
        known = {"driver": bool(note and note.driver_words)}
        if self.leg == "out":
            known |= {
                "start": bool(note and note.start is not None),
                "contact": bool(note and note.contact_words),
            }
        return [name for name, is_known in known.items() if not is_known]

    @property
    def start_words(self) -> str:
        """When work starts, by the site's clock; with the yard's beside it where that shows another time."""
        if self.note is None or self.note.start is None:
            return ""
        words, starts = hour_words(self.note.start), self._starts_at(self.note.start)
        if self.line is None or starts is None or not (mark := self.line.agreement.mark(starts)):
            return words
        ours = starts.astimezone(yard_policy().zone).time()
        return f"{words}{mark}, {hour_words(ours)} here" if ours != self.note.start else f"{words}{mark}"

    @property
    def start_cell(self) -> str:
        """As a file has it, "06:30", with the zone after it where it is not the yard's."""
        if self.note is None or self.note.start is None:
            return ""
        starts = self._starts_at(self.note.start)
        mark = self.line.agreement.mark(starts) if self.line is not None and starts is not None else ""
        return f"{self.note.start:%H:%M}{mark}"

    def _starts_at(self, start: time) -> datetime | None:
        if self.line is None:
            return None
        about = self.line.agreement
        return datetime.combine(about.day(self.at), start, about.zone)

    @property
    def missing(self) -> str:
        lacks = [f"no {name}" for name in self.urgent]
        if self.line is not None and self.leg == "out":
            lacks += [] if self.order_number else ["no order number"]
        if self.line is not None and self.is_floated and not (self.note and self.note.float_words):
            lacks.append("no float")
        return f"{', '.join(lacks)}.".capitalize() if lacks else ""


def _of_line(line: Line, what: str, at: datetime, notes: Notes, *, said: str = "") -> Run:
    about, leg = line.agreement, "out" if what in (LEAVES, MOVES) else "back"
    return Run(
        what, at, leg, line.cart.fleet_number, about.customer.name, about.place_of_work, about.order_number, line,
        notes.get((line.pk, leg)), said,
        is_floated=about.leaves_by == "float",
    )  # fmt: skip


def _of_booking(booking: Booking) -> Run:
    return Run(
        BOOKED, booking.period.lower, "out", "", booking.customer.name, booking.place_of_work, booking.order_number,
        said=f"Asked: {asked_words(booking.enquiry(), names=GEAR)}.",
    )  # fmt: skip


def leaving(first: date, last: date, *, yards: Yards) -> list[Run]:
    """Carts that leave on a day from `first` to `last`, both included, soonest first. Two queries."""
    span = (day_bounds(first)[0], day_bounds(last)[1])
    lines = yards.narrow(Line.objects.to_come().for_list(), "cart__")
    rows = list(
        lines.filter(promised__startswith__gte=span[0], promised__startswith__lt=span[1]).order_by("promised")
    )
    notes = _notes(rows)
    return [
        _of_line(line, MOVES if line.agreement.leaves_by == "site" else LEAVES, line.promised.lower, notes)
        for line in rows
    ]


def _notes(lines: Iterable[Line]) -> Notes:
    rows = RunNote.objects.filter(line__in=[line.pk for line in lines]).select_related("noted_by")
    return {(row.line_id, row.leg): row for row in rows}


def _coming(on: date, *, yards: Yards, at: datetime) -> list[Run]:
    """Carts expected back on a day; on days to come those too that are overdue, or wait on site to be picked up. Three queries."""
    start, end = day_bounds(on)
    is_to_come = on >= yard_day(at)
    off = OffHire.objects.awaiting()
    lines = yards.narrow(Line.objects.out_now().for_list(), "cart__").exclude(pk__in=off.values("line"))
    due = Q(promised__endswith__gte=start, promised__endswith__lt=end)
    if is_to_come:
        due |= Q(promised__endswith__lt=at)
    back = list(lines.filter(due).order_by("promised__endswith"))
    calls = yards.narrow(off.for_list(), "line__cart__").filter(left_site_at=None).order_by("called_at")
    waiting = list(calls) if is_to_come else []
    notes = _notes([*back, *(call.line for call in waiting)])
    found = [
        _of_line(
            line, OVERDUE if is_to_come and line.promised.upper < at else BACK, line.promised.upper, notes
        )
        for line in back
    ]
    for call in waiting:
        said = f"{call.number}: {call.pick_up_words}. Keys: {call.keys_words}."
        if call.line.kept_until:
            said += f" In the yard by {moment_words(call.line.kept_until, at=at)}."
        found.append(_of_line(call.line, PICK_UP, call.called_at, notes, said=said))
    return found


def runs_on(on: date, *, at: datetime, yards: Yards = Yards()) -> list[Run]:  # noqa: B008 - frozen
    """The runs of a day. Pick-ups and what is overdue stand on every day to come until the cart has left the site, or is back.
    Seven queries at most, however many carts."""
    start, end = day_bounds(on)
    bookings = (
        Booking.objects.open().for_list().filter(period__startswith__gte=start, period__startswith__lt=end)
    )
    return [
        *leaving(on, on, yards=yards),
        *(_of_booking(booking) for booking in bookings),
        *_coming(on, yards=yards, at=at),
    ]


def sheet_due(on: date) -> datetime:
    """When the run sheet of a day has to be whole: the yard's hour on the last day before that somebody is there."""
    policy, before = yard_policy(), on - DAY
    for back in range(LONGEST_CLOSED):
        if not policy.is_closed(before - back * DAY):
            return at_local(before - back * DAY, policy.run_sheet_at)
    return at_local(before, policy.run_sheet_at)


def last_noted(line: Line, leg: str) -> RunNote | None:
    """What was last written down for this customer at this place: most of it holds again."""
    about = line.agreement
    rows = RunNote.objects.filter(
        leg=leg,
        line__agreement__customer=about.customer_id,
        line__agreement__place_of_work=about.place_of_work,
    )
    return rows.exclude(line=line).order_by("-noted_at").first()


RUN_HEAD = (
    "Day", "What", "When", "Cart", "Customer", "Place of work", "Driver", "Start", "Contact", "Channel", "Water point",
    "Order number", "Float", "Words", "Missing",
)  # fmt: skip


def run_table(days: Iterable[tuple[date, Sequence[Run]]]) -> Iterator[Sequence[object]]:
    """The sheet under RUN_HEAD, day after day, for a file."""
    for on, runs in days:
        for run in runs:
            note = run.note or RunNote()
            yield (
                on, run.what, run.at, run.cart, run.customer, run.place, note.driver_words,
                run.start_cell, note.contact_words, note.channel_words,
                note.water_point_words, run.order_number, note.float_words, " ".join(filter(None, [run.said, note.words])),
                run.missing,
            )  # fmt: skip
