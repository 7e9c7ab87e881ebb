"""Where a sheet asks: each place once, what a cart lacks not at all, and the limits of place and rule set."""

import re
from typing import Any

import pytest

from fleet.lap.stations import STATION_KEYS
from inspections.library import library
from inspections.limits import Limit
from inspections.sheet import Places, Sheet, build_sheet, place_label
from tests.inspections.carts import TYPICAL, typical_three_axle, unlike_carts

CARTS = unlike_carts()


def asked_at(sheet: Sheet, family: str) -> list[tuple[str, str]]:
    return [(item.place, item.check.station) for item in sheet.items if item.check.family == family]


@pytest.mark.parametrize("cart", CARTS)
def test_every_place_is_asked_about_once(cart: str) -> None:
    places = CARTS[cart].places
    pre_hire, monthly = CARTS[cart].sheet("pre_hire"), CARTS[cart].sheet("monthly")
    assert sorted(asked_at(pre_hire, "tread")) == sorted(places.tyres)
    assert sorted(asked_at(pre_hire, "extinguisher")) == sorted(places.extinguishers)
    assert sorted(asked_at(pre_hire, "emergency-stop")) == sorted(places.emergency_stops)
    hubs = sorted(places.hubs) if "air_brakes" in CARTS[cart].facts else []
    assert sorted(asked_at(monthly, "push-rod")) == hubs


@pytest.mark.parametrize("station", STATION_KEYS)
def test_an_extinguisher_and_a_stop_are_found_wherever_they_hang(station: str) -> None:
    sheet = build_sheet(
        library(),
        facts=frozenset({"extinguisher", "emergency_stop"}),
        places=Places(extinguishers=(("A1", station),), emergency_stops=(("1", station),)),
        purpose="daily",
        rule_set="au",
        tread_limits={},
    )
    assert asked_at(sheet, "extinguisher") == [("A1", station)]
    assert asked_at(sheet, "emergency-stop") == [("1", station)]


def test_tread_is_asked_tyre_by_tyre_in_the_order_of_the_lap() -> None:
    asked = asked_at(typical_three_axle().sheet("pre_hire"), "tread")
    assert [place for place, _ in asked] == [
        "1R",
        "2RO",
        "2RI",
        "3RO",
        "3RI",
        "3LO",
        "3LI",
        "2LO",
        "2LI",
        "1L",
    ]


def test_a_daily_pre_start_looks_at_tyres_station_by_station() -> None:
    asked = asked_at(typical_three_axle().sheet("daily"), "tyres-by-eye")
    assert [place for place, _ in asked] == ["", "", "", ""]


@pytest.mark.parametrize(
    ("each", "place", "words"),
    [
        ("", "", ""),
        ("tyre", "1L", "axle 1 left"),
        ("tyre", "3RO", "axle 3 right, outer"),
        ("tyre", "2LI", "axle 2 left, inner"),
        ("hub", "2L", "axle 2 left"),
        ("extinguisher", "DP-4471", "extinguisher DP-4471"),
        ("emergency_stop", "2", "stop 2"),
    ],
)
def test_a_place_is_said_as_a_person_says_it(each: str, place: str, words: str) -> None:
    assert place_label(each, place) == words


@pytest.mark.parametrize(
    ("places", "sentence"),
    [
        ({"tyres": (("1L", "cab"),)}, "1L can’t be at “cab”: use one of right_front_wheel,"),
        ({"hubs": (("1L", "rear"),)}, "1L can’t be at “rear”"),
        ({"extinguishers": (("A1", "roof"),)}, "A1 can’t be at “roof”: use one of cab,"),
        ({"emergency_stops": (("1", ""),)}, "1 can’t be at “”"),
        (
            {"extinguishers": (("A1", "cab"), ("A1", "rear"))},
            "One tyre, hub, extinguisher or emergency stop is given",
        ),
    ],
)
def test_places_that_cannot_be_are_refused(places: dict[str, Any], sentence: str) -> None:
    with pytest.raises(ValueError, match=re.escape(sentence)):
        Places(**places)


# Facts, limits and rule sets


@pytest.mark.parametrize(
    ("without", "gone"),
    [
        ("cannon", {"cannon", "cannon-run"}),
        ("retarder", {"retarder"}),
        ("rops", {"rollover-frame", "rollover-plate"}),
        ("registered", {"plates"}),
        ("hose_reel", {"hose-reel-run"}),
    ],
)
def test_a_cart_is_not_asked_about_what_it_lacks(without: str, gone: set[str]) -> None:
    typical = typical_three_axle()

    def families(facts: frozenset[str]) -> set[str]:
        sheet = build_sheet(
            library(),
            facts=facts,
            places=typical.places,
            purpose="pre_hire",
            rule_set="au",
            tread_limits=typical.tread_limits,
        )
        return {item.check.family for item in sheet.items}

    assert families(TYPICAL) - families(TYPICAL - {without}) == gone


def test_air_tanks_are_drained_daily_without_a_dryer_and_weekly_with_one() -> None:
    typical = typical_three_axle()

    def asks(purpose: str, facts: frozenset[str]) -> set[str]:
        sheet = build_sheet(
            library(), facts=facts, places=Places(), purpose=purpose, rule_set="au", tread_limits={}
        )
        return {item.check.family for item in sheet.items if item.check.family.startswith("air-tanks")}

    dry, wet = typical.facts, typical.facts - {"air_dryer"}
    assert (asks("daily", dry), asks("weekly", dry)) == (set(), {"air-tanks-with-dryer"})
    assert (asks("daily", wet), asks("weekly", wet)) == ({"air-tanks-without-dryer"}, set())


def test_each_tyre_brings_its_own_limit() -> None:
    items = [item for item in typical_three_axle().sheet("pre_hire").items if item.check.family == "tread"]
    words = {item.place: item.limit.words for item in items if item.limit}
    assert words["1L"] == words["1R"] == "4.0 mm or more"
    assert {words[place] for place in words.keys() - {"1L", "1R"}} == {"3.0 mm or more"}
    assert len(words) == 10


def test_limits_follow_the_rule_set() -> None:
    def limit(rule_set: str) -> Limit | None:
        sheet = typical_three_axle().sheet("pre_hire", rule_set=rule_set)
        return next(item.limit for item in sheet.items if item.check.key == "low-air-warning")

    au, us, uk = limit("au"), limit("us"), limit("uk")
    assert au is not None
    assert us is not None
    assert (au.words, us.words, uk) == ("420 kPa or more", "60 psi or more", None)


def test_a_tyre_without_a_depth_is_refused_and_not_left_out() -> None:
    typical = typical_three_axle()
    with pytest.raises(ValueError, match=r"^There is no change-out depth for the tyre at 1R\.$"):
        build_sheet(
            library(),
            facts=typical.facts,
            places=typical.places,
            purpose="pre_hire",
            rule_set="au",
            tread_limits={},
        )


@pytest.mark.parametrize(
    ("purpose", "rule_set", "sentence"),
    [
        ("hourly", "au", "“hourly” is not a purpose: use one of daily, weekly,"),
        ("daily", "nz", "“nz” is not a rule set: use one of au, us, uk."),
    ],
)
def test_an_unknown_word_is_refused(purpose: str, rule_set: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=re.escape(sentence)):
        typical_three_axle().sheet(purpose, rule_set=rule_set)


def test_the_same_edition_and_cart_give_the_same_sheet() -> None:
    assert typical_three_axle().sheet("daily") == typical_three_axle().sheet("daily")
