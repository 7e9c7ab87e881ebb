"""Signs over many walk-rounds: readings that stay, readings always round, how often something is found."""

import random
from dataclasses import replace
from datetime import timedelta
from fractions import Fraction

import pytest

from inspections.sign_rules import Rules
from inspections.truthfulness import signs
from inspections.walk_facts import History, Reading
from tests.inspections.walk_samples import BEGUN, measured, odometer, reading, rounds, walk

DAYS = (90, 60, 30)


def codes(walk_round, history, **options) -> list[str]:
    return [sign.code for sign in signs(walk_round, history, **options)]


def still(
    tyres: int, *, same: int, km: int = 1000, rounds_before: int = 3, meter: str = "km", **changed
) -> list[str]:
    """Codes of a walk-round with so many tyres, of which some read the same 11.0 mm each time while the meter rose."""
    taken = tuple(measured(n, "11.0") for n in range(1, tyres + 1))
    before = [
        reading("11.0" if n <= same else f"{11 + days / 100}", days_ago=days, place=f"tyre {n}", **changed)
        for n in range(1, tyres + 1)
        for days in DAYS[3 - rounds_before :]
    ]
    meters = tuple(
        odometer(40_000 + km * (90 - days) // 90, days_ago=days, kind=meter) for days in (90, 45, 0)
    )
    return codes(walk(taken), History(readings=tuple(before), meters=meters))


@pytest.mark.parametrize(
    ("how", "asked"),
    [
        pytest.param({"tyres": 8, "same": 8}, ["still"], id="all the same over 1,000 km"),
        pytest.param({"tyres": 8, "same": 8, "km": 990}, [], id="under 1,000 km"),
        pytest.param({"tyres": 8, "same": 4}, ["still"], id="half of them"),
        pytest.param({"tyres": 9, "same": 4}, [], id="less than half"),
        pytest.param({"tyres": 3, "same": 3}, [], id="only three"),
        pytest.param({"tyres": 4, "same": 4}, ["still"], id="four"),
        pytest.param({"tyres": 8, "same": 8, "rounds_before": 2}, [], id="only three walk-rounds"),
        pytest.param({"tyres": 8, "same": 8, "km": 100, "meter": "engine_hours"}, ["still"], id="100 engine hours"),
        pytest.param({"tyres": 8, "same": 8, "km": 99, "meter": "engine_hours"}, [], id="99 engine hours"),
        pytest.param({"tyres": 8, "same": 8, "meter": "pump_hours"}, [], id="the pump alone ran"),
        pytest.param({"tyres": 8, "same": 8, "cart": "cart-2"}, [], id="another cart's readings"),
    ],
)  # fmt: skip
def test_readings_that_stay_while_the_meter_moves(how, asked):
    assert still(**how) == asked


def test_the_question_of_readings_that_stay():
    taken = tuple(measured(n, "11") for n in range(1, 9))
    before = tuple(reading("11.0", days_ago=days, place=f"tyre {n}") for n in range(1, 9) for days in DAYS)
    meters = (odometer(40_000, days_ago=90), odometer(41_240, days_ago=0))
    (sign,) = signs(walk(taken), History(readings=before, meters=meters))
    assert sign.question == (
        "Were these measured this time? 8 of 8 readings are what they were on the 3 walk-rounds before, while the cart worked on."
    )
    assert sign.evidence[:3] == (
        ("The odometer rose", "1,240 km"),
        ("Over at least", "90 days"),
        ("Tread depth, tyre 1", "11 mm, 4 times"),
    )
    assert sign.evidence[-1] == ("And", "2 more")


@pytest.mark.parametrize(
    "changed",
    [
        pytest.param({"value": "0"}, id="noughts"),
        pytest.param({"unit": "eighths"}, id="a full tank every time"),
        pytest.param({"meter": "engine_hours"}, id="a meter"),
        pytest.param({"unit": ""}, id="no measure"),
        pytest.param({"value": "a lot"}, id="no number"),
    ],
)
def test_what_may_stay_the_same_is_not_asked_about(changed):
    taken = tuple(replace(measured(n, "11.0"), **changed) for n in range(1, 9))
    before = tuple(
        reading(changed.get("value", "11.0"), days_ago=days, place=f"tyre {n}")
        for n in range(1, 9)
        for days in DAYS
    )
    meters = (odometer(40_000, days_ago=90), odometer(45_000, days_ago=0))
    assert codes(walk(taken), History(readings=before, meters=meters)) == []


def test_the_last_readings_count_and_the_meter_since_then():
    """An older reading that differs, and kilometres driven before the four, change nothing either way."""
    taken = tuple(measured(n, "11.0") for n in range(1, 9))
    before = [reading("11.0", days_ago=days, place=f"tyre {n}") for n in range(1, 9) for days in DAYS]
    before += [reading("12.5", days_ago=120, place=f"tyre {n}") for n in range(1, 9)]
    driven = [odometer(30_000, days_ago=120), odometer(40_000, days_ago=90), odometer(40_500, days_ago=0)]
    assert codes(walk(taken), History(readings=tuple(before), meters=tuple(driven))) == []
    driven.append(odometer(41_000, days_ago=0))
    assert codes(walk(taken), History(readings=tuple(before), meters=tuple(driven))) == ["still"]


def test_a_changed_meter_is_counted_on_both_sides_of_the_change():
    """The first rose 600 km, its successor 400: 1,000 in all, and never the leap between them."""
    taken = tuple(measured(n, "11.0") for n in range(1, 9))
    before = tuple(reading("11.0", days_ago=days, place=f"tyre {n}") for n in range(1, 9) for days in DAYS)
    points = [(40_000, 90, "first"), (40_600, 50, "first"), (0, 49, "second"), (400, 0, "second")]
    meters = tuple(odometer(value, days_ago=days, meter=meter) for value, days, meter in points)
    assert codes(walk(taken), History(readings=before, meters=meters)) == ["still"]
    assert codes(walk(taken), History(readings=before, meters=meters[:3])) == []


def depths(
    author: str, count: int, *, rounded: int, cart: str = "cart-1", unit: str = "mm", meter: str = ""
) -> list[Reading]:
    """So many readings of one person on one cart, some of them round; each of a walk-round of its own."""
    step = {"mm": ("11.5", "11.3"), "km": ("41230", "41237"), "psi": ("110", "107")}[unit]
    return [
        Reading(
            f"{author}-{cart}-{n}", cart, author, "check", "", step[n >= rounded], unit, meter, BEGUN - timedelta(days=n + 1)
        )
        for n in range(count)
    ]  # fmt: skip


def test_readings_always_round_beside_others_of_the_same_carts():
    readings = (*depths("ruby", 40, rounded=40), *depths("wes", 60, rounded=15))
    (sign,) = signs(walk(), History(readings=tuple(readings)))
    assert sign.code == "round"
    assert sign.question == (
        "Were these read off, or rounded? 40 of 40 readings by Ruby Tane are round figures; others’, of the same things, 15 of 60."
    )
    assert dict(sign.evidence)["So many or more, by chance alone"] == "less than 1 in 1,000,000"


@pytest.mark.parametrize(
    ("own", "others"),
    [
        pytest.param((40, 40), (60, 60), id="a coarse gauge rounds for all"),
        pytest.param((40, 34), (60, 15), id="not nearly always"),
        pytest.param((19, 19), (60, 15), id="too few of theirs"),
        pytest.param((40, 40), (19, 2), id="too few of the others'"),
    ],
)
def test_what_is_not_asked_about_round_readings(own, others):
    readings = (*depths("ruby", own[0], rounded=own[1]), *depths("wes", others[0], rounded=others[1]))
    assert codes(walk(), History(readings=tuple(readings))) == []


def test_others_on_other_carts_do_not_count_for_round_readings():
    readings = (*depths("ruby", 40, rounded=40), *depths("wes", 60, rounded=15, cart="cart-2"))
    assert codes(walk(), History(readings=tuple(readings))) == []


def test_gauges_with_round_marks_are_left_out():
    readings = (*depths("ruby", 40, rounded=40, unit="psi"), *depths("wes", 60, rounded=15, unit="psi"))
    assert codes(walk(), History(readings=tuple(readings))) == []


@pytest.mark.parametrize(
    ("count", "rounded", "asked"),
    [
        pytest.param(20, 20, ["round"], id="twenty of twenty"),
        pytest.param(20, 18, ["round"], id="nine in ten"),
        pytest.param(20, 17, [], id="fewer"),
        pytest.param(19, 19, [], id="too few"),
    ],
)
def test_odometers_that_end_in_nought_where_nobody_else_reads(count, rounded, asked):
    readings = tuple(depths("ruby", count, rounded=rounded, unit="km", meter="km"))
    found = signs(walk(), History(readings=readings))
    assert [sign.code for sign in found] == asked
    if asked:
        assert (
            f"{rounded} of {count} odometer readings by Ruby Tane end in 0; one in ten does."
            in found[0].question
        )


def test_a_reading_is_counted_once_however_often_it_is_handed_over():
    readings = tuple(depths("ruby", 10, rounded=10, unit="km", meter="km")) * 3
    assert codes(walk(), History(readings=readings)) == []


def rates(own: tuple[int, int], others: tuple[int, int]) -> History:
    return History(walks=(*rounds(*own), *rounds(*others, author="wes")))


def test_the_question_of_a_person_who_finds_little():
    (sign,) = signs(walk(), rates((1, 39), (20, 40)))
    assert sign.code == "rate"
    assert sign.question == (
        "What makes the difference? 1 of 40 walk-rounds by Ruby Tane told of something new; of others’, on the same carts "
        "and sheets, 20 of 40."
    )
    evidence = dict(sign.evidence)
    assert evidence["Chance alone would give"] == "about 10.5, and keeps to 5 to 16"
    assert evidence["So few or fewer, by chance alone"] == "less than 1 in 1,000,000"


def test_the_question_of_a_person_who_finds_much_is_put_alike():
    (sign,) = signs(walk(told=True), rates((30, 39), (8, 40)))
    assert "31 of 40 walk-rounds by Ruby Tane told of something new" in sign.question
    assert "So many or more, by chance alone" in dict(sign.evidence)


@pytest.mark.parametrize(
    ("history", "asked"),
    [
        pytest.param(rates((0, 19), (20, 20)), ["rate"], id="twenty of each"),
        pytest.param(rates((0, 18), (20, 20)), [], id="nineteen of theirs"),
        pytest.param(rates((0, 19), (19, 19)), [], id="nineteen of the others'"),
        pytest.param(rates((6, 39), (13, 40)), [], id="a difference chance may give"),
        pytest.param(rates((0, 39), (0, 40)), [], id="nobody finds anything"),
        pytest.param(rates((39, 39), (40, 40)), [], id="everybody finds something"),
    ],
)
def test_a_rate_needs_enough_and_is_asked_about_when_chance_would_not_give_it(history, asked):
    assert (
        codes(walk(told=asked == [] and bool(history.walks[0].told and history.walks[-1].told)), history)
        == asked
    )


def test_only_the_same_carts_and_sheets_compare():
    """The others find much, but on pre-hire checks, and on another cart: that says nothing of this person's pre-starts."""
    elsewhere = (
        *rounds(40, 40, author="wes", cart="cart-2"),
        *rounds(40, 40, author="wes", purpose="pre_hire"),
    )
    assert codes(walk(), History(walks=(*rounds(0, 40), *elsewhere))) == []


def test_unlike_carts_do_not_make_a_difference_of_persons():
    """Ruby walks the sound cart and Wes the old one, each a little of the other's: on either cart both find alike."""
    walks = (
        *rounds(4, 80), *rounds(1, 20, author="wes"),
        *rounds(12, 20, cart="cart-2"), *rounds(48, 80, author="wes", cart="cart-2"),
    )  # fmt: skip
    assert codes(walk(), History(walks=walks)) == []


def test_nobody_is_asked_about_habits_who_is_no_person_of_the_yard():
    habits = History(
        walks=(*rounds(0, 40, author=""), *rounds(40, 40, author="wes")),
        readings=tuple(depths("", 40, rounded=40, unit="km", meter="km")),
    )
    assert codes(walk(author="", author_name="A customer’s operator"), habits) == []


def test_honest_yards_are_seldom_asked():
    """Nine honest people, the same chance of finding something for all on each cart: of 900 such histories about two would be
    asked about on either side, and more than nine in far less than one of a million such tests."""
    chance = random.Random(2026)
    asked = 0
    for _ in range(100):
        of_cart = {f"cart-{n}": chance.uniform(0.1, 0.6) for n in range(8)}
        walked = [
            (f"person-{chance.randrange(9)}", cart, chance.random() < of_cart[cart])
            for cart in of_cart
            for _ in range(45)
        ]
        walks = tuple(row for who, cart, told in walked for row in rounds(told, 1, author=who, cart=cart))
        for person in range(9):
            own = walk(author=f"person-{person}", cart="a cart of its own")
            asked += bool(codes(own, History(walks=walks)))
    assert asked <= 9


def test_the_yards_own_figures_are_used():
    assert codes(walk(), rates((6, 39), (13, 40))) == []
    assert codes(walk(), rates((6, 39), (13, 40)), rules=Rules(chance=Fraction(1, 10))) == ["rate"]
