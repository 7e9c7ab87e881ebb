"""Rules of the VIN: how it is tidied, what is refused, and that a failing check digit only ever warns."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.vin import check_digit, check_digit_warning, normalise, weighted_sum

GOOD = "1M8GDM9AXKP042788"
ALPHABET = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"


@pytest.mark.parametrize(
    "typed",
    [
        pytest.param("1M8GDM9AXKP042788", id="as kept"),
        pytest.param("1m8gdm9axkp042788", id="small letters"),
        pytest.param(" 1M8 GDM9AX KP042788\n", id="spaces"),
        pytest.param("1M8-GDM9AX-KP042788", id="hyphens"),
    ],
)
def test_a_vin_is_tidied(typed: str) -> None:
    assert normalise(typed) == GOOD


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        pytest.param(GOOD[:-1], "17 characters and this one has 16", id="one short"),
        pytest.param(GOOD + "8", "17 characters and this one has 18", id="one long"),
        pytest.param("", "17 characters and this one has 0", id="empty"),
        pytest.param("I" + GOOD[1:], "no letter I: .* probably a one", id="letter I"),
        pytest.param("o" + GOOD[1:], "no letter O: .* probably a zero", id="letter O"),
        pytest.param("Q" + GOOD[1:], "no letter Q: .* probably a zero", id="letter Q"),
        pytest.param("/" + GOOD[1:], "only letters and figures: / can't", id="sign"),
        pytest.param("É" + GOOD[1:], "only letters and figures: É can't", id="accent"),
        pytest.param("\N{ARABIC-INDIC DIGIT ONE}" + GOOD[1:], "only letters and figures", id="other digits"),
    ],
)
def test_what_can_not_be_a_vin_is_refused_in_a_sentence(typed: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        normalise(typed)


def test_a_vin_that_adds_up_raises_no_warning() -> None:
    assert check_digit_warning(GOOD) is None


@pytest.mark.parametrize("first", "12345")
def test_a_failing_north_american_vin_looks_misread(first: str) -> None:
    vin = _failing(first)
    warning = check_digit_warning(vin)
    assert warning is not None
    assert f"is {vin[8]} and the check digit works out as {check_digit(vin)}" in warning
    assert "looks misread" in warning


@pytest.mark.parametrize("first", ["6", "7", "J", "W", "Y"])
def test_a_failing_vin_from_elsewhere_may_be_right(first: str) -> None:
    warning = check_digit_warning(_failing(first))
    assert warning is not None
    assert "may still be right" in warning


def _failing(first: str) -> str:
    vin = first + GOOD[1:]
    wrong = next(digit for digit in "0123456789X" if digit != check_digit(vin))
    return vin[:8] + wrong + vin[9:]


@given(st.text(ALPHABET, min_size=17, max_size=17))
def test_the_ninth_character_weighs_nothing_and_the_right_one_never_warns(vin: str) -> None:
    right = vin[:8] + check_digit(vin) + vin[9:]
    assert check_digit(right) == check_digit(vin)
    assert check_digit_warning(right) is None


@given(st.text(ALPHABET, min_size=17, max_size=17), st.integers(0, 16), st.sampled_from("0123456789"))
def test_one_figure_misread_as_another_is_noticed(vin: str, place: int, figure: str) -> None:
    right = vin[:8] + check_digit(vin) + vin[9:]
    if place == 8 or not right[place].isdigit() or right[place] == figure:
        return
    misread = right[:place] + figure + right[place + 1 :]
    assert check_digit_warning(misread) is not None


@pytest.mark.parametrize("vin", [GOOD[:-1], GOOD + "8"], ids=["short", "long"])
def test_only_a_whole_vin_has_a_check_digit(vin: str) -> None:
    with pytest.raises(ValueError, match="17 characters"):
        check_digit(vin)


def test_a_character_with_no_value_is_refused() -> None:
    with pytest.raises(ValueError, match="'I' can't be in a VIN"):
        weighted_sum("I" + GOOD[1:])
