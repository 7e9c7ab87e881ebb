"""The worked carts of docs/road-fill.md; and what no cart on record may do to the figure."""

import math
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.water.loading import legal_fill
from fleet.water.road import NoFigure, RoadFill, reckon
from fleet.water.road_facts import Allowances, Facts, GroupFacts, Weighing
from fleet.water.road_law import gross_keys, gross_law, group_keys, group_law
from fleet.water.tank import Tank
from fleet.water.tank_calibrated import CalibratedTank
from tests.worked import tables

ON = date(2026, 6, 2)
# A machine that does ten things at once draws slowly; that says nothing of the rule.
UNHURRIED = settings(suppress_health_check=[HealthCheck.too_slow])
KEYS = {
    "au": ("steer", "tandem_dual", ""),
    "us": ("single", "tandem", ""),
    "uk": ("undriven", "tandem_1_3", "gross_3"),
}


def facts_of(rule_set="au", *, middle=4.3, gross=23_000.0, tyre=3150.0, tickets=(), **changes):
    steer, drive, gross_key = KEYS[rule_set]
    is_au = rule_set == "au"
    groups = (
        GroupFacts("steer axle", steer, 1, 0, 2, tyre, 6500.0 if is_au else None, 0.0, 3900.0),
        GroupFacts(
            "drive axles",
            drive,
            2,
            1.35,
            8,
            2800.0 if is_au else None,
            18_000.0 if is_au else None,
            5.0,
            5400.0,
        ),
    )
    given = {
        "rule_set": rule_set, "groups": groups, "gross_plate_kg": gross, "gross_key": gross_key, "outer_length_m": 5.7,
        "fuel_tank_l": 300.0, "fuel_place_m": 1.5, "cab_place_m": 0.5, "tank": Tank("ellipse", 4.85, 2.3, 1.6),
        "middle_m": middle, "dead_l": 150.0, "lid_above_mm": 120.0, "sight_zero_mm": 50.0, "fill_l_min": 900.0,
        "weighings": tuple(tickets), "allowances": Allowances(1, 150, 100, 100),
    }  # fmt: skip
    return Facts(**given | changes)


def weighed(text):
    for one in filter(None, text.split("; ")):
        front, rear, water, aboard = one.split()
        is_manned, eighths = aboard.split("/")
        yes = is_manned == "yes"
        yield Weighing(ON, float(front), float(rear), float(water), yes, yes, int(eighths))


@pytest.mark.parametrize("row", tables("road-fill.md", "Worked carts")[0], ids=lambda row: row[0])
def test_a_worked_cart(row):
    _, rule_set, middle, gross, tyre, tickets, litres, binding, front, rear, *driver = row
    found = reckon(
        facts_of(
            rule_set,
            middle=float(middle),
            gross=float(gross),
            tyre=float(tyre) if tyre else None,
            tickets=weighed(tickets),
        )
    )
    assert (found.litres, found.fill.binding) == (int(litres), binding)
    assert [one.tare_kg for one in found.ready.groups] == pytest.approx([float(front), float(rear)])
    assert [found.down_mm, found.sight_mm, found.pumpable_l, found.minutes_to_fill] == list(map(int, driver))


@UNHURRIED
@given(
    middle=st.floats(0.5, 4.9), gross=st.floats(11_000, 30_000), tyre=st.floats(2300, 5000), height=st.floats(0.5, 2.2),
    margin=st.floats(0, 300),
)  # fmt: skip
def test_the_figure_is_never_over_a_limit_and_never_over_the_tank(middle, gross, tyre, height, margin):
    facts = facts_of(
        middle=middle, gross=gross, tyre=tyre, tank=Tank("ellipse", 4.85, 2.3, height),
        allowances=Allowances(1, 150, 100, margin),
    )  # fmt: skip
    found = reckon(facts)
    if isinstance(found, NoFigure):
        assert "under" in found.reason
        return
    loads = found.loads_kg(found.litres)
    for name, limit, _ in found.limits:
        assert (sum(loads.values()) if name == "gross" else loads[name]) <= limit.kg + 1e-6
    assert 0 <= found.litres <= facts.tank.capacity_l
    # What the driver reads never stands for more water than the figure.
    depth_m = facts.tank.height_m - (found.down_mm - facts.lid_above_mm) / 1000
    assert (
        facts.tank.volume_l(max(depth_m, 0.0))
        <= max(found.litres, facts.tank.capacity_l * found.is_full_tank) + 1e-6
    )
    pure = legal_fill(
        groups=found.ready.groups, gross_limit_kg=found.limits[2][1].kg, tank_centroid_m=found.ready.middle_m,
        capacity_l=facts.tank.capacity_l,
    )  # fmt: skip
    assert found.fill == pure


@UNHURRIED
@given(
    front=st.floats(4000, 5200), rear=st.floats(5000, 6500), share=st.floats(0.02, 0.6),
    water=st.lists(st.integers(0, 14_000), min_size=2, max_size=6),
)  # fmt: skip
def test_tickets_on_a_line_give_their_own_tares_back(front, rear, share, water):
    tickets = [Weighing(ON, front + share * m, rear + (1 - share) * m, m, True, True, 8) for m in water]
    found = reckon(facts_of(middle=5 - 5 * share, tickets=tickets))
    assert isinstance(found, RoadFill), found
    assert [one.tare_kg for one in found.ready.groups] == pytest.approx([front + 50, rear + 50], abs=0.1)
    assert found.ready.middle_m == pytest.approx(5 - 5 * share, abs=0.01)
    assert max(abs(one.front_kg) for one in found.ready.residuals) < 0.1


