"""What the yard's own records say of a day of a hire, beside a claim that its cart stood. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from hire.charge_facts import charge_ends_at, terms_of
from hire.charging.clock import Advance, gained_on, gained_words, touches
from hire.charging.money import cents, counted, day_words, joined, number
from hire.models.agreements import Line
from hire.models.daily import DailyDocket
from hire.worked_facts import CLOCK_OF, advances
from inspections.models import WalkRound

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class DayRecord:
    """One day of a hire, in its own zone. signed: when its pre-starts were. dockets: the daily dockets that stand, their
    signatures loaded. gains: what the clocks gained between readings that reach into it. worked_hours: what the clock gained on it,
    None where that is not certain."""

    on: date
    zone: ZoneInfo
    loads: int
    litres: int
    signed: Sequence[datetime]
    dockets: Sequence[DailyDocket]
    gains: Sequence[Advance]
    worked_hours: Decimal | None

    @property
    def sentence(self) -> str:
        """All of it, what is missing too."""
        told = [
            f"{counted(self.loads, 'load')}, {number(self.litres)} L" if self.loads else "no load",
            self._pre_starts(),
            *(_docket_words(one) for one in self.dockets),
            *(gained_words(one, self.zone) for one in self.gains),
        ]
        told += [] if self.gains else ["no clock read around it"]
        told += [] if self.worked_hours is None else [f"{number(self.worked_hours)} h of it on that day"]
        return f"Our own records of {day_words(self.on)}: {'; '.join(told)}."

    def _pre_starts(self) -> str:
        if not self.signed:
            return "no pre-start signed"
        return f"pre-start signed at {joined([f'{at:%H:%M}' for at in self.signed])}"


def _docket_words(one: DailyDocket) -> str:
    state = "signed" if one.is_signed else "not signed"
    return f"daily docket {one.number}, {state}, {number(one.hours)} h"


def day_records(line: Line, days: Sequence[date]) -> list[DayRecord]:
    """The records of some days of a hire, in the order asked. The same queries for any number of days."""
    if line.handed_over_at is None or not days:
        return []
    zone = ZoneInfo(line.agreement.time_zone)
    first = datetime.combine(min(days), time.min, tzinfo=zone)
    last = datetime.combine(max(days) + ONE_DAY, time.min, tzinfo=zone)
    loads = list(line.loads.counted().between(first, last).values_list("taken_at", "litres"))
    walks = WalkRound.objects.filter(
        cart=line.cart_id, purpose="daily", signed_at__gte=first, signed_at__lt=last
    ).order_by("signed_at")
    signed = [at.astimezone(zone) for at in walks.values_list("signed_at", flat=True)]
    dockets = list(line.daily_dockets.standing().filter(on__in=days).select_related("signature"))
    gains = list(advances(line, until=charge_ends_at(line)))
    clock = _agreed_clock(line)
    found = []
    for on in days:
        litres = [each for at, each in loads if at.astimezone(zone).date() == on]
        gained = gained_on(gains, on, zone, clock=clock)
        found.append(
            DayRecord(
                on=on,
                zone=zone,
                loads=len(litres),
                litres=sum(litres),
                signed=[at for at in signed if at.date() == on],
                dockets=[one for one in dockets if one.on == on],
                gains=[one for one in gains if touches(one, on, zone)],
                worked_hours=cents(gained[0]).quantize(Decimal("0.1"))
                if gained and gained[0] == gained[1]
                else None,
            )
        )
    return found


def _agreed_clock(line: Line) -> str:
    """The clock a hire's hours are agreed by; the engine's where none of ours is."""
    agreed = terms_of(line)
    hours = agreed.terms().hours if agreed else None
    return hours.clock if hours and hours.clock in CLOCK_OF.values() else "engine"


def days_to_look_at(line: Line, on: date, *, count: int) -> list[date]:
    """So many days of a hire up to and with one, the newest first; none before its cart left."""
    if line.handed_over_at is None:
        return []
    left = line.handed_over_at.astimezone(ZoneInfo(line.agreement.time_zone)).date()
    days = [on - timedelta(days=back) for back in range(count)]
    return [day for day in days if day >= left]
