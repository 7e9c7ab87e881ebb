"""The forecast of servicing.tread for many tyres at once, as arrays. Same rule, same figures; see there and docs/tread.md."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import stdtrit

from servicing.tread import (
    ENOUGH,
    GAUGE_READINGS,
    GAUGE_SD_MM,
    LEAST_SHARE,
    MAD_TELLS,
    MAD_TO_SD,
    confident_z,
    small_sample,
)

Floats = npt.NDArray[np.float64]
# Pairs of readings held in memory at once: 4 million take some 100 MB while they are sorted.
PAIRS_AT_ONCE = 4_000_000


@dataclass(frozen=True)
class WearFits:
    """One row a tyre: how many km were read, the slope (NaN under two), level and centre (NaN with none), the scatter of a
    reading and the sum of squared distances of its km from their mean."""

    count: npt.NDArray[np.int64]
    slope_mm_km: Floats
    level_mm: Floats
    centre_km: Floats
    own_scatter_sq: Floats
    km_squares: Floats

    @property
    def span_known(self) -> npt.NDArray[np.bool_]:
        return self.count > 1


@dataclass(frozen=True)
class TreadForecasts:
    """TreadForecast's fields, one row a tyre; NaN stands for None, and basis holds its words."""

    wear_mm_per_1000_km: Floats
    km_at_limit: Floats
    km_at_limit_low: Floats
    km_at_limit_high: Floats
    basis: npt.NDArray[np.str_]


def _checked(km: npt.ArrayLike, depth_mm: npt.ArrayLike) -> tuple[Floats, Floats]:
    x, y = np.atleast_2d(np.asarray(km, float)), np.atleast_2d(np.asarray(depth_mm, float))
    if x.shape != y.shape:
        raise ValueError("Every km has its depth: the two tables must be of one shape.")
    if np.isinf(x).any() or np.isinf(y).any() or (np.isnan(x) != np.isnan(y)).any():
        raise ValueError("A km and its depth have to be numbers, or both be left empty.")
    if (y < 0).any():
        raise ValueError("A depth can't be below zero.")
    return x, y


