"""Numbers a person can read down a telephone: the paper's number with its check digit, and the short verify code."""

import re
import secrets
from dataclasses import dataclass

# Damm's quasigroup of order ten: H. M. Damm, 2004 (from memory). Tests prove from this table alone that every wrong
# digit and every swap of two neighbours changes the outcome.
_DAMM = (
    (0, 3, 1, 7, 5, 9, 8, 6, 4, 2),
    (7, 0, 9, 2, 1, 5, 4, 8, 6, 3),
    (4, 2, 0, 6, 8, 7, 1, 3, 5, 9),
    (1, 7, 5, 0, 9, 8, 3, 4, 2, 6),
    (6, 1, 2, 3, 0, 4, 5, 9, 7, 8),
    (3, 6, 7, 4, 2, 0, 9, 5, 8, 1),
    (5, 8, 6, 9, 7, 2, 0, 1, 3, 4),
    (8, 9, 4, 5, 3, 6, 2, 0, 1, 7),
    (9, 4, 3, 8, 6, 1, 7, 2, 0, 5),
    (2, 5, 8, 1, 4, 3, 6, 7, 9, 0),
)
_NUMBER = re.compile(r"([A-Z]{2,6})-([0-9]{4})-([0-9]{5,9})-([0-9])")

# Base 32 without I, L, O and U (from memory, after Crockford): nothing looks like something else or spells a word.
CODE_ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
CODE_LENGTH = 13
_CODE_LOOKALIKES = str.maketrans({"O": "0", "I": "1", "L": "1"})


@dataclass(frozen=True, kw_only=True, slots=True)
class PaperNumber:
    """A paper's number: the yard's prefix, the year of issue, and the serial within that year, from 1."""

    prefix: str
    year: int
    serial: int

    def __str__(self) -> str:
        digits = f"{self.year:04d}{self.serial:05d}"
        return f"{self.prefix}-{digits[:4]}-{digits[4:]}-{check_digit(digits)}"


def check_digit(digits: str) -> int:
    """Return the Damm check digit of a string of decimal digits. ValueError for anything else, or nothing."""
    if not (digits.isascii() and digits.isdigit()):
        raise ValueError("A check digit is of decimal digits only.")
    interim = 0
    for digit in digits:
        interim = _DAMM[interim][int(digit)]
    return interim


def paper_number(prefix: str, year: int, serial: int) -> str:
    """Return a number such as SLK-2026-00042-5. The check digit covers year and serial, not the letters.

    ValueError for a prefix that is not 2 to 6 capital letters, a year not of four digits, or a serial below 1.
    """
    if not re.fullmatch(r"[A-Z]{2,6}", prefix):
        raise ValueError("The yard's prefix is two to six capital letters.")
    if not 1000 <= year <= 9999 or not 1 <= serial <= 999_999_999:
        raise ValueError("A number has a year of four digits and a serial from 1.")
    return str(PaperNumber(prefix=prefix, year=year, serial=serial))


def parse_paper_number(text: str) -> PaperNumber:
    """Read a number as a person types it: any case, spaces or dashes of any length between its parts.

    ValueError with a plain sentence where it is no number of ours, or its check digit does not fit.
    """
    tidy = re.sub(r"[\s\-\u2010-\u2015\u2212]+", "-", text.strip().upper())
    match = _NUMBER.fullmatch(tidy)
    if match is None:
        raise ValueError("That is not a certificate number: it looks like SLK-2026-00042-5.")
    prefix, year, serial, check = match.groups()
    if check_digit(year + serial) != int(check):
        raise ValueError(f"{tidy} has a slip in it: the last digit does not fit the rest.")
    return PaperNumber(prefix=prefix, year=int(year), serial=int(serial))


def new_verify_code() -> str:
    """Return a fresh random verify code of 65 bits: 13 symbols in groups of 4, 4 and 5."""
    return _grouped("".join(secrets.choice(CODE_ALPHABET) for _ in range(CODE_LENGTH)))


def parse_verify_code(text: str) -> str:
    """Return the code as stored from what a person typed: any case or spacing, O for 0, I or L for 1.

    ValueError with a plain sentence where it cannot be a code.
    """
    tidy = re.sub(r"[\s\-]+", "", text.upper()).translate(_CODE_LOOKALIKES)
    if len(tidy) != CODE_LENGTH or set(tidy) - set(CODE_ALPHABET):
        raise ValueError("That is not a verify code: it has 13 letters and digits.")
    return _grouped(tidy)


def _grouped(code: str) -> str:
    return f"{code[:4]}-{code[4:8]}-{code[8:]}"
