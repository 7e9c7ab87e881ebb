"""What says for which shifts hires owe their pre-starts, read for many at once. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, Subquery

from fleet.models.carts import Meter, MeterReading
from hire.cart_use import Read
from hire.models.agreements import Agreement, Line, StandDown
from hire.models.daily import DailyDocket
from hire.models.loads import Load
from hire.models.money import AgreedTerms
from hire.models.off_hire import OffHire
from hire.models.worked_days import WorkedDay
from hire.public_holidays import holidays_by_region, region_of, region_words
from hire.shifts import WORKED, Hours, Work
from inspections.models import WalkRound
from people.yard import yard_policy

ONE_DAY = timedelta(days=1)
SAID = {
    "terms": "as its terms agree",
    "agreement": "as its agreement says",
    "yard": "as this yard’s hires do",
}


@dataclass(frozen=True)
class Out:
    """A hire as its shifts are asked for."""

    line_id: UUID
    cart_id: UUID
    agreement_id: UUID
    handed_over_at: datetime | None
    time_zone: str
    # Whose holidays, where its terms say nothing else.
    agreement: Agreement
    shifts_a_day: int
    is_night: bool
    days_in_week: int | None
    # When its shifts or its book were changed, and how it was worked before, "": not in our book.
    changed_at: datetime | None
    shift_before: str

    @classmethod
    def of(cls, line: Line) -> Out:
        about = line.agreement
        return cls(
            line.pk, line.cart_id, about.pk, line.handed_over_at, about.time_zone, about, about.shifts_a_day, about.is_night,
            about.days_in_week, about.owed_since, about.shift_before if about.ours_before else "",
        )  # fmt: skip


@dataclass(frozen=True)
class Week:
    """How many days from Monday on a hire works, who said so ("terms", "agreement" or "yard"), and whose holidays it keeps."""

    days: int
    said: str
    region: str

    @property
    def words(self) -> str:
        days = {5: "Monday to Friday", 6: "Monday to Saturday", 7: "every day"}[self.days]
        return f"{days}, {SAID[self.said]}; not on public holidays{f' of {region_words(self.region)}' if self.region else ''}"


def hours_of(time_zone: str, shifts_a_day: int, *, is_night: bool) -> Hours:
    """When the shifts of a hire are: its own zone and shifts, the yard's hours."""
    policy = yard_policy()
    return Hours(
        ZoneInfo(time_zone), shifts_a_day, policy.pre_start_by, policy.second_shift_at, is_night=is_night
    )


def weeks_of(hires: Sequence[Out]) -> dict[UUID, Week]:
    """The week each hire works, by line id: as its terms agree, else as its agreement says, else the yard's. Of a cart swapped
    in without terms of its own, the other's. Two queries."""
    agreements = {hire.agreement_id for hire in hires}
    rows = AgreedTerms.objects.filter(line__agreement__in=agreements).order_by("line_id", "-agreed_at")
    bodies: dict[UUID, dict[str, Any]] = dict(rows.distinct("line_id").values_list("line_id", "body"))
    swaps = OffHire.objects.standing().filter(replaced_by__agreement__in=agreements)
    before = dict(swaps.values_list("replaced_by", "line"))
    return {hire.line_id: _week(hire, bodies, before) for hire in hires}


def _week(hire: Out, bodies: dict[UUID, dict[str, Any]], before: dict[UUID, UUID]) -> Week:
    line_id: UUID | None = hire.line_id
    while line_id is not None and line_id not in bodies:
        line_id = before.get(line_id)
    body = bodies[line_id] if line_id is not None else {}
    region = region_of(hire.agreement, body)
    if body.get("days_in_week"):
        return Week(int(body["days_in_week"]), "terms", region)
    if hire.days_in_week is not None:
        return Week(hire.days_in_week, "agreement", region)
    return Week(yard_policy().hire_days_in_week, "yard", region)