def _least_by_km(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Each row in order of km, one reading a km, empty ones last."""
    order = np.lexsort((y, x), axis=-1)
    x, y = np.take_along_axis(x, order, -1), np.take_along_axis(y, order, -1)
    again = np.zeros(x.shape, bool)
    again[:, 1:] = x[:, 1:] == x[:, :-1]
    if again.any():
        x = np.where(again, np.nan, x)
        order = np.argsort(x, axis=-1, kind="stable")
        x, y = np.take_along_axis(x, order, -1), np.take_along_axis(y, order, -1)
    return x, y


def fit_many(*, km: npt.ArrayLike, depth_mm: npt.ArrayLike) -> WearFits:
    """Lines of many tyres. km and depth_mm: one row a tyre, one column a reading, NaN where a tyre has fewer. ValueError as
    servicing.tread.forecast."""
    x, y = _least_by_km(*_checked(km, depth_mm))
    count = np.count_nonzero(~np.isnan(x), axis=1)
    slope, level, centre = (np.full(len(x), np.nan) for _ in range(3))
    scatter_sq, squares = np.zeros(len(x)), np.zeros(len(x))
    # Tyres with equally many readings go together, so that no median has to step round empty places.
    for number in np.unique(count[count > 0]):
        rows = np.flatnonzero(count == number)
        level[rows], centre[rows] = (
            np.median(y[rows, :number], axis=1),
            np.median(x[rows, :number], axis=1),
        )
        first, second = np.triu_indices(number, 1)
        step = max(1, PAIRS_AT_ONCE // max(len(first), 1))
        for start in range(0, len(rows) if number > 1 else 0, step):
            some = rows[start : start + step]
            xs, ys = x[some, :number], y[some, :number]
            slopes = (ys[:, second] - ys[:, first]) / (xs[:, second] - xs[:, first])
            slope[some] = np.median(slopes, axis=1, overwrite_input=True)
            squares[some] = ((xs - xs.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
            if number >= ENOUGH:
                off = ys - slope[some, None] * xs
                mad = np.median(np.abs(off - np.median(off, axis=1, keepdims=True)), axis=1)
                scatter_sq[some] = (MAD_TO_SD * mad) ** 2 * small_sample(int(number))
    return WearFits(count, slope, level, centre, scatter_sq, squares)


def _row(value: npt.ArrayLike | None, size: int, what: str, *, above_zero: bool) -> Floats:
    """One figure a tyre, or one for all; NaN (or None) where there is none."""
    row = np.broadcast_to(np.asarray(np.nan if value is None else value, float), (size,))
    if np.isinf(row).any() or (row < 0).any() or (above_zero and (row == 0).any()):
        raise ValueError(f"{what} has to be a number {'above zero' if above_zero else 'not below zero'}.")
    return row


def _cross(left: Floats, slope: Floats, level_sq: Floats, slope_sq: Floats) -> tuple[Floats, Floats, Floats]:
    """servicing.tread._crossing, for falling lines; km from each line's centre."""
    middle = left / -slope
    square, cross, rest = slope**2 - slope_sq, left * slope, left**2 - level_sq
    root = np.sqrt(np.maximum(cross**2 - square * rest, 0.0))
    above, sure = left > 0, square > 0
    far, near = root - cross, -cross - root
    low = np.where(
        above & (sure | (rest > 0)),
        rest / far,
        np.where(~above & sure, near / square, np.minimum(middle, 0)),
    )
    high = np.where(sure, np.where(above, far / square, rest / near), np.inf)
    return np.minimum(low, middle), middle, np.maximum(high, middle)


def forecast_fits(
    fits: WearFits,
    *,
    limit_mm: npt.ArrayLike,
    confidence: float = 0.9,
    prior_wear: npt.ArrayLike | None = None,
    prior_spread: npt.ArrayLike | None = None,
) -> TreadForecasts:
    """Forecasts from lines already fitted: for a second limit nothing is fitted twice. As forecast_many."""
    size, z = len(fits.count), confident_z(confidence)
    limit = _row(limit_mm, size, "A limit", above_zero=False)
    fleet = _row(prior_wear, size, "The fleet's wear", above_zero=True)
    fleet_sq = (_row(prior_spread, size, "The spread of the fleet's wear", above_zero=True) / 1000) ** 2
    if np.isnan(limit).any() or (np.isnan(fleet) != np.isnan(fleet_sq)).any():
        raise ValueError("Every tyre has its limit, and every fleet rate its spread.")
    more = MAD_TELLS * np.maximum(fits.count - 2, 0)
    freedom = GAUGE_READINGS + more
    pooled = (GAUGE_READINGS * GAUGE_SD_MM**2 + more * fits.own_scatter_sq) / freedom
    scatter_sq = np.maximum(GAUGE_SD_MM**2, pooled) * (stdtrit(freedom, (1 + confidence) / 2) / z) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        own_sq = np.where((fits.count > 1), math.pi / 3 * scatter_sq / fits.km_squares, np.inf)
        has_fleet = ~np.isnan(fleet)
        share = np.where(np.isinf(own_sq), 1.0, own_sq / (own_sq + fleet_sq))
        share = np.where(has_fleet & (share >= LEAST_SHARE), share, 0.0)
        own = np.where((fits.count > 1), fits.slope_mm_km, 0.0)
        slope = np.where(share > 0, (1 - share) * own - share * fleet / 1000, own)
        slope_sq = np.where(share > 0, share * fleet_sq, own_sq)
        level_sq = np.where(fits.count % 2, scatter_sq, scatter_sq / 2)
        told = (fits.count >= ENOUGH) | has_fleet
        falls = told & (fits.count > 0) & (slope < 0)
        low, middle, high = _cross(fits.level_mm - limit, slope, z**2 * level_sq, z**2 * slope_sq)
    low, middle, high = (np.where(falls, fits.centre_km + km, np.nan) for km in (low, middle, high))
    basis = np.select(
        [~told, share == 1.0, share > 0], ["too few", "fleet", "readings and fleet"], "readings"
    )
    return TreadForecasts(np.where(told, -1000 * slope, np.nan), middle, low, high, basis)


def forecast_many(
    *,
    km: npt.ArrayLike,
    depth_mm: npt.ArrayLike,
    limit_mm: npt.ArrayLike,
    confidence: float = 0.9,
    prior_wear: npt.ArrayLike | None = None,
    prior_spread: npt.ArrayLike | None = None,
) -> TreadForecasts:
    """servicing.tread.forecast for many tyres. km, depth_mm: one row a tyre, NaN where it has fewer readings. limit_mm,
    prior_wear and prior_spread (mm per 1,000 km): one for all or one a tyre, NaN where the fleet says nothing."""
    return forecast_fits(
        fit_many(km=km, depth_mm=depth_mm),
        limit_mm=limit_mm,
        confidence=confidence,
        prior_wear=prior_wear,
        prior_spread=prior_spread,
    )
