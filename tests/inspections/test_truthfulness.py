"""Signs of one walk-round by itself: its clock, its pace, its order and its photos. Each at the figure and beside it."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.sign_rules import Rules, explain
from inspections.truthfulness import signs
from inspections.walk_facts import EarlierShot, History, Look, Shot, Walk
from tests.inspections.walk_samples import BEGUN, STATIONS, look, looks, shot, walk

NOTHING = History()
SECOND = timedelta(seconds=1)


def codes(walk_round: Walk, history: History = NOTHING, **options) -> list[str]:
    return [sign.code for sign in signs(walk_round, history, **options)]


def the_sign(walk_round: Walk, history: History = NOTHING):
    (sign,) = signs(walk_round, history)
    return sign


def test_a_walk_round_walked_as_the_sheet_reckons_raises_nothing():
    assert signs(walk(), NOTHING) == []


def test_the_question_of_a_walk_round_ticked_through():
    """Just under 62 minutes' worth of looks within six minutes, though none within 1.2 seconds of another."""
    pace = timedelta(minutes=6) / 98
    ticked = walk(tuple(replace(one, minutes=Decimal("0.63")) for one in looks(98, each=pace)))
    sign = the_sign(ticked)
    assert sign.code == "pace"
    assert sign.question == "Were these looked at one by one? 98 looks in 6 minutes; the sheet reckons 62."
    assert dict(sign.evidence) == {
        "Looks taken": "98 of 98",
        "From beginning to last answer": "6 minutes",
        "The sheet reckons": "62 minutes",
    }


@pytest.mark.parametrize(
    ("took", "asked"),
    [
        pytest.param(timedelta(minutes=6) - SECOND, ["pace"], id="a second under a third"),
        pytest.param(timedelta(minutes=6), [], id="a third"),
        pytest.param(timedelta(minutes=6) + SECOND, [], id="a second over"),
    ],
)
def test_a_third_of_the_sheets_minutes_is_enough(took, asked):
    assert codes(walk(looks(30, each=took / 30))) == asked


def test_a_short_sheet_is_not_timed():
    """Five reckoned minutes are the least: a tenth of a minute less and nothing is asked."""
    quick = tuple(replace(one, minutes=Decimal("0.5")) for one in looks(10, each=2 * SECOND))
    assert codes(walk(quick)) == ["pace"]
    assert codes(walk((replace(quick[0], minutes=Decimal("0.4")), *quick[1:]))) == []


def test_what_was_not_looked_at_takes_no_time():
    """In the dark most are "couldn't check": the minutes of the few looked at count, and no run of answers."""
    dark = tuple(
        replace(one, answer="could_not_check") if one.number > 4 else one for one in looks(30, each=SECOND)
    )
    assert codes(walk(dark)) == []
    absent = tuple(replace(one, answer="not_on_cart") for one in dark)
    assert codes(walk(absent)) == []


@pytest.mark.parametrize(
    ("in_a_row", "gap", "asked"),
    [
        pytest.param(10, 1.2, ["pace"], id="ten at 1.2 seconds"),
        pytest.param(9, 1.2, [], id="nine"),
        pytest.param(10, 1.201, [], id="ten a little slower"),
        pytest.param(10, 0, ["pace"], id="ten at one instant"),
    ],
)
def test_many_answers_in_a_row_quicker_than_a_look(in_a_row, gap, asked):
    """The whole walk takes its time; only a stretch of it does not."""
    slow = looks(20, each=timedelta(seconds=50))
    start = slow[-1].answered_at - BEGUN + timedelta(seconds=60)
    quick = tuple(
        look(21 + n, start + timedelta(seconds=gap * n), station="Left side") for n in range(in_a_row)
    )
    walked = walk((*slow, *quick))
    assert codes(walked) == asked
    if asked:
        assert (
            f"{in_a_row} answers in a row came within 1.2 seconds of one another."
            in the_sign(walked).question
        )
        assert ("They run", "from “Check 21” to “Check 30”") in the_sign(walked).evidence


def test_a_fault_told_breaks_the_run():
    ticked = looks(19, each=SECOND, minutes=Decimal("0.2"))
    assert codes(walk(ticked)) == ["pace"]
    assert (
        codes(walk(tuple(replace(one, answer="wrong") if one.number == 10 else one for one in ticked))) == []
    )


@pytest.mark.parametrize(
    ("seconds", "words"), [(1, "1 second"), (60, "60 seconds"), (60.5, "2 minutes"), (360, "6 minutes"), (361, "7 minutes")]
)  # fmt: skip
def test_a_span_is_never_said_shorter_than_it_was(seconds, words):
    one = look(1, timedelta(seconds=seconds), minutes=Decimal(60))
    assert f"1 look in {words};" in the_sign(walk((one,))).question


