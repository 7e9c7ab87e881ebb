"""A tank known by a table: metered in, dipped at each step. What lies between is drawn by a line that never falls.

The line is the monotone cubic of Fritsch and Carlson as SciPy has it (PCHIP): through every row of the table, without the
swing a plain spline makes between them. docs/tank.md says when a table beats a formula.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from scipy.interpolate import PchipInterpolator

from fleet.water.measured import Number, number, within
from fleet.water.tank import DipRow, depth_for, dip_rows

# Two rows are empty and full, and say nothing of the shape between.
LEAST_ROWS = 3


@dataclass(frozen=True)
class CalibratedTank:
    """rows: (depth in metres, litres), rising in both, from (0, 0) to full; the last is the height and the capacity.

    ValueError for under three rows, rows that do not rise in both, a first row that isn't empty, or what is no number.
    """

    rows: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        rows = tuple((number(depth, "A depth"), number(litres, "A volume")) for depth, litres in self.rows)
        object.__setattr__(self, "rows", rows)
        if len(rows) < LEAST_ROWS:
            raise ValueError("A tank's table needs at least three rows: empty, full and one between.")
        if any(rows[0]):
            raise ValueError("A tank's table starts empty: depth 0, volume 0.")
        for (depth, litres), (next_depth, next_litres) in pairwise(rows):
            if next_depth <= depth or next_litres <= litres:
                raise ValueError(
                    f"A tank's table rises row by row in depth and in volume; after {depth:g} m and {litres:g} L"
                    f" comes {next_depth:g} m and {next_litres:g} L."
                )

    @property
    def height_m(self) -> float:
        return self.rows[-1][0]

    @property
    def capacity_l(self) -> float:
        return self.rows[-1][1]

    @cached_property
    def _line(self) -> PchipInterpolator:
        depths, litres = zip(*self.rows, strict=True)
        return PchipInterpolator(depths, litres)

    def volume_l(self, depth_m: Number) -> float:
        """Litres at a depth of 0..height in metres; the table's own at its rows. ValueError outside."""
        depth = within(depth_m, 0, self.height_m, "The depth", "m")
        return min(max(float(self._line(depth)), 0.0), self.capacity_l)

    def depth_m(self, volume_l: Number) -> float:
        """Metres of depth at 0..capacity litres, to well under 0.1 mm of the line. ValueError outside."""
        return depth_for(volume_l, self.volume_l, capacity_l=self.capacity_l, height_m=self.height_m)

    def dip_table(self, step_mm: Number, *, lid_above_top_mm: Number = 0) -> tuple[DipRow, ...]:
        """Rows of `fleet.water.tank.dip_rows`, from empty to full."""
        return dip_rows(
            self.volume_l, height_m=self.height_m, step_mm=step_mm, lid_above_top_mm=lid_above_top_mm
        )