STEER, DRIVE = facts_of().groups
REFUSED = {
    "the middle behind the rear": (facts_of(middle=5.01), "The tank's middle lies outside the two axle groups"),
    "the middle ahead of the front": (facts_of(middle=-0.01), "The tank's middle lies outside the two axle groups"),
    "outside, with a ticket": (facts_of(middle=5.01, tickets=weighed("4500 5700 0 yes/8")), "lies outside the two axle groups"),
    "a limit under its tare": (facts_of(tyre=2000), "The limit of steer axle is 4,000 kg, under its tare of 4,397.55 kg."),
    "gross under the tare": (facts_of(gross=9000), "The gross limit of 9,000 kg is under the tare of 9,996.5 kg."),
    "no limit at all": (
        facts_of(groups=(replace(STEER, law_key="", maker_kg=None, tyre_load_kg=None), DRIVE)), "No limit is known",
    ),
    "water lifts the front": (
        facts_of(tickets=weighed("5000 5700 0 yes/8; 4000 14000 8000 yes/8")), "tickets do not suit the cart",
    ),
    "tares below zero": (facts_of(tickets=weighed("900 5700 9000 yes/8")), "a tare comes out at zero or less"),
    "an unknown row": (facts_of(groups=(replace(STEER, law_key="sledge"), DRIVE)), "have no row “sledge”"),
    "groups in one place": (facts_of(groups=(STEER, replace(DRIVE, position_m=0.0)), middle=0.0), "stand in one place"),
}  # fmt: skip


@pytest.mark.parametrize(("facts", "sentence"), REFUSED.values(), ids=REFUSED)
def test_what_cannot_be_gets_a_sentence_and_no_figure(facts, sentence):
    found = reckon(facts)
    assert isinstance(found, NoFigure)
    assert sentence in found.reason
    assert found.todo == "Correct what is on record, or use a weighbridge."


def test_what_is_not_known_stands_beside_the_figure():
    found = reckon(facts_of("us", tyre=None))
    assert (
        "The steer axle may carry less: not known is the maker's rating and the tyres' rating."
        in found.cautions
    )
    lengthless = reckon(facts_of("us", outer_length_m=None))
    assert "The whole cart may carry less: not known is the law's limit." in lengthless.cautions


def test_tape_and_tickets_that_differ_are_told():
    fitted = "4500 5700 0 yes/8; 5100 10100 5000 yes/8; 5700 14500 10000 yes/8"
    assert not reckon(facts_of(middle=4.2, tickets=weighed(fitted))).ready.cautions
    found = reckon(facts_of(middle=4.0, tickets=weighed(fitted)))
    assert found.ready.cautions == (
        "The tickets put the tank's middle 0.40 m from where the tape has it: measure again, or weigh again.",
    )
    assert "because there are under 4 tickets" in found.ready.trust
    assert found.source == "from 3 weighbridge tickets, the farthest 0 kg from their line, too few to rely on"
    assert found.ready.trust in found.cautions
    four = f"{fitted}; 5940 16260 12000 yes/8"
    assert len(reckon(facts_of(middle=4.4, tickets=weighed(four))).cautions) == 1


def test_a_tank_by_its_own_table_and_no_sight_tube():
    tank = CalibratedTank(((0, 0), (0.4, 3000), (0.8, 7000), (1.2, 11_200), (1.6, 14_000)))
    found = reckon(facts_of(tank=tank, sight_zero_mm=None, fill_l_min=None))
    assert (found.litres, found.sight_mm, found.minutes_to_fill) == (11_446, None, None)
    assert found.down_mm == math.ceil(120 + (1.6 - tank.depth_m(11_446)) * 1000)
    high = reckon(facts_of(sight_zero_mm=1500.0))
    assert high.sight_mm is None


@pytest.mark.parametrize("rule_set", KEYS)
def test_every_row_that_is_offered_gives_a_limit(rule_set):
    for key in group_keys(rule_set):
        assert group_law(rule_set, key, axles=3, spread_m=2.6).kg > 5000
    for key in gross_keys(rule_set):
        assert gross_law(rule_set, keys=(), gross_key=key, axles=4, outer_length_m=6.0).kg > 15_000
    assert group_law(rule_set, "", axles=1, spread_m=0) is None


def test_the_law_keeps_its_own_words_and_tags():
    """GM-11, GM-12, EU-03 and AX-04 of the trade facts."""
    seen = gross_law("au", keys=("steer", "tandem_dual"), gross_key="", axles=3, outer_length_m=None)
    assert (seen.kg, seen.row, seen.tag) == (22_500, "GM-11", "VERIFIED-S")
    summed = gross_law("au", keys=("twin_steer", "tandem_dual"), gross_key="", axles=4, outer_length_m=None)
    assert (summed.kg, summed.row, summed.tag) == (26_500, "GM-12", "COMPUTED")
    assert gross_law("uk", keys=(), gross_key="gross_4", axles=4, outer_length_m=6.0).kg == 30_000
    assert gross_law("uk", keys=(), gross_key="gross_4", axles=4, outer_length_m=None) is None
    bridge = gross_law("us", keys=(), gross_key="", axles=3, outer_length_m=20 * 0.3048)
    assert bridge.words == "3 axles over 20.0 ft, 51,000 lb"
    spread = group_law("us", "spread", axles=3, spread_m=9 * 0.3048)
    assert (spread.words, spread.row) == ("3 axles over 9.0 ft, 42,500 lb", "AX-04")
