"""Pre-starts that lapsed on hire: the shifts that owed one and have none, and what was said of each. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from hire.models.agreements import Line, StandDown
from hire.models.off_hire import OffHire
from hire.models.said import PreStartSaid
from hire.owed import lapsed
from hire.querysets import LineQuerySet
from hire.shifts import Shift
from inspections.models import WalkRound

# How far back a lapsed shift is still shown.
LOOK_BACK = timedelta(days=14)


@dataclass(frozen=True)
class Lapsed:
    """One shift without its pre-start. last_at: when the one before it was signed on this hire; None: none since the look-back."""

    line: Line
    shift: Shift
    last_at: datetime | None
    said: tuple[PreStartSaid, ...]

    @property
    def key(self) -> str:
        """As a form sends it back."""
        return shift_key(self.shift.on, self.shift.words)

    @property
    def words(self) -> str:
        day = f"{self.shift.on:%A %-d %B}"
        return f"{self.shift.words} of {day}" if self.shift.words else day


def shift_key(on: date, words: str) -> str:
    return f"{on:%Y-%m-%d} {words}".strip()


def watched_lines() -> LineQuerySet:
    """Hires out now whose pre-starts are kept with us, and not called off."""
    return (
        Line.objects.out_now()
        .exclude(pk__in=OffHire.objects.awaiting().values("line"))
        .filter(agreement__pre_start_book="ours")
        .for_list()
        .order_by("cart__fleet_number")
    )


def _signed(lines: Sequence[Line], *, since: datetime, at: datetime) -> dict[UUID, list[datetime]]:
    """When pre-starts were signed that count for each hire: the yard's own and those signed on it. One query."""
    rows = WalkRound.objects.filter(
        cart__in=[line.cart_id for line in lines], purpose="daily", signed_at__gte=since, signed_at__lte=at
    )
    by_cart: defaultdict[UUID, list[tuple[UUID | None, datetime]]] = defaultdict(list)
    for cart_id, hire_id, signed_at in rows.values_list("cart", "site_walker__subject_id", "signed_at"):
        by_cart[cart_id].append((hire_id, signed_at))
    return {
        line.pk: sorted(moment for hire, moment in by_cart[line.cart_id] if hire in (None, line.pk))
        for line in lines
    }


def lapsed_of(lines: Sequence[Line], *, at: datetime) -> dict[UUID, list[Lapsed]]:
    """The lapsed shifts of hires, the latest first, by line id. Four queries however many hires."""
    since = at - LOOK_BACK
    signed = _signed(lines, since=since, at=at)
    said: defaultdict[tuple[UUID, date, str], list[PreStartSaid]] = defaultdict(list)
    for one in PreStartSaid.objects.filter(line__in=lines).select_related("recorded_by", "link"):
        said[one.line_id, one.shift_on, one.shift_words].append(one)
    down: defaultdict[UUID, set[date]] = defaultdict(set)
    for row in StandDown.objects.filter(line__in=lines).values_list("line", "on"):
        down[row[0]].add(row[1])
    called = dict(OffHire.objects.standing().filter(line__in=lines).values_list("line", "called_at"))
    found = {}
    for line in lines:
        until = min(filter(None, (line.back_at, called.get(line.pk), at)))
        shifts = lapsed(
            line, stood_down=frozenset(down[line.pk]), signed=signed[line.pk], since=since, at=until
        )
        found[line.pk] = [
            Lapsed(
                line, shift, max((one for one in signed[line.pk] if one < shift.starts_at), default=None),
                tuple(said[line.pk, shift.on, shift.words]),
            )
            for shift in shifts
        ]  # fmt: skip
    return found
