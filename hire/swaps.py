"""Hires on which a cart was swapped: which line took another's place."""

from __future__ import annotations

from collections.abc import Iterator

from hire.models.agreements import Line
from hire.models.off_hire import OffHire


def lines_from(line: Line) -> Iterator[Line]:
    """The line, then the one that took its place, and so on, while those stand."""
    while True:
        yield line
        swap = (
            OffHire.objects.swaps()
            .filter(line=line)
            .select_related("replaced_by__cart", "replaced_by__agreement__customer")
            .first()
        )
        if swap is None or swap.replaced_by is None:
            return
        line = swap.replaced_by


def line_now(line: Line) -> Line:
    """The line whose cart stands on this hire now."""
    return list(lines_from(line))[-1]


def swaps_before(line: Line) -> list[OffHire]:
    """The swaps that brought this line's cart, the latest first, each with the line whose place was taken."""
    swaps: list[OffHire] = []
    while swap := (
        OffHire.objects.standing()
        .filter(replaced_by=swaps[-1].line if swaps else line)
        .select_related("line__cart", "line__agreement__customer")
        .first()
    ):
        swaps.append(swap)
    return swaps


def lines_together(line: Line) -> list[Line]:
    """The lines charged as one hire: the one whose cart stands on it now comes last, after those whose place was taken."""
    last = line_now(line)
    return [*(swap.line for swap in reversed(swaps_before(last))), last]


def lock_hire(line: Line) -> list[Line]:
    """Every line charged with this one, locked in key order before any is locked alone."""
    ids = [one.pk for one in lines_together(line)]
    return list(Line.objects.select_for_update(of=("self",)).filter(pk__in=ids).order_by("pk"))
