"""What hire says of a cart: whether it is promised or still out elsewhere, and when it is next wanted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import F, Q
from django.db.models.functions import Coalesce

from fleet.models.carts import Cart
from fleet.needs import Need, Promise
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from fleet.sentences import OUT, moment_words
from hire.models.agreements import Line
from hire.models.off_hire import OffHire
from hire.owed_facts import Out, works_of
from hire.owner_standing import owner_findings
from hire.querysets import LineQuerySet
from hire.shifts import running_shift
from hire.wet_findings import wet_findings
from people.roles import DESK

# A shift that runs now is judged by so much of the record.
NEAR = timedelta(days=4)
DESK_WORDS = "Hire desk: move one of the two hires, or use another cart"


def window_of(line: Line) -> Window:
    """The window a line asks readiness for (its agreement loaded)."""
    return Window(
        start=line.promised.lower,
        end=line.promised.upper,
        leaves_by=line.agreement.leaves_by,
        works_on=line.agreement.works_on,
        line_id=line.pk,
        is_potable=line.agreement.water == "potable",
        rule_set=line.agreement.rule_set,
        loaded_at=line.loaded_for(line.promised.lower),
    )


def gate_window(line: Line, *, at: datetime) -> Window:
    """The window of leaving at a moment: from then, so that what could still be done counts as not done."""
    end = max(line.promised.upper, at + timedelta(hours=1))
    return replace(
        window_of(line), start=at, end=end, asks_gate=not line.is_out, loaded_at=line.loaded_for(at)
    )


def _clash(line: Line, window: Window, at: datetime) -> Blocker | Caution | None:
    who, record = f"{line.agreement.number}, {line.agreement.customer.name}", Record("hire_line", line.pk)
    if line.handed_over_at is not None:
        back = line.expected_back
        if back <= window.start and window.start > at:
            sentence = f"Out on {who}; expected back {moment_words(back, at=at)}."
            return Caution(OUT, sentence, record, back, "it is expected back")
        return Blocker("hire.overlap", f"Still out on {who}.", record, DESK, DESK_WORDS, weight=30)
    if line.promised.upper <= window.start or line.promised.lower >= window.end:
        return None
    starts, ends = moment_words(line.promised.lower, at=at), moment_words(line.promised.upper, at=at)
    sentence = f"Promised to {who}, {starts} to {ends}."
    return Blocker("hire.overlap", sentence, record, DESK, DESK_WORDS, weight=30)


def duties() -> dict[UUID, str]:
    """Where each cart that was ever handed over was last worked, "road" or "site", by cart id. One query."""
    lines = Line.objects.filter(handed_over_at__isnull=False).order_by("cart_id", "-handed_over_at")
    return dict(lines.distinct("cart_id").values_list("cart_id", "agreement__works_on"))


def findings(carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime) -> dict[UUID, Findings]:
    """Three queries however many carts: lines that are out, or promised inside the widest span asked about; owners' periods;
    and what their wet hires say, in four more where a hire is what asks."""
    span = (min(window.start for window in windows.values()), max(window.end for window in windows.values()))
    lines = (
        Line.objects.unfinished()
        .filter(cart__in=carts)
        .filter(Q(handed_over_at__isnull=False) | Q(kept__overlap=span))
        .for_list()
    )
    answers: defaultdict[UUID, list[Blocker | Caution]] = defaultdict(list)
    for line in lines:
        window = windows[line.cart_id]
        if line.pk != window.line_id and (finding := _clash(line, window, at)):
            answers[line.cart_id].append(finding)
    for cart_id, found in owner_findings(carts, windows=windows, at=at).items():
        answers[cart_id] += found
    for cart_id, said in wet_findings(carts, windows=windows, at=at):
        answers[cart_id].append(said)
    return {
        cart_id: Findings(
            tuple(item for item in pile if isinstance(item, Blocker)),
            tuple(item for item in pile if isinstance(item, Caution)),
        )
        for cart_id, pile in answers.items()
    }


def next_needs(carts: Iterable[Cart], *, at: datetime) -> dict[UUID, Need]:
    """The hire a cart is out on, else its next promise not yet over, by cart id: one query of one row a cart, and where
    some are out those that say whether a pre-start is owed (owed_facts), however many."""
    lines = (
        Line.objects.unfinished()
        .filter(Q(handed_over_at__isnull=False) | Q(promised__endswith__gt=at), cart__in=carts)
        .order_by("cart_id", F("handed_over_at").asc(nulls_last=True), "promised")
        .distinct("cart_id")
    )
    return dict(_needs(lines, at=at))


def need_of(line_id: UUID, *, at: datetime) -> Need:
    """One hire as the need it is, whatever else its cart is wanted for. KeyError when there is none."""
    [(_, need)] = _needs(Line.objects.filter(pk=line_id), at=at)
    return need


def _needs(lines: LineQuerySet, *, at: datetime) -> Iterator[tuple[UUID, Need]]:
    rows = list(lines.select_related("agreement__customer"))
    watched = [row for row in rows if row.is_out and row.agreement.pre_start_book == "ours"]
    # Once it is called off it stands: nobody works with it, and no pre-start is owed.
    off = (
        set(OffHire.objects.standing().filter(line__in=watched).values_list("line", flat=True))
        if watched
        else ()
    )
    works = works_of([Out.of(row) for row in watched if row.pk not in off], since=at - NEAR, at=at)
    for row in rows:
        about, work = row.agreement, works.get(row.pk)
        shift = running_shift(work, at=at) if work else None
        yield (
            row.cart_id,
            Need(
                window_of(row),
                f"{about.customer.name}, {about.place_of_work}",
                "hire_line",
                row.pk,
                row.is_out,
                shift.starts_at if shift else None,
            ),
        )


def promises_in(
    carts: Iterable[Cart | UUID], *, start: datetime, end: datetime, at: datetime
) -> list[Promise]:
    """Promises not yet over and times really out, that touch the span, earliest first. One query."""
    lines = (
        Line.objects.filter(cart__in=carts, cancelled_at=None)
        .filter(Q(back_at=None) | Q(back_at__gt=start), Q(promised__endswith__gt=start) | Q(handed_over_at__isnull=False))
        .annotate(
            starts_at=Coalesce("handed_over_at", "promised__startswith"),
            until=Coalesce("kept_until", "promised__endswith"),
        )
        .filter(starts_at__lt=end)
        .order_by("starts_at")
        .values_list("pk", "cart_id", "starts_at", "until", "handed_over_at", "back_at",
                     "agreement__customer__name", "agreement__place_of_work")
    )  # fmt: skip
    found = []
    for line_id, cart_id, starts, expected_back, left_at, back_at, customer, place in lines:
        is_out = left_at is not None and back_at is None
        ends = back_at or (max(expected_back, at) if is_out else expected_back)
        if ends > starts:
            label, is_late = f"{customer}, {place}", is_out and expected_back < at
            found.append(Promise(cart_id, starts, ends, label, "hire_line", line_id, is_out, is_late))
    return found
