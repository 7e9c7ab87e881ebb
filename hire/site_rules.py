"""What a site asks of a cart, set against what the cart has: frozen facts in, findings out.

A paper is as old as the days from its issue to the day the cart is used. A wash-down holds for one site: once the cart has
worked elsewhere it is void. What nobody recorded is never taken as met. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

MUST, WANTED = "must", "asked"
# Gear a yard puts on a cart before it leaves; the rest is how a cart is built. Common practice, no source.
PUT_ON = frozenset(
    {
        "battery_isolator", "beacon", "camera", "chocks", "extinguisher", "first_aid_kit", "flag", "high_brake_lights",
        "nut_pointers", "reversing_alarm", "spare_wheel", "spill_kit", "travelling_kit", "two_way_radio", "work_lights",
    }
)  # fmt: skip
WASH_DOWN = "wash_down"


@dataclass(frozen=True)
class PaperAsked:
    """how: MUST or WANTED. max_age_days: on the day of use; None: no age is asked."""

    how: str
    max_age_days: int | None = None


@dataclass(frozen=True)
class Asked:
    """What one site asks. gear, papers: by kind. extinguisher: an agent, "" any; counts only with extinguisher_how. axles, notes:
    words that people read; nothing is compared with them."""

    gear: Mapping[str, str] = field(default_factory=dict)
    papers: Mapping[str, PaperAsked] = field(default_factory=dict)
    least_tread_mm: Decimal | None = None
    tread_how: str = WANTED
    extinguisher: str = ""
    extinguisher_kg: Decimal | None = None
    extinguisher_how: str = ""
    noise_db: Decimal | None = None
    noise_how: str = WANTED
    axles: str = ""
    notes: str = ""


@dataclass(frozen=True)
class PaperHeld:
    """A paper on record. void_words: why it holds no more, "" where it does."""

    number: str = ""
    issued_on: date | None = None
    expires_on: date | None = None
    void_words: str = ""


@dataclass(frozen=True)
class CartFacts:
    """What is on record of a cart. least_tread: (mm, place), None: never measured; unread: tyres never measured.
    extinguishers: (agent, kg) of those aboard and charged. noise_db None: no figure on record."""

    gear: frozenset[str] = frozenset()
    isolated: frozenset[str] = frozenset()
    papers: Mapping[str, tuple[PaperHeld, ...]] = field(default_factory=dict)
    least_tread: tuple[Decimal, str] | None = None
    unread: int = 0
    extinguishers: tuple[tuple[str, Decimal], ...] = ()
    noise_db: Decimal | None = None


@dataclass(frozen=True)
class Names:
    """Screen words by kind: gear, papers, agents."""

    gear: Mapping[str, str]
    papers: Mapping[str, str]
    agents: Mapping[str, str]


@dataclass(frozen=True)
class Lacking:
    """One thing a site asks that a cart lacks. kind: gear, paper, tread, extinguisher or noise; subject: which. from_on: the day
    it begins to lack it while it is out; None: it lacks it on the day of use. is_built: no work before it leaves
    would change that."""

    kind: str
    subject: str
    what: str
    clear: str
    is_must: bool
    from_on: date | None = None
    is_built: bool = False


def site_key(site: str) -> str:
    """A site's name as it is compared: case and spaces do not matter."""
    return " ".join(site.split()).casefold()


def day_words(on: date) -> str:
    return f"{on.day} {on:%b %Y}"


def best_paper(held: Iterable[PaperHeld], *, on: date) -> PaperHeld | None:
    """Of one kind of paper the one that counts on a day: one that is good then before one that is not, then the newest."""

    def rank(one: PaperHeld) -> tuple[bool, date, date]:
        expires = one.expires_on or date.max
        return not one.void_words and expires >= on, one.issued_on or date.min, expires

    return max(held, key=rank, default=None)


def paper_fault(held: PaperHeld | None, asked: PaperAsked | None, *, on: date) -> str:
    """What is wrong with a paper on a day of use, "" when nothing is; asked None: no age is asked of it."""
    if held is None:
        return "is not on record"
    if held.void_words:
        return held.void_words
    if held.expires_on is not None and held.expires_on < on:
        return f"lapsed after {day_words(held.expires_on)}"
    if asked is None or asked.max_age_days is None:
        return ""
    if held.issued_on is None:
        return f"has no date of issue on record, and may be {asked.max_age_days} days old at most"
    age = (on - held.issued_on).days
    if age <= asked.max_age_days:
        return ""
    return f"is {age} days old on {day_words(on)}; {asked.max_age_days} days at most are asked"


def good_until(held: PaperHeld, asked: PaperAsked | None) -> date | None:
    """The last day a paper is good for a site; None: it does not lapse."""
    ends = [held.expires_on] if held.expires_on else []
    if asked and asked.max_age_days is not None and held.issued_on:
        ends.append(held.issued_on + timedelta(days=asked.max_age_days))
    return min(ends, default=None)


