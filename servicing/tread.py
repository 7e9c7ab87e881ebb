"""How fast a tyre wears and when it is down to a limit, from depth readings that no single bad one can bend.

A straight line of depth over km by Theil and Sen: its slope is the median of the slopes of every pair of readings (ST-09),
its level the median depth at the median km (ST-10). The spread comes from how far the readings lie off their line, never
taken smaller than a gauge's own repeat. Few readings lean on what the fleet's other tyres of that axle and duty do.
docs/tread.md has the rule with a worked table. A forecast is no inspection: cuts, bulges and cord that shows are judged at
any depth, and the tyre maker, site rules and road law stand over it.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal

from scipy.special import stdtrit

Basis = Literal["readings", "readings and fleet", "fleet", "too few"]
Reading = tuple[float, float]

# Two readings of one groove lie within 0.5 mm of each other (common practice, no source), taken as 19 times in 20: then
# one reading has this standard deviation.
GAUGE_REPEAT_MM = 0.5
GAUGE_SD_MM = GAUGE_REPEAT_MM / (1.959964 * math.sqrt(2))
# What is known of gauges counts as much as this many readings when the scatter of one tyre is judged. Ours.
GAUGE_READINGS = 2
# From the fleet's share of the slope downwards the tyre's own readings stand alone. Ours.
LEAST_SHARE = 0.05
# A fleet rate given without its spread is taken to vary by half from tyre to tyre. Ours.
PRIOR_SPREAD_SHARE = 0.5
# A median absolute deviation times this is a standard deviation, for errors of the usual bell shape; it tells as much as
# this share of its readings would tell by their squares.
MAD_TO_SD = 1.482602
MAD_TELLS = 0.37
ENOUGH = 3


@dataclass(frozen=True, slots=True)
class TreadPrior:
    """What the fleet's tyres of one axle and duty do: mm worn in 1,000 km, and how much that varies from tyre to tyre as
    one standard deviation. ValueError unless both are above zero."""

    wear_mm_per_1000_km: float
    spread_mm_per_1000_km: float

    def __post_init__(self) -> None:
        for value, what in (
            (self.wear_mm_per_1000_km, "The fleet's wear"),
            (self.spread_mm_per_1000_km, "The spread of the fleet's wear"),
        ):
            if not (math.isfinite(value) and value > 0):
                raise ValueError(f"{what} has to be a number above zero.")


@dataclass(frozen=True, slots=True)
class TreadForecast:
    """km are on the readings' own axis, not km still to go; None where there is nothing to say. high may be math.inf: by
    the spread the tyre may not wear at all. low <= km_at_limit <= high."""

    wear_mm_per_1000_km: float | None
    km_at_limit: float | None
    km_at_limit_low: float | None
    km_at_limit_high: float | None
    basis: Basis


@dataclass(frozen=True, slots=True)
class WearLine:
    """The line itself, for drawing: depth at a km and half the width of its spread there. share: the fleet's part, 0..1."""

    slope_mm_km: float
    level_mm: float
    centre_km: float
    level_sd_mm: float
    slope_sd_mm_km: float
    z: float
    share: float
    basis: Basis

    def depth_mm(self, km: float) -> float:
        return self.level_mm + self.slope_mm_km * (km - self.centre_km)

    def spread_mm(self, km: float) -> float:
        return self.z * math.hypot(self.level_sd_mm, (km - self.centre_km) * self.slope_sd_mm_km)


def theil_sen(points: Sequence[Reading]) -> tuple[float, float]:
    """(slope, intercept): the median slope of all pairs whose km differ, and median depth less slope times median km.

    ValueError without two different km. Source: ST-09 (VERIFIED-P), ST-10 (VERIFIED-S), as scipy.stats.theilslopes.
    """
    slopes = [(y2 - y1) / (x2 - x1) for (x1, y1), (x2, y2) in combinations(points, 2) if x1 != x2]
    if not slopes:
        raise ValueError("A slope needs readings at two different km.")
    slope = statistics.median(slopes)
    return slope, statistics.median(y for _, y in points) - slope * statistics.median(x for x, _ in points)


def _number(value: float, what: str) -> float:
    number = float(value)
    if not math.isfinite(number):
        raise ValueError(f"{what} has to be a number.")
    return number


def _depth(value: float, what: str) -> float:
    if _number(value, what) < 0:
        raise ValueError(f"{what} can't be below zero.")
    return float(value)


def least_by_km(readings: Iterable[Reading]) -> list[Reading]:
    """Readings in order of km, one a km: of several grooves read at one km the least governs. ValueError for a value that
    is no number, or a depth below zero."""
    least: dict[float, float] = {}
    for km, depth_mm in readings:
        at, depth = _number(km, "A km"), _depth(depth_mm, "A depth")
        least[at] = min(depth, least.get(at, depth))
    return sorted(least.items())


def confident_z(confidence: float) -> float:
    """How many standard deviations either way hold this share. ValueError outside 0..1, both ends left out."""
    if not 0 < confidence < 1:
        raise ValueError("A confidence lies between 0 and 1.")
    return statistics.NormalDist().inv_cdf((1 + confidence) / 2)


def as_prior(prior: TreadPrior | float | None) -> TreadPrior | None:
    """A bare rate in mm per 1,000 km gets the stated spread. ValueError unless above zero."""
    if prior is None or isinstance(prior, TreadPrior):
        return prior
    return TreadPrior(float(prior), float(prior) * PRIOR_SPREAD_SHARE)


