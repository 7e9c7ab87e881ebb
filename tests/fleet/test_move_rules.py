"""What a move permit may let be moved, and how: the table of docs/move-permit.md, and the sentences."""

import pytest

from fleet.moving import (
    EVIDENCE,
    FLOAT,
    GROUND,
    PARTS,
    ROAD,
    WINCHED,
    Stop,
    holds_a_move,
    is_for_an_incident,
    musts,
    part_of,
    refusal,
    refusals,
)
from inspections.vocabulary import SYSTEMS
from tests.worked import tables

[ROWS] = tables("move-permit.md", "What is permitted")


def stop(code, part="", do_not_use="", always=""):
    return Stop(code, f"{code} is wrong.", part, do_not_use == "yes", always == "yes")


@pytest.mark.parametrize("row", ROWS, ids=[" ".join(row[:4]) for row in ROWS])
def test_the_worked_table(row):
    one = stop(*row[:4])
    assert holds_a_move(one.code)
    for way, said in zip((ROAD, GROUND, FLOAT), row[4:], strict=True):
        sentence = refusal(one, way=way)
        assert ("never" if sentence else "may") == said, way
        assert not sentence or sentence.startswith(f"{one.code} is wrong. "), "it names what it is about"


@pytest.mark.parametrize("code", ["walk_round.pre_hire", "hire.overlap", "site.gear", "water.never"])
def test_what_is_of_a_hire_holds_no_move(code):
    assert not holds_a_move(code)


def test_every_reason_is_named_and_a_cart_without_a_plate_goes_on_no_road():
    both = [stop("tyre.below_legal"), stop("hold.manual"), stop("document.insurance")]
    found = refusals(both, way=ROAD, plate="S 123")
    assert [sentence.split(" is wrong")[0] for sentence in found] == [
        "tyre.below_legal",
        "document.insurance",
    ]
    assert all("float" in sentence for sentence in found)
    [bare] = refusals([stop("hold.manual")], way=ROAD, plate="")
    assert "no plate on record" in bare
    assert refusals([stop("hold.manual")], way=GROUND, plate="") == []


def test_the_parts_are_what_checks_belong_to():
    assert PARTS.keys() <= SYSTEMS.keys()


@pytest.mark.parametrize(
    ("system", "station", "part"),
    [
        ("brakes", "left_rear_wheels", "brakes"),
        ("spraying", "tank_top", ""),
        ("lights", "right_rear_wheels", ""),
        ("", "left_front_wheel", "wheels"),
        ("", "left_rear_wheels", "wheels"),
        ("", "rear", ""),
    ],
)
def test_the_part_of_a_defect(system, station, part):
    assert part_of(system, station=station) == part


def test_what_is_printed_besides():
    broken = stop("defect.do_not_use", "brakes", "yes", "yes")
    assert WINCHED in musts([broken], way=FLOAT)
    assert musts([stop("hold.manual")], way=FLOAT) == musts([stop("hold.manual")], way=ROAD)
    assert EVIDENCE in musts([stop("hold.incident")], way=FLOAT)
    assert is_for_an_incident([broken, stop("hold.incident")])
    assert not is_for_an_incident([broken])
