"""Which days are hire days, which of them are taken off, and which are added by the minimum.

A day is a calendar day where the cart works; one of 23 or 25 hours is one day.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, time, timedelta

from hire.charging.clock import Advance, days_proven, days_unsure, gained_words, unsure_words
from hire.charging.facts import Hire, StandDown
from hire.charging.money import counted, day_words, number
from hire.charging.terms import StandDownTerms, Terms

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Week:
    """Which days count: those of the week, less free holidays, and any other the cart worked on. by_clock: of those, the days on
    which it is the clock that says so."""

    days: int
    free: frozenset[date]
    worked: frozenset[date]
    by_clock: Mapping[date, Advance]

    @classmethod
    def of(cls, hire: Hire, terms: Terms) -> Week:
        by_clock = days_proven(hire.advances, hire.zone)
        worked = hire.worked_on.union(
            hire.said_worked,
            by_clock,
            (docket.on for docket in hire.dockets if docket.is_signed and docket.hours > 0),
        )
        return cls(
            terms.days_in_week, hire.holidays if terms.holidays_are_free else frozenset(), worked, by_clock
        )

    def counts(self, on: date) -> bool:
        return on in self.worked or self.is_ordinary(on)

    def is_ordinary(self, on: date) -> bool:
        """One of the week's days, and no free holiday."""
        return on.weekday() < self.days and on not in self.free

    def between(self, first: date, last: date) -> list[date]:
        days = (first + timedelta(days=number) for number in range((last - first).days + 1))
        return [on for on in days if self.counts(on)]

    def onward(self, first: date) -> Iterator[date]:
        on = first
        while True:
            if self.counts(on):
                yield on
            on += ONE_DAY

    def first_of(self, count: int, first: date) -> list[date]:
        """So many hire days from a day on."""
        return [on for on, _ in zip(self.onward(first), range(count), strict=False)]


@dataclass(frozen=True, slots=True)
class Days:
    """first, last: the days charged, both included. is_last: the off-hire is among them. stay: its hire days. off: stood-down days
    by kind. charged: what is paid for, the minimum's further days among them when it is the last document."""

    first: date
    last: date
    is_last: bool
    week: Week
    stay: list[date]
    rain: list[date]
    breakdown: list[date]
    charged: list[date]
    notes: list[str]
    # By a day stood down for rain: what it rests on, ready to follow other words.
    rain_words: dict[date, str]
    # The days paid for at least, which breakdowns shorten.
    minimum: int

    def is_over(self, on: date) -> bool:
        """Whether a day is after the last one, and the minimum does not pay for it."""
        return on > self.last and on not in self.charged

    def kept_for(self, agreed: Sequence[date]) -> list[date]:
        """What would be paid for, had it stayed the days agreed: those that were not taken off, the minimum at least."""
        off = {*self.rain, *self.breakdown}
        kept = [on for on in agreed if on not in off]
        return kept + self.week.first_of(self.minimum - len(kept), agreed[-1] + ONE_DAY)


def days_of(hire: Hire, terms: Terms, through: date | None) -> Days:
    """The days charged up to and with `through`; None: to the off-hire. ValueError when there is none of both."""
    first, ends = hire.day_of(hire.handed_over_at), last_day(hire, terms)
    last = min((on for on in (through, ends) if on is not None), default=None)
    if last is None:
        raise ValueError("The cart is still on hire: say up to which day it is charged.")
    if last < first:
        raise ValueError(
            f"Nothing is charged up to {day_words(last)}: the hire begins on {day_words(first)}."
        )
    week, is_last = Week.of(hire, terms), ends is not None and ends <= last
    stay = week.between(first, last)
    taken = _Taken(hire, terms, week.first_of(terms.minimum_days, first), stay)
    off = {*taken.rain, *taken.breakdown}
    charged = [on for on in stay if on not in off]
    # A day broken down is a day without a cart: it shortens the minimum too.
    minimum = terms.minimum_days - len(set(taken.breakdown) & set(taken.inside))
    if is_last and len(charged) < minimum:
        charged += week.first_of(minimum - len(charged), last + ONE_DAY)
    return Days(
        first,
        last,
        is_last,
        week,
        stay,
        taken.rain,
        taken.breakdown,
        charged,
        [*taken.notes, *_outside_the_week(hire, week, first, last)],
        taken.words,
        minimum,
    )


