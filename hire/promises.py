"""What hire says of a cart: whether it is promised or still out elsewhere, and when it is next wanted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from uuid import UUID

from django.db.models import F, Q

from fleet.models.carts import Cart
from fleet.needs import Need
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from fleet.sentences import moment_words
from hire.models import Line
from people.roles import DESK

DESK_WORDS = "Hire desk: move one of the two hires, or use another cart"


def window_of(line: Line) -> Window:
    """The window a line asks readiness for (its agreement loaded)."""
    return Window(
        start=line.promised.lower,
        end=line.promised.upper,
        leaves_by=line.agreement.leaves_by,
        works_on=line.agreement.works_on,
        line_id=line.pk,
    )


def _clash(line: Line, window: Window, at: datetime) -> Blocker | Caution | None:
    who, record = f"{line.agreement.number}, {line.agreement.customer.name}", Record("hire_line", line.pk)
    if line.handed_over_at is not None:
        if line.promised.upper <= window.start and window.start > at:
            sentence = f"Out on {who}; expected back {moment_words(line.promised.upper, at=at)}."
            return Caution("hire.out", sentence, record, line.promised.upper, "it is expected back")
        return Blocker("hire.overlap", f"Still out on {who}.", record, DESK, DESK_WORDS, weight=30)
    if line.promised.upper <= window.start or line.promised.lower >= window.end:
        return None
    starts, ends = moment_words(line.promised.lower, at=at), moment_words(line.promised.upper, at=at)
    sentence = f"Promised to {who}, {starts} to {ends}."
    return Blocker("hire.overlap", sentence, record, DESK, DESK_WORDS, weight=30)


def findings(carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime) -> dict[UUID, Findings]:
    """One query however many carts: lines that are out, or promised inside the widest span asked about."""
    span = (min(window.start for window in windows.values()), max(window.end for window in windows.values()))
    lines = (
        Line.objects.unfinished()
        .filter(cart__in=carts)
        .filter(Q(handed_over_at__isnull=False) | Q(promised__overlap=span))
        .for_list()
    )
    answers: defaultdict[UUID, list[Blocker | Caution]] = defaultdict(list)
    for line in lines:
        window = windows[line.cart_id]
        if line.pk != window.line_id and (finding := _clash(line, window, at)):
            answers[line.cart_id].append(finding)
    return {
        cart_id: Findings(
            tuple(item for item in pile if isinstance(item, Blocker)),
            tuple(item for item in pile if isinstance(item, Caution)),
        )
        for cart_id, pile in answers.items()
    }


def next_needs(carts: Iterable[Cart], *, at: datetime) -> dict[UUID, Need]:
    """The hire a cart is out on, else its next promise not yet over, by cart id, in one query of one row a cart."""
    rows = (
        Line.objects.unfinished()
        .filter(Q(handed_over_at__isnull=False) | Q(promised__endswith__gt=at), cart__in=carts)
        .order_by("cart_id", F("handed_over_at").asc(nulls_last=True), "promised")
        .distinct("cart_id")
        .values_list(
            "pk", "cart_id", "promised__startswith", "promised__endswith", "handed_over_at",
            "agreement__leaves_by", "agreement__works_on",
            "agreement__customer__name", "agreement__place_of_work",
        )
    )  # fmt: skip
    needs = {}
    for line_id, cart_id, starts, ends, left_at, leaves_by, works_on, customer, place in rows:
        window = Window(starts, ends, leaves_by=leaves_by, works_on=works_on, line_id=line_id)
        needs[cart_id] = Need(window, f"{customer}, {place}", "hire_line", line_id, left_at is not None)
    return needs
