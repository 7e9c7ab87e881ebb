"""The check library: what it covers and how it is written."""

import re

import pytest

from fleet.gear import GEAR
from inspections.check import TEXT_MOST, TITLE_MOST
from inspections.derived import METER_CHECKS
from inspections.library import library
from inspections.vocabulary import FACTS, PASSES, PURPOSE_KEYS, SYSTEMS

FAMILIES = {check.family: check for check in library()}


def test_there_are_checks_enough() -> None:
    assert len(FAMILIES) >= 140
    for purpose in PURPOSE_KEYS:
        assert any(purpose in check.asked for check in FAMILIES.values()), purpose


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_system_is_asked_about(system: str) -> None:
    assert any(check.system == system for check in FAMILIES.values())


def test_every_kind_of_gear_brings_a_check() -> None:
    asked_for = {word for check in library() for term in check.needs for word in re.split(r"[!|]", term)}
    # Pointers are seen with the nuts they point at, on a cart with them or without.
    assert asked_for - {""} == FACTS - {"nut_pointers"}
    assert "pointer" in FAMILIES["wheel-nuts"].look_for
    assert set(GEAR) <= FACTS


# Each subject a water cart's checks have to cover, and the check that does.
SUBJECTS = {
    "handbook": "papers-aboard",
    "registration and plates": "plates",
    "seat belt": "seat-belt",
    "horn": "warning-lamps",
    "glass, mirrors, wipers": "view-out",
    "camera": "camera",
    "reversing alarm": "reversing-alarm",
    "radio": "two-way-radio",
    "spray controls": "spray-controls",
    "PTO and its interlock": "pto-interlock",
    "first aid": "first-aid-kit",
    "spills": "spill-kit",
    "chocks": "chocks",
    "beacon": "beacon",
    "beacon switch": "seat-and-switches",
    "engine oil": "engine-oil",
    "coolant": "coolant",
    "automatic gearbox oil": "gearbox-oil-automatic",
    "manual gearbox oil": "gearbox-oil-manual",
    "hydraulic oil": "hydraulic-oil",
    "brake fluid": "brake-fluid",
    "belts and their date": "belts",
    "leaks": "ground-leaks",
    "grease": "full-grease-round",
    "automatic greaser": "auto-greaser",
    "air filter": "air-filter",
    "exhaust": "exhaust",
    "cab latch": "cab-latch",
    "driveline": "propshafts",
    "tread": "tread",
    "cuts, bulges, stones, valve caps": "tyres-by-eye",
    "pressure": "cold-pressure",
    "matched duals": "matched-duals",
    "tyre age and load index": "steer-tyre-age",
    "nuts": "wheel-nuts",
    "rim cracks": "rims",
    "nut torque": "nut-torque",
    "hub heat": "hub-heat",
    "springs": "leaf-springs",
    "air bags": "air-bags",
    "steering joints": "steering-joints",
    "steering play": "steering-play",
    "brakes on the roll": "slow-roll",
    "park brake": "park-brake",
    "park-brake alarm": "park-brake-alarm",
    "retarder": "retarder",
    "neutral start": "neutral-start",
    "caging bolts and adjusters": "brake-gear",
    "push-rod stroke": "push-rod",
    "air tanks, no dryer": "air-tanks-without-dryer",
    "air tanks, dryer": "air-tanks-with-dryer",
    "build-up": "air-build-up",
    "leak-down": "air-lost",
    "leak-down on the pedal": "air-lost-on-pedal",
    "cut-out": "air-cut-out",
    "low-air warning": "low-air-warning",
    "emergency stops": "emergency-stop",
    "guards, flaps, looms": "side-at-a-glance",
    "side boards": "side-boards",
    "battery": "battery-and-hold-down",
    "isolator": "battery-isolator",
    "steps and rails": "cab-steps",
    "chassis": "chassis",
    "tow points": "tow-points",
    "front lights": "front-lights",
    "side lights": "side-lights",
    "rear lights": "rear-lights",
    "high brake lights": "high-brake-lights",
    "work lights": "work-lights",
    "signs, tape and decals": "rear-signs",
    "flag and call sign": "flag",
    "sprung hold-downs": "tank-hold-downs-sprung",
    "rigid hold-downs": "tank-hold-downs-rigid",
    "poly straps": "poly-tank-straps",
    "baffle welds and feet": "tank-walls",
    "lid, vent, overflow": "lid-and-vent",
    "ladder and confined space": "ladder-and-rails",
    "sight gauge": "sight-gauge",
    "dip gauge": "dip-gauge",
    "drinking water": "drinking-water-seals",
    "hydrant fill": "hydrant-fill",
    "suction fill": "suction-fill",
    "strainer": "strainer",
    "backflow": "backflow-device",
    "air gap": "air-gap-fill",
    "standpipe and travelling kit": "travelling-kit",
    "pipes and couplings": "pipes-and-couplings",
    "high-pressure outlet": "high-pressure-outlet",
    "pump shaft": "pump-shaft",
    "hydraulic hoses": "hydraulic-hoses",
    "pump engine": "pump-engine-run",
    "gland drip": "pump-seal",
    "relief, dry-run cut-out": "pump-safeguards",
    "priming": "priming",
    "pump pressure": "pump-pressure",
    "rear heads": "rear-heads",
    "heads fully off": "rear-heads-run",
    "side heads": "side-heads",
    "front heads": "front-heads",
    "batter heads": "batter-heads",
    "hand override": "head-hand-override",
    "drop bar": "drop-bar",
    "dribble bar": "dribble-bar",
    "cannon": "cannon",
    "cannon stops": "cannon-run",
    "hose reel": "hose-reel",
    "reel drive gear": "reel-gear",
    "additive tank": "additive-tank",
    "rollover frame": "rollover-frame",
    "rollover plate": "rollover-plate",
    "extinguisher": "extinguisher",
    "extinguisher tag": "extinguisher-tag",
    "fire suppression": "fire-suppression",
    "cab seals": "cab-inside",
    "spare wheel": "spare-wheel",
    "fuel cap and crossover": "fuel-tank",
    "AdBlue": "adblue-level",
    "weed seed": "mud-and-seed",
    "two keys and kit": "kit-returned",
    "tank drained": "tank-drained",
    "fuel": "fuel",
    "meters": "engine-hours",
}