def at_stations(*order: str) -> Walk:
    """Four looks a station; the stations answered in this order instead of the sheet's."""
    taken = []
    for turn, station in enumerate(order):
        first = STATIONS.index(station) * 4
        taken += [
            look(first + n + 1, timedelta(minutes=3 * turn, seconds=40 * n), station=station)
            for n in range(4)
        ]
    return walk(tuple(taken))


@pytest.mark.parametrize(
    ("order", "asked"),
    [
        pytest.param(STATIONS, [], id="as the sheet has it"),
        pytest.param((*STATIONS[1:], STATIONS[0]), [], id="one put off to the end"),
        pytest.param((*STATIONS[2:], *STATIONS[:2]), [], id="two put off to the end"),
        pytest.param((*STATIONS[3:], *STATIONS[:3]), ["order"], id="half put off"),
        pytest.param(STATIONS[::-1], ["order"], id="the other way round"),
    ],
)
def test_the_order_of_the_stops(order, asked):
    assert codes(at_stations(*order)) == asked


def test_the_question_of_a_cart_walked_the_other_way_round():
    sign = the_sign(at_stations(*STATIONS[::-1]))
    assert sign.question == (
        "Was the cart walked another way round? 5 of 6 stops were answered out of the sheet’s turn."
    )
    evidence = dict(sign.evidence)
    assert evidence["The sheet’s order (pass)"].startswith("Cab (1), Front and engine (1), ")
    assert evidence["As answered"].startswith("Left side (1), Rear (1), ")


def test_looks_put_off_or_answered_again_do_not_break_the_order():
    """The last look of every station comes last of all, and those in the other order: the middle look of each stands."""
    later = [
        replace(one, answered_at=BEGUN + timedelta(minutes=90 - one.number)) if one.number % 4 == 0 else one
        for one in at_stations(*STATIONS).looks
    ]
    assert codes(walk(tuple(later))) == []


