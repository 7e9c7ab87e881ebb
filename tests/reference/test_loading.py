"""The worked tables of docs/loading.md: trade facts section 6, rows beside them; and beam statics against NumPy's own solve."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleet.water.loading import (
    AxleGroup,
    bridge_formula_lb,
    legal_fill,
    loads_at,
    part_filled_caution,
    ready_to_work_mass,
    steer_warning,
    with_added,
)
from fleet.water.tank import water_density_kg_m3
from tests.worked import tables


def groups_of(front_limit=6000.0, rear_limit=16_500.0, front=5000.0, rear=5600.0):
    return (AxleGroup("front", front, front_limit, 0.0), AxleGroup("rear", rear, rear_limit, 5.0))


@pytest.mark.parametrize("row", tables("loading.md", "Worked fills")[0], ids=lambda row: row[0])
def test_the_road_fill(row):
    _, front, rear, gross, middle, density, capacity, litres, binding, on_front, on_rear = row
    found = legal_fill(
        groups=groups_of(float(front), float(rear)),
        gross_limit_kg=float(gross),
        tank_centroid_m=float(middle),
        density_kg_m3=float(density),
        capacity_l=float(capacity) if capacity else None,
    )
    assert found.litres == pytest.approx(float(litres), abs=0.005)
    assert found.binding == binding
    assert found.group_loads_kg == pytest.approx(
        {"front": float(on_front), "rear": float(on_rear)}, abs=0.005
    )
    assert found.mass_kg == pytest.approx(found.litres * float(density) / 1000)


def test_the_worked_check_at_20_degrees():
    """Section 6.4, COMPUTED: 5.0 t of water is 5,009 L at 20 C."""
    found = legal_fill(
        groups=groups_of(), gross_limit_kg=22_500, tank_centroid_m=4, density_kg_m3=water_density_kg_m3(20)
    )
    assert round(found.litres) == 5009


def test_the_makers_example_without_its_slip():
    """LS-02: rear 62.15, front 37.85 lb; the page prints 38.86 (X-02)."""
    groups = (AxleGroup("front", 0, 1000, 0), AxleGroup("rear", 0, 1000, 214))
    found = loads_at(groups=groups, tank_centroid_m=133, mass_kg=100)
    assert found == pytest.approx({"front": 37.85, "rear": 62.15}, abs=0.005)


def test_water_behind_the_rear_axle_is_refused():
    """LS-03: it would lift the front."""
    with pytest.raises(ValueError, match="outside the two axle groups"):
        loads_at(groups=groups_of(), tank_centroid_m=5.01, mass_kg=1000)


tares = st.floats(500, 12_000)
rooms = st.floats(0, 12_000)


@given(
    tare=st.tuples(tares, tares),
    room=st.tuples(rooms, rooms),
    gross_room=rooms,
    places=st.tuples(st.floats(-10, 10), st.floats(-10, 10)),
    share=st.floats(0, 1),
    density=st.floats(950, 1100),
)
def test_beam_statics_by_a_linear_solve(*, tare, room, gross_room, places, share, density):
    """Forces and moments about the datum as two equations (LS-01), solved by NumPy."""
    a, b = places
    assume(abs(a - b) > 0.5)
    middle = min(max(a + share * (b - a), min(a, b)), max(a, b))
    groups = tuple(
        AxleGroup(name, kg, kg + more, place)
        for name, kg, more, place in zip(("one", "two"), tare, room, places, strict=True)
    )
    gross = sum(tare) + gross_room
    found = legal_fill(groups=groups, gross_limit_kg=gross, tank_centroid_m=middle, density_kg_m3=density)
    solved = np.linalg.solve([[1, 1], [a, b]], [found.mass_kg, found.mass_kg * middle])
    assert list(found.group_loads_kg.values()) == pytest.approx(list(solved + tare), abs=1e-5)
    assert found.group_loads_kg == loads_at(groups=groups, tank_centroid_m=middle, mass_kg=found.mass_kg)
    left = {
        **{each.name: each.limit_kg - found.group_loads_kg[each.name] for each in groups},
        "gross": gross - sum(found.group_loads_kg.values()),
    }
    assert min(left.values()) >= -1e-6
    assert left[found.binding] == pytest.approx(0, abs=1e-6)
    assert found.litres == pytest.approx(found.mass_kg / density * 1000)


@given(shift=st.floats(-100, 100), middle=st.floats(0, 5))
def test_the_datum_may_be_anywhere(shift, middle):
    moved = [
        AxleGroup(each.name, each.tare_kg, each.limit_kg, each.position_m + shift) for each in groups_of()
    ]
    assume(moved[0].position_m <= middle + shift <= moved[1].position_m)
    here = loads_at(groups=groups_of(), tank_centroid_m=middle, mass_kg=8000)
    assert loads_at(groups=moved, tank_centroid_m=middle + shift, mass_kg=8000) == pytest.approx(
        here, abs=1e-6
    )


@pytest.mark.parametrize("row", tables("loading.md", "Bridge formula")[0], ids=" ".join)
def test_the_bridge_table_with_its_halves_down(row):
    _, feet, axles, exact, printed, _ = row
    found = bridge_formula_lb(length_ft=int(feet), axles=int(axles))
    assert found == int(printed)
    assert found == bridge_formula_lb(length_ft=float(feet), axles=int(axles))
    assert abs(found - float(exact)) <= 250.05


@pytest.mark.parametrize("row", tables("loading.md", "Ready to work")[0], ids=" ".join)
def test_ready_to_work(row):
    tare, fuel, people, kit, mud, margin, ready = row
    found = ready_to_work_mass(
        tare_kg=float(tare), fuel_l=float(fuel), people=int(people), kit_kg=float(kit), mud_kg=float(mud),
        margin_kg=float(margin),
    )  # fmt: skip
    assert found.mass_kg == pytest.approx(float(ready))
    assert dict(found.parts)["people"] == 100 * int(people)


def test_what_is_added_stands_where_it_is():
    """By hand: 100 kg at 1 m and 200 kg a metre ahead of the front axle."""
    front, rear = with_added(groups_of(), [(100, 1), (200, -1)])
    assert (front.tare_kg, rear.tare_kg) == pytest.approx((5000 + 80 + 240, 5600 + 20 - 40))
    with pytest.raises(ValueError, match="below zero"):
        with_added(groups_of(), [(20_000, 7)])


@pytest.mark.parametrize(("steer", "warned"), [(2000, False), (1999.9, True), (0, True), (10_000, False)])
def test_a_light_steer_axle_is_told(steer, warned):
    assert bool(steer_warning(steer_kg=steer, total_kg=10_000)) is warned


def test_the_light_share_is_never_rounded_up_to_the_least():
    assert "19.9 % of the whole, under 20 %" in steer_warning(steer_kg=1999.9, total_kg=10_000)


@pytest.mark.parametrize(("fill", "warned"), [(0, False), (1, True), (9999, True), (10_000, False)])
def test_a_part_load_is_told(fill, warned):
    assert bool(part_filled_caution(fill_l=fill, capacity_l=10_000)) is warned


def fill(**changed):
    given = {"groups": groups_of(), "gross_limit_kg": 22_500, "tank_centroid_m": 4, **changed}
    return legal_fill(**given)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: fill(groups=groups_of()[:1]),
        lambda: fill(groups=(*groups_of(), AxleGroup("dog", 1, 2, 9))),
        lambda: fill(groups=(groups_of()[0], groups_of()[0])),
        lambda: fill(groups=(AxleGroup("gross", 1, 2, 0), groups_of()[1])),
        lambda: fill(groups=(AxleGroup("front", 1, 2, 5), groups_of()[1])),
        lambda: fill(groups=groups_of(front_limit=4999)),
        lambda: fill(groups=groups_of(rear_limit=math.nan)),
        lambda: fill(groups=groups_of(front=-1)),
        lambda: fill(gross_limit_kg=10_599),
        lambda: fill(gross_limit_kg=math.nan),
        lambda: fill(tank_centroid_m=-0.01),
        lambda: fill(tank_centroid_m=math.nan),
        lambda: fill(density_kg_m3=0),
        lambda: fill(capacity_l=0),
        lambda: fill(capacity_l=-1),
        lambda: fill(capacity_l=math.nan),
        lambda: loads_at(groups=groups_of(), tank_centroid_m=4, mass_kg=-1),
        lambda: loads_at(groups=groups_of(front_limit=4999), tank_centroid_m=4, mass_kg=1),
        lambda: bridge_formula_lb(length_ft=10, axles=1),
        lambda: bridge_formula_lb(length_ft=10, axles=2.0),
        lambda: bridge_formula_lb(length_ft=0, axles=3),
        lambda: bridge_formula_lb(length_ft=math.nan, axles=3),
        lambda: ready_to_work_mass(tare_kg=0, fuel_l=0, people=0),
        lambda: ready_to_work_mass(tare_kg=9000, fuel_l=-1, people=0),
        lambda: ready_to_work_mass(tare_kg=9000, fuel_l=0, people=1.5),
        lambda: steer_warning(steer_kg=11, total_kg=10),
        lambda: steer_warning(steer_kg=0, total_kg=0),
        lambda: part_filled_caution(fill_l=11, capacity_l=10),
    ],
)
def test_bad_input_gets_a_sentence(wrong):
    with pytest.raises(ValueError, match=r"^[A-Z].*\.$"):
        wrong()
