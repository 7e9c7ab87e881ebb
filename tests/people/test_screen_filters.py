"""What screens print: figures never rounded up, times by the yard's clock, the time-in-hand line's geometry."""

import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django import forms
from django.template import Context, Template
from django.test import RequestFactory

from people.templatetags.screen import (
    HAND_EDGE,
    HAND_HORIZON,
    HAND_WIDTH,
    clock,
    counted,
    day,
    day_year,
    fault_sentences,
    hand_line,
    moment,
    quantity,
    signed,
    span_words,
    time_in_hand,
    verdict_parts,
)

ROOM = HAND_WIDTH - 2 * HAND_EDGE
NO_BREAK = "\N{NO-BREAK SPACE}"


def hours(count):
    return timedelta(hours=count)


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        pytest.param(Decimal("2.99"), "mm", "2.9 mm", id="a depth under 3.0 never reads 3.0"),
        pytest.param("3.0", "mm", "3.0 mm", id="on the limit"),
        pytest.param(Decimal("-0.96"), "mm", "-0.9 mm", id="towards zero below it too"),
        pytest.param(Decimal("9499.9"), "l", "9,499 L", id="a fill is cut, not rounded"),
        pytest.param(4812.55, "h", "4,812.5 h", id="hours to one decimal"),
        pytest.param(182340, "km", "182,340 km", id="thousands"),
        pytest.param(0, "l", "0 L", id="zero is known"),
        pytest.param(None, "mm", "not known", id="none is not zero"),
        pytest.param("under 2", "mm", "under 2", id="words stay words"),
    ],
)
def test_a_quantity_is_cut_at_its_units_decimals(value, unit, shown):
    assert quantity(value, unit).replace(NO_BREAK, " ") == shown


def test_figure_and_unit_stay_on_one_line():
    assert quantity("2.4", "mm") == f"2.4{NO_BREAK}mm"


def test_an_unknown_unit_is_a_mistake_of_ours():
    with pytest.raises(KeyError):
        quantity(1, "furlong")


@pytest.mark.parametrize(
    ("at", "shown"),
    [
        pytest.param(
            datetime(2026, 11, 30, 19, 0, tzinfo=UTC), "5.30 am", id="half-hour zone in daylight saving"
        ),
        pytest.param(
            datetime(2026, 6, 30, 20, 0, tzinfo=UTC), "5.30 am", id="the same in winter, an hour later"
        ),
        pytest.param(datetime(2026, 12, 1, 1, 30, tzinfo=UTC), "12 noon", id="noon in a word"),
        pytest.param(datetime(2026, 12, 1, 13, 30, tzinfo=UTC), "12 midnight", id="midnight in a word"),
        pytest.param(datetime(2026, 12, 1, 1, 35, tzinfo=UTC), "12.05 pm", id="after noon"),
        pytest.param(datetime(2026, 12, 1, 13, 35, tzinfo=UTC), "12.05 am", id="after midnight"),
    ],
)
def test_the_clock_is_the_yards(at, shown):
    assert clock(at).replace(NO_BREAK, " ") == shown


def test_an_instant_takes_the_yards_day_and_a_day_stays_itself():
    late = datetime(2026, 12, 3, 20, 0, tzinfo=UTC)
    assert day(late) == "Fri 4 Dec"
    assert day(date(2026, 12, 3)) == "Thu 3 Dec"
    assert day_year(late) == "4 Dec 2026"
    assert (
        moment(late).replace(NO_BREAK, " ")
        == '<time datetime="2026-12-04T06:30:00+10:30">Fri 4 Dec, 6.30 am</time>'
    )


@pytest.mark.parametrize("words", [day, day_year, moment, clock, span_words])
def test_what_is_not_known_says_so(words):
    assert words(None) == "not known"


@pytest.mark.parametrize(
    ("span", "shown"),
    [
        (timedelta(seconds=59), "under a minute"),
        (timedelta(minutes=1), "1 min"),
        (timedelta(hours=3, minutes=20, seconds=59), "3 h 20 min"),
        (timedelta(hours=24), "1 day"),
        (timedelta(days=2, hours=4, minutes=59), "2 days 4 h"),
        (-timedelta(hours=2), "2 h"),
    ],
)
def test_a_length_of_time_is_cut_to_two_units(span, shown):
    assert span_words(span).replace(NO_BREAK, " ") == shown


