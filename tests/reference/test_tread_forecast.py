"""Outside checks of the wear line: NIST's Norris data, a case worked by hand, and SciPy's own Theil-Sen."""

import numpy as np
import pytest
from scipy.stats import theilslopes

from servicing.tread import forecast, theil_sen
from servicing.tread_many import fit_many

# NIST StRD "Norris", 36 pairs (ST-01 to ST-07, VERIFIED-S; the pairs VERIFIED-R).
NORRIS_X = """0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0 228.1 995.8
887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"""
NORRIS_Y = """0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7 228.3 998.0
888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"""
NORRIS = list(zip(map(float, NORRIS_X.split()), map(float, NORRIS_Y.split()), strict=True))
SMALL = list(zip(range(6), (16.0, 15.2, 14.1, 13.3, 9.0, 11.5), strict=True))


def test_st_12_computed_norris_by_theil_sen():
    assert len(NORRIS) == 36
    slope, intercept = theil_sen(NORRIS)
    assert slope == pytest.approx(1.0021968365553604, abs=1e-15)
    assert intercept == pytest.approx(-0.0640158172, abs=1e-10)


def test_the_norris_pairs_are_the_certified_ones():
    # ST-01, ST-02 VERIFIED-S: least squares on the same pairs gives NIST's certified figures.
    slope, intercept = np.polyfit(*zip(*NORRIS, strict=True), 1)
    assert slope == pytest.approx(1.00211681802045, rel=1e-12)
    assert intercept == pytest.approx(-0.262323073774029, rel=1e-9)


def test_st_13_and_st_14_computed_the_small_case():
    slope, intercept = theil_sen(SMALL)
    assert slope == pytest.approx(-0.925)
    assert intercept == pytest.approx(16.0125)
    found = forecast(readings=SMALL, limit_mm=1.5)
    assert found.wear_mm_per_1000_km == pytest.approx(925)
    assert found.km_at_limit == pytest.approx(15.69, abs=0.005)
    least_squares = np.polyfit(*zip(*SMALL, strict=True), 1)
    assert least_squares[0] == pytest.approx(-1.197142857)
    assert (1.5 - least_squares[1]) / least_squares[0] == pytest.approx(12.26, abs=0.005)


@pytest.mark.parametrize("seed", range(20))
def test_scipy_draws_the_same_line(seed):
    chance = np.random.default_rng(seed)
    km = np.unique(chance.integers(0, 90_000, chance.integers(3, 40))).astype(float)
    depth = np.round(16 - km / 6000 + chance.normal(0, 0.3, km.shape), 1)
    theirs = theilslopes(depth, km)
    slope, intercept = theil_sen(list(zip(km.tolist(), depth.tolist(), strict=True)))
    assert slope == pytest.approx(theirs.slope, rel=1e-12)
    assert intercept == pytest.approx(theirs.intercept, rel=1e-12)
    many = fit_many(km=km, depth_mm=np.maximum(depth, 0))
    assert many.slope_mm_km[0] == pytest.approx(theirs.slope, rel=1e-12)
