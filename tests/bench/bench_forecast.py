"""The forecast of 10,000 tyres at once against a plain loop that fits each with NumPy's least squares.

    python -m tests.bench.bench_forecast [--tyres 10000] [--rounds 5]

Both take the same readings and give the km at which each tyre is down to 3 mm. Ours is the robust line with its spread and the
fleet's weight; the rival is one np.polyfit a tyre and no spread at all. Read the ratio; the milliseconds are this machine's.
"""

import argparse

import numpy as np

from servicing.tread import forecast
from servicing.tread_many import forecast_many
from tests.bench.timing import medians_ms

LIMIT_MM = 3.0


def readings_of(tyres: int) -> tuple[np.ndarray, np.ndarray]:
    """Three to 24 readings a tyre, some 1,500 km apart, by a gauge that repeats to half a millimetre; NaN after the last."""
    chance = np.random.default_rng(47)
    km = np.cumsum(chance.uniform(500, 2500, (tyres, 24)), axis=1)
    wear = chance.uniform(0.15, 0.4, tyres)
    depth = np.round(16 - wear[:, None] * km / 1000 + chance.normal(0, 0.18, km.shape), 1)
    empty = np.arange(24) >= chance.integers(3, 25, tyres)[:, None]
    return np.where(empty, np.nan, km), np.where(empty, np.nan, np.maximum(depth, 0))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--tyres", type=int, default=10_000)
    parser.add_argument("--rounds", type=int, default=5)
    options = parser.parse_args()
    km, depth = readings_of(options.tyres)
    rows = [(x[~np.isnan(x)], y[~np.isnan(y)]) for x, y in zip(km, depth, strict=True)]

    def ours() -> np.ndarray:
        found = forecast_many(km=km, depth_mm=depth, limit_mm=LIMIT_MM, prior_wear=0.27, prior_spread=0.07)
        return found.km_at_limit

    def plain() -> list[float]:
        lines = (np.polyfit(x, y, 1) for x, y in rows)
        return [(LIMIT_MM - level) / slope for slope, level in lines]

    for row in (0, options.tyres // 2, options.tyres - 1):
        alone = forecast(
            readings=zip(*(values.tolist() for values in rows[row]), strict=True), limit_mm=LIMIT_MM
        )
        many = forecast_many(km=km[row], depth_mm=depth[row], limit_mm=LIMIT_MM)
        assert np.isclose(alone.km_at_limit, many.km_at_limit[0]), (
            "One tyre alone is not the same among many."
        )
    mine, theirs = medians_ms(options.rounds, ours, plain)
    print(f"{options.tyres} tyres, {np.count_nonzero(~np.isnan(km))} readings")
    print(f"forecast {mine:.0f} ms, plain NumPy loop {theirs:.0f} ms: ratio {mine / theirs:.2f} (aim 1)")


if __name__ == "__main__":
    main()