def works_of(hires: Iterable[Out], *, since: datetime, at: datetime) -> dict[UUID, Work]:
    """What the shifts begun from `since` to `at` are judged by, by line id. Ten queries however many hires; none for none."""
    hires = list(hires)
    if not hires:
        return {}
    lines, carts = [hire.line_id for hire in hires], {hire.cart_id for hire in hires}
    weeks = weeks_of(hires)
    # The hires' own days, whatever the zones.
    first, last = since.date() - ONE_DAY, at.date() + ONE_DAY
    kept = holidays_by_region((week.region for week in weeks.values()), first=first, last=last)
    stood = _days(
        StandDown.objects.standing().filter(line__in=lines, on__gte=first).values_list("line", "on")
    )
    worked = _worked(lines, first=first)
    signed, reads = _signed(hires, since=since, at=at), _reads(carts, since=since, at=at)
    loads: defaultdict[UUID, list[datetime]] = defaultdict(list)
    for line_id, moment in (
        Load.objects.counted()
        .filter(line__in=lines, taken_at__gte=since, taken_at__lte=at)
        .values_list("line", "taken_at")
    ):
        loads[line_id].append(moment)
    return {
        hire.line_id: Work(
            hours_of(hire.time_zone, hire.shifts_a_day, is_night=hire.is_night),
            hire.handed_over_at,
            since,
            weeks[hire.line_id].days,
            holidays=frozenset(kept[weeks[hire.line_id].region]),
            stood_down=frozenset(stood[hire.line_id]),
            signed=tuple(signed[hire.line_id]),
            reads=tuple(reads[hire.cart_id]),
            used_at=tuple(loads[hire.line_id]),
            worked_on=frozenset(worked[hire.line_id]),
            changed_at=hire.changed_at,
            before=hours_of(
                hire.time_zone, len(WORKED[hire.shift_before]), is_night=hire.shift_before == "night"
            )
            if hire.shift_before
            else None,
        )
        for hire in hires
    }


def _days(rows: Iterable[tuple[UUID, date]]) -> defaultdict[UUID, set[date]]:
    found: defaultdict[UUID, set[date]] = defaultdict(set)
    for line_id, on in rows:
        found[line_id].add(on)
    return found


def _worked(lines: Collection[UUID], *, first: date) -> defaultdict[UUID, set[date]]:
    """The days on record as worked: by a named person's word, or by a daily docket with hours."""
    said = WorkedDay.objects.filter(line__in=lines, on__gte=first, struck_at=None)
    dockets = DailyDocket.objects.standing().filter(line__in=lines, on__gte=first, starts_at__isnull=False)
    return _days([*said.values_list("line", "on"), *dockets.values_list("line", "on")])


def _signed(hires: Sequence[Out], *, since: datetime, at: datetime) -> dict[UUID, list[datetime]]:
    """When pre-starts were signed that count for each hire: the yard's own and those signed on it. One query."""
    rows = WalkRound.objects.filter(
        cart__in=[hire.cart_id for hire in hires], purpose="daily", signed_at__gte=since, signed_at__lte=at
    )
    by_cart: defaultdict[UUID, list[tuple[UUID | None, datetime]]] = defaultdict(list)
    for cart_id, line_id, signed_at in rows.values_list("cart", "site_walker__subject_id", "signed_at"):
        by_cart[cart_id].append((line_id, signed_at))
    return {
        hire.line_id: sorted(moment for line_id, moment in by_cart[hire.cart_id] if line_id in (None, hire.line_id))
        for hire in hires
    }  # fmt: skip


def _reads(carts: Collection[UUID], *, since: datetime, at: datetime) -> defaultdict[UUID, list[Read]]:
    """What the meters of carts showed since, and the last before. Two queries."""
    rows = MeterReading.objects.filter(meter__cart__in=carts).order_by("meter", "-read_at", "-value")
    # Asked of each meter by itself, the last before is one step in the index, however long the meter was read.
    last = MeterReading.objects.filter(meter=OuterRef("pk"), read_at__lt=since).order_by("-read_at", "-value")
    before = Meter.objects.filter(cart__in=carts).values(last=Subquery(last.values("pk")[:1]))
    found: defaultdict[UUID, list[Read]] = defaultdict(list)
    for part in (rows.filter(read_at__gte=since, read_at__lte=at), rows.filter(pk__in=before)):
        for cart_id, meter, kind, moment, value in part.values_list(
            "meter__cart", "meter", "meter__kind", "read_at", "value"
        ):
            found[cart_id].append(Read(str(meter), kind, moment, value))
    return found
