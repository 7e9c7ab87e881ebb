"""Which PINs are too easy to guess. Pure."""

import re
from itertools import pairwise

LENGTH = 6
_SIX_DIGITS = re.compile(r"[0-9]{6}", re.ASCII)


def pin_fault(pin: str) -> str:
    """Why this may not be a PIN, in a sentence; empty when it may."""
    if not _SIX_DIGITS.fullmatch(pin):
        return "A PIN is six digits."
    digits = [int(digit) for digit in pin]
    if len(set(digits)) == 1:
        return "One digit six times is the first thing anybody tries. Choose another PIN."
    steps = {after - before for before, after in pairwise(digits)}
    if steps in ({1}, {-1}):
        return "Digits that count up or down are easily guessed. Choose another PIN."
    if pin[:2] * 3 == pin:
        return "One pair of digits three times is easily guessed. Choose another PIN."
    return ""
