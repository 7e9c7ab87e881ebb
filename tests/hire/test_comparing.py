"""Two records of one cart side by side: what is shown, in which order, and what changed."""

import pytest

from hire.comparing import Look, change_words, compare, is_worth_showing, pair_up


def look(key="lid", station="rear", **facts):
    return Look(
        **{
            "key": key, "title": key.capitalize(), "station": station, "place": "", "where": "", "answer": "good",
            "answer_words": "Good",
        }
        | facts
    )  # fmt: skip


def pair(out, back, **facts):
    (found,) = pair_up([out] if out else [], [back] if back else [], **facts)
    return found


@pytest.mark.parametrize(
    ("out", "back", "words"),
    [
        ("8200.0", "8255.0", "+55.0 h"),
        ("8255.0", "8200.5", "−54.5 h"),
        ("7", "7", "0 h"),
        ("12000.0", "13250.5", "+1,250.5 h"),
        ("", "7", ""),
        ("caked", "7", ""),
        ("NaN", "7", ""),
    ],
)
def test_what_changed_has_its_sign_and_unit(out, back, words):
    assert change_words(out, back, "h") == words


@pytest.mark.parametrize(
    ("out", "back", "is_shown"),
    [
        pytest.param(look(), look(), False, id="good on both sides"),
        pytest.param(look(), None, False, id="good, and not asked as it came back"),
        pytest.param(None, look(), False, id="not asked as it left, and good"),
        pytest.param(None, look(grade="watch", answer="wrong"), True, id="wrong, and not asked as it left"),
        pytest.param(look(), look(grade="watch", answer="wrong"), True, id="wrong now"),
        pytest.param(look(grade="watch", answer="wrong"), look(), True, id="put right while out"),
        pytest.param(look(), look(answer="not_on_cart"), True, id="gone from the cart"),
        pytest.param(look(), look(answer="could_not_check"), True, id="could not be checked"),
        pytest.param(
            look(value="7", unit="mm"), look(value="7", unit="mm"), True, id="a value on both sides"
        ),
        pytest.param(look(value="7"), look(), False, id="a value on one side"),
        pytest.param(look(has_photo=True), look(has_photo=True), True, id="a picture on both sides"),
        pytest.param(look(has_photo=True), look(), False, id="a picture on one side"),
    ],
)
def test_only_what_differs_or_can_be_set_side_by_side_is_shown(out, back, is_shown):
    assert is_worth_showing(pair(out, back)) is is_shown


def test_stations_come_in_lap_order_and_those_with_nothing_are_left_out():
    bad = {"grade": "watch", "answer": "wrong"}
    back = [
        look("hose", "tank_top", **bad),
        look("belt", "cab", **bad),
        look("lamp", "rear", **bad),
        look("lid", "front"),
    ]
    stops = compare([], back)
    assert [stop.station.key for stop in stops] == ["cab", "rear", "tank_top"]
    assert [stop.station.key for stop in compare([], back, apart={"belt"})] == ["rear", "tank_top"]


def test_the_later_of_two_looks_on_one_side_counts_and_each_place_stands_apart():
    out = [
        look("tread", place="2LO", value="11"),
        look("tread", place="2LO", value="10.5"),
        look("tread", place="2LI", value="9"),
    ]
    back = [look("tread", place="2LO", value="10.0")]
    first, second = pair_up(out, back)
    assert (first.out.value, first.back.value, first.change) == ("10.5", "10.0", "−0.5")
    assert (second.out.place, second.back) == ("2LI", None)


def test_new_is_what_was_neither_wrong_nor_on_the_record_as_it_left():
    bad = look(grade="by_date", answer="wrong")
    assert pair(None, bad).is_new
    assert pair(look(), bad).is_new
    assert not pair(look(grade="watch", answer="wrong"), bad).is_new
    assert not pair(None, bad, known={("lid", "")}).is_new
    assert not pair(look(), look()).is_new
