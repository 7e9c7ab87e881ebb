"""What happened on a hire, as far as money goes: when it ran, what the clock showed, days stood down, dockets."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from hire.charging.clock import Advance
from hire.charging.extras import Extra
from hire.charging.money import exact
from hire.charging.terms import known

STAND_DOWNS = ("rain", "breakdown")
CAUSES = ("", "tyres", "misuse")


def aware(at: datetime, what: str) -> datetime:
    """The instant in UTC, so that no two local times are compared across a clock change."""
    if at.tzinfo is None:
        raise ValueError(f"{what} needs a time zone.")
    return at.astimezone(UTC)


@dataclass(frozen=True, slots=True)
class Reading:
    """What the agreement's clock showed. meter: which one, where a swap or a new meter brought another."""

    at: datetime
    hours: Decimal
    meter: str = ""

    def __post_init__(self) -> None:
        aware(self.at, "A reading")
        exact(self.hours, "A reading")


@dataclass(frozen=True, slots=True)
class AgreedHours:
    """Hours over some days, both ends included, as both sides agreed them. words: how, and by whom."""

    first: date
    last: date
    hours: Decimal
    words: str

    def __post_init__(self) -> None:
        exact(self.hours, "The hours agreed")
        if self.last < self.first:
            raise ValueError("Hours are agreed from a day to the same or a later one.")


@dataclass(frozen=True, slots=True)
class StandDown:
    """A day claimed as stood down. told_at: when the yard was told (None: nobody wrote it down). worked_hours: what the clock
    gained that day (None: not read). lost_hours: of a breakdown (None: the whole day). cause: "" (ours), "tyres", "misuse".
    """

    on: date
    why: str
    told_at: datetime | None = None
    worked_hours: Decimal | None = None
    lost_hours: Decimal | None = None
    cause: str = ""

    def __post_init__(self) -> None:
        known(self.why, STAND_DOWNS, "A stood-down day")
        known(self.cause, CAUSES, "The cause of a breakdown")
        if self.told_at is not None:
            aware(self.told_at, "The time of notice")
        if self.worked_hours is not None:
            exact(self.worked_hours, "The hours worked")
        if self.lost_hours is not None:
            exact(self.lost_hours, "The hours lost")


@dataclass(frozen=True, slots=True)
class Docket:
    """A day's docket. An unsigned one is not charged. cancelled_late: nobody worked, the minimum is charged."""

    number: str
    on: date
    hours: Decimal
    travel_hours: Decimal = Decimal(0)
    is_night: bool = False
    cancelled_late: bool = False
    is_signed: bool = True

    def __post_init__(self) -> None:
        exact(self.hours, f"The hours of docket {self.number}")
        exact(self.travel_hours, f"The travel of docket {self.number}")


@dataclass(frozen=True, slots=True)
class Hire:
    """One cart's hire, or a cart and the one it was swapped for.

    off_hire_at: the numbered call, which stops the charge; None while it is on hire. agreed_days: hire days agreed, None when open.
    holidays: the public holidays of the place it works, handed in. worked_on: days it worked though they were none of the week
    (dockets say so themselves); said_worked: such days with who said so, where no record does; advances: what the clocks gained, of
    engine and pump alike. agreed_hours: in the place of what the clock showed on their days, no day twice. given_up_on: days
    credited by the outcome of a dispute. readings, stand_downs and dockets: in any order.

    ValueError for off-hire before handover, agreed days below 1, a meter that went back, a day stood down twice, two extras or
    dockets of one name.
    """

    handed_over_at: datetime
    off_hire_at: datetime | None
    zone: ZoneInfo
    agreed_days: int | None = None
    holidays: frozenset[date] = frozenset()
    worked_on: frozenset[date] = frozenset()
    said_worked: Mapping[date, str] = field(default_factory=dict)
    advances: Sequence[Advance] = ()
    given_up_on: frozenset[date] = frozenset()
    readings: Sequence[Reading] = ()
    agreed_hours: Sequence[AgreedHours] = ()
    stand_downs: Sequence[StandDown] = ()
    dockets: Sequence[Docket] = ()
    extras: Sequence[Extra] = ()

    def __post_init__(self) -> None:
        handed_over = aware(self.handed_over_at, "The handover")
        if self.off_hire_at is not None and aware(self.off_hire_at, "The off-hire") < handed_over:
            raise ValueError("The off-hire is before the handover: correct one of the two times.")
        if self.agreed_days is not None and self.agreed_days < 1:
            raise ValueError(f"A hire is agreed for one whole day or more, not {self.agreed_days}.")
        _once([each.on.isoformat() for each in self.stand_downs], "{} is stood down twice.")
        _once([each.number for each in self.dockets], "There are two dockets {}.")
        _once([each.key for each in self.extras], "Two charges are called {}.")
        self._check_meters()

    def _check_meters(self) -> None:
        shown: dict[str, Reading] = {}
        for reading in self.readings_in_order:
            before = shown.get(reading.meter)
            if before is not None and reading.hours < before.hours:
                raise ValueError(
                    f"The meter went back from {before.hours} to {reading.hours}: name the new meter, or correct the reading."
                )
            shown[reading.meter] = reading

    @property
    def readings_in_order(self) -> list[Reading]:
        return sorted(self.readings, key=lambda reading: (reading.at.astimezone(UTC), reading.hours))

    def day_of(self, at: datetime) -> date:
        """The day of an instant where the cart works."""
        return at.astimezone(self.zone).date()


def _once(names: list[str], sentence: str) -> None:
    for name in names:
        if names.count(name) > 1:
            raise ValueError(sentence.format(name))
