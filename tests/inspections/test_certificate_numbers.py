"""Numbers and verify codes: what a check digit promises, proved, and how forgivingly both are read."""

import itertools

import pytest

from inspections.certificates.numbers import (
    CODE_ALPHABET,
    CODE_LENGTH,
    PaperNumber,
    check_digit,
    new_verify_code,
    paper_number,
    parse_paper_number,
    parse_verify_code,
)

DIGITS = "0123456789"
SERIALS = (1, 9, 10, 42, 99, 101, 4711, 54321, 99999, 100000, 1234567)


@pytest.mark.parametrize("serial", SERIALS)
def test_every_single_wrong_digit_is_found(serial):
    number = paper_number("SLK", 2026, serial)
    places = [place for place, symbol in enumerate(number) if symbol in DIGITS]
    wrong = [
        number[:place] + digit + number[place + 1 :]
        for place in places
        for digit in DIGITS
        if digit != number[place]
    ]
    assert len(wrong) == 9 * len(places)
    for text in wrong:
        with pytest.raises(ValueError, match="has a slip in it"):
            parse_paper_number(text)


def test_every_swap_of_neighbours_is_found_by_the_check_digit():
    for length in (2, 3):
        for digits in map("".join, itertools.product(DIGITS, repeat=length)):
            whole = digits + str(check_digit(digits))
            assert check_digit(whole) == 0
            for place in range(len(whole) - 1):
                left, right = whole[place], whole[place + 1]
                if left != right:
                    assert check_digit(whole[:place] + right + left + whole[place + 2 :]) != 0


@pytest.mark.parametrize("serial", SERIALS)
def test_a_number_is_read_back(serial):
    number = paper_number("SLK", 2026, serial)
    assert parse_paper_number(number) == PaperNumber(prefix="SLK", year=2026, serial=serial)
    assert str(parse_paper_number(number)) == number


@pytest.mark.parametrize(
    "typed", [" slk-2026-00042-5 ", "SLK 2026 00042 5", "SLK – 2026 – 00042 – 5", "slk−2026−00042−5"]
)
def test_a_number_is_read_as_people_type_it(typed):
    assert parse_paper_number(typed).serial == 42


@pytest.mark.parametrize(
    "typed", ["", "42", "SLK-26-00042-5", "S-2026-00042-5", "SLK-2026-42-5", "SLK-2026-00042"]
)
def test_what_is_no_number_is_refused_in_a_sentence(typed):
    with pytest.raises(ValueError, match="not a certificate number"):
        parse_paper_number(typed)


@pytest.mark.parametrize(
    ("prefix", "year", "serial"), [("slk", 2026, 1), ("S", 2026, 1), ("SLK", 26, 1), ("SLK", 2026, 0)]
)
def test_a_number_that_could_not_be_read_back_is_not_made(prefix, year, serial):
    with pytest.raises(ValueError, match=r"prefix|serial"):
        paper_number(prefix, year, serial)


@pytest.mark.parametrize("digits", ["", "12a", "١٢"])
def test_a_check_digit_is_of_decimal_digits(digits):
    with pytest.raises(ValueError, match="decimal digits"):
        check_digit(digits)


def test_a_verify_code_carries_at_least_60_bits_in_letters_that_look_like_nothing_else():
    assert CODE_LENGTH * (len(set(CODE_ALPHABET)).bit_length() - 1) >= 60
    assert len(CODE_ALPHABET) == len(set(CODE_ALPHABET)) == 32
    assert not set("ILOU") & set(CODE_ALPHABET)


def test_verify_codes_differ_and_use_the_whole_alphabet():
    codes = {new_verify_code() for _ in range(400)}
    assert len(codes) == 400
    assert set("".join(codes)) - {"-"} == set(CODE_ALPHABET)


@pytest.mark.parametrize("typed", ["5N9V-4J3H-V42C5", "5n9v4j3hv42c5", " 5N9V 4J3H V42C5 "])
def test_a_verify_code_is_read_as_people_type_it(typed):
    assert parse_verify_code(typed) == "5N9V-4J3H-V42C5"


def test_lookalikes_are_read_as_the_digits_they_are_taken_for():
    assert parse_verify_code("oil0-1111-00000") == "0110-1111-00000"


@pytest.mark.parametrize("typed", ["", "5N9V-4J3H-V42C", "5N9V-4J3H-V42C55", "5N9V-4J3H-V42U5"])
def test_what_is_no_code_is_refused_in_a_sentence(typed):
    with pytest.raises(ValueError, match="not a verify code"):
        parse_verify_code(typed)
