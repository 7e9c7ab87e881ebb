"""Hires on which a cart was swapped: which line took another's place, and which carts could."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.db.models import Q

from fleet.models.carts import Cart
from fleet.readiness import Window, readiness_of
from fleet.sentences import readiness_sentence
from hire.models.agreements import Line
from hire.models.off_hire import OffHire
from hire.models.pencils import Pencil

# Time to walk a cart and let it go; only for choosing one, the gate judges it when it leaves. Common practice, no source.
UNTIL_IT_LEAVES = timedelta(hours=2)
ORDER = {"ready": 0, "limits": 1, "held": 2}


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


def carts_for_the_rest(line: Line, *, at: datetime) -> list[tuple[Cart, str]]:
    """Carts that are in, and neither promised nor pencilled for anybody until the hire ends, each with its readiness in a
    sentence: those that may go first. Queries do not grow with the carts."""
    start = at + UNTIL_IT_LEAVES
    end = max(line.promised.upper, start + timedelta(hours=1))
    about = line.agreement
    window = Window(
        start, end, leaves_by=about.leaves_by, works_on=about.works_on, is_potable=about.water == "potable"
    )
    busy = Line.objects.unfinished().filter(Q(handed_over_at__isnull=False) | Q(promised__overlap=(at, end)))
    kept = Pencil.objects.standing(at=at).filter(period__overlap=(at, end))
    free = Cart.objects.filter(retired_on=None).exclude(pk__in=busy.values("cart"))
    carts = list(free.exclude(pk__in=kept.values("cart")))
    answers = readiness_of(carts, window=window, at=at)
    carts.sort(key=lambda cart: (ORDER[answers[cart.pk].state], cart.fleet_number))
    return [(cart, readiness_sentence(answers[cart.pk])) for cart in carts]
