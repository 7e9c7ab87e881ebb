"""May a tank carry drinking water: every source, in both kinds of yard, and each thing missing from the record."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from fleet.water.history import MADE_GOOD, SOURCES, UNKNOWN, Carried, Sanitised, named_in, potable_standing

NOON = datetime(2026, 11, 3, 1, 30, tzinfo=UTC)
DAY = timedelta(days=1)
WORST = sorted(SOURCES.keys() - MADE_GOOD - {"potable"})


def fill(source, days=0.0):
    at = NOON + days * DAY
    return Carried(source, at, at.date())


def clean(days, *, passed=True):
    at = NOON + days * DAY
    return Sanitised(at, at.date(), "Wes Tonkin", passed)


def stands(history, sanitised=(), *, dedicated_only=True, has_potable_tank=True):
    return potable_standing(
        history, sanitised, dedicated_only=dedicated_only, has_potable_tank=has_potable_tank
    )


def test_the_sources_are_those_the_table_below_speaks_of():
    assert WORST == ["binder", "effluent", "fire_foam", "leachate", "mine_affected", "recycled"]


@pytest.mark.parametrize("dedicated_only", [True, False])
@pytest.mark.parametrize("source", WORST)
def test_after_the_worst_never_however_it_is_cleaned(source, dedicated_only):
    history = [fill(source, -300), fill("potable", 1)]
    found = stands(history, [clean(-200), clean(0)], dedicated_only=dedicated_only)
    assert found.verdict == "never"
    assert found.rests_on == (history[0],)
    assert found.sentence.startswith(f"The tank carried {SOURCES[source].lower()} on 7 Jan 2026")


@pytest.mark.parametrize("source", sorted(MADE_GOOD))
@pytest.mark.parametrize(
    ("dedicated_only", "sanitised", "verdict"),
    [
        (True, [], "never"),
        (True, [clean(1)], "never"),
        (False, [], "after sanitising"),
        (False, [clean(-1)], "after sanitising"),
        (False, [clean(0)], "after sanitising"),
        (False, [clean(0.001)], "may"),
        (False, [clean(1, passed=None)], "after sanitising"),
        (False, [clean(1, passed=False)], "after sanitising"),
        (False, [clean(1), clean(2, passed=False)], "after sanitising"),
        (False, [clean(1, passed=False), clean(2)], "may"),
    ],
)
def test_bore_and_dam_only_where_the_yard_allows_it_and_sanitised_later_than_the_fill(
    source, dedicated_only, sanitised, verdict
):
    history = [fill("potable", -5), fill(source), fill("potable", 5)]
    assert stands(history, sanitised, dedicated_only=dedicated_only).verdict == verdict


def test_the_last_fill_that_was_not_potable_counts():
    history = [fill("dam", 0), fill("bore", 3)]
    assert stands(history, [clean(1)], dedicated_only=False).verdict == "after sanitising"
    found = stands(history, [clean(4)], dedicated_only=False)
    assert (found.verdict, found.rests_on) == ("may", (history[1], clean(4)))


@pytest.mark.parametrize(
    ("sanitised", "verdict"),
    [
        ([], "after sanitising"),
        ([clean(-9)], "may"),
        ([clean(2)], "may"),
        ([clean(2, passed=None)], "after sanitising"),
        ([clean(2, passed=False)], "after sanitising"),
    ],
)
def test_nothing_but_potable_water_still_wants_a_sanitising_with_its_test(sanitised, verdict):
    assert stands([fill("potable")], sanitised).verdict == verdict


def test_it_says_what_the_yes_rests_on():
    found = stands([fill("potable")], [clean(9)])
    assert (
        found.sentence
        == "Last sanitised 12 Nov 2026 by Wes Tonkin; nothing but potable water on record since."
    )
    assert found.rests_on == (clean(9),)


@pytest.mark.parametrize("sanitised", [[], [clean(1)]])
def test_no_history_is_not_a_clean_tank(sanitised):
    found = stands([], sanitised)
    assert (found.verdict, found.sentence, found.rests_on) == ("never", "No water history on record.", ())


def test_without_a_potable_tank_never():
    found = stands([fill("potable")], [clean(1)], has_potable_tank=False)
    assert (found.verdict, found.sentence) == ("never", "No potable tank is fitted.")


def test_a_source_the_rule_does_not_know_is_never_made_good():
    assert stands([fill("brine")], [clean(1)], dedicated_only=False).verdict == "never"


@pytest.mark.parametrize(
    ("dedicated_only", "history", "sanitised", "verdict"),
    [
        (True, [fill(UNKNOWN)], [clean(1)], "never"),
        (False, [fill(UNKNOWN)], [], "after sanitising"),
        (False, [fill(UNKNOWN)], [clean(0)], "after sanitising"),
        (False, [fill(UNKNOWN)], [clean(0.001)], "may"),
        (False, [fill(UNKNOWN), fill("effluent", -9)], [clean(1)], "never"),
    ],
)
def test_what_nobody_told_stands_no_better_than_bore_or_dam(dedicated_only, history, sanitised, verdict):
    found = stands([fill("potable", -5), *history], sanitised, dedicated_only=dedicated_only)
    assert found.verdict == verdict


def test_where_a_dam_is_known_it_is_what_the_sentence_says():
    dam = replace(fill("dam"), told="on hire H2026-00031, 14 loads from 3 Nov")
    assert stands([dam, fill(UNKNOWN, 2)]).sentence == (
        "The tank carried dam water on hire H2026-00031, 14 loads from 3 Nov, and the yard keeps drinking-water tanks for potable "
        "water alone."
    )


@pytest.mark.parametrize(
    ("words", "source"),
    [
        ("Callabar dam", "dam"),
        ("Dams 2 and 3", "dam"),
        ("Station Bore", "bore"),
        ("dam, then the effluent pond", "effluent"),
        ("Dam Road hydrant", ""),
        ("Hydrant, Bore St", ""),
        ("Damson Crescent", ""),
        ("Weir Street", ""),
        ("", ""),
    ],
)
def test_a_fill_point_names_its_water(words, source):
    assert named_in(words) == source


def test_every_no_says_who_can_change_it():
    for found in (
        stands([]),
        stands([fill("dam")]),
        stands([fill("potable")]),
        stands([], has_potable_tank=False),
    ):
        assert found.clear_words