def small_sample(count: int) -> float:
    """What a squared deviation of few readings is too small by: two of them went into the line, and the median of few
    absolute deviations is low."""
    return count / (count - 2) * (count / (count - 0.8)) ** 2


def _scatter_mm(points: Sequence[Reading], slope: float, *, confidence: float, z: float) -> float:
    """One reading's standard deviation about the line, widened for how few readings tell it."""
    count = len(points)
    own_sq, more = 0.0, MAD_TELLS * max(count - 2, 0)
    if count >= ENOUGH:
        off = [y - slope * x for x, y in points]
        middle = statistics.median(off)
        mad = statistics.median(abs(value - middle) for value in off)
        own_sq = (MAD_TO_SD * mad) ** 2 * small_sample(count)
    freedom = GAUGE_READINGS + more
    pooled_sq = (GAUGE_READINGS * GAUGE_SD_MM**2 + more * own_sq) / freedom
    return math.sqrt(max(GAUGE_SD_MM**2, pooled_sq)) * float(stdtrit(freedom, (1 + confidence) / 2)) / z


def wear_line(
    *, readings: Iterable[Reading], confidence: float = 0.9, prior: TreadPrior | float | None = None
) -> WearLine | None:
    """The line through a tyre's readings [(km, depth in mm)]; None with no reading, or under three and no prior.

    ValueError as forecast().
    """
    points, fleet, z = least_by_km(readings), as_prior(prior), confident_z(confidence)
    if not points or (len(points) < ENOUGH and fleet is None):
        return None
    level = statistics.median(y for _, y in points)
    centre = statistics.median(x for x, _ in points)
    slope, slope_sq = 0.0, math.inf
    if len(points) > 1:
        slope, _ = theil_sen(points)
    scatter = _scatter_mm(points, slope, confidence=confidence, z=z)
    if len(points) > 1:
        mean = statistics.fmean(x for x, _ in points)
        # pi / 3: what the median of slopes loses against least squares, on errors of the usual bell shape.
        slope_sq = math.pi / 3 * scatter**2 / sum((x - mean) ** 2 for x, _ in points)
    share = 0.0
    if fleet is not None:
        fleet_sq = (fleet.spread_mm_per_1000_km / 1000) ** 2
        share = 1.0 if slope_sq == math.inf else slope_sq / (slope_sq + fleet_sq)
        share = share if share >= LEAST_SHARE else 0.0
        if share:
            slope = (1 - share) * slope - share * fleet.wear_mm_per_1000_km / 1000
            # Two independent witnesses: the spread of both together is less than of either.
            slope_sq = share * fleet_sq
    return WearLine(
        slope_mm_km=slope,
        level_mm=level,
        centre_km=centre,
        # The median depth of a wearing tyre is its middle reading, or the mean of its middle two.
        level_sd_mm=scatter if len(points) % 2 else scatter / math.sqrt(2),
        slope_sd_mm_km=math.sqrt(slope_sq),
        z=z,
        share=share,
        basis="fleet" if share == 1.0 else "readings and fleet" if share else "readings",
    )


def _crossing(line: WearLine, limit_mm: float) -> tuple[float, float, float]:
    """(low, middle, high) km at which the line, and the two edges of its spread, are down to a limit. It must fall.

    An edge meets the limit where (left + slope u)^2 = z^2 (level_sd^2 + u^2 slope_sd^2), u km from the centre.
    """
    left, slope = line.level_mm - limit_mm, line.slope_mm_km
    level_sq, slope_sq = (line.z * line.level_sd_mm) ** 2, (line.z * line.slope_sd_mm_km) ** 2
    middle = left / -slope
    square, cross, rest = slope**2 - slope_sq, left * slope, left**2 - level_sq
    low, high = min(middle, 0.0), math.inf
    root = math.sqrt(max(cross**2 - square * rest, 0.0))
    if left > 0:
        low = rest / (root - cross) if square > 0 or rest > 0 else low
        high = (root - cross) / square if square > 0 else high
    elif square > 0:
        low, high = (-cross - root) / square, rest / (-cross - root)
    centre = line.centre_km
    return centre + min(low, middle), centre + middle, centre + max(high, middle)


def forecast(
    *,
    readings: Iterable[Reading],
    limit_mm: float,
    confidence: float = 0.9,
    prior: TreadPrior | float | None = None,
) -> TreadForecast:
    """At how many km a tyre will be down to a limit, with the spread that holds it with the confidence asked for.

    readings: [(km, depth in mm)] in any order; of several at one km the least governs, and depths may rise (gauges do).
    limit_mm: at least 0. prior: what the fleet's tyres of that axle and duty wear, a TreadPrior or a bare rate in mm per
    1,000 km; None: nothing is known. With no prior and under three readings the answer is "too few" and every figure None;
    with no reading at all, or no fall, the km are None. The spread knows gauge error and the scatter of these readings; a
    change of work, load or pressure to come it cannot know. ValueError for a value that is no number, a depth or limit
    below zero, a confidence outside 0..1, a prior not above zero. Source: docs/tread.md.
    """
    limit = _depth(limit_mm, "A limit")
    line = wear_line(readings=readings, confidence=confidence, prior=prior)
    if line is None:
        fleet = as_prior(prior)
        if fleet is None:
            return TreadForecast(None, None, None, None, "too few")
        return TreadForecast(fleet.wear_mm_per_1000_km, None, None, None, "fleet")
    wear = -1000 * line.slope_mm_km
    if line.slope_mm_km >= 0:
        return TreadForecast(wear, None, None, None, line.basis)
    low, middle, high = _crossing(line, limit)
    return TreadForecast(wear, middle, low, high, line.basis)
