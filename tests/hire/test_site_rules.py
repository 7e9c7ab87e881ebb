"""A cart against what a site asks, on frozen facts: each boundary a day, a tenth or a kilogram either side."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from hire.site_rules import (
    Asked,
    CartFacts,
    PaperAsked,
    PaperHeld,
    best_paper,
    compare,
    good_until,
    paper_fault,
    site_key,
)
from hire.site_text import NAMES, asked_from, asked_rows, body_of

FIRST = date(2026, 12, 7)
LAST = date(2026, 12, 18)
DAY = timedelta(days=1)


def lacking(asked, facts, *, first=FIRST, last=LAST):
    return compare(asked, facts, first=first, last=last, names=NAMES)


def whats(asked, facts):
    return [one.what for one in lacking(asked, facts)]


def test_a_site_that_asks_nothing_finds_nothing():
    assert lacking(Asked(), CartFacts()) == ()


def test_gear_is_fitted_isolated_or_missing():
    asked = Asked(gear={"rops": "must", "flag": "asked", "camera": "asked"})
    found = lacking(asked, CartFacts(gear=frozenset({"flag", "camera"}), isolated=frozenset({"camera"})))
    assert [(one.subject, one.is_must) for one in found] == [("rops", True), ("camera", False)]
    assert found[0].what == "no rollover frame is fitted"
    assert "isolated" in found[1].what


@pytest.mark.parametrize(
    ("age", "words"), [(29, ""), (30, ""), (31, "is 31 days old on 7 Dec 2026; 30 days at most are asked")]
)
def test_a_paper_is_as_old_as_the_days_to_its_use(age, words):
    held = PaperHeld("N-1", issued_on=FIRST - age * DAY)
    assert paper_fault(held, PaperAsked("must", 30), on=FIRST) == words


@pytest.mark.parametrize(("lapses", "is_fault"), [(FIRST - DAY, True), (FIRST, False)])
def test_a_paper_is_good_on_its_last_day(lapses, is_fault):
    assert bool(paper_fault(PaperHeld("N-1", None, lapses), PaperAsked("must"), on=FIRST)) is is_fault


def test_an_age_without_a_date_of_issue_is_not_taken_as_met():
    assert "no date of issue" in paper_fault(PaperHeld("N-1"), PaperAsked("asked", 365), on=FIRST)
    assert paper_fault(PaperHeld("N-1"), PaperAsked("asked"), on=FIRST) == ""
    assert paper_fault(None, PaperAsked("asked"), on=FIRST) == "is not on record"


def test_a_void_paper_says_why_whatever_its_dates():
    held = PaperHeld("W-1", FIRST, FIRST + 90 * DAY, "is void: the cart worked elsewhere after it")
    assert whats(
        Asked(papers={"wash_down": PaperAsked("must")}), CartFacts(papers={"wash_down": (held,)})
    ) == ["its weed-and-seed wash-down is void: the cart worked elsewhere after it"]


def test_of_two_papers_the_good_one_counts_and_of_two_good_ones_the_newest():
    old = PaperHeld("old", FIRST - 400 * DAY, FIRST + DAY)
    new = PaperHeld("new", FIRST - 20 * DAY, FIRST + DAY)
    lapsed = PaperHeld("lapsed", FIRST - 2 * DAY, FIRST - DAY)
    assert best_paper([old, lapsed, new], on=FIRST) == new
    assert best_paper([lapsed], on=FIRST) == lapsed
    assert best_paper([], on=FIRST) is None


def test_a_paper_that_ages_out_while_the_cart_is_there_is_told_with_its_day():
    held = PaperHeld("N-1", issued_on=FIRST - 25 * DAY)
    asked = Asked(papers={"plant_risk": PaperAsked("must", 30)})
    facts = CartFacts(papers={"plant_risk": (held,)})
    assert [one.from_on for one in lacking(asked, facts)] == [FIRST + 6 * DAY]
    assert lacking(asked, facts, last=FIRST + 5 * DAY) == ()
    assert good_until(held, PaperAsked("must", 30)) == FIRST + 5 * DAY


@pytest.mark.parametrize(("depth", "count"), [("4.9", 1), ("5.0", 0), ("5.1", 0)])
def test_least_tread(depth, count):
    facts = CartFacts(least_tread=(Decimal(depth), "axle 2 left"))
    assert len(lacking(Asked(least_tread_mm=Decimal("5.0")), facts)) == count


def test_tyres_nobody_measured_are_not_taken_as_deep_enough():
    asked = Asked(least_tread_mm=Decimal(5), tread_how="must")
    assert whats(asked, CartFacts()) == ["no tyre depth is on record, and 5 mm at least is asked"]
    deep = CartFacts(least_tread=(Decimal(9), "axle 1 left"), unread=2)
    assert whats(asked, deep) == ["2 tyres were never measured, and 5 mm at least is asked"]


@pytest.mark.parametrize(
    ("aboard", "count"),
    [
        ((), 1),
        ((("dry_chemical", Decimal("4.5")),), 1),
        ((("co2", Decimal(9)),), 1),
        ((("co2", Decimal(5)), ("dry_chemical", Decimal("9.0"))), 0),
    ],
)
def test_an_extinguisher_of_the_kind_and_size(aboard, count):
    asked = Asked(extinguisher="dry_chemical", extinguisher_kg=Decimal(9), extinguisher_how="must")
    assert len(lacking(asked, CartFacts(extinguishers=aboard))) == count


@pytest.mark.parametrize(("figure", "count"), [(None, 1), ("85.1", 1), ("85", 0)])
def test_noise(figure, count):
    facts = CartFacts(noise_db=Decimal(figure) if figure else None)
    assert len(lacking(Asked(noise_db=Decimal(85)), facts)) == count


def test_the_last_day_is_not_before_the_first():
    with pytest.raises(ValueError, match="last day"):
        lacking(Asked(), CartFacts(), first=LAST, last=FIRST)


def test_case_and_spaces_of_a_site_do_not_matter():
    assert site_key("  Callabar   PIT ") == site_key("callabar pit") != site_key("callabar pits")


def test_a_set_is_read_as_it_was_stored_and_says_musts_first():
    asked = Asked(
        gear={"flag": "asked", "rops": "must"}, papers={"noise": PaperAsked("must", 365)}, least_tread_mm=Decimal("5.5"),
        tread_how="must", extinguisher="co2", extinguisher_kg=Decimal(5), extinguisher_how="asked", noise_db=Decimal(85),
        noise_how="asked", axles="Steer 6.0 t at most", notes="Call on channel 14",
    )  # fmt: skip
    assert asked_from(body_of(asked)) == asked
    hows = [row.how for row in asked_rows(asked)]
    assert hows == sorted(hows, reverse=False, key=lambda how: how != "Must")
    assert asked_from({}) == Asked()
