"""The worked tables of docs/tank.md: trade facts sections 7.1 to 7.3, rows beside them; and the inversion as a property."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.water.tank import Tank, out_of_range, pumpable_l, water_density_kg_m3
from fleet.water.tank_calibrated import CalibratedTank
from tests.worked import tables

L_PER_US_GAL = 3.785411784
M_PER_IN = 0.0254
VOLUMES = tables("tank.md", "Litres by depth")
DENSITIES, MASSES = tables("tank.md", "Density of water")
METERED = CalibratedTank(((0, 0), (0.5, 2400), (1.0, 6200), (1.5, 10_000), (2.0, 12_400)))
SHAPES = ("cylinder", "ellipse", "box")

measures = st.floats(0.3, 6, allow_nan=False)
shares = st.floats(0, 1, allow_nan=False)


@st.composite
def any_tank(draw):
    shape, height = draw(st.sampled_from(SHAPES)), draw(measures)
    return Tank(shape, draw(measures), height if shape == "cylinder" else draw(measures), height)


@pytest.mark.parametrize("row", VOLUMES[0], ids=" ".join)
def test_litres_at_a_depth(row):
    _, shape, length, width, height, depth, litres, _ = row
    tank = Tank(shape, float(length), float(width), float(height))
    assert tank.volume_l(float(depth)) == pytest.approx(float(litres), abs=0.01)
    assert tank.depth_m(min(float(litres), tank.capacity_l)) == pytest.approx(float(depth), abs=0.0001)


@pytest.mark.parametrize("row", VOLUMES[1], ids=" ".join)
def test_litres_in_inches_and_gallons(row):
    _, depth, gallons, _ = row
    tank = Tank("cylinder", 96 * M_PER_IN, 48 * M_PER_IN, 48 * M_PER_IN)
    assert tank.volume_l(float(depth) * M_PER_IN) / L_PER_US_GAL == pytest.approx(float(gallons), abs=0.05)


@pytest.mark.parametrize("row", tables("tank.md", "Share of depth, share of volume")[0], ids=" ".join)
@pytest.mark.parametrize(
    "tank", [Tank("cylinder", 4, 2, 2), Tank("ellipse", 5, 2.4, 1.6)], ids=["round", "ellipse"]
)
def test_share_of_volume_by_share_of_depth(row, tank):
    depth, volume = map(float, row)
    assert 100 * tank.volume_l(depth / 100 * tank.height_m) / tank.capacity_l == pytest.approx(
        volume, abs=0.0051
    )


def test_an_ellipse_with_the_printed_root_would_not_be_full():
    """X-04: the page's root lacks a factor 4; ours is full at pi a b L."""
    tank, share = Tank("ellipse", 5, 2.4, 1.6), 0.5
    assert tank.volume_l(1.6) == tank.capacity_l == pytest.approx(math.pi * 1.2 * 0.8 * 5 * 1000)
    as_printed = math.acos(1 - 2) - (1 - 2) * math.sqrt(4 - 1)
    assert as_printed != pytest.approx(math.pi)
    slice_by_slice = sum(
        2 * 1.2 * math.sqrt(1 - (((n + 0.5) / 20_000 * share * 1.6 - 0.8) / 0.8) ** 2) * share * 1.6 / 20_000
        for n in range(20_000)
    )
    assert tank.volume_l(share * 1.6) == pytest.approx(slice_by_slice * 5 * 1000, rel=1e-5)


def test_a_dip_table_runs_from_empty_to_full():
    rows = Tank("cylinder", 4, 2, 2).dip_table(600, lid_above_top_mm=150)
    assert [[each.depth_mm, each.down_mm, round(each.litres)] for each in rows] == [
        list(map(float, row)) for row in tables("tank.md", "A dip table")[0]
    ]


@pytest.mark.parametrize(
    ("height", "step", "rows"), [(1.2, 10, 121), (1.2, 0.1e2, 121), (1.205, 10, 122), (0.3, 100, 4)]
)
def test_full_stands_once_at_the_end(height, step, rows):
    found = Tank("box", 1, 1, height).dip_table(step)
    assert len(found) == rows
    assert found[-1].litres == pytest.approx(height * 1000)
    assert len({round(each.depth_mm, 6) for each in found}) == rows


@pytest.mark.parametrize("row", tables("tank.md", "A calibrated tank")[0], ids=" ".join)
def test_a_calibrated_tank_keeps_to_its_rows(row):
    depth, litres = map(float, row)
    assert METERED.volume_l(depth) == pytest.approx(litres)
    assert METERED.depth_m(litres) == pytest.approx(depth, abs=1e-6)


@given(tank=any_tank() | st.just(METERED), share=shares)
def test_a_depth_comes_back_to_a_tenth_of_a_millimetre(tank, share):
    depth = share * tank.height_m
    assert tank.depth_m(tank.volume_l(depth)) == pytest.approx(depth, abs=0.0001)


