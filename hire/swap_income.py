"""What each cart of a hire earned where one was swapped for another: the dockets' lines, shared. Reads only, many hires at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import chain
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Prefetch, Q

from hire.charging.interim import CORRECTION
from hire.charging.lines import HIRE
from hire.cross_hire import Span, days_had, last_charged, parted
from hire.models.agreements import Line
from hire.models.daily import DailyDocket
from hire.models.disputes import DisputeOutcome
from hire.models.money import AgreedTerms, BesideCharge, Docket
from hire.models.off_hire import OffHire

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True)
class DocketPart:
    """What one docket line is to one cart of its hire. days, of_days: the cart's on site and all carts' that the line is shared by;
    None, both: it is of one cart alone."""

    docket: Docket
    what: str
    amount: Decimal
    share: Decimal
    days: int | None = None
    of_days: int | None = None


def ended_at(line: Line) -> datetime | None:
    """The instant our hire of a line ended: the call's, else the return; None while it is on hire. Off-hires prefetched."""
    call = next((one for one in line.off_hires.all() if one.cancelled_at is None), None)
    ends = [moment for moment in (call.stops_at if call else None, line.back_at) if moment is not None]
    return min(ends, default=None)


def docket_parts(lines: Sequence[Line]) -> dict[UUID, list[DocketPart]]:
    """By line, of hires on which a cart was swapped: every line of the hire's dockets with its part. Queries by the longest run of
    swaps, not by the number of hires."""
    hires = [hire for hire in _hires(lines) if len(hire) > 1]
    if not hires:
        return {}
    facts = _Facts.of(list(chain.from_iterable(hires)))
    wanted = {line.pk for line in lines}
    found: dict[UUID, list[DocketPart]] = {}
    for hire in hires:
        shared = _Shared(hire, facts)
        found |= {one.pk: list(shared.parts_of(one)) for one in hire if one.pk in wanted}
    return found


def _hires(lines: Sequence[Line]) -> list[list[Line]]:
    """The lines charged together with each of these, the one whose cart was on site first before the others."""
    after: dict[UUID, UUID] = {}
    known: set[UUID] = set()
    asked = {line.pk for line in lines}
    while asked:
        known |= asked
        swaps = OffHire.objects.swaps().filter(Q(line__in=asked) | Q(replaced_by__in=asked))
        after |= dict(swaps.values_list("line", "replaced_by"))
        asked = {*after, *after.values()} - known
    rows = Line.objects.filter(pk__in=known).select_related("cart", "agreement")
    loaded = {one.pk: one for one in rows.prefetch_related(Prefetch("off_hires", OffHire.objects.standing()))}
    hires = []
    for first in known - set(after.values()):
        hire = [loaded[first]]
        while (other := after.get(hire[-1].pk)) is not None:
            hire.append(loaded[other])
        hires.append(hire)
    return hires


# The first cart was delivered, the last one collected.
CARRIED = {"delivery": 0, "collection": -1}


@dataclass(frozen=True)
class _Facts:
    """What the keys of docket lines name, of many hires."""

    dockets: Mapping[UUID, Sequence[Docket]]
    beside: Mapping[str, UUID]
    daily: Mapping[str, UUID]
    outcomes: Mapping[str, DisputeOutcome]
    pools: Mapping[UUID, str]

    @classmethod
    def of(cls, lines: Sequence[Line]) -> _Facts:
        dockets: defaultdict[UUID, list[Docket]] = defaultdict(list)
        for docket in Docket.objects.filter(line__in=lines).order_by("made_at"):
            dockets[docket.line_id].append(docket)
        outcomes = DisputeOutcome.objects.filter(dispute__docket__line__in=lines)
        terms = AgreedTerms.objects.filter(line__in=lines).order_by("agreed_at")
        return cls(
            dockets,
            {
                str(key): line
                for key, line in BesideCharge.objects.filter(line__in=lines).values_list("pk", "line")
            },
            dict(DailyDocket.objects.filter(line__in=lines).values_list("number", "line")),
            {
                str(one.dispute_id): one
                for one in outcomes.select_related("dispute__docket").prefetch_related("days")
            },
            {one.line_id: one.body.get("pool") or "" for one in terms},
        )