def _outside_the_week(hire: Hire, week: Week, first: date, last: date) -> Iterator[str]:
    """A note for each day charged though it is none of the week, and for those of which nobody can tell."""
    outside = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    outside = [on for on in outside if not week.is_ordinary(on)]
    for on in outside:
        if on in hire.worked_on:
            why = ""
        elif on in hire.said_worked:
            why = f", as {hire.said_worked[on]}"
        elif on in week.by_clock:
            why = f", for {gained_words(week.by_clock[on], hire.zone)}"
        else:
            continue
        yield f"{day_words(on)} is charged though it is none of the week, or a free holiday: the cart worked{why}."
    unsure = [on for on in outside if not week.counts(on)]
    for days, advance in days_unsure(hire.advances, unsure, hire.zone):
        yield unsure_words(days, advance, hire.zone)


def last_day(hire: Hire, terms: Terms) -> date | None:
    """The last day charged by the off-hire call, the day of handover at the earliest; None while it is on hire. Wet hire is charged
    by its dockets, the one of the day of the call among them, so the hour of the call frees no day of it."""
    if hire.off_hire_at is None:
        return None
    called = hire.off_hire_at.astimezone(hire.zone)
    # Midnight belongs to the day it begins, and nothing of that day has run.
    cut_off = terms.cut_off if terms.wet is None else None
    is_free = called.time() == time.min or (cut_off is not None and called.time() < cut_off)
    return max(called.date() - ONE_DAY if is_free else called.date(), hire.day_of(hire.handed_over_at))


class _Taken:
    """Goes through the stood-down days in order, and notes why one is not taken off."""

    def __init__(self, hire: Hire, terms: Terms, inside: list[date], stay: list[date]) -> None:
        self.hire, self.terms, self.inside, self.stay = hire, terms.stand_down, inside, set(stay)
        self.rain: list[date] = []
        self.breakdown: list[date] = []
        self.notes: list[str] = []
        self.words: dict[date, str] = {}
        for claim in sorted(hire.stand_downs, key=lambda each: each.on):
            if claim.on not in self.stay:
                continue
            why_not = self._why_not(claim)
            if why_not:
                self.notes.append(
                    f"{claim.why.capitalize()} on {day_words(claim.on)} is not taken off: {why_not}."
                )
            else:
                (self.rain if claim.why == "rain" else self.breakdown).append(claim.on)
                self.words[claim.on] = self._words(claim)

    def _why_not(self, claim: StandDown) -> str:
        if claim.on in self.hire.given_up_on:
            # Taken off besides, the day would be credited twice.
            return "it was given up in a dispute, and is credited so"
        return self._rain(claim) if claim.why == "rain" else self._breakdown(claim)

    def _words(self, claim: StandDown) -> str:
        words = []
        if claim.told_at is not None:
            told = claim.told_at.astimezone(self.hire.zone)
            words.append(
                "told " + (f"{day_words(told.date())} " if told.date() != claim.on else "") + f"{told:%H:%M}"
            )
            words[-1] += f" (by {self.terms.told_by:%H:%M})" if self.terms.told_by else ""
        if claim.worked_hours is not None:
            words.append(
                f"{number(claim.worked_hours)} h on the clock (at most {number(self.terms.most_hours)})"
            )
        return f"; {', '.join(words)}" if words else ""

    def _rain(self, claim: StandDown) -> str:
        terms: StandDownTerms = self.terms
        if claim.on in self.inside:
            return "it is inside the minimum hire"
        if claim.worked_hours is not None and claim.worked_hours > terms.most_hours:
            return f"the clock gained {number(claim.worked_hours)} h, over {number(terms.most_hours)}"
        if terms.told_by is not None:
            if claim.told_at is None:
                return f"nobody told the yard by {terms.told_by:%H:%M}"
            told = claim.told_at.astimezone(self.hire.zone)
            if (told.date(), told.time()) > (claim.on, terms.told_by):
                return (
                    f"told on {day_words(told.date())} at {told:%H:%M}, after {terms.told_by:%H:%M} that day"
                )
        if terms.cap_days is not None and len(self.rain) >= terms.cap_days:
            return f"the cap of {counted(terms.cap_days, 'day')} is used"
        return ""

    def _breakdown(self, claim: StandDown) -> str:
        if claim.cause:
            return f"caused by {claim.cause}"
        if claim.told_at is None:
            return "no notice was given"
        told = claim.told_at.astimezone(UTC)
        if self.hire.day_of(told) > claim.on:
            return f"notice came on {day_words(self.hire.day_of(told))}"
        if claim.lost_hours is not None and claim.lost_hours < self.terms.breakdown_hours:
            return f"{number(claim.lost_hours)} h lost, under {number(self.terms.breakdown_hours)}"
        return ""
