"""The yard's lot: which two looks of a walk-round want a fresh photo. Nobody knows which before the yard has drawn.

A lot is a chance word, and the looks follow from it, the cart, and a key that only the yard has. So nothing is kept: the
signed record carries the word, and the yard works the looks out again from the record's own answers.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

PICKS = 2
# Key out and standing still: in the other passes the engine runs, or the cart moves, and hands stay where they are.
PHOTO_PASS = 1


@dataclass(frozen=True, slots=True)
class Candidate:
    """A look as the lot sees it. photo: the check wants a photo anyway; may_be_absent: the thing may not be there."""

    check: str
    place: str
    station: str
    walk_pass: int
    photo: bool
    may_be_absent: bool


def pick(lot: str, *, cart: str, looks: Iterable[Candidate], key: bytes) -> tuple[Candidate, ...]:
    """The looks this lot falls on, at two stations; fewer where the sheet has no more to photograph. The first drawn first.

    What may not be on the cart is drawn only where nothing else is left at two stations.
    """
    can_be = [look for look in looks if look.walk_pass == PHOTO_PASS and not look.photo]
    sure = [look for look in can_be if not look.may_be_absent]
    drawn = _first_at_each_station(lot, cart, sure, key)
    if len(drawn) < PICKS:
        drawn = _first_at_each_station(lot, cart, can_be, key)
    return tuple(drawn[:PICKS])


def _first_at_each_station(lot: str, cart: str, looks: Sequence[Candidate], key: bytes) -> list[Candidate]:
    def rank(look: Candidate) -> bytes:
        said = f"{lot}\x1f{cart}\x1f{look.check}\x1f{look.place}"
        return hmac.digest(key, said.encode("utf-8", "surrogatepass"), hashlib.sha256)

    first: dict[str, Candidate] = {}
    for look in sorted(looks, key=rank):
        first.setdefault(look.station, look)
    return list(first.values())