class _Shared:
    """One hire, whose docket lines are shared by the days each cart was on site, or are one cart's own."""

    def __init__(self, hire: Sequence[Line], facts: _Facts) -> None:
        self.facts, self.hire = facts, hire
        self.dockets = sorted(
            chain.from_iterable(facts.dockets.get(one.pk, ()) for one in hire),
            key=lambda docket: docket.made_at,
        )
        self.spans = list(_spans(hire))
        self.start = min((span.first for span in self.spans), default=date.max)
        self.pool = next((facts.pools[one.pk] for one in reversed(hire) if one.pk in facts.pools), "")

    def parts_of(self, line: Line) -> Iterator[DocketPart]:
        for docket in self.dockets:
            for one in docket.body["lines"]:
                amount = Decimal(one["amount"])
                whose = self._whose(docket, one)
                if isinstance(whose, UUID):
                    yield DocketPart(
                        docket, one["what"], amount, amount if whose == line.pk else Decimal("0.00")
                    )
                    continue
                share = parted(amount, whose).get(str(line.pk), Decimal("0.00"))
                yield DocketPart(
                    docket, one["what"], amount, share, whose.get(str(line.pk), 0), sum(whose.values())
                )

    def _whose(self, docket: Docket, one: Mapping[str, Any]) -> UUID | Mapping[str, int]:
        """The line whose cart it is of alone, or by line the days it is shared by."""
        kind, _, name = one["key"].partition(" ")
        if kind in CARRIED:
            return self.hire[CARRIED[kind]].pk
        if kind == "beside" and name in self.facts.beside:
            return self.facts.beside[name]
        if kind == "docket" and name.split(" ")[0] in self.facts.daily:
            return self.facts.daily[name.split(" ")[0]]
        if kind == "dispute" and name in self.facts.outcomes:
            return self._given_up(self.facts.outcomes[name])
        if kind == "rain":
            return self._days([(date.fromisoformat(name), date.fromisoformat(name))], docket)
        if kind == "hours":
            return self._days([self._pool(date.fromisoformat(name))], docket)
        if kind == HIRE and one["unit"] == CORRECTION:
            return self._days([(self.start, docket.through)], docket)
        return self._days([(self._after_docket_before(docket.through), docket.through)], docket)

    def _given_up(self, outcome: DisputeOutcome) -> UUID | Mapping[str, int]:
        """Of the days it is for; else as the line it is of."""
        docket = outcome.dispute.docket
        if days := [(day.on, day.on) for day in outcome.days.all()]:
            return self._days(days, docket)
        return self._whose(docket, docket.body["lines"][outcome.dispute.line_no - 1])

    def _after_docket_before(self, on: date) -> date:
        """The first day of the docket that ends on a day."""
        before = [docket.through for docket in self.dockets if docket.through < on]
        return max(before) + ONE_DAY if before else self.start

    def _pool(self, on: date) -> tuple[date, date]:
        """The days of the pool of hours that ends on a day."""
        if self.pool == "day":
            return on, on
        if self.pool == "week":
            return self.start + (on - self.start) // (7 * ONE_DAY) * (7 * ONE_DAY), on
        return (self._after_docket_before(on) if self.pool == "bill period" else self.start), on

    def _days(self, spans: Iterable[tuple[date, date]], docket: Docket) -> UUID | Mapping[str, int]:
        """By line the days on site; what is of days on which no cart was is of the docket's own line."""
        found: dict[str, int] = {}
        for first, last in spans:
            for key, count in days_had(self.spans, first=first, last=last).items():
                found[key] = found.get(key, 0) + count
        return found if any(found.values()) else docket.line_id


def _spans(hire: Sequence[Line]) -> Iterator[Span]:
    """From the day each left to the day its charge stopped; a cart that is out has every day to come."""
    for one in hire:
        if one.handed_over_at is None:
            continue
        zone = ZoneInfo(one.agreement.time_zone)
        ends = ended_at(one)
        yield Span(
            str(one.pk),
            one.handed_over_at.astimezone(zone).date(),
            last_charged(ends, zone=zone) if ends else date.max,
        )