@given(tank=any_tank() | st.just(METERED), one=shares, other=shares)
def test_more_litres_are_never_less_depth(tank, one, other):
    less, more = sorted((one * tank.capacity_l, other * tank.capacity_l))
    assert tank.depth_m(less) <= tank.depth_m(more)


@given(tank=any_tank(), share=shares)
def test_below_and_above_the_middle_are_alike(tank, share):
    depth = share * tank.height_m
    both = tank.volume_l(depth) + tank.volume_l(tank.height_m - depth)
    assert both == pytest.approx(tank.capacity_l)


@given(tank=any_tank(), share=shares, scale=st.floats(0.5, 3))
def test_twice_as_large_is_eight_times_the_litres(tank, share, scale):
    large = Tank(tank.shape, tank.length_m * scale, tank.width_m * scale, tank.height_m * scale)
    depth = min(share * large.height_m, large.height_m)
    expected = tank.volume_l(min(share * tank.height_m, tank.height_m)) * scale**3
    assert large.volume_l(depth) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("row", DENSITIES, ids=" ".join)
def test_density_to_four_decimals(row):
    _, celsius, density, _ = row
    assert round(water_density_kg_m3(float(celsius)), 4) == float(density)


@pytest.mark.parametrize("row", MASSES, ids=" ".join)
def test_mass_of_water(row):
    _, litres, celsius, kg, _ = row
    assert float(litres) / 1000 * water_density_kg_m3(float(celsius)) == pytest.approx(float(kg), abs=0.051)


@pytest.mark.parametrize("celsius", range(5, 41))
def test_density_by_another_equation(celsius):
    """WD-21 (Jones and Harris, VERIFIED-P) for air-saturated water, 998.2033 at 20 (WD-05); WD-22 (Kell) 998.2041."""
    terms = (999.85308, 6.32693e-2, -8.523829e-3, 6.943248e-5, -3.821216e-7)
    saturated = sum(term * celsius**power for power, term in enumerate(terms))
    assert water_density_kg_m3(celsius) == pytest.approx(saturated, abs=0.005)
    if celsius == 20:
        assert round(saturated, 4) == 998.2033
        assert water_density_kg_m3(20) == pytest.approx(998.2041, abs=0.005)
        assert water_density_kg_m3(20) != pytest.approx(997.94, abs=0.1)


def test_what_can_be_pumped():
    assert pumpable_l(volume_l=10_000, dead_l=350) == 9650
    assert pumpable_l(volume_l=200, dead_l=350) == 0


@pytest.mark.parametrize(("celsius", "warned"), [(0, 0), (40, 0), (-0.1, 1), (40.1, 1), (55, 1)])
def test_a_temperature_outside_the_range_gets_a_sentence(celsius, warned):
    assert len(out_of_range(temperature_c=celsius)) == warned
    assert water_density_kg_m3(celsius) > 900


CYLINDER = Tank("cylinder", 4, 2, 2)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: Tank("sphere", 4, 2, 2),
        lambda: Tank("cylinder", 4, 2.1, 2),
        lambda: Tank("box", 0, 2, 2),
        lambda: Tank("box", 4, -2, 2),
        lambda: Tank("box", 4, 2, math.nan),
        lambda: Tank("box", math.inf, 2, 2),
        lambda: Tank("box", "4", 2, 2),
        lambda: Tank("box", None, 2, 2),
        lambda: CYLINDER.volume_l(-0.001),
        lambda: CYLINDER.volume_l(2.001),
        lambda: CYLINDER.volume_l(math.nan),
        lambda: CYLINDER.depth_m(-1),
        lambda: CYLINDER.depth_m(CYLINDER.capacity_l + 0.001),
        lambda: CYLINDER.depth_m(math.nan),
        lambda: CYLINDER.dip_table(0),
        lambda: CYLINDER.dip_table(math.nan),
        lambda: CYLINDER.dip_table(10, lid_above_top_mm=-1),
        lambda: METERED.volume_l(2.1),
        lambda: METERED.depth_m(12_401),
        lambda: CalibratedTank(((0, 0), (1, 100))),
        lambda: CalibratedTank(((0.1, 0), (1, 100), (2, 200))),
        lambda: CalibratedTank(((0, 0), (1, 100), (1, 200))),
        lambda: CalibratedTank(((0, 0), (1, 100), (2, 90))),
        lambda: CalibratedTank(((0, 0), (1, math.nan), (2, 200))),
        lambda: pumpable_l(volume_l=-1, dead_l=0),
        lambda: pumpable_l(volume_l=1, dead_l=-1),
        lambda: water_density_kg_m3(math.nan),
        lambda: water_density_kg_m3(-70),
    ],
)
def test_bad_input_gets_a_sentence(wrong):
    with pytest.raises(ValueError, match=r"^[A-Z].*\.$"):
        wrong()