def test_of_many_stops_a_quarter_may_be_out_of_turn():
    """Sixteen stops in four passes: three out of turn are put up with, four are asked about."""
    stops = [(number, 1 + number // 4, f"Station {number % 4}") for number in range(16)]

    def answered(moved: int) -> Walk:
        order = [*stops[moved:], *stops[:moved]]
        return walk(
            tuple(
                look(number + 1, timedelta(minutes=turn + 1), walk_pass=walk_pass, station=station)
                for turn, (number, walk_pass, station) in enumerate(order)
            )
        )

    assert codes(answered(3)) == []
    assert codes(answered(4)) == ["order"]


def test_answers_at_one_instant_stand_in_the_sheets_order():
    assert "order" not in codes(walk(tuple(replace(one, answered_at=BEGUN + SECOND) for one in looks(30))))


@pytest.mark.parametrize(
    "moved",
    [
        pytest.param({"started_at": BEGUN + timedelta(minutes=2)}, id="begun after its first answers"),
        pytest.param({"ended_at": BEGUN - timedelta(minutes=2)}, id="signed before its last answers"),
        pytest.param({"started_at": datetime(2026, 12, 25, tzinfo=UTC)}, id="begun after it was signed"),
        pytest.param({"ended_at": datetime(1970, 1, 1, tzinfo=UTC)}, id="signed in 1970"),
    ],
)
def test_a_clock_moved_is_the_question_and_pace_and_order_are_not_judged(moved):
    sign = the_sign(walk(looks(30, each=timedelta(seconds=2)), **moved))
    assert sign.code == "clock"
    assert sign.question.startswith("Was the tablet’s clock put right during this walk-round?")


def test_a_minutes_slack_at_either_end_of_the_clock():
    early = look(1, -timedelta(minutes=1))
    assert codes(walk((early, *looks(30)[1:]))) == []
    assert codes(walk((replace(early, answered_at=early.answered_at - SECOND), *looks(30)[1:]))) == ["clock"]


HASH = "3c7e0f1182b4d6a9"


def turned(points: int) -> str:
    """The hash with so many of its points turned over."""
    return f"{int(HASH, 16) ^ sum(1 << 5 * n for n in range(points)):016x}"


def earlier(number: int, look_alike: str) -> History:
    return History(shots=(EarlierShot(f"{number:064x}", look_alike, "Daily pre-start of WC-14, 3 Nov 2026"),))


@pytest.mark.parametrize(
    ("points", "asked"),
    [(0, ["photo"]), (3, ["photo"]), (4, []), (12, [])],
    ids=["alike in every point", "three apart", "four apart", "another picture"],
)
def test_a_photo_like_an_earlier_one(points, asked):
    assert codes(walk(shots=(shot(1, HASH),)), earlier(2, turned(points))) == asked


def test_the_question_names_both_photos():
    sign = the_sign(walk(shots=(shot(1, HASH),)), earlier(1, HASH))
    assert sign.question == "Was this photographed afresh? It looks like a photo the yard had already."
    assert sign.evidence == (("Check 1, Rear", "Daily pre-start of WC-14, 3 Nov 2026: the very same file"),)
    near = the_sign(walk(shots=(shot(1, HASH), shot(3, "00ff00ff00ff00ff"))), earlier(2, turned(2)))
    assert "1 of 2 looks like" in near.question
    assert near.evidence[0][1].endswith("2 of 64 points differ")


@pytest.mark.parametrize(
    "featureless",
    ["0" * 16, "f" * 16, f"{0x7F:016x}"],
    ids=["a lens cap", "an even light", "seven points"],
)
def test_pictures_without_features_are_not_taken_for_one_another(featureless):
    assert codes(walk(shots=(shot(1, featureless),)), earlier(2, featureless)) == []
    assert codes(walk(shots=(shot(1, featureless),)), earlier(1, featureless)) == ["photo"]


@pytest.mark.parametrize("broken", ["", "not a hash", "g" * 16, "-1"])
def test_a_hash_that_is_none_is_like_nothing(broken):
    assert codes(walk(shots=(shot(1, broken),)), earlier(2, broken)) == []


def test_one_photo_may_show_two_faults_at_one_station_but_not_at_two():
    assert codes(walk(shots=(shot(1, HASH), shot(1, HASH)))) == []
    sign = the_sign(walk(shots=(shot(1, HASH), shot(1, HASH, station="Cab"))))
    assert sign.evidence == (("Check 1, Cab", "Check 1, Rear, of this walk-round: the very same file"),)


def test_a_long_list_of_photos_is_cut():
    shots = tuple(shot(number, HASH) for number in range(8))
    sign = the_sign(walk(shots=shots), earlier(99, HASH))
    assert "8 of 8 look like" in sign.question
    assert len(sign.evidence) == 7
    assert sign.evidence[-1] == ("And", "2 more")


def test_every_sign_has_its_rule_and_basis_and_asks():
    rules = Rules()
    for code in ("clock", "pace", "order", "photo", "still", "round", "rate"):
        told = explain(code, rules)
        assert told.rule.endswith(".")
        assert told.basis.endswith(".")
    with pytest.raises(KeyError):
        explain("guilty", rules)


@pytest.mark.parametrize(
    "figures",
    [
        {"pace_share": Decimal(0)},
        {"order_share": Decimal("1.1")},
        {"chance": Fraction(1, 2)},
        {"quick_run": 1},
        {"rate_least": 0},
        {"quick_seconds": Decimal(0)},
        {"still_km": Decimal(-1)},
        {"photo_points": 16},
        {"photo_points": -1},
        {"window_days": 0},
    ],
)
def test_a_figure_that_cannot_be_is_refused(figures):
    with pytest.raises(ValueError, match=r"\.$"):
        Rules(**figures)


def test_the_yards_own_figures_are_used():
    walked = walk(looks(30, each=timedelta(seconds=11)))
    assert codes(walked) == ["pace"]
    assert codes(walked, rules=Rules(pace_share=Decimal("0.25"))) == []
    half, nine_minutes = Rules(pace_share=Decimal("0.5")), timedelta(minutes=9)
    assert codes(walk(looks(30, each=nine_minutes / 30)), rules=half) == []
    assert codes(walk(looks(30, each=(nine_minutes - SECOND) / 30)), rules=half) == ["pace"]


MOMENTS = st.datetimes(min_value=datetime(1970, 1, 1), max_value=datetime(9998, 1, 1), timezones=st.just(UTC))  # noqa: DTZ001
TEXTS = st.text(max_size=8)
VALUES = TEXTS | st.sampled_from(["0", "7", "7.0", "NaN", "1e99", "-3", "9" * 40, "12.5"])
LOOKS = st.builds(
    Look,
    number=st.integers(1, 400),
    check=TEXTS,
    title=TEXTS,
    walk_pass=st.integers(0, 4),
    station=TEXTS,
    place=TEXTS,
    answer=st.sampled_from(["good", "wrong", "not_on_cart", "could_not_check"]),
    value=VALUES,
    unit=st.sampled_from(["", "mm", "km", "psi", "eighths"]),
    minutes=st.decimals(0, 30, places=2),
    answered_at=MOMENTS,
    meter=st.sampled_from(["", "km"]),
)


@given(
    st.lists(LOOKS, max_size=30),
    st.lists(st.builds(Shot, TEXTS, TEXTS | st.just(HASH), TEXTS, TEXTS), max_size=4),
    MOMENTS,
    MOMENTS,
    st.booleans(),
)
def test_whatever_a_tablet_sent_is_answered(taken, shots, started_at, ended_at, told):
    walk_round = walk(
        tuple(taken),
        started_at=started_at,
        ended_at=ended_at,
        signed_at=ended_at,
        shots=tuple(shots),
        told=told,
    )
    for sign in signs(walk_round, NOTHING):
        assert "?" in sign.question
        assert all(isinstance(part, str) and part for pair in sign.evidence for part in pair if pair[0])
