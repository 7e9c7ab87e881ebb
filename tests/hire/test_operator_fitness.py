"""What an operator lacks for a hire, and which licence a cart asks for."""

from datetime import date

import pytest

from hire.licences import CLASSES, drives, licence_needed
from hire.operator_fitness import Gap, Held, gaps

FIRST, LAST = date(2026, 12, 1), date(2026, 12, 21)
LICENCE = Held("licence", date(2027, 6, 30), words="HR")


def of(*held, wants=()):
    return gaps(name="Kit Moran", held=held, wants=wants, first=FIRST, last=LAST)


@pytest.mark.parametrize(
    ("rule_set", "gross_kg", "axles", "needed"),
    [
        ("au", 8_000, 2, "LR"),
        ("au", 8_001, 2, "MR"),
        ("au", 15_000, 2, "MR"),
        ("au", 15_000, 3, "HR"),
        ("au", 26_500, 4, "HR"),
        ("us", 11_793, 2, "D"),
        ("us", 11_794, 3, "B"),
        ("uk", 3_500, 2, "B"),
        ("uk", 3_501, 2, "C1"),
        ("uk", 7_500, 2, "C1"),
        ("uk", 7_501, 3, "C"),
    ],
)
def test_the_class_a_cart_asks_for(rule_set, gross_kg, axles, needed):
    assert licence_needed(rule_set=rule_set, gross_kg=gross_kg, axles=axles) == needed


def test_a_rule_set_nobody_knows_is_no_licence():
    with pytest.raises(ValueError, match="no rule set called nz"):
        licence_needed(rule_set="nz", gross_kg=9000, axles=2)


@pytest.mark.parametrize("rule_set", CLASSES)
def test_a_class_drives_its_own_and_what_is_lighter(rule_set):
    codes = [code for code, _ in CLASSES[rule_set]]
    for n, held in enumerate(codes):
        for m, needed in enumerate(codes):
            assert drives(held, needed, rule_set=rule_set) == (n >= m)
    assert not drives("?", codes[0], rule_set=rule_set)
    assert not drives("", codes[0], rule_set=rule_set)


@pytest.mark.parametrize(
    ("ends_on", "found"),
    [
        (None, None),
        (LAST, None),
        (date(2026, 12, 20), ("Kit Moran’s licence lapses after 20 Dec 2026.", date(2026, 12, 20))),
        (FIRST, ("Kit Moran’s licence lapses after 1 Dec 2026.", FIRST)),
        (date(2026, 11, 30), ("Kit Moran’s licence lapsed on 30 Nov 2026.", None)),
    ],
    ids=["no end", "last day", "day before last", "first day", "day before first"],
)
def test_a_licence_at_its_last_good_day(ends_on, found):
    expected = [] if found is None else [Gap("licence", *found)]
    assert of(Held("licence", ends_on)) == expected


def test_no_licence_stops_whatever_the_hire_asks():
    assert of() == [Gap("licence", "Kit Moran has no licence on record.", None)]


def test_a_licence_too_low_says_which_it_is():
    [gap] = of(Held("licence", None, covers=False, words="LR"))
    assert gap.sentence == "Kit Moran has no licence on record: the one on record is LR."
    assert gap.last_day is None


def test_the_paper_that_lapses_last_counts():
    assert of(Held("licence", date(2026, 11, 1)), LICENCE, Held("licence", date(2026, 12, 2))) == []


def test_one_issued_after_the_start_does_not_count_yet():
    assert [gap.kind for gap in of(Held("licence", None, issued_on=date(2026, 12, 2)))] == ["licence"]
    assert of(Held("licence", None, issued_on=FIRST)) == []


def test_only_what_the_hire_asks_is_asked():
    lapsed = Held("medical", date(2026, 11, 1))
    assert of(LICENCE, lapsed) == []
    assert [gap.kind for gap in of(LICENCE, lapsed, wants=["induction", "medical"])] == [
        "medical",
        "induction",
    ]
    assert of(LICENCE, Held("induction", None, covers=False), wants=["induction"]) != []


def test_the_last_day_is_not_before_the_first():
    with pytest.raises(ValueError, match="before the first"):
        gaps(name="Kit", held=[], wants=[], first=LAST, last=FIRST)
