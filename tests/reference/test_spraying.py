"""The worked tables of docs/spraying.md: trade facts 8.1 and section 9, rows beside them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.water.nozzles import bar_test
from fleet.water.spraying import (
    application_l_m2,
    area_m2,
    christiansen_uniformity,
    driver_rows,
    flow_at_pressure,
    flow_at_rpm,
    flow_deviation,
    load_cycle,
    loads_needed,
    low_quarter_cups,
    low_quarter_uniformity,
    metres_per_load,
    minutes_to_fill,
    nearest_row,
    out_of_range,
    speed_km_h,
)
from tests.worked import tables

L_PER_US_GAL = 3.785411784
M_PER_FT = 0.3048
M_PER_MILE = 1609.344
M2_PER_YD2 = 0.83612736
M2_PER_ACRE = 4046.8564224

above_zero = st.floats(0.01, 5000)


@pytest.mark.parametrize("row", tables("spraying.md", "Rates")[0], ids=" ".join)
def test_rate_and_the_speed_for_it(row):
    flow, speed, width, rate = map(float, row[1:5])
    assert application_l_m2(flow_l_min=flow, speed_km_h=speed, width_m=width) == pytest.approx(rate)
    assert speed_km_h(flow_l_min=flow, target_l_m2=rate, width_m=width) == pytest.approx(speed)


def test_rate_in_gallons_a_square_yard():
    """RT-04 and RT-09: 0.11 gal/yd2 is 0.498 L/m2, and 1,936 gal a mile of 30-ft road."""
    rate = 0.11 * L_PER_US_GAL / M2_PER_YD2
    assert pytest.approx(4.527315, abs=1e-6) == L_PER_US_GAL / M2_PER_YD2
    assert rate == pytest.approx(0.498, abs=0.0005)
    metres = metres_per_load(load_l=1936 * L_PER_US_GAL, target_l_m2=rate, width_m=30 * M_PER_FT)
    assert metres == pytest.approx(M_PER_MILE)


@given(gal_acre=st.floats(1, 500), mph=st.floats(1, 30), inches=st.floats(5, 400))
def test_the_boom_rule_is_the_same_identity(gal_acre, mph, inches):
    """SP-13: gal/min = gal/acre x mph x inches / 5,940."""
    rate = application_l_m2(
        flow_l_min=gal_acre * mph * inches / 5940 * L_PER_US_GAL,
        speed_km_h=mph * M_PER_MILE / 1000,
        width_m=inches * M_PER_FT / 12,
    )
    assert rate == pytest.approx(gal_acre * L_PER_US_GAL / M2_PER_ACRE)


@given(flow=above_zero, rate=above_zero, width=above_zero)
def test_the_speed_for_a_rate_lays_that_rate(flow, rate, width):
    speed = speed_km_h(flow_l_min=flow, target_l_m2=rate, width_m=width)
    assert application_l_m2(flow_l_min=flow, speed_km_h=speed, width_m=width) == pytest.approx(rate)


@pytest.mark.parametrize("row", tables("spraying.md", "Loads")[0], ids=" ".join)
def test_what_a_load_covers(row):
    load, rate, width, area, metres, loads = map(float, row)
    assert area_m2(load_l=load, target_l_m2=rate) == pytest.approx(area)
    assert metres_per_load(load_l=load, target_l_m2=rate, width_m=width) == pytest.approx(metres, abs=0.005)
    assert loads_needed(area_m2=20_000, target_l_m2=rate, load_l=load) == loads


@pytest.mark.parametrize(
    ("area", "rate", "load", "loads"), [(3, 0.1, 0.1, 3), (0, 1, 1, 0), (10, 1, 3, 4), (9.01, 1, 3, 4)]
)
def test_loads_are_rounded_up_but_not_by_a_floats_last_bit(area, rate, load, loads):
    found = loads_needed(area_m2=area, target_l_m2=rate, load_l=load)
    assert (found, type(found)) == (loads, int)


@pytest.mark.parametrize("row", tables("spraying.md", "Rounds")[0], ids=" ".join)
def test_rounds_in_a_shift(row):
    load, fill, haul, speed, spray, other, shift, minutes, loads = map(float, row)
    found = load_cycle(
        load_l=load,
        fill_l_min=fill,
        haul_km=haul,
        haul_km_h=speed,
        spray_l_min=spray,
        shift_h=shift,
        other_min=other,
    )
    assert found.cycle_min == pytest.approx(minutes)
    assert found.whole_loads == loads
    assert found.fill_min == minutes_to_fill(litres=load, fill_l_min=fill)
    assert found.cycle_min == pytest.approx(
        found.fill_min + found.haul_min + found.spray_min + found.other_min
    )


@pytest.mark.parametrize("row", tables("spraying.md", "Gear and rpm")[0], ids=" ".join)
def test_gear_and_rpm(row):
    pump, gear, rpm, *figures = row
    rows = driver_rows(
        gears={"second": 8, "third": 12}, gears_at_rpm=1500, rpms=[1200, 1500], flow_l_min=600, flow_at=1500,
        width_m=6, pump=pump,
    )  # fmt: skip
    one = next(each for each in rows if (each.gear, each.rpm) == (gear, float(rpm)))
    assert (one.speed_km_h, one.flow_l_min, one.rate_l_m2) == pytest.approx(tuple(map(float, figures)))
    assert len(rows) == 4


@given(rpm=st.floats(700, 2500), other=st.floats(700, 2500))
def test_throttle_does_not_change_the_rate_of_an_engine_pump(rpm, other):
    one, two = driver_rows(
        gears={"second": 8}, gears_at_rpm=1500, rpms=[rpm, other], flow_l_min=600, flow_at=1400, width_m=6
    )
    assert one.rate_l_m2 == pytest.approx(two.rate_l_m2)


def test_the_nearest_gear():
    rows = driver_rows(
        gears={"second": 8, "third": 12},
        gears_at_rpm=1500,
        rpms=[1500, 1200],
        flow_l_min=600,
        flow_at=1500,
        width_m=6,
    )
    assert nearest_row(rows, target_l_m2=0.7).gear == "second"
    near = nearest_row(rows, target_l_m2=0.55)
    assert (near.gear, near.rpm) == ("third", 1200)


@pytest.mark.parametrize("row", tables("spraying.md", "Flow and pressure")[0], ids=" ".join)
def test_flow_by_pressure(row):
    """SP-10 prints whole gallons, its first line too: half a per cent and half a gallon."""
    row_id, flow, at, new, expected, printed_to, _ = row
    found = flow_at_pressure(flow_l_min=float(flow), pressure_kpa=float(at), new_pressure_kpa=float(new))
    off = float(printed_to) / 2 + (0.005 * float(expected) if row_id == "SP-10" else 1e-9)
    assert found == pytest.approx(float(expected), abs=off)


def test_the_nozzle_formula():
    """SP-12: Q = 19.636 C d2 sqrt(h): 94.4 gpm at 23.1 ft, twice that at four times the head."""
    assert 19.636 * math.sqrt(23.1) == pytest.approx(94.4, abs=0.05)
    found = flow_at_pressure(flow_l_min=19.636 * math.sqrt(23.1), pressure_kpa=23.1, new_pressure_kpa=92.4)
    assert found == pytest.approx(19.636 * math.sqrt(92.4))


@pytest.mark.parametrize("row", tables("spraying.md", "Evenness")[0], ids=lambda row: row[0])
def test_evenness(row):
    _, catches, christiansen, low_quarter, cups, _ = row
    caught = [float(each) for each in catches.split()]
    assert christiansen_uniformity(caught) == pytest.approx(float(christiansen), abs=5e-6)
    assert low_quarter_uniformity(caught) == pytest.approx(float(low_quarter), abs=5e-6)
    assert low_quarter_cups(len(caught)) == int(cups)


def test_the_rounding_of_the_quarter_decides():
    """SP-05, X-11: three cups of the fifteen would give 40.13."""
    caught = sorted([47, 42, 45, 24, 13, 26, 33, 34, 27, 30, 40, 44, 32, 12, 12])
    assert 100 * (sum(caught[:3]) / 3) / (sum(caught) / 15) == pytest.approx(40.13015, abs=5e-6)
    assert low_quarter_uniformity(caught) != pytest.approx(40.13015, abs=1)


@given(caught=st.lists(st.floats(0.1, 1000), min_size=1, max_size=40), scale=st.floats(0.1, 100))
def test_evenness_knows_no_unit_and_no_order(caught, scale):
    for evenness in (christiansen_uniformity, low_quarter_uniformity):
        other = evenness([cup * scale for cup in reversed(caught)])
        assert other == pytest.approx(evenness(caught), abs=1e-6)
        assert evenness(caught) <= 100 + 1e-9


@pytest.mark.parametrize("row", tables("spraying.md", "Bar test")[0], ids=" ".join)
def test_the_bar(row):
    heads, off_new, off_average, advice, of_the_set = (cell.split() for cell in row)
    found = bar_test({f"N{n}": float(flow) for n, flow in enumerate(heads)}, nominal_l_min=60)
    assert [100 * each.off_new for each in found.nozzles] == pytest.approx(
        list(map(float, off_new)), abs=0.005
    )
    assert [100 * each.off_average for each in found.nozzles] == pytest.approx(
        list(map(float, off_average)), abs=0.005
    )
    assert [each.advice for each in found.nozzles] == advice
    assert [each.is_off_average for each in found.nozzles] == [abs(float(off)) >= 5 for off in off_average]
    assert found.replace_set is (of_the_set == ["replace"])


def test_the_bar_in_words():
    told = bar_test({"left": 3.3, "middle": 2.6, "right": 3.0}, nominal_l_min=3).sentence
    assert told == "Clean and measure again: middle. Replace: left."
    assert (
        "Replace the whole set: left, right"
        in bar_test({"left": 3.3, "right": 3.5}, nominal_l_min=3).sentence
    )
    assert bar_test({"left": 3.1}, nominal_l_min=3).sentence.startswith("Every head is within 10 %")
    dry = bar_test({"left": 0, "right": 0}, nominal_l_min=3)
    assert [each.off_average for each in dry.nozzles] == [None, None]


@pytest.mark.parametrize(
    ("rate", "words"), [(0.29, "under"), (0.3, ""), (1, ""), (1.01, "over"), (2, "slippery")]
)
def test_a_rate_beyond_the_trials_is_told(rate, words):
    """RT-05: 0.3 to 1 L/m2."""
    told = out_of_range(application_l_m2=rate)
    assert bool(told) is bool(words)
    assert all(words in sentence for sentence in told)


def cycle(**changed):
    usual = {
        "load_l": 1,
        "fill_l_min": 1,
        "haul_km": 1,
        "haul_km_h": 1,
        "spray_l_min": 1,
        "shift_h": 1,
        **changed,
    }
    return load_cycle(**usual)


def rows(**changed):
    usual = {
        "gears": {"second": 8},
        "gears_at_rpm": 1500,
        "rpms": [1500],
        "flow_l_min": 1,
        "flow_at": 1500,
        "width_m": 6,
    }
    return driver_rows(**{**usual, **changed})


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: application_l_m2(flow_l_min=600, speed_km_h=0, width_m=6),
        lambda: application_l_m2(flow_l_min=600, speed_km_h=8, width_m=-6),
        lambda: application_l_m2(flow_l_min=-1, speed_km_h=8, width_m=6),
        lambda: application_l_m2(flow_l_min=math.nan, speed_km_h=8, width_m=6),
        lambda: speed_km_h(flow_l_min=600, target_l_m2=0, width_m=6),
        lambda: speed_km_h(flow_l_min=0, target_l_m2=1, width_m=6),
        lambda: area_m2(load_l=100, target_l_m2=0),
        lambda: loads_needed(area_m2=-1, target_l_m2=1, load_l=1),
        lambda: loads_needed(area_m2=1, target_l_m2=1, load_l=0),
        lambda: minutes_to_fill(litres=1, fill_l_min=0),
        lambda: cycle(load_l=0),
        lambda: cycle(haul_km=-1),
        lambda: cycle(haul_km_h=0),
        lambda: cycle(shift_h=0),
        lambda: cycle(other_min=-1),
        lambda: flow_at_rpm(flow_l_min=1, rpm=0, new_rpm=1),
        lambda: flow_at_pressure(flow_l_min=1, pressure_kpa=0, new_pressure_kpa=1),
        lambda: flow_at_pressure(flow_l_min=1, pressure_kpa=1, new_pressure_kpa=-1),
        lambda: rows(pump="donkey"),
        lambda: rows(gears={}),
        lambda: rows(rpms=[]),
        lambda: rows(rpms=[0]),
        lambda: rows(gears={"second": 0}),
        lambda: nearest_row([], target_l_m2=1),
        lambda: christiansen_uniformity([]),
        lambda: christiansen_uniformity([0, 0]),
        lambda: christiansen_uniformity([1, -1]),
        lambda: low_quarter_uniformity([1, math.nan]),
        lambda: flow_deviation(measured_l_min=1, nominal_l_min=0),
        lambda: flow_deviation(measured_l_min=-1, nominal_l_min=1),
        lambda: bar_test({}, nominal_l_min=1),
        lambda: bar_test({"left": 1}, nominal_l_min=1, off_new=1.1),
        lambda: out_of_range(application_l_m2=-1),
    ],
)
def test_bad_input_gets_a_sentence(wrong):
    with pytest.raises(ValueError, match=r"^[A-Z].*\.$"):
        wrong()
