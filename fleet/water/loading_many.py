"""Road fills of a whole fleet at once: the figures of `fleet.water.loading.legal_fill`, by NumPy arrays of one cart a place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fleet.water.loading import TIE
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
    tare, limit, place = (np.asarray(each, dtype=float) for each in (tare_kg, limit_kg, position_m))
    gross, centroid = np.asarray(gross_limit_kg, dtype=float), np.asarray(tank_centroid_m, dtype=float)
    _refuse(tare, limit, place, gross, centroid)
    if not (np.isfinite(density_kg_m3) and density_kg_m3 > 0):
        raise ValueError("The density has to be above zero.")
    share = np.abs(place[:, ::-1] - centroid[:, None]) / np.abs(place[:, 1] - place[:, 0])[:, None]
    room = np.full((len(gross), 3), np.inf)
    np.divide(limit - tare, share, out=room[:, :GROSS], where=share > 0)
    room[:, GROSS] = gross - tare.sum(axis=1)
    mass = room.min(axis=1)
    binding = np.argmax(room <= (mass * (1 + TIE))[:, None], axis=1)
    litres = mass / density_kg_m3 * 1000
    if capacity_l is not None:
        capacity = np.asarray(capacity_l, dtype=float)
        refuse_where((capacity <= 0) | np.isinf(capacity), "the tank's capacity has to be above zero.")
        is_full = capacity < litres * (1 - TIE)
        binding = np.where(is_full, NONE, binding)
        mass = np.where(is_full, capacity * density_kg_m3 / 1000, mass)
        litres = np.fmin(litres, capacity)
    return LegalFills(litres, mass, binding, tare + share * mass[:, None])


def _refuse(tare: Floats, limit: Floats, place: Floats, gross: Floats, centroid: Floats) -> None:
    values = np.column_stack([tare, limit, place, gross, centroid])
    refuse_where(~np.isfinite(values).all(axis=1), "a mass or a place is no number.")
    refuse_where((tare < 0).any(axis=1), "a tare can't be below zero.")
    refuse_where((limit < tare).any(axis=1), "a limit is under its tare.")
    refuse_where((gross <= 0) | (gross < tare.sum(axis=1)), "the gross limit is under the tare.")
    refuse_where(place[:, 0] == place[:, 1], "the two axle groups stand in one place.")
    refuse_where(
        (centroid < place.min(axis=1)) | (centroid > place.max(axis=1)),
        "the tank's middle lies outside the two axle groups.",
    )
