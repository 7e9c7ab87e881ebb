"""The arithmetic under hire/matching.py: as many choices as can be taken together, and of those ways the one of least weight.

The relaxed problem (parts of a choice allowed) bounds what any answer can cost. Rounding it step by step gives an answer;
a choice whose reduced cost is over the gap between the two stands in no better answer, so the exact search is left with few.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
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


def choose(
    weights: Numbers, owners: Whole, groups: Sequence[Whole], *, patience_s: float
) -> tuple[Whole, bool]:
    """Which choices to take, at most one an owner and one a group, and whether that is proved to be the best.

    First as many as can be, then of least weight in all. owners: whose each choice is; groups: choices that shut each other
    out. What shares neither owner nor group is solved apart. Out of patience, a good answer comes back unproved.
    """
    taken, proved = [], True
    for columns, table in _apart(owners, groups):
        found, is_best = _of_one(weights[columns], owners[columns], table, patience_s)
        taken.append(columns[found])
        proved = proved and is_best
    return np.sort(np.concatenate(taken)) if taken else np.empty(0, np.int64), proved


def _apart(owners: Whole, groups: Sequence[Whole]) -> Iterator[tuple[Whole, Any]]:
    """The choices of each connected part with its table: a row an owner or group, a column a choice."""
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
    parts = connected_components(joined, directed=False)[1][height:]
    for part in np.unique(parts):
        of_part = np.flatnonzero(parts == part)
        cut = table[:, of_part].tocsr()
        yield of_part, cut[np.flatnonzero(np.diff(cut.indptr))]


def _of_one(weights: Numbers, owners: Whole, table: Any, patience_s: float) -> tuple[Whole, bool]:
    most = len(np.unique(owners))
    if most == 1:
        return np.array([np.argmin(weights)]), True
    spread = np.ptp(weights)
    stretch = SCALE / spread if spread > ALIKE else 1.0
    # One more met is worth more than everything the weights could save.
    worth = 10 * SCALE * most
    score = (weights - weights.min()) * stretch - worth
    limits = np.ones(table.shape[0])
    relaxed = _relaxed(score, table, limits, patience_s)
    if relaxed is None:
        return _in_turn(score, table), False
    can_meet = np.floor((most * SCALE - relaxed.fun) / worth + CLOSE)
    if can_meet < relaxed.x.sum() - CLOSE:
        # No answer meets part of a request: said outright, the bound is one on the weights again.
        table = vstack([table, csr_array(np.ones((1, len(weights))))]).tocsr()
        limits = np.append(limits, can_meet)
        relaxed = _relaxed(score, table, limits, patience_s)
        if relaxed is None:
            return _in_turn(score, table[:-1]), False
    if not _parts(relaxed.x).any():
        return np.flatnonzero(relaxed.x > 0.5), True
    return _proved(score, owners, table, limits, relaxed=relaxed, patience_s=patience_s)


def _proved(
    score: Numbers, owners: Whole, table: Any, limits: Numbers, *, relaxed: Any, patience_s: float
) -> tuple[Whole, bool]:
    """The rounded answer if it meets the bound, else the exact one over the choices that could still better it."""
    reduced = relaxed.lower.marginals
    rounded = _rounded(score, _promising(owners, reduced, relaxed.x), table, limits, patience_s)
    if rounded is None:
        rounded = _in_turn(score, table[np.flatnonzero(limits == 1)])
    gap = score[rounded].sum() - relaxed.fun
    if gap <= CLOSE:
        return rounded, True
    kept = np.flatnonzero(reduced <= gap + TO_SPARE)
    rows, most = _cut(table, limits, kept)
    exact = milp(
        score[kept],
        integrality=np.ones(len(kept)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(rows, -np.inf, most),
        options={"mip_rel_gap": 0, "time_limit": patience_s},
    )
    # What an interrupted search had in hand depends on the machine's speed; the rounded answer does not.
    return (kept[exact.x > 0.5], True) if exact.status == 0 else (rounded, False)


def _relaxed(
    score: Numbers, table: Any, limits: Numbers, patience_s: float, at_least: Numbers | float = 0.0
) -> Any:
    """The relaxed problem's answer; None out of patience."""
    lower = np.broadcast_to(at_least, score.shape)
    found = linprog(
        score,
        A_ub=table,
        b_ub=limits,
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


def _cut(table: Any, limits: Numbers, columns: Whole) -> tuple[Any, Numbers]:
    """The table of these choices alone, without the rows that say nothing any more."""
    cut = table[:, columns]
    rows = np.flatnonzero(np.diff(cut.indptr) > 1)
    return cut[rows], limits[rows]


def _rounded(score: Numbers, columns: Whole, table: Any, limits: Numbers, patience_s: float) -> Whole | None:
    """An answer by fixing what the relaxed problem all but takes and solving on, until nothing is in parts."""
    rows = table[:, columns]
    fixed = np.zeros(len(columns))
    while True:
        found = _relaxed(score[columns], rows, limits, patience_s, fixed)
        if found is None:
            return None
        parts = _parts(found.x)
        if not parts.any():
            return np.asarray(columns[found.x > 0.5])
        # Two over a half never share a group, so all of them can be fixed at once; the largest part always is.
        fixed[found.x > TAKEN_FROM] = 1.0
        fixed[np.argmax(np.where(parts, found.x, 0.0))] = 1.0


def _in_turn(score: Numbers, table: Any) -> Whole:
    """The cheapest choice still open, one after the other."""
    columns = table.tocsc()
    used = np.zeros(table.shape[0], dtype=bool)
    taken = []
    for one in np.argsort(score, kind="stable"):
        rows = columns.indices[columns.indptr[one] : columns.indptr[one + 1]]
        if not used[rows].any():
            used[rows] = True
            taken.append(one)
    return np.sort(np.array(taken, dtype=np.int64))
