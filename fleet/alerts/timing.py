"""When a notice may go and who is next up the line. Local times are the yard's; what is given back is in UTC."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import TypeVar
from zoneinfo import ZoneInfo

Person = TypeVar("Person")

RANK_ORDER = {"stop": 0, "today": 1, "soon": 2}
# A condition that comes back within this is the same alert, and whoever was told is not told again.
SAME_AFTER = timedelta(hours=24)
LONGEST_HELD_DAYS = 14


@dataclass(frozen=True)
class Hours:
    """What a yard lets disturb it when. Quiet hours run over midnight, from the evening to the morning.

    working_days: Monday is 0. stop_after: how long nobody takes a stop before each further step up the line.
    ValueError when no day is a working day, when quiet hours would not run over midnight, or hold the digest.
    """

    zone: ZoneInfo
    quiet_from: time
    quiet_until: time
    digest_at: time
    working_days: frozenset[int]
    stop_after: tuple[timedelta, ...]

    def __post_init__(self) -> None:
        if not self.working_days & set(range(7)):
            raise ValueError("At least one day of the week is a working day.")
        if self.quiet_from <= self.quiet_until:
            raise ValueError("Quiet hours begin in the evening and end in the morning.")
        if not self.quiet_until <= self.digest_at < self.quiet_from:
            raise ValueError("The digest comes outside the quiet hours.")


def _at_local(on: date, hour: time, hours: Hours) -> datetime:
    """The instant of a local time. One that the clock skips is taken by the offset before the change, one that it has
    twice is the first."""
    return datetime.combine(on, hour, hours.zone).astimezone(UTC)


def _next_working(at: datetime, hour: time, hours: Hours, *, after: bool = False) -> datetime:
    """The first instant, at or after `at` (only after it, if `after`), that is this local time of a working day."""
    on = at.astimezone(hours.zone).date()
    for away in range(9):
        day = on + timedelta(days=away)
        moment = _at_local(day, hour, hours)
        if day.weekday() in hours.working_days and (moment > at if after else moment >= at):
            return moment
    raise AssertionError("A week has a working day.")


def is_working(at: datetime, *, hours: Hours) -> bool:
    """Whether the yard is at work: a working day, outside the quiet hours."""
    local = at.astimezone(hours.zone)
    return local.weekday() in hours.working_days and hours.quiet_until <= local.time() < hours.quiet_from


def available_at(rank: str, *, at: datetime, hours: Hours) -> datetime:
    """When what is found at `at` may first be told: a stop at once, `today` in working hours, `soon` with the digest.

    KeyError for a rank that is none.
    """
    if RANK_ORDER[rank] == 0:
        return at.astimezone(UTC)
    if rank == "soon":
        return _next_working(at, hours.digest_at, hours)
    return at.astimezone(UTC) if is_working(at, hours=hours) else _next_working(at, hours.quiet_until, hours)


def steps(rank: str, *, at: datetime, hours: Hours) -> tuple[datetime, ...]:
    """When each step up the line is due if nobody takes it meanwhile, the first telling first.

    A stop goes further after `stop_after`; `today` goes to the fleet manager one working day after it was told, at the
    same local time; `soon` goes no further.
    """
    first = available_at(rank, at=at, hours=hours)
    if rank == "stop":
        return (first, *(first + after for after in hours.stop_after))
    if rank == "today":
        return (first, _next_working(first, first.astimezone(hours.zone).time(), hours, after=True))
    return (first,)


def is_last_step(rank: str, step: int, *, hours: Hours) -> bool:
    """Whether this step is the fleet manager's own."""
    return step == len(hours.stop_after) if rank == "stop" else step == 1


def next_up(
    *,
    rank: str,
    is_last: bool,
    on_call: Sequence[Person],
    of_role: Sequence[Person],
    managers: Sequence[Person],
    reachable: Collection[Person],
    told: Collection[Person],
) -> Person | None:
    """The one person to tell, or None when everybody who could be told was.

    A stop goes to whoever is on call, in the roster's order, then to the role. Anything else goes to the role, whoever of
    it is on call first. The fleet managers come last, and the last step is theirs alone. Somebody who can be reached comes
    before somebody who has only the screen; nobody is told twice.
    """
    line = _line(rank, is_last=is_last, on_call=on_call, of_role=of_role, managers=managers)
    untold = [person for person in line if person not in told]
    return next((person for person in untold if person in reachable), untold[0] if untold else None)


def _line(
    rank: str,
    *,
    is_last: bool,
    on_call: Sequence[Person],
    of_role: Sequence[Person],
    managers: Sequence[Person],
) -> list[Person]:
    if is_last:
        return list(managers)
    first: Iterable[Person] = on_call if rank == "stop" else (one for one in on_call if one in of_role)
    return list(dict.fromkeys([*first, *of_role, *managers]))
