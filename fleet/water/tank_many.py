"""The tanks of a whole fleet at once: the figures of `fleet.water.tank`, by NumPy arrays of one cart a place.

shape is an array of words ("cylinder", "ellipse", "box"); measures are metres. ValueError as `Tank`, for the first cart at fault
by its place in the arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.water.tank import LEAST_STEP_MM, LITRES_PER_M3, Shape

Floats = NDArray[np.float64]
# x - sin x = y has x = z + z^3/60 + z^5/1400 + z^7/25200 + ... with z = (6y)^(1/3); Newton's steps do the rest.
SERIES = (1.0, 1 / 60, 1 / 1400, 1 / 25200)
STEPS = 2


def refuse_where(wrong: NDArray[np.bool_], sentence: str) -> None:
    if wrong.any():
        raise ValueError(f"Cart {int(np.argmax(wrong)) + 1} of the list: {sentence}")


@dataclass(frozen=True)
class Tanks:
    """As many tanks as there are carts, in one order."""

    shape: NDArray[np.str_]
    length_m: Floats
    width_m: Floats
    height_m: Floats

    def __post_init__(self) -> None:
        refuse_where(~np.isin(self.shape, get_args(Shape)), "a tank is a cylinder, an ellipse or a box.")
        for measure in (self.length_m, self.width_m, self.height_m):
            refuse_where(~(np.isfinite(measure) & (measure > 0)), "a tank's measures are numbers above zero.")
        refuse_where(
            (self.shape == "cylinder") & (self.width_m != self.height_m),
            "a cylinder on its side is as wide as it is high.",
        )

    @property
    def is_box(self) -> NDArray[np.bool_]:
        return np.asarray(self.shape == "box")

    @property
    def capacity_l(self) -> Floats:
        box = self.length_m * self.width_m * self.height_m * LITRES_PER_M3
        return np.where(self.is_box, box, box * (np.pi / 4))


def volume_l_many(tanks: Tanks, depth_m: ArrayLike) -> Floats:
    """Litres of each tank at its depth of 0..height."""
    depth = np.asarray(depth_m, dtype=float)
    refuse_where(~((depth >= 0) & (depth <= tanks.height_m)), "the depth lies outside the tank.")
    share = depth / tanks.height_m
    return tanks.capacity_l * np.where(tanks.is_box, share, _share_full(share))


def depth_m_many(tanks: Tanks, volume_l: ArrayLike) -> Floats:
    """Metres of depth of each tank at its litres of 0..capacity, to well under 0.1 mm."""
    volume = np.asarray(volume_l, dtype=float)
    refuse_where(~((volume >= 0) & (volume <= tanks.capacity_l)), "the volume lies outside the tank.")
    share = volume / tanks.capacity_l
    return tanks.height_m * np.where(tanks.is_box, share, _depth_share(share))


def dip_table_many(tanks: Tanks, *, step_mm: float) -> tuple[Floats, Floats]:
    """(depths in mm, litres): a row a cart, a column each step from empty, NaN above the tank; the last place of a row that
    is a number is full, as in `Tank.dip_table`. ValueError for a step under 1 mm."""
    if not step_mm >= LEAST_STEP_MM:
        raise ValueError("The step of a dip table has to be at least 1 mm.")
    height_mm = tanks.height_m * 1000
    steps = np.ceil(height_mm / step_mm - 1e-9).astype(int)
    place = np.arange(int(steps.max(initial=0)) + 1)
    depth = np.minimum(place * step_mm, height_mm[:, None])
    np.copyto(depth, np.nan, where=place > steps[:, None])
    share = depth / height_mm[:, None]
    is_round = ~tanks.is_box
    share[is_round] = _share_full(share[is_round])
    return depth, tanks.capacity_l[:, None] * share


def _share_full(depth_share: Floats) -> Floats:
    angle = 4 * np.arcsin(np.sqrt(depth_share))
    return np.asarray((angle - np.sin(angle)) / (2 * np.pi))


def _depth_share(volume_share: Floats) -> Floats:
    """The share of the height at a share of the volume: x - sin x = 2 pi share, the lesser half mirrored to the greater."""
    lesser = np.minimum(volume_share, 1 - volume_share)
    target = 2 * np.pi * lesser
    z = np.cbrt(6 * target)
    square = z * z
    angle = z * (SERIES[0] + square * (SERIES[1] + square * (SERIES[2] + square * SERIES[3])))
    for _ in range(STEPS):
        slope = 1 - np.cos(angle)
        angle -= (angle - np.sin(angle) - target) / np.where(slope > 0, slope, 1)
    depth = np.sin(angle / 4) ** 2
    return np.where(volume_share > 0.5, 1 - depth, depth)