@pytest.mark.parametrize(("subject", "family"), SUBJECTS.items())
def test_subject_is_covered(subject: str, family: str) -> None:
    assert family in FAMILIES, f"Nothing asks about {subject}."


def test_the_cart_leaves_in_its_travel_state() -> None:
    leaving = {family for family, check in FAMILIES.items() if "gate_out" in check.asked}
    assert {
        "pto-out",
        "bars-up",
        "cannon-pinned",
        "hoses-stowed",
        "lid-shut",
        "caps-and-loose-gear",
    } <= leaving
    for family in ("pto-out", "bars-up", "cannon-pinned", "hoses-stowed", "caps-and-loose-gear"):
        assert FAMILIES[family].grade == "do_not_use"
        assert FAMILIES[family].required


def test_what_can_kill_is_required_and_stops_the_cart() -> None:
    for family in (
        "seat-belt", "air-lost", "low-air-warning", "slow-roll", "park-brake", "steering-joints", "steering-play", "wheel-nuts",
        "tyres-by-eye", "tread", "emergency-stop", "extinguisher", "rollover-frame", "pump-shaft", "leaf-springs",
        "tank-hold-downs-sprung", "cab-latch", "chassis", "ladder-and-rails", "propshafts", "brake-fluid",
    ):  # fmt: skip
        assert FAMILIES[family].required, family
        assert FAMILIES[family].grade == "do_not_use", family
        assert FAMILIES[family].second_look == "always" or family == "seat-belt", family


def test_the_daily_values_are_the_ones_worth_entering() -> None:
    daily = {family for family, check in FAMILIES.items() if "daily" in check.asked and check.takes_a_value}
    assert daily == {"engine-hours", "pump-hours", "odometer", "fuel", "air-cut-out", "air-lost"}


def test_readings_come_from_the_checks_others_derive_them_from() -> None:
    assert set(METER_CHECKS) == {"engine-hours", "pump-hours", "odometer"}
    for family, unit in (("engine-hours", "h"), ("pump-hours", "h"), ("odometer", "km"), ("tread", "mm")):
        assert {FAMILIES[family].unit_for(rule_set) for rule_set in ("au", "us", "uk")} == {unit}


@pytest.mark.parametrize("family", FAMILIES)
def test_words_are_short_whole_and_ours(family: str) -> None:
    check = FAMILIES[family]
    assert len(check.title) <= TITLE_MOST
    assert not check.title.endswith(".")
    for text in (check.look_for, check.sound, check.if_not):
        assert len(text) <= TEXT_MOST
        assert text[0].isupper() or text[0].isdigit()
        assert text[-1] in ".?"
        assert "'" not in text, "an apostrophe is written ’"
        banned = r"withdraw|fitment|blocker|roll-groove|discharged|slack adjuster play|editions?\b|station\b"
        assert not re.search(banned, text.lower())
    assert check.look_for != check.sound != check.if_not


@pytest.mark.parametrize(
    ("family", "caution"),
    [
        ("coolant", "Never open a hot cap"),
        ("cab-latch", "Never lean under a tilted cab"),
        ("lid-and-vent", "Keep your head out"),
        ("lid-and-vent", "Nobody goes in"),
        ("tank-inside", "head outside"),
        ("ladder-and-rails", "confined space"),
        ("pump-shaft", "Key out first"),
        ("pump-seal", "Never touch a gland on a turning shaft"),
        ("leaks-running", "hands out"),
        ("belts", "Key out"),
        ("leaf-springs", "Never crawl under one that isn’t on stands"),
        ("drop-bar", "Never under it unless it is pinned"),
        ("brake-gear", "Never undo a spring chamber"),
        ("hydraulic-hoses", "never a hand"),
        ("cold-pressure", "stand in line with the tread"),
        ("rims", "Don’t hit, heat or inflate"),
        ("hub-heat", "Don’t touch"),
        ("cannon-run", "power lines"),
        ("rear-heads-run", "Nobody behind"),
        ("chassis", "No welding on a rail"),
        ("tank-walls", "No heat"),
        ("drinking-water-seals", "not drinking water"),
        ("rollover-plate", "don’t guess a standard"),
    ],
)
def test_a_caution_stands_where_somebody_could_be_hurt(family: str, caution: str) -> None:
    check = FAMILIES[family]
    assert caution in f"{check.look_for} {check.if_not}"


def test_every_pass_says_what_to_mind() -> None:
    assert [one.number for one in PASSES] == [1, 2, 3, 4]
    assert "no hands" in PASSES[2].note
    assert "Emergency stops last" in PASSES[3].note


def test_a_check_at_several_stations_is_one_family() -> None:
    nuts = [check for check in library() if check.family == "wheel-nuts"]
    assert [check.key for check in nuts] == [
        "wheel-nuts-right-front-wheel",
        "wheel-nuts-right-rear-wheels",
        "wheel-nuts-left-rear-wheels",
        "wheel-nuts-left-front-wheel",
    ]
    assert len({check.title for check in nuts}) == 1