def _gear(asked: Asked, facts: CartFacts, names: Names) -> Iterator[Lacking]:
    for kind in sorted(asked.gear, key=lambda one: names.gear[one]):
        is_must, name = asked.gear[kind] == MUST, names.gear[kind].lower()
        if kind not in facts.gear:
            yield Lacking(
                "gear",
                kind,
                f"no {name} is fitted",
                "Workshop: fit it and record it, or hire desk: use another cart",
                is_must,
                is_built=kind not in PUT_ON,
            )
        elif kind in facts.isolated:
            yield Lacking(
                "gear",
                kind,
                f"its {name} is isolated and tagged",
                "Workshop: repair it and lift the limit",
                is_must,
            )


def _papers(asked: Asked, facts: CartFacts, names: Names, first: date, last: date) -> Iterator[Lacking]:
    for kind in sorted(asked.papers, key=lambda one: names.papers[one]):
        wanted, name = asked.papers[kind], names.papers[kind].lower()
        held = best_paper(facts.papers.get(kind, ()), on=first)
        clear = "Fleet manager: get the paper and record it"
        if kind == WASH_DOWN:
            clear = "The yard: wash it down after its last work elsewhere, and the fleet manager records the paper"
        if fault := paper_fault(held, wanted, on=first):
            yield Lacking("paper", kind, f"its {name} {fault}", clear, wanted.how == MUST)
        elif held is not None and (ends := good_until(held, wanted)) is not None and ends < last:
            what = f"its {name} is good for this site until {day_words(ends)}, while it is out"
            yield Lacking("paper", kind, what, clear, wanted.how == MUST, ends + timedelta(days=1))


def _tread(asked: Asked, facts: CartFacts) -> Iterator[Lacking]:
    limit, is_must = asked.least_tread_mm, asked.tread_how == MUST
    if limit is None:
        return
    clear = "Workshop: measure the tyres, or change those that are under"
    if facts.least_tread is None:
        yield Lacking(
            "tread", "", f"no tyre depth is on record, and {limit} mm at least is asked", clear, is_must
        )
        return
    least, place = facts.least_tread
    if least < limit:
        yield Lacking(
            "tread",
            "",
            f"the tyre at {place} measured {least} mm, and {limit} mm at least is asked",
            clear,
            is_must,
        )
    elif facts.unread:
        count = "one tyre was" if facts.unread == 1 else f"{facts.unread} tyres were"
        yield Lacking(
            "tread", "", f"{count} never measured, and {limit} mm at least is asked", clear, is_must
        )


def extinguisher_words(asked: Asked, names: Names) -> str:
    kind = (
        f"{names.agents[asked.extinguisher].lower()} extinguisher" if asked.extinguisher else "extinguisher"
    )
    return f"{kind} of {asked.extinguisher_kg.normalize():f} kg or more" if asked.extinguisher_kg else kind


def _extinguisher(asked: Asked, facts: CartFacts, names: Names) -> Iterator[Lacking]:
    if not asked.extinguisher_how:
        return
    least = asked.extinguisher_kg or Decimal(0)
    if not any(agent == (asked.extinguisher or agent) and kg >= least for agent, kg in facts.extinguishers):
        clear = "Workshop: put one on the cart, in date and charged"
        words = f"no {extinguisher_words(asked, names)} is aboard"
        yield Lacking("extinguisher", asked.extinguisher, words, clear, asked.extinguisher_how == MUST)


def _noise(asked: Asked, facts: CartFacts) -> Iterator[Lacking]:
    limit, is_must = asked.noise_db, asked.noise_how == MUST
    if limit is None:
        return
    clear = "Fleet manager: have the noise measured and record the figure in dB"
    if facts.noise_db is None:
        yield Lacking(
            "noise",
            "",
            f"no noise figure in dB is on record, and {limit} dB at most is asked",
            clear,
            is_must,
        )
    elif facts.noise_db > limit:
        words = f"its noise figure is {facts.noise_db} dB, and {limit} dB at most is asked"
        yield Lacking("noise", "", words, "Hire desk: use a quieter cart", is_must, is_built=True)


def compare(asked: Asked, facts: CartFacts, *, first: date, last: date, names: Names) -> tuple[Lacking, ...]:
    """What a cart lacks of what a site asks, used there from `first` to `last`, both included: what is a must first.
    ValueError when the last day is before the first."""
    if last < first:
        raise ValueError("The last day of use is not before the first.")
    found = [
        *_gear(asked, facts, names), *_papers(asked, facts, names, first, last), *_tread(asked, facts),
        *_extinguisher(asked, facts, names), *_noise(asked, facts),
    ]  # fmt: skip
    return tuple(sorted(found, key=lambda one: (not one.is_must, one.from_on is not None)))
