"""Outside checks of the VIN check digit: published numbers, each with its row and status."""

import pytest

from fleet.vin import check_digit, check_digit_warning, weighted_sum


@pytest.mark.parametrize(
    ("vin", "total", "digit"),
    [
        pytest.param("1G4AH59H05G118341", 411, "4", id="OS-41 VERIFIED-S"),
        pytest.param("1J9RP1A30A1644345", 314, "6", id="OS-42 VERIFIED-S"),
        pytest.param("1M8GDM9A0KP042788", 351, "X", id="OS-43 VERIFIED-S"),
        pytest.param("1FAPP64R0LH123456", 403, "7", id="OS-44 VERIFIED-S"),
        pytest.param("11111111111111111", 89, "1", id="OS-45 VERIFIED-S"),
    ],
)
def test_published_numbers_add_up(vin: str, total: int, digit: str) -> None:
    assert weighted_sum(vin) == total
    assert check_digit(vin) == digit
    assert check_digit_warning(vin[:8] + digit + vin[9:]) is None


def test_letters_have_their_published_values() -> None:
    """OS-40, 49 CFR 565.15(c), VERIFIED-S: A-H 1-8, J-N 1-5, P 7, R 9, S-Z 2-9; the first place weighs 8."""
    published = {
        **dict(zip("ABCDEFGH", range(1, 9), strict=True)),
        **dict(zip("JKLMN", range(1, 6), strict=True)),
    }
    published |= {"P": 7, "R": 9, **dict(zip("STUVWXYZ", range(2, 10), strict=True))}
    found = {letter: weighted_sum(letter + "0" * 16) for letter in published}
    assert found == {letter: value * 8 for letter, value in published.items()}


def test_places_have_their_published_weights() -> None:
    """OS-40, VERIFIED-S: 8 7 6 5 4 3 2 10 0 9 8 7 6 5 4 3 2."""
    weights = [weighted_sum("0" * place + "1" + "0" * (16 - place)) for place in range(17)]
    assert weights == [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2]
