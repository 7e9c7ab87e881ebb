"""How far two photos' perceptual hashes lie apart. Alike suggests that two photos are one; it never proves it."""

from __future__ import annotations

POINTS = 64
# A picture without features (a lens cap, a dark night) has nearly all its points alike, like any other such picture.
LEAST_FEATURES = 8
_FEATURES = range(LEAST_FEATURES, POINTS - LEAST_FEATURES + 1)


def distance(one: str, other: str) -> int | None:
    """In how many of the 64 points two hashes (16 hex digits) differ. None where either has too few features to tell by, or
    is no such hash at all."""
    first, second = _points(one), _points(other)
    return None if first is None or second is None else (first ^ second).bit_count()


def _points(perceptual_hash: str) -> int | None:
    try:
        points = int(perceptual_hash, 16)
    except ValueError:
        return None
    return points if points >= 0 and points.bit_count() in _FEATURES else None
