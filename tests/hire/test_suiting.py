"""What a cart lacks of what a caller asked, and the order of those that suit. Common practice, no source: hire/suiting.py."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from fleet.gear import GEAR
from hire.suiting import (
    LITRES_STEP,
    PER_DUE,
    PER_GEAR,
    Build,
    Enquiry,
    asked_words,
    excess,
    lacks,
    more_words,
)

START = datetime(2026, 11, 30, 19, 30, tzinfo=UTC)


def asked(**kwargs):
    return Enquiry(START, START + timedelta(days=21), **kwargs)


def words(enquiry, build):
    return [(one.what, one.is_near) for one in lacks(enquiry, build, names=GEAR)]


@pytest.mark.parametrize(
    ("litres", "found"),
    [
        (18_000, []),
        (20_000, []),
        (17_999, [("1 L less than asked", True)]),
        (16_200, [("1,800 L less than asked", True)]),
        (16_199, [("1,801 L less than asked", False)]),
    ],
)
def test_litres_at_and_beside_what_was_asked_and_what_is_near(litres, found):
    assert words(asked(litres=18_000), Build(litres, 2, frozenset())) == found


def test_gear_that_is_not_there_does_not_suit_and_gear_that_is_isolated_is_near():
    enquiry = asked(gear=frozenset({"rops", "cannon", "hose_reel"}))
    build = Build(18_000, 2, frozenset({"cannon", "hose_reel"}), isolated=frozenset({"cannon"}))
    assert words(enquiry, build) == [("its cannon is isolated", True), ("no rollover frame", False)]


@pytest.mark.parametrize(
    ("asked_axles", "axles", "found"),
    [
        (0, 1, []),
        (2, 2, []),
        (2, 1, [("one driven axle", False)]),
        (1, 0, [("driven axles not recorded", False)]),
    ],
)
def test_the_driven_axles(asked_axles, axles, found):
    assert words(asked(drive_axles=asked_axles), Build(1, axles, frozenset())) == found


def test_nothing_asked_suits_every_cart():
    assert not words(asked(), Build(1, 0, frozenset()))


def test_the_least_cart_that_does_the_work_comes_first():
    enquiry, offered = asked(litres=15_000, gear=frozenset({"rops"})), frozenset({"rops", "cannon"})
    exact = Build(15_000, 2, frozenset({"rops"}))
    larger = Build(18_000, 2, frozenset({"rops"}))
    better = Build(15_000, 2, frozenset({"rops", "cannon"}))
    costs = [excess(enquiry, build, offered=offered, falls_due=0) for build in (exact, better, larger)]
    assert costs == [0, 0.5, 3]
    assert excess(enquiry, exact, offered=offered, falls_due=2) == 3
    # With no litres asked none are too many.
    assert excess(asked(), larger, offered=frozenset(), falls_due=0) == 0


def test_a_question_that_makes_no_sense_is_refused():
    with pytest.raises(ValueError, match="ends before it starts"):
        Enquiry(START, START)
    with pytest.raises(ValueError, match="below zero"):
        asked(litres=-1)


def table(head):
    lines = Path("docs/enquiries.md").read_text(encoding="utf-8").split(head)[1].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[: lines.index("")]]


@pytest.mark.parametrize(
    "row", table("| asked | tank | gear | suits |"), ids=lambda row: f"{row[0]}, {row[1]}, {row[2]}"
)
def test_the_worked_table_of_the_page_is_true(row):
    want, tank, gear, suits = row
    litres, *wanted = [part.strip() for part in want.replace(" L", "").split(", ")]
    isolated = frozenset({"cannon"}) if "isolated" in gear else frozenset()
    build = Build(
        int(tank.replace(",", "").removesuffix(" L")), 2, frozenset({gear.split(" ")[0]} - {""}), isolated
    )
    found = lacks(asked(litres=int(litres.replace(",", "")), gear=frozenset(wanted)), build, names=GEAR)
    verdict = "yes" if not found else "near" if all(one.is_near for one in found) else "no"
    assert suits == ": ".join([verdict, *[one.what for one in found]])


def test_the_points_of_the_page_are_those_of_the_rule():
    assert [float(points) for _, points in table("| more than asked | points |")] == [
        1000 / LITRES_STEP,
        PER_GEAR,
        PER_DUE,
    ]


@pytest.mark.parametrize(
    ("enquiry", "words"),
    [
        ({}, "any cart"),
        ({"litres": 18_000, "gear": frozenset({"rops", "cannon"})}, "18,000 L, cannon, rollover frame"),
        ({"drive_axles": 1}, "one driven axle"),
        ({"drive_axles": 2, "is_potable": True}, "two driven axles, potable water"),
        ({"litres": 18_000, "is_wet": True}, "18,000 L, wet hire"),
        ({"is_wet": True, "shift": "night"}, "wet hire by night"),
        ({"is_wet": True, "shift": "both"}, "wet hire by day and night"),
        # Of a dry hire it is no matter of the enquiry.
        ({"litres": 18_000, "shift": "night"}, "18,000 L"),
    ],
)
def test_what_is_asked_in_words(enquiry, words):
    assert asked_words(asked(**enquiry), names=GEAR) == words


@pytest.mark.parametrize(
    ("enquiry", "litres", "words"),
    [
        # Nobody asked for litres, so none are more.
        ({}, 22_000, "cannon"),
        ({"litres": 18_000}, 18_000, "cannon"),
        ({"litres": 18_000}, 18_001, "1 L, cannon"),
        ({"litres": 18_000}, 17_000, "cannon"),
        ({"litres": 18_000, "gear": frozenset({"cannon"})}, 18_000, ""),
    ],
)
def test_what_a_cart_has_more_in_words(enquiry, litres, words):
    build, offered = Build(litres, 2, frozenset({"cannon", "beacon"})), frozenset({"cannon", "hose_reel"})
    assert more_words(asked(**enquiry), build, offered=offered, names=GEAR) == words
