"""When each portable fire extinguisher next falls due, under the rule set the cart is kept by.

The intervals are the published ones and say nothing of the extinguisher in front of you: the maker's plate,
the tag and a licensed technician stand over every date here. A damaged, used or out-of-gauge extinguisher is
not in service whatever its dates say.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType

from servicing.intervals import add_months

REGIMES = ("au", "us", "uk")
AGENTS = ("dry_chemical", "co2", "water", "foam", "wet_chemical")

KIND_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "monthly_look": "monthly look",
        "routine_6_month": "six-month service",
        "routine_12_month": "twelve-month service",
        "yearly_service": "yearly service",
        "internal_examination": "internal examination",
        "extended_service": "extended service with test discharge",
        "overhaul": "overhaul",
        "pressure_test": "pressure test",
        "hydrotest": "hydrostatic test",
    }
)

# No service of anybody's: it can be neither done nor recorded, so it is no kind of event.
END_OF_LIFE = "end_of_life"
DUE_WORDS: Mapping[str, str] = MappingProxyType(dict(KIND_WORDS) | {END_OF_LIFE: "end of life"})
# Months from manufacture to the end of one that can be recharged, by rule set: FE-43, as practised.
LIFE_MONTHS: Mapping[str, int] = MappingProxyType({"uk": 240})


@dataclass(frozen=True, slots=True)
class DueService:
    """One service of one extinguisher: its kind, the day it falls due, and the published rule behind it."""

    kind: str
    on: date
    source: str


@dataclass(frozen=True, slots=True)
class _Rule:
    kind: str
    months: int
    source: str


@dataclass(frozen=True, slots=True)
class Inclusion:
    """A service that, once done, also counts as each of `includes`; `basis` is why that may be said."""

    kind: str
    includes: tuple[str, ...]
    basis: str


_AU_ALL = (
    _Rule("routine_6_month", 6, "FE-50, AS 1851-2012 s 10, tag mark 1"),
    _Rule("routine_12_month", 12, "FE-50, AS 1851-2012 s 10, tag mark 2"),
    _Rule("pressure_test", 60, "FE-51, AS 1851-2012 Table 10.4.3 item 3.8"),
)
_US_ALL = (
    _Rule("monthly_look", 1, "FE-20, 29 CFR 1910.157(e)(2)"),
    _Rule("yearly_service", 12, "FE-21, 29 CFR 1910.157(e)(3)"),
)
_UK_ALL = (
    _Rule("monthly_look", 1, "FE-40, BS 5306-3"),
    _Rule("yearly_service", 12, "FE-40, BS 5306-3"),
)
_UK_DISCHARGE = _Rule("extended_service", 60, "FE-41, BS 5306-3")
_US_EXAMINED_5 = _Rule("internal_examination", 60, "FE-35, NFPA 10 (2007) table")

_RULES: Mapping[tuple[str, str], tuple[_Rule, ...]] = MappingProxyType(
    {
        **{("au", agent): _AU_ALL for agent in AGENTS},
        ("us", "dry_chemical"): (
            *_US_ALL,
            _Rule("internal_examination", 72, "FE-22, 29 CFR 1910.157(e)(4)"),
            _Rule("hydrotest", 144, "FE-12, 29 CFR 1910.157 Table L-1"),
        ),
        ("us", "co2"): (*_US_ALL, _US_EXAMINED_5, _Rule("hydrotest", 60, "FE-11, 29 CFR 1910.157 Table L-1")),
        ("us", "water"): (
            *_US_ALL,
            _US_EXAMINED_5,
            _Rule("hydrotest", 60, "FE-04, 29 CFR 1910.157 Table L-1"),
        ),
        ("us", "foam"): (
            *_US_ALL,
            _Rule("internal_examination", 36, "FE-34, NFPA 10 (2007) table"),
            _Rule("hydrotest", 60, "FE-08, 29 CFR 1910.157 Table L-1"),
        ),
        ("us", "wet_chemical"): (
            *_US_ALL,
            _US_EXAMINED_5,
            _Rule("hydrotest", 60, "FE-31, NFPA 10 hydrotest table"),
        ),
        ("uk", "dry_chemical"): (*_UK_ALL, _UK_DISCHARGE),
        ("uk", "co2"): (*_UK_ALL, _Rule("overhaul", 120, "FE-42, BS 5306-3")),
        ("uk", "water"): (*_UK_ALL, _UK_DISCHARGE),
        ("uk", "foam"): (*_UK_ALL, _UK_DISCHARGE),
        # No row gives an extended service for wet chemical, so none is invented.
        ("uk", "wet_chemical"): _UK_ALL,
    }
)

_COMMON = "common practice, no source"
INCLUSIONS: Mapping[str, tuple[Inclusion, ...]] = MappingProxyType(
    {
        "au": (
            Inclusion("routine_12_month", ("routine_6_month",), "FE-50: one tag, mark 2 in place of mark 1"),
            Inclusion("pressure_test", ("routine_12_month", "routine_6_month"), _COMMON),
        ),
        "us": (
            Inclusion("yearly_service", ("monthly_look",), _COMMON),
            Inclusion(
                "internal_examination", ("yearly_service", "monthly_look"), "FE-22: emptied and maintained"
            ),
            Inclusion("hydrotest", ("internal_examination",), "worked line under FE-37"),
            Inclusion("hydrotest", ("yearly_service", "monthly_look"), _COMMON),
        ),
        "uk": (
            Inclusion("yearly_service", ("monthly_look",), _COMMON),
            Inclusion("extended_service", ("yearly_service", "monthly_look"), _COMMON),
            Inclusion("overhaul", ("yearly_service", "monthly_look"), _COMMON),
        ),
    }
)


def kinds_for(*, regime: str, agent: str) -> tuple[str, ...]:
    """The kinds of service a rule set asks of an agent, lightest first. ValueError for an unknown word."""
    return tuple(rule.kind for rule in _rules(regime, agent))


@dataclass(frozen=True, slots=True)
class Count:
    """One kind of service as it is counted: so many months from the latest event of any of `counts`, else from the day of
    manufacture."""

    kind: str
    months: int
    counts: frozenset[str]


def counts_for(*, regime: str, agent: str) -> tuple[Count, ...]:
    """How `due_dates` counts each kind, for who finds those near due among many before asking it of each. ValueError for an
    unknown word."""
    return tuple(
        Count(rule.kind, rule.months, _kinds_that_count_as(rule.kind, regime))
        for rule in _rules(regime, agent)
    )


def last_start(on: date, months: int) -> date:
    """The latest day from which `months` months end on or before `on`. Month ends are clamped as in `add_months`, so it is
    not simply as many months back."""
    start = add_months(on, -months)
    while add_months(start, months) > on:
        start -= timedelta(days=1)
    while add_months(start + timedelta(days=1), months) <= on:
        start += timedelta(days=1)
    return start


def due_dates(
    *, regime: str, agent: str, made_on: date, events: Iterable[tuple[str, date]], on: date
) -> tuple[DueService, ...]:
    """The next due day of each service an extinguisher needs, soonest first (ties: the lighter one first).

    regime: "au", "us" or "uk"; agent: "dry_chemical" (stored pressure, mild steel), "co2", "water", "foam",
    "wet_chemical"; made_on: the day of manufacture; events: (kind, day done), any order; on: the yard's day.
    Each kind counts from its latest event on or before `on`, of that kind or of one that includes it
    (`INCLUSIONS`), else from made_on. An overdue day stays in the past: nothing is rolled forward. An event
    kind that belongs to another rule set is ignored. Month ends are clamped.

    ValueError for an unknown regime, agent or event kind.
    Source: the row id and clause on each result. The end of life is
    `end_of_life`'s; FE-52 and FE-53 are not settled and not used.
    """
    rules = _rules(regime, agent)
    named = [(_known_kind(kind), done_on) for kind, done_on in events]
    done = [(kind, done_on) for kind, done_on in named if done_on <= on]
    due = []
    for rule in rules:
        counts = _kinds_that_count_as(rule.kind, regime)
        last_on = max((done_on for kind, done_on in done if kind in counts), default=made_on)
        due.append(DueService(rule.kind, add_months(last_on, rule.months), rule.source))
    return tuple(sorted(due, key=lambda service: service.on))


def end_of_life(*, regime: str, agent: str, made_on: date, is_rechargeable: bool = True) -> DueService | None:
    """The day an extinguisher leaves service for good, as DueService("end_of_life", day, source); None where no row says.

    us, one that cannot be recharged: 12 years from manufacture. uk: 20 years from manufacture, the usual life as
    practised and no rule of the standard. au: no row. The plate and the maker stand over both.
    Month ends are clamped. ValueError for an unknown regime or agent.
    """
    _rules(regime, agent)
    if regime == "us" and not is_rechargeable:
        return DueService(END_OF_LIFE, add_months(made_on, 144), "FE-37, NFPA 10 (1998) 4-4.3")
    if regime in LIFE_MONTHS:
        return DueService(END_OF_LIFE, add_months(made_on, LIFE_MONTHS[regime]), "FE-43, as practised")
    return None


def _rules(regime: str, agent: str) -> tuple[_Rule, ...]:
    if regime not in REGIMES:
        raise ValueError(f"{regime!r} is not a rule set: use one of {', '.join(REGIMES)}.")
    if agent not in AGENTS:
        raise ValueError(f"{agent!r} is not an extinguisher agent: use one of {', '.join(AGENTS)}.")
    return _RULES[regime, agent]


def _known_kind(kind: str) -> str:
    if kind not in KIND_WORDS:
        raise ValueError(
            f"{kind!r} is not a kind of extinguisher service: use one of {', '.join(KIND_WORDS)}."
        )
    return kind


def _kinds_that_count_as(kind: str, regime: str) -> frozenset[str]:
    deeper = (inclusion.kind for inclusion in INCLUSIONS[regime] if kind in inclusion.includes)
    return frozenset((kind, *deeper))
