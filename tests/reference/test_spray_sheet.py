"""The worked tables of a cart's sheet and of a test of heads in docs/spraying.md."""

import pytest

from fleet.water.evenness import Catch, judge
from fleet.water.spray_sheet import (
    Gear,
    Head,
    Opening,
    SpraySheet,
    fill_min,
    nearest_to,
    open_flow,
    sheet_rows,
)
from tests.worked import tables

NAMES = ("Rear left", "Rear right", "Side left", "Side right")


def sheet(**changed):
    return SpraySheet(
        **{
            "pump": "engine", "pump_l_min": 600, "pump_kpa": 200, "pump_rpm": 1500, "gears_rpm": 1500, "rpms": (1200, 1500),
            "head_kpa": 200, "fill_l_min": 1000, "dead_l": 500,
            "gears": (Gear("Second", 8, 6), Gear("Third", 12, 6)),
            "heads": tuple(Head(name, "fan 60", 160) for name in NAMES),
            "openings": (Opening("All", NAMES), Opening("Rear only", NAMES[:2], 4)),
        }
        | changed
    )  # fmt: skip


@pytest.mark.parametrize("row", tables("spraying.md", "A cart's sheet")[0], ids=" ".join)
def test_a_carts_sheet(row):
    heads, listed, tank, gear, rpm, *wanted = row
    it, load = sheet(head_kpa=float(listed)), float(tank)
    [found] = [
        one for one in sheet_rows(it, it.opening(heads), load_l=load)
        if (one.driver.gear, one.driver.rpm) == (gear, float(rpm))
    ]  # fmt: skip
    flow, rate, metres, empty, fill = map(float, wanted)
    assert found.driver.flow_l_min == pytest.approx(flow)
    assert found.driver.rate_l_m2 == pytest.approx(rate)
    assert found.metres_per_load == pytest.approx(metres, abs=0.001)
    assert found.empty_min == pytest.approx(empty)
    assert fill_min(it, load_l=load) == pytest.approx(fill)


def test_a_pump_that_gives_less_than_the_heads_ask_is_said_to():
    it = sheet()
    assert open_flow(it, it.opening("All")).is_pump_bound
    assert not open_flow(it, it.opening("Rear only")).is_pump_bound


def test_a_pump_with_an_engine_of_its_own_gives_the_same_at_every_rpm():
    rows = sheet_rows(it := sheet(pump="own engine"), it.opening("All"), load_l=10_000)
    assert {one.driver.flow_l_min for one in rows} == {600}


def test_the_row_nearest_a_target_is_the_slowest_of_the_nearest():
    rows = sheet_rows(it := sheet(), it.opening("All"), load_l=10_000)
    best = nearest_to(rows, target_l_m2=0.52)
    assert (best.driver.gear, best.driver.rpm) == ("Third", 1200)


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"pump_l_min": 0}, "The pump's flow has to be above zero"),
        ({"pump_kpa": -1}, "The pump's pressure has to be above zero"),
        ({"rpms": ()}, "at least one rpm"),
        ({"gears": ()}, "at least one gear"),
        ({"gears": (Gear("Second", 0, 6),)}, "The speed in Second has to be above zero"),
        ({"gears": (Gear("Second", 8, 0),)}, "The width in Second has to be above zero"),
        ({"gears": (Gear("A", 8, 6), Gear("a", 9, 6))}, "Two gears have one name"),
        ({"heads": (Head(" ", "fan", 1),)}, "Every head has a name"),
        ({"openings": (Opening("All", ("Front",)),)}, "has to name heads of this cart"),
        ({"openings": (Opening("All", ()),)}, "at least one"),
        ({"openings": (Opening("All", NAMES, 0),)}, "The width of All has to be above zero"),
        ({"dead_l": -1}, "can't be below zero"),
    ],
)
def test_figures_that_cannot_be_are_refused_in_a_sentence(changed, sentence):
    with pytest.raises(ValueError, match=sentence):
        sheet(**changed)


def test_a_load_the_pump_cannot_draw_is_refused():
    it = sheet()
    with pytest.raises(ValueError, match="What the pump can draw of the load has to be above zero"):
        sheet_rows(it, it.opening("All"), load_l=500)


@pytest.mark.parametrize("row", tables("spraying.md", "A test of heads")[0], ids=" ".join)
def test_a_test_of_heads(row):
    pressure, nozzles, litres, flows, off, christiansen, low, advice = row
    catches = [
        Catch(f"Head {n}", nozzle, 160, float(caught), 15)
        for n, (nozzle, caught) in enumerate(zip(nozzles.split(), litres.split(), strict=True))
    ]
    found = judge(catches, pressure_kpa=float(pressure), head_kpa=200, tolerance_pct=10)
    assert [head.flow_l_min for head in found.heads] == pytest.approx([float(flow) for flow in flows.split()])
    assert [head.off_new * 100 for head in found.heads] == pytest.approx([float(one) for one in off.split()])
    assert found.christiansen_pct == pytest.approx(float(christiansen), abs=1e-6)
    assert found.low_quarter_pct == pytest.approx(float(low), abs=1e-6)
    assert [head.advice for head in found.heads] == advice.split()
    assert found.is_out == (advice.split() != ["good"] * 4)


def test_each_nozzle_is_judged_as_a_set():
    catches = [Catch(f"Head {n}", "A" if n < 2 else "B", 160, 40 if n < 2 else 44, 15) for n in range(4)]
    found = judge(catches, pressure_kpa=200, head_kpa=200, tolerance_pct=10)
    assert found.sentences == (
        "A: Every head is within 10 % of its flow when new.",
        "B: Replace the whole set: Head 2, Head 3 are worn.",
    )


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"pressure_kpa": 0}, "The pressure has to be above zero"),
        ({"tolerance_pct": 101}, "The tolerance has to be between"),
        ({"seconds": 0}, "The time of a catch has to be above zero"),
        ({"litres": -1}, "What was caught can't be below zero"),
        ({"litres": 0}, "at least one cup with water"),
    ],
)
def test_a_test_that_cannot_be_is_refused_in_a_sentence(wrong, sentence):
    said = {"pressure_kpa": 200, "tolerance_pct": 10, "litres": 40, "seconds": 15} | wrong
    catch = Catch("Rear left", "fan", 160, said["litres"], said["seconds"])
    with pytest.raises(ValueError, match=sentence):
        judge([catch], pressure_kpa=said["pressure_kpa"], head_kpa=200, tolerance_pct=said["tolerance_pct"])