@pytest.mark.parametrize(
    ("sentence", "state", "parts"),
    [
        ("Held: rear left tyre 2.4 mm.", "held", ("Held", ":", "rear left tyre 2.4 mm.")),
        ("Ready until Thursday.", "ready", ("Ready", "", "until Thursday.")),
        ("Ready.", "ready", ("Ready", ".", "")),
        ("Goes with limits: no cannon.", "limits", ("Goes with limits", ":", "no cannon.")),
        ("Could not be checked.", "held", ("", "", "Could not be checked.")),
    ],
)
def test_a_readiness_sentence_parts_at_its_verdict(sentence, state, parts):
    assert verdict_parts(sentence, state) == parts


class FaultyForm(forms.Form):
    name = forms.CharField()
    wrench = forms.ChoiceField(choices=[("1", "One")])
    way = forms.ChoiceField(choices=[("1", "One")], widget=forms.RadioSelect)
    seen = forms.BooleanField()
    depth = forms.IntegerField()
    ours = forms.CharField(error_messages={"required": "Say which wrench: it is on the handle."})


def test_stock_faults_get_our_words_and_our_own_stay():
    form = FaultyForm({"depth": "deep"})
    assert {name: fault_sentences(form[name]) for name in form.fields} == {
        "name": ["Not filled in yet."],
        "wrench": ["Choose one."],
        "way": ["Choose one."],
        "seen": ["Tick this to go on."],
        "depth": ["Enter a whole number."],
        "ours": ["Say which wrench: it is on the handle."],
    }


def query(address, **changes):
    request = RequestFactory().get(address)
    tag = "{% load screen %}{% query_with " + " ".join(f"{key}={key}" for key in changes) + " %}"
    return Template(tag).render(Context({"request": request, **changes}))


def test_paging_keeps_the_filters():
    assert query("/carts/?where=yard&page=1", page=2) == "?where=yard&amp;page=2"
    assert query("/carts/?where=yard&page=4", page=None) == "?where=yard"


@pytest.mark.parametrize(
    ("left", "repair", "words", "drawn"),
    [
        pytest.param(hours(36), hours(6), "1 day 6 h in hand", (ROOM // 12, 0, False), id="room to spare"),
        pytest.param(hours(6), hours(6), "under a minute in hand", (ROOM // 12, 0, False), id="just enough"),
        pytest.param(hours(6), hours(12), "short by 6 h", (ROOM // 12, ROOM // 12, False), id="not enough"),
        pytest.param(-hours(2), hours(6), "short by 8 h", (0, ROOM // 12, False), id="wanted already"),
        pytest.param(HAND_HORIZON, hours(6), "2 days 18 h in hand", (ROOM // 12, 0, False), id="at the edge"),
        pytest.param(
            HAND_HORIZON + hours(1), hours(6), "2 days 19 h in hand", (ROOM // 12, 0, True), id="past it"
        ),
        pytest.param(None, hours(6), "not wanted yet", (ROOM // 12, 0, True), id="nobody wants it"),
        pytest.param(
            hours(100), hours(400), "short by 12 days 12 h", (ROOM, 0, True), id="a repair past the edge"
        ),
    ],
)
def test_the_line_draws_time_left_and_repair_on_one_scale(left, repair, words, drawn):
    line = hand_line(left, repair)
    assert line.words.replace(NO_BREAK, " ") == words
    assert (line.repair_width, line.over_width, line.goes_on) == drawn


def reach(path):
    """The least and the greatest x a path comes to."""
    x, seen = 0.0, []
    for letter, words in re.findall(r"([A-Za-z])([^A-Za-z]*)", path):
        steps = [float(word) for word in re.findall(r"-?\d+\.?\d*", words)]
        if letter in "MH":
            x = steps[0]
        elif letter in "hl":
            x += steps[0]
        seen.append(x)
    return min(seen), max(seen)


def test_the_drawing_stays_inside_its_box():
    for left in (None, -hours(50), hours(0), hours(10), hours(72), hours(500)):
        for repair in (hours(0), hours(1), hours(72), hours(500)):
            paths = time_in_hand(left, repair)["paths"]
            for path in filter(None, paths.values()):
                least, most = reach(path)
                assert HAND_EDGE <= least <= most <= HAND_WIDTH - HAND_EDGE
            if paths["hatch"]:
                (least, most), (near, far) = reach(paths["hatch"]), reach(paths["over"])
                assert near < least < most <= far


@pytest.mark.parametrize(
    ("value", "shown"), [(14, "+14"), ("-16", "−16"), (0, "0"), ("-0", "0"), (-1_240, "−1,240")]
)
def test_a_difference_has_its_sign_and_a_minus_is_no_hyphen(value, shown):
    assert signed(value) == shown


@pytest.mark.parametrize(
    ("number", "shown"), [(0, "0 carts"), (1, "1 cart"), (2, "2 carts"), (10_000, "10,000 carts")]
)
def test_one_is_not_many(number, shown):
    assert counted(number, "cart,carts") == shown
