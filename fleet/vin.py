"""The vehicle identification number: how it is written down, and whether its check digit adds up.

A VIN is copied off a plate with mud on it. Letters that can't be in one are refused; a check digit that
fails is only ever a warning, because outside North America a VIN may fail it lawfully (OS-47, MEMORY).
"""

from types import MappingProxyType

VIN_LENGTH = 17
_CHECK_POSITION = 8

# 49 CFR 565.15(c), OS-40, VERIFIED-S.
_LETTER_VALUES = MappingProxyType(
    dict(
        zip(
            "0123456789ABCDEFGHJKLMNPRSTUVWXYZ",
            (*range(10), *range(1, 9), *range(1, 6), 7, 9, *range(2, 10)),
            strict=True,
        )
    )
)
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)
_LOOKALIKES = MappingProxyType({"I": "one", "O": "zero", "Q": "zero"})
# First characters given to makers in the United States, Canada and Mexico: from memory.
_NORTH_AMERICA = frozenset("12345")


def normalise(text: str) -> str:
    """The VIN as it is kept: capitals, no spaces or hyphens, 17 characters, letters and figures but no I, O
    or Q.

    ValueError with a sentence for anything else. A look-alike letter is never swapped silently: the plate has
    to be read again. Source: OS-40, 49 CFR 565.15(c), VERIFIED-S.
    """
    vin = "".join(text.split()).replace("-", "").upper()
    for letter, figure in _LOOKALIKES.items():
        if letter in vin:
            raise ValueError(
                f"A VIN has no letter {letter}: look at the plate again, it is probably a {figure}."
            )
    strange = sorted({character for character in vin if character not in _LETTER_VALUES})
    if strange:
        raise ValueError(f"A VIN has only letters and figures: {' '.join(strange)} can't be in it.")
    if len(vin) != VIN_LENGTH:
        raise ValueError(f"A VIN has {VIN_LENGTH} characters and this one has {len(vin)}.")
    return vin


def check_digit(vin: str) -> str:
    """What the ninth character ought to be: "0" to "9" or "X".

    vin: 17 characters as `normalise` gives them; the ninth itself weighs nothing, so anything may stand
    there. ValueError when another character can't be in a VIN or the length is wrong. Source: OS-40.
    """
    if len(vin) != VIN_LENGTH:
        raise ValueError(f"A VIN has {VIN_LENGTH} characters and this one has {len(vin)}.")
    remainder = weighted_sum(vin) % 11
    return "X" if remainder == 10 else str(remainder)


def weighted_sum(vin: str) -> int:
    """The sum the check digit is the remainder of: each character's value times its place's weight, OS-40."""
    total = 0
    for place, (character, weight) in enumerate(zip(vin, _WEIGHTS, strict=True)):
        if place == _CHECK_POSITION:
            continue
        if character not in _LETTER_VALUES:
            raise ValueError(f"{character!r} can't be in a VIN.")
        total += _LETTER_VALUES[character] * weight
    return total


def check_digit_warning(vin: str) -> str | None:
    """A sentence to show beside a VIN whose check digit fails, or None when it adds up. Never a reason to
    refuse.

    vin: as `normalise` gives it. A North American VIN that fails was almost surely misread; any other may be
    right as it stands. Source: OS-40 VERIFIED-S for the sum, OS-47 MEMORY for who is bound by it.
    """
    expected = check_digit(vin)
    if vin[_CHECK_POSITION] == expected:
        return None
    misfit = f"The ninth character is {vin[_CHECK_POSITION]} and the check digit works out as {expected}."
    if vin[0] in _NORTH_AMERICA:
        return f"{misfit} This VIN looks misread: look at the plate again."
    return f"{misfit} Look at the plate once more; outside North America the VIN may still be right."
