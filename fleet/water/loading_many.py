"""Road fills of a whole fleet at once: the figures of `fleet.water.loading.legal_fill`, by NumPy arrays of one cart a place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.water.loading import TIE
from fleet.water.measured import above_zero
from fleet.water.tank_many import Floats, refuse_where

FIRST, SECOND, GROSS, NONE = range(4)


@dataclass(frozen=True)
class LegalFills:
    """Arrays of one cart a place. binding: FIRST, SECOND, GROSS or NONE. loads_kg: a row a cart, its two groups."""

    litres: Floats
    mass_kg: Floats
    binding: NDArray[np.int_]
    loads_kg: Floats


def legal_fill_many(
    *,
    tare_kg: ArrayLike,
    limit_kg: ArrayLike,
    position_m: ArrayLike,
    gross_limit_kg: ArrayLike,
    tank_centroid_m: ArrayLike,
    density_kg_m3: float = 1000.0,
    capacity_l: ArrayLike | None = None,
) -> LegalFills:
    """tare, limit and position: a row a cart, its two groups; the rest one value a cart. A capacity of NaN is not known.

    ValueError as `legal_fill`, naming the first cart at fault by its place.
    """
    tare, limit, place = (_columns(each) for each in (tare_kg, limit_kg, position_m))
    gross, centroid = np.asarray(gross_limit_kg, dtype=float), np.asarray(tank_centroid_m, dtype=float)
    _refuse(tare, limit, place, gross, centroid)
    above_zero(density_kg_m3, "The density")
    base = place[1] - place[0]
    shares = ((place[1] - centroid) / base, (centroid - place[0]) / base)
    with np.errstate(divide="ignore", invalid="ignore"):
        rooms = [
            np.where(share > 0, (most - empty) / share, np.inf)
            for share, most, empty in zip(shares, limit, tare, strict=True)
        ]
    mass = np.minimum(np.minimum(*rooms), gross - tare[0] - tare[1])
    binds = mass * (1 + TIE)
    binding = np.where(rooms[FIRST] <= binds, FIRST, np.where(rooms[SECOND] <= binds, SECOND, GROSS))
    litres = mass / density_kg_m3 * 1000
    if capacity_l is not None:
        capacity = np.asarray(capacity_l, dtype=float)
        refuse_where((capacity <= 0) | np.isinf(capacity), "the tank's capacity has to be above zero.")
        is_full = capacity < litres * (1 - TIE)
        binding = np.where(is_full, NONE, binding)
        mass = np.where(is_full, capacity * density_kg_m3 / 1000, mass)
        litres = np.fmin(litres, capacity)
    loads = [empty + share * mass for empty, share in zip(tare, shares, strict=True)]
    return LegalFills(litres, mass, binding, np.column_stack(loads))


def _columns(rows: ArrayLike) -> tuple[Floats, Floats]:
    table = np.asarray(rows, dtype=float)
    if table.ndim != 2 or table.shape[1] != 2:
        raise ValueError("A road fill is reckoned for two axle groups a cart.")
    return np.ascontiguousarray(table[:, 0]), np.ascontiguousarray(table[:, 1])


def _refuse(
    tare: tuple[Floats, Floats],
    limit: tuple[Floats, Floats],
    place: tuple[Floats, Floats],
    gross: Floats,
    centroid: Floats,
) -> None:
    for values in (*tare, *limit, *place, gross, centroid):
        refuse_where(~np.isfinite(values), "a mass or a place is no number.")
    for empty, most in zip(tare, limit, strict=True):
        refuse_where(empty < 0, "a tare can't be below zero.")
        refuse_where(most < empty, "a limit is under its tare.")
    refuse_where((gross <= 0) | (gross < tare[0] + tare[1]), "the gross limit is under the tare.")
    refuse_where(place[0] == place[1], "the two axle groups stand in one place.")
    refuse_where(
        (centroid < np.minimum(*place)) | (centroid > np.maximum(*place)),
        "the tank's middle lies outside the two axle groups.",
    )
