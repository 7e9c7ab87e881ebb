"""The wear forecast: its figures, its words, what it refuses, that many at once say the same, and that its spread is honest."""

import math
import random
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from servicing.tread import TreadPrior, forecast, least_by_km, wear_line
from servicing.tread_many import forecast_many

PAGE = Path(__file__).parents[2] / "docs" / "tread.md"
STEADY = [(0, 16.0), (5000, 15.0), (10000, 14.0), (15000, 13.0), (20000, 12.0)]
FLEET = TreadPrior(wear_mm_per_1000_km=0.25, spread_mm_per_1000_km=0.05)


def page_rows():
    lines = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("| worked")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def pairs(words):
    return [tuple(float(part) for part in pair.split(":")) for pair in words.split()]


def test_the_page_s_worked_table_is_what_comes_out():
    rows = page_rows()
    assert len(rows) >= 6
    for name, readings, limit, fleet, wear, low, middle, high, basis in rows:
        prior = TreadPrior(*(float(part) for part in fleet.split("±"))) if fleet != "–" else None
        found = forecast(readings=pairs(readings), limit_mm=float(limit), prior=prior)
        told = (found.km_at_limit_low, found.km_at_limit, found.km_at_limit_high)
        shown = ["–" if km is None else "no end" if km == math.inf else f"{km:.0f}" for km in told]
        rate = "–" if found.wear_mm_per_1000_km is None else f"{found.wear_mm_per_1000_km:.4f}"
        assert (rate, *shown, found.basis) == (wear, low, middle, high, basis), name


def test_a_steady_tyre_is_down_to_its_limit_where_its_line_says():
    found = forecast(readings=STEADY, limit_mm=3.0)
    assert found.wear_mm_per_1000_km == pytest.approx(0.2)
    assert found.km_at_limit == pytest.approx(65000)
    assert found.km_at_limit_low < 65000 < found.km_at_limit_high
    assert found.basis == "readings"


def test_the_least_of_several_grooves_governs():
    grooves = [*STEADY, (20000, 12.9), (0, 16.4), (10000, 14.0)]
    assert forecast(readings=reversed(grooves), limit_mm=3) == forecast(readings=STEADY, limit_mm=3)
    assert least_by_km([(9, 12.0), (2, 14.0), (9, 11.8), (2, 14.1)]) == [(2.0, 14.0), (9.0, 11.8)]


@pytest.mark.parametrize(
    ("readings", "prior", "basis", "is_known"),
    [
        ([], None, "too few", False),
        (STEADY[:1], None, "too few", False),
        (STEADY[:2], None, "too few", False),
        ([(5000, 15.0), (5000, 14.0), (5000, 13.5), (9000, 13.0)], None, "too few", False),
        (STEADY[:3], None, "readings", True),
        ([], FLEET, "fleet", False),
        (STEADY[:1], FLEET, "fleet", True),
        (STEADY[:2], FLEET, "readings and fleet", True),
        ([(km, 16 - km / 5000 + 0.1 * (km % 2000 == 0)) for km in range(0, 40000, 1000)], FLEET, "readings", True),
        ([(0, 10.0), (5000, 10.0), (9000, 10.0)], None, "readings", False),
        ([(0, 10.0), (5000, 10.2), (9000, 10.4)], None, "readings", False),
    ],
)  # fmt: skip
def test_what_a_forecast_rests_on(readings, prior, basis, is_known):
    found = forecast(readings=readings, limit_mm=3.0, prior=prior)
    assert found.basis == basis
    km = (found.km_at_limit_low, found.km_at_limit, found.km_at_limit_high)
    assert [value is not None for value in km] == [is_known] * 3


