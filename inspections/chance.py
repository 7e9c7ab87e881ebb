"""How likely chance alone is: exact tests by counting, for figures that are set beside other people's.

Nothing here is approximated: every probability is a count of arrangements over all of them, in double precision. An
unlikely figure says that something made a difference, and never what.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import comb

NEGLIGIBLE = 1e-30


@dataclass(frozen=True, slots=True)
class Group:
    """Tries made under like conditions, by one person and by the others, and how many of each were hits."""

    hits: int
    tries: int
    other_hits: int
    other_tries: int

    def __post_init__(self) -> None:
        if not (0 <= self.hits <= self.tries and 0 <= self.other_hits <= self.other_tries):
            raise ValueError("Hits lie between nought and the tries made.")

    @property
    def compares(self) -> bool:
        """Whether both sides tried here: without that a group says nothing of the difference between them."""
        return self.tries > 0 and self.other_tries > 0


@dataclass(frozen=True, slots=True)
class Comparison:
    """One person's hits beside what chance alone would give them among the others', over the groups both tried in.

    low to high is what chance alone keeps to, all but `outside` of the time on either side; at_most and at_least are how
    often it would give so few, or so many, or fewer or more.
    """

    hits: int
    tries: int
    other_hits: int
    other_tries: int
    expected: float
    low: int
    high: int
    at_most: float
    at_least: float


def compare(groups: Iterable[Group], *, outside: float = 0.001) -> Comparison:
    """Set one person's hits beside the others', group by group: the exact conditional test of several 2 x 2 tables.

    If it makes no difference who tried, then in each group, whichever tries were hits, every share-out of them between
    the person and the others is equally likely (hypergeometric); the groups' shares add up. Groups in which only one side
    tried count for nothing. ValueError unless 0 < outside < 1/2.
    Source: Agresti, Categorical Data Analysis (1990), exact conditional independence in 2 x 2 x K tables.
    """
    if not 0 < outside < 0.5:
        raise ValueError("What lies outside on either side is more than nothing and less than half.")
    used = [group for group in groups if group.compares]
    hits, (least, shares) = sum(group.hits for group in used), _shares(used)
    below = [0.0, *itertools.accumulate(shares), 1.0]
    above = [0.0, *itertools.accumulate(reversed(shares)), 1.0][::-1]
    # Where the hits lie among those shares; beyond either end is all but impossible.
    at = max(-1, min(hits - least, len(shares)))
    return Comparison(
        hits=hits,
        tries=sum(group.tries for group in used),
        other_hits=sum(group.other_hits for group in used),
        other_tries=sum(group.other_tries for group in used),
        expected=sum(number * share for number, share in enumerate(shares, start=least)),
        low=least + next(n for n, chance in enumerate(below[1:]) if chance > outside),
        high=least + max(n for n, chance in enumerate(above[1:-1]) if chance > outside),
        at_most=min(1.0, below[at + 1]),
        at_least=min(1.0, above[at + 1]),
    )


def _shares(groups: Iterable[Group]) -> tuple[int, list[float]]:
    """How likely each number of hits is to be the person's over all groups: the least number, then each from it on."""
    least, shares = 0, [1.0]
    for group in groups:
        first, here = _share_out(group)
        total = [0.0] * (len(shares) + len(here) - 1)
        for number, share in enumerate(shares):
            for own, more in enumerate(here, start=number):
                total[own] += share * more
        # What is less likely than this is lost in the rounding of the rest, and would only be carried along.
        kept = [number for number, share in enumerate(total) if share > NEGLIGIBLE]
        least += first + kept[0]
        shares = total[kept[0] : kept[-1] + 1]
    return least, shares


def _share_out(group: Group) -> tuple[int, list[float]]:
    """How likely each number of the group's hits is to be the person's: the least number that can be, then each from it on."""
    hits, whole = group.hits + group.other_hits, group.tries + group.other_tries
    ways = comb(whole, group.tries)
    least, most = max(0, hits - group.other_tries), min(hits, group.tries)
    return least, [
        comb(hits, own) * comb(whole - hits, group.tries - own) / ways for own in range(least, most + 1)
    ]


def binomial_at_least(hits: int, tries: int, chance: Fraction) -> float:
    """How often `tries` independent tries give `hits` or more, each with this chance. ValueError for figures that cannot be."""
    if not (0 <= hits <= tries and 0 <= chance <= 1):
        raise ValueError("Hits lie between nought and the tries made, a chance between 0 and 1.")
    return float(
        sum(comb(tries, n) * chance**n * (1 - chance) ** (tries - n) for n in range(hits, tries + 1))
    )


def odds_words(chance: float) -> str:
    """A small chance as a person says it, never smaller than it is: "1 in 1,200", "less than 1 in 1,000,000"."""
    if chance < 1e-6:
        return "less than 1 in 1,000,000"
    once_in = int(1 / chance)
    # Two figures are as many as anybody reads.
    step = 10 ** max(0, len(str(once_in)) - 2)
    return f"1 in {once_in // step * step:,}"
