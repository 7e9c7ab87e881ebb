"""The arithmetic under hire/matching.py: as many choices as can be taken together, and of those ways the one of least weight.

The relaxed problem (parts of a choice allowed) bounds what any answer can cost. Rounding it step by step gives an answer;
a choice whose reduced cost is over the gap between the two stands in no better answer, so the exact search is left with few.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csc_array, csr_array, vstack
from scipy.sparse.csgraph import connected_components

Numbers = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]

# Weights are stretched to this, so that the solver's own tolerances are small beside their differences.
SCALE = 100.0
CLOSE = 1e-6
# Weights that differ by less cost the same: a difference near the least a number can be would stretch beyond the greatest.
ALIKE = 1e-12
# Reduced costs are exact to the solver's tolerance only; a choice is thrown out with this much to spare.
TO_SPARE = 1e-4
# How many of the most promising choices of each owner the rounding looks at, and from what part on one counts as taken.
PROMISING = 8
TAKEN_FROM = 0.75


NONE: Whole = np.empty(0, np.int64)


@dataclass(frozen=True, slots=True)
class _Rows:
    """A row an owner or group, a column a choice: of each row at most so many choices are taken, and at least so many."""

    table: Any
    most: Numbers
    least: Numbers

    def of(self, columns: Whole) -> _Rows:
        """Of these choices alone, without the rows that say nothing any more."""
        cut = self.table[:, columns]
        rows = np.flatnonzero((np.diff(cut.indptr) > 1) | (self.least > 0))
        return _Rows(cut[rows], self.most[rows], self.least[rows])

    def at_most(self, number: float) -> _Rows:
        """And no more than so many in all."""
        every = csr_array(np.ones((1, self.table.shape[1])))
        return _Rows(
            vstack([self.table, every]).tocsr(), np.append(self.most, number), np.append(self.least, 0.0)
        )


def choose(
    weights: Numbers, owners: Whole, groups: Sequence[Whole], *, patience_s: float, kept: Whole = NONE
) -> tuple[Whole, bool]:
    """Which choices to take, at most one an owner and one a group, and whether that is proved to be the best.

    First as many as can be, then of least weight in all. owners: whose each choice is; groups: choices that shut each other
    out. kept: choices that can all be taken together; their owners get one in every answer, that or another. What shares neither
    owner nor group is solved apart. Out of patience, a good answer comes back unproved.
    """
    taken, proved = [], True
    for columns, rows in _apart(owners, groups, kept):
        held = np.flatnonzero(np.isin(columns, kept))
        found, is_best = _of_one(weights[columns], owners[columns], rows, held, patience_s)
        taken.append(columns[found])
        proved = proved and is_best
    return np.sort(np.concatenate(taken)) if taken else NONE, proved


def _apart(owners: Whole, groups: Sequence[Whole], kept: Whole) -> Iterator[tuple[Whole, _Rows]]:
    """The choices of each connected part with its rows."""
    if not len(owners):
        return
    people = np.unique(owners, return_inverse=True)[1]
    offset = int(people.max()) + 1
    rows = np.concatenate([people, *(np.full(len(one), offset + n) for n, one in enumerate(groups))])
    columns = np.concatenate([np.arange(len(owners)), *groups])
    height = offset + len(groups)
    table = csc_array((np.ones(len(rows)), (rows, columns)), shape=(height, len(owners)))
    joined = csr_array(
        (np.ones(len(rows)), (rows, columns + height)), shape=(height + len(owners), height + len(owners))
    )
    least = np.zeros(height)
    least[people[kept]] = 1.0
    parts = connected_components(joined, directed=False)[1][height:]
    for part in np.unique(parts):
        of_part = np.flatnonzero(parts == part)
        cut = table[:, of_part].tocsr()
        there = np.flatnonzero(np.diff(cut.indptr))
        yield of_part, _Rows(cut[there], np.ones(len(there)), least[there])


def _of_one(
    weights: Numbers, owners: Whole, rows: _Rows, kept: Whole, patience_s: float
) -> tuple[Whole, bool]:
    most = len(np.unique(owners))
    if most == 1:
        return np.array([np.argmin(weights)]), True
    spread = np.ptp(weights)
    stretch = SCALE / spread if spread > ALIKE else 1.0
    # One more met is worth more than everything the weights could save.
    worth = 10 * SCALE * most
    score = (weights - weights.min()) * stretch - worth
    relaxed = _relaxed(score, rows, patience_s)
    if relaxed is None:
        return _in_turn(score, rows.table, kept), False
    can_meet = np.floor((most * SCALE - relaxed.fun) / worth + CLOSE)
    bounded = rows
    if can_meet < relaxed.x.sum() - CLOSE:
        # No answer meets part of a request: said outright, the bound is one on the weights again.
        bounded = rows.at_most(can_meet)
        relaxed = _relaxed(score, bounded, patience_s)
        if relaxed is None:
            return _in_turn(score, rows.table, kept), False
    if not _parts(relaxed.x).any():
        return np.flatnonzero(relaxed.x > 0.5), True
    in_turn = _in_turn(score, rows.table, kept)
    return _proved(score, owners, bounded, relaxed=relaxed, in_turn=in_turn, patience_s=patience_s)


def _proved(
    score: Numbers, owners: Whole, rows: _Rows, *, relaxed: Any, in_turn: Whole, patience_s: float
) -> tuple[Whole, bool]:
    """The rounded answer if it meets the bound, else the exact one over the choices that could still better it."""
    reduced = relaxed.lower.marginals
    rounded = _rounded(score, _promising(owners, reduced, relaxed.x), rows, patience_s)
    if rounded is None:
        rounded = in_turn
    gap = score[rounded].sum() - relaxed.fun
    if gap <= CLOSE:
        return rounded, True
    left = np.flatnonzero(reduced <= gap + TO_SPARE)
    cut = rows.of(left)
    exact = milp(
        score[left],
        integrality=np.ones(len(left)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(cut.table, np.where(cut.least > 0, cut.least, -np.inf), cut.most),
        options={"mip_rel_gap": 0, "time_limit": patience_s},
    )
    # What an interrupted search had in hand depends on the machine's speed; the rounded answer does not.
    return (left[exact.x > 0.5], True) if exact.status == 0 else (rounded, False)


def _relaxed(score: Numbers, rows: _Rows, patience_s: float, at_least: Numbers | float = 0.0) -> Any:
    """The relaxed problem's answer; None out of patience, or where there is none."""
    lower, must = np.broadcast_to(at_least, score.shape), np.flatnonzero(rows.least > 0)
    found = linprog(
        score,
        A_ub=rows.table,
        b_ub=rows.most,
        A_eq=rows.table[must] if len(must) else None,
        b_eq=rows.least[must] if len(must) else None,
        bounds=np.column_stack([lower, np.full(len(score), np.inf)]),
        method="highs",
        options={"time_limit": patience_s},
    )
    return found if found.status == 0 else None