def test_few_readings_lean_on_the_fleet_and_many_do_not():
    # Three readings over 3,000 km wear 0.4 by their own, the fleet 0.25: the answer lies between, nearer the fleet.
    few = forecast(readings=[(0, 16.0), (1500, 15.4), (3000, 14.8)], limit_mm=3, prior=FLEET)
    assert 0.25 < few.wear_mm_per_1000_km < 0.33
    many = [(km, 16 - 0.4 * km / 1000) for km in range(0, 30000, 1500)]
    assert forecast(readings=many, limit_mm=3, prior=FLEET).wear_mm_per_1000_km == pytest.approx(0.4)
    assert forecast(readings=many, limit_mm=3, prior=0.25).basis == "readings"


def test_a_tyre_that_need_not_wear_has_no_end_and_a_wider_confidence_a_wider_spread():
    slight = [(0, 10.0), (1000, 9.9), (2000, 9.8)]
    assert forecast(readings=slight, limit_mm=3).km_at_limit_high == math.inf
    wide, narrow = (forecast(readings=STEADY, limit_mm=3, confidence=share) for share in (0.99, 0.5))
    assert wide.km_at_limit_low < narrow.km_at_limit_low < narrow.km_at_limit_high < wide.km_at_limit_high


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"readings": [(0, -0.1)]}, "below zero"),
        ({"readings": [(0, math.nan)]}, "number"),
        ({"readings": [(math.inf, 5.0)]}, "number"),
        ({"limit_mm": -1}, "below zero"),
        ({"limit_mm": math.nan}, "number"),
        ({"confidence": 0}, "between 0 and 1"),
        ({"confidence": 1}, "between 0 and 1"),
        ({"confidence": math.nan}, "between 0 and 1"),
        ({"prior": 0}, "above zero"),
        ({"prior": math.nan}, "above zero"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(changes, words):
    with pytest.raises(ValueError, match=words):
        forecast(**{"readings": STEADY, "limit_mm": 3.0} | changes)


@pytest.mark.parametrize(
    "changes",
    [
        {"km": [[0, math.inf]]},
        {"km": [[0, math.nan]]},
        {"depth_mm": [[1, -1]]},
        {"depth_mm": [[1, 1, 1]]},
        {"limit_mm": -1},
        {"limit_mm": math.nan},
        {"prior_wear": 0.2},
        {"prior_wear": 0, "prior_spread": 0.1},
    ],
)
def test_many_refuse_what_one_refuses(changes):
    with pytest.raises(ValueError, match=r"number|below zero|shape|has its"):
        forecast_many(**{"km": [[0, 1]], "depth_mm": [[5, 4]], "limit_mm": 3} | changes)


@given(
    st.lists(st.tuples(st.integers(0, 200_000), st.integers(0, 300)), max_size=12),
    st.sampled_from([1.5, 3.0, 4.0]),
)
def test_low_is_never_above_the_middle_nor_the_middle_above_high(readings, limit):
    found = forecast(readings=[(km, tenths / 10) for km, tenths in readings], limit_mm=limit, prior=FLEET)
    if found.km_at_limit is not None:
        assert found.km_at_limit_low <= found.km_at_limit <= found.km_at_limit_high


def table(tyres):
    """Readings of many tyres as the two arrays forecast_many takes."""
    most = max(map(len, tyres))
    km, depth = np.full((len(tyres), most), np.nan), np.full((len(tyres), most), np.nan)
    for row, readings in enumerate(tyres):
        for column, (at, deep) in enumerate(readings):
            km[row, column], depth[row, column] = at, deep
    return km, depth


def test_many_at_once_say_what_each_says_alone():
    chance = random.Random(71)
    tyres = [
        [(chance.choice([1, 2, 3, 5, 8, 8.5, 13]) * 1e3, round(chance.uniform(1, 15), 1)) for _ in range(n % 10)]
        for n in range(600)
    ]  # fmt: skip
    priors = [chance.choice([None, FLEET]) for _ in tyres]
    km, depth = table(tyres)
    many = forecast_many(
        km=km, depth_mm=depth, limit_mm=3.0,
        prior_wear=[one.wear_mm_per_1000_km if one else np.nan for one in priors],
        prior_spread=[one.spread_mm_per_1000_km if one else np.nan for one in priors],
    )  # fmt: skip
    for row, (readings, prior) in enumerate(zip(tyres, priors, strict=True)):
        one = forecast(readings=readings, limit_mm=3.0, prior=prior)
        for name in ("wear_mm_per_1000_km", "km_at_limit", "km_at_limit_low", "km_at_limit_high"):
            alone, among = getattr(one, name), getattr(many, name)[row]
            assert np.isnan(among) if alone is None else among == pytest.approx(alone, rel=1e-9, abs=1e-6)
        assert many.basis[row] == one.basis


def test_the_line_for_drawing_is_the_line_of_the_forecast():
    line, found = wear_line(readings=STEADY, prior=FLEET), forecast(readings=STEADY, limit_mm=3, prior=FLEET)
    assert line.depth_mm(found.km_at_limit) == pytest.approx(3.0)
    low, high = found.km_at_limit_low, found.km_at_limit_high
    assert line.depth_mm(low) - line.spread_mm(low) == pytest.approx(3.0)
    assert line.depth_mm(high) + line.spread_mm(high) == pytest.approx(3.0)
    assert wear_line(readings=STEADY[:2]) is None


def covered(*, readings, gauge_sd, fleet_spread, seed=20, tyres=4000):
    """The share of simulated tyres whose true km at 3 mm lies in the spread of 90 %: each wears evenly at a rate of its
    own, is read some 1,500 km apart and to a tenth, by a gauge with this error."""
    chance = np.random.default_rng(seed)
    km = np.cumsum(chance.uniform(0.5, 1.5, (tyres, readings)) * 1500, axis=1)
    rate = np.clip(chance.normal(0.25, 0.25 * 0.25, tyres), 0.05, None)
    new = chance.uniform(13, 17, tyres)
    read = new[:, None] - rate[:, None] * km / 1000 + chance.normal(0, gauge_sd, km.shape)
    prior = {"prior_wear": 0.25, "prior_spread": 0.25 * 0.25} if fleet_spread else {}
    found = forecast_many(km=km, depth_mm=np.maximum(np.round(read, 1), 0), limit_mm=3.0, **prior)
    true_km, told = (new - 3) / rate * 1000, ~np.isnan(found.km_at_limit)
    inside = (found.km_at_limit_low <= true_km) & (true_km <= found.km_at_limit_high)
    return float(inside[told].mean())


# With a gauge as good as the rule takes it for, 88 to 100 % of the spreads of 90 % hold the truth: never short of what they
# say, wide while readings are few. With one half as bad again the shortfall is at most 5 %.
@pytest.mark.parametrize("fleet_spread", [False, True], ids=["readings alone", "with the fleet"])
@pytest.mark.parametrize("readings", [1, 2, 3, 5, 8, 12, 20])
def test_the_spread_holds_what_it_says(readings, fleet_spread):
    if readings < 3 and not fleet_spread:
        readings = 4
    good, poor = (covered(readings=readings, gauge_sd=sd, fleet_spread=fleet_spread) for sd in (0.18, 0.27))
    print(f"{readings} readings: a spread of 90 % held {good:.1%}; with a gauge half as bad again {poor:.1%}")
    assert good >= 0.88
    assert poor >= 0.85


def test_a_spread_that_knew_no_gauge_would_be_caught(monkeypatch):
    monkeypatch.setattr("servicing.tread_many.GAUGE_SD_MM", 0.02)
    assert covered(readings=5, gauge_sd=0.18, fleet_spread=False) < 0.85


def test_nothing_is_said_aloud_while_reckoning():
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        forecast_many(km=[[0, 1, 2], [0, 1, np.nan]], depth_mm=[[3, 3, 3], [3, 4, np.nan]], limit_mm=3.0)
