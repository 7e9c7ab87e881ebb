"""Hours worked over those allowed, pool by pool."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction

from hire.charging.days import ONE_DAY, Days
from hire.charging.facts import AgreedHours, Hire
from hire.charging.lines import Line, line_of
from hire.charging.money import cents, counted, day_words, joined, money, number, span_words
from hire.charging.terms import CLOCKS, HOURS_IN_DAY, HoursTerms, Terms

NOON = 12
WEEK_DAYS = 7


@dataclass(frozen=True, slots=True)
class Pool:
    """Days whose hours are counted together, both ends included."""

    first: date
    last: date
    words: str


def excess_lines(hire: Hire, terms: Terms, days: Days, billed_to: Sequence[date]) -> list[Line]:
    """A line for each pool that ran over. A week or a hire that has not ended yet is left for a later document, so that an
    hour over is never charged that the pool still takes up. billed_to: the last days of earlier documents.

    Allowed: the hours in a day, for each shift and each day charged. Hours of a stood-down day do not count. Hours nobody read
    day by day are shared out evenly over the days charged between two readings; the hours over are taken to the hundredth.
    What both sides agreed for some days stands in the place of what the clock showed on them, and the line says so.
    """
    hours = terms.hours
    if hours is None:
        return []
    worked, shared = worked_hours(hire, hours, days)
    off = {*days.rain, *days.breakdown}
    in_day = min(Fraction(hours.in_day) * terms.shifts_a_day, Fraction(HOURS_IN_DAY))
    lines = []
    for pool in _pools(hours, days, sorted(billed_to)):
        allowed_to = _allowed_to(pool, hours, days)
        paid = sum(pool.first <= on <= allowed_to for on in days.charged)
        inside = {on for on in worked if pool.first <= on <= pool.last} - off
        used = sum((worked[on] for on in inside), Fraction(0))
        over = cents(used - in_day * paid)
        if over > 0:
            working = (
                f"{pool.words}: {number(used)} h used, {number(in_day * paid)} allowed ({counted(paid, 'day')}"
                f" × {number(in_day)} h): {number(over)} × {money(hours.price)}"
            )
            if shared & inside and hours.pool != "whole hire":
                working += "; hours shared out evenly between readings"
            working += "".join(
                f"; {one.words}"
                for one in hire.agreed_hours
                if one.first <= pool.last and one.last >= pool.first
            )
            what = f"Hours over, {CLOCKS[hours.clock]}"
            lines.append(line_of(f"hours {pool.last}", what, over, "hour", hours.price, working=working))
    return lines


def _allowed_to(pool: Pool, hours: HoursTerms, days: Days) -> date:
    """What the minimum adds is paid for, so its hours may be used: by the last pool of all."""
    is_last = pool.last == days.last and hours.pool != "day"
    return max([pool.last, *days.charged[-1:]]) if is_last else pool.last


def worked_hours(hire: Hire, hours: HoursTerms, days: Days) -> tuple[dict[date, Fraction], set[date]]:
    """Hours by day, of the hire's own days, and the days whose hours are a share of several days'."""
    worked: dict[date, Fraction] = {}
    shared: set[date] = set()
    if hours.clock == "docket":
        for docket in hire.dockets:
            if docket.is_signed and days.first <= docket.on <= days.last:
                worked[docket.on] = worked.get(docket.on, Fraction(0)) + Fraction(docket.hours)
        return _with_agreed(worked, hire, days), shared
    charged = set(days.charged)
    for opens, closes, gained in _gains(hire, days):
        span = [opens + timedelta(days=day + 1) for day in range((closes - opens).days)] or [closes]
        busy = [on for on in span if on in charged] or span
        shared |= set(busy) if len(busy) > 1 else set()
        for on in busy:
            worked[on] = worked.get(on, Fraction(0)) + gained / len(busy)
    agreed = _with_agreed(worked, hire, days)
    return agreed, shared - {on for one in hire.agreed_hours for on in _span(one)}


def uncounted_words(hire: Hire, terms: Terms, days: Days, billed_to: Sequence[date]) -> str:
    """Of the pools that have ended, the days charged whose hours no reading tells and nobody agreed, in one sentence; "": none.
    billed_to: as of excess_lines."""
    hours = terms.hours
    if hours is None:
        return ""
    told = {on for one in hire.agreed_hours for on in _span(one)}
    if hours.clock == "docket":
        told |= {docket.on for docket in hire.dockets if docket.is_signed}
    told |= _days_read(hire, days)
    charged = [on for on in days.charged if on <= days.last]
    ended = [pool.last for pool in _pools(hours, days, sorted(billed_to))]
    missing = [on for on in charged if ended and on <= ended[-1] and on not in told]
    if not missing:
        return ""
    how = "agreed" if hours.clock in ("key", "docket") else "read"
    spans = [_span_said(span) for span in _runs(missing, charged)]
    return f"Hours {joined(spans)} were not {how}: none counted."


def _days_read(hire: Hire, days: Days) -> set[date]:
    """The days of the hire whose hours are in what a meter gained."""
    found: set[date] = set()
    for opens, closes, _ in _gains(hire, days):
        found |= {opens + timedelta(days=day + 1) for day in range((closes - opens).days)} or {closes}
    readings = hire.readings_in_order
    local = [reading.at.astimezone(hire.zone) for reading in readings]
    if local and _evening(local[0]) > days.first:
        # First read late: what ran before that is in nothing.
        found -= {on for on in found if on <= _evening(local[0])}
    # A day on which one meter ends and another begins has a reading of each.
    meters = zip(zip(readings, local, strict=True), zip(readings[1:], local[1:], strict=True), strict=False)
    found |= {
        later.date()
        for (one, earlier), (other, later) in meters
        if one.meter != other.meter and earlier.date() == later.date()
    }
    if days.is_last and hire.off_hire_at and hire.off_hire_at.astimezone(hire.zone).hour < NOON:
        # Called off in the morning, and read that morning.
        found |= {at.date() for at in local[1:] if at.date() == days.last}
    return found


def _runs(some: Sequence[date], among: Sequence[date]) -> Iterator[list[date]]:
    """Days one after the other among others, run by run, all in order."""
    place, run = {on: number for number, on in enumerate(among)}, [some[0]]
    for on in some[1:]:
        if place[on] == place[run[-1]] + 1:
            run.append(on)
        else:
            yield run
            run = [on]
    yield run


def _span_said(run: Sequence[date]) -> str:
    return f"{'of' if len(run) == 1 else 'from'} {span_words(run[0], run[-1])}"


def _span(one: AgreedHours) -> list[date]:
    return [one.first + timedelta(days=day) for day in range((one.last - one.first).days + 1)]


def _with_agreed(worked: dict[date, Fraction], hire: Hire, days: Days) -> dict[date, Fraction]:
    """With the hours agreed over some days, evenly over the hire days among them, and nothing else on those."""
    found, off = dict(worked), {*days.rain, *days.breakdown}
    for one in hire.agreed_hours:
        span = _span(one)
        for on in span:
            found.pop(on, None)
        busy = [on for on in span if days.week.counts(on) and on not in off] or span
        for on in busy:
            if days.first <= on <= days.last:
                found[on] = Fraction(one.hours) / len(busy)
    return found


def _gains(hire: Hire, days: Days) -> Iterator[tuple[date, date, Fraction]]:
    """(evening, evening, hours gained between them), meter by meter."""
    before: dict[str, tuple[date, Fraction]] = {}
    for reading in hire.readings_in_order:
        evening = max(_evening(reading.at.astimezone(hire.zone)), days.first)
        if evening > days.last:
            if not days.is_last:
                break
            # Read as it came back: nothing later than the last day has been worked.
            evening = days.last
        if reading.meter in before:
            since, shown = before[reading.meter]
            yield since, evening, Fraction(reading.hours) - shown
        elif not before:
            # The reading at handover opens the first day, whatever the hour.
            evening = days.first - ONE_DAY
        before[reading.meter] = evening, Fraction(reading.hours)


def _evening(local: datetime) -> date:
    """A reading before noon is that of the evening before."""
    return local.date() if local.hour >= NOON else local.date() - ONE_DAY


def _pools(hours: HoursTerms, days: Days, billed_to: Sequence[date]) -> Iterator[Pool]:
    first, last = days.first, days.last
    if hours.pool == "day":
        for day in range((last - first).days + 1):
            on = first + timedelta(days=day)
            yield Pool(on, on, day_words(on))
    elif hours.pool == "week":
        opens = first
        while opens <= last:
            closes = opens + timedelta(days=WEEK_DAYS - 1)
            if closes <= last or days.is_last:
                closes = min(closes, last)
                yield Pool(opens, closes, f"week to {day_words(closes)}")
            opens += timedelta(days=WEEK_DAYS)
    elif hours.pool == "bill period":
        opens = first
        for closes in sorted({*(on for on in billed_to if on < last), last}):
            yield Pool(opens, closes, span_words(opens, closes))
            opens = closes + ONE_DAY
    elif days.is_last:
        yield Pool(first, last, "the whole hire")