def _parts(x: Numbers) -> npt.NDArray[np.bool_]:
    return np.asarray((x > CLOSE) & (x < 1 - CLOSE))


def _promising(owners: Whole, reduced: Numbers, x: Numbers) -> Whole:
    order = np.lexsort((reduced, owners))
    first = np.searchsorted(owners[order], owners[order])
    return np.union1d(order[np.arange(len(order)) - first < PROMISING], np.flatnonzero(x > CLOSE))


def _rounded(score: Numbers, columns: Whole, rows: _Rows, patience_s: float) -> Whole | None:
    """An answer by fixing what the relaxed problem all but takes and solving on, until nothing is in parts; None where that leads
    nowhere."""
    cut = _Rows(rows.table[:, columns], rows.most, rows.least)
    fixed = np.zeros(len(columns))
    while True:
        found = _relaxed(score[columns], cut, patience_s, fixed)
        if found is None:
            return None
        parts = _parts(found.x)
        if not parts.any():
            return np.asarray(columns[found.x > 0.5])
        # Two over a half never share a group, so all of them can be fixed at once; the largest part always is.
        fixed[found.x > TAKEN_FROM] = 1.0
        fixed[np.argmax(np.where(parts, found.x, 0.0))] = 1.0


def _in_turn(score: Numbers, table: Any, kept: Whole) -> Whole:
    """What is kept, then the cheapest choice still open, one after the other."""
    columns = table.tocsc()
    used = np.zeros(table.shape[0], dtype=bool)
    taken = []
    for one in [*kept, *np.argsort(score, kind="stable")]:
        rows = columns.indices[columns.indptr[one] : columns.indptr[one + 1]]
        if not used[rows].any():
            used[rows] = True
            taken.append(one)
    return np.sort(np.array(taken, dtype=np.int64))
