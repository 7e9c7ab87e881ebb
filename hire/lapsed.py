"""Pre-starts that lapsed on hire: the shifts that owed one and have none, and what was said of each. Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from hire.models.agreements import Line
from hire.models.off_hire import OffHire
from hire.models.said import PreStartSaid
from hire.owed_facts import Out, works_of
from hire.querysets import LineQuerySet
from hire.shifts import LOOK_BACK, Shift, lapsed_shifts


@dataclass(frozen=True)
class Lapsed:
    """One shift without its pre-start. last_at: when the one before it was signed on this hire; None: none since the look-back.
    why: of a day off, what says that the cart was used."""

    line: Line
    shift: Shift
    last_at: datetime | None
    said: tuple[PreStartSaid, ...]
    why: str = ""

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


def lapsed_of(lines: Sequence[Line], *, at: datetime) -> dict[UUID, list[Lapsed]]:
    """The lapsed shifts of hires, the latest first, by line id. Twelve queries however many hires."""
    works = works_of([Out.of(line) for line in lines], since=at - LOOK_BACK, at=at)
    said: defaultdict[tuple[UUID, date, str], list[PreStartSaid]] = defaultdict(list)
    for one in PreStartSaid.objects.filter(line__in=lines).select_related("recorded_by", "link"):
        said[one.line_id, one.shift_on, one.shift_words].append(one)
    called = dict(OffHire.objects.standing().filter(line__in=lines).values_list("line", "called_at"))
    found = {}
    for line in lines:
        until = min(filter(None, (line.back_at, called.get(line.pk), at)))
        work = works[line.pk]
        found[line.pk] = [
            Lapsed(
                line, one.shift, max((moment for moment in work.signed if moment < one.shift.starts_at), default=None),
                tuple(said[line.pk, one.shift.on, one.shift.words]), one.why,
            )
            for one in lapsed_shifts(work, at=until)
        ]  # fmt: skip
    return found
