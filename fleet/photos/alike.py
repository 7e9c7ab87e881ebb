"""Which photos of the fleet look like given ones: found by the database without comparing each with each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from uuid import UUID

from django.db.models import Q, Value
from django.db.models.functions import Substr

from fleet.models.photos import Photo
from fleet.photos.likeness import distance

HEX_DIGITS = 16
MOST_POINTS = HEX_DIGITS - 1


def photos_alike(hashes: Iterable[str], *, points: int) -> dict[str, list[UUID]]:
    """For each perceptual hash the photos that differ from it in at most so many points, itself among them. One query.

    Cut into more pieces than points may differ, two such hashes have one piece in common: the database looks for that
    alone, and only what it finds is compared. points: 0 to 15, else ValueError.
    """
    if not 0 <= points <= MOST_POINTS:
        raise ValueError(f"Between 0 and {MOST_POINTS} points may differ.")
    wanted = sorted(set(hashes))
    if not wanted:
        return {}
    width = HEX_DIGITS // next(pieces for pieces in (1, 2, 4, 8, 16) if pieces > points)
    starts = range(0, HEX_DIGITS, width)
    shares_a_piece = Q()
    found = Photo.objects.all()
    for start in starts:
        piece = {f"piece_{start}": Substr("perceptual_hash", Value(start + 1), Value(width))}
        found = found.alias(**piece)
        shares_a_piece |= Q(**{f"piece_{start}__in": {one[start : start + width] for one in wanted}})
    by_piece: defaultdict[tuple[int, str], list[tuple[UUID, str]]] = defaultdict(list)
    for pk, other in found.filter(shares_a_piece).values_list("pk", "perceptual_hash"):
        for start in starts:
            by_piece[start, other[start : start + width]].append((pk, other))

    def near(one: str) -> Iterator[UUID]:
        seen = {pk: other for start in starts for pk, other in by_piece[start, one[start : start + width]]}
        for pk, other in seen.items():
            apart = distance(one, other)
            if apart is not None and apart <= points:
                yield pk

    return {one: list(near(one)) for one in wanted}
