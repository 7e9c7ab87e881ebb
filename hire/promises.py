"""What hire says of a cart: whether it is promised or still out elsewhere, and when it is next wanted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.contrib.postgres.expressions import ArraySubquery
from django.db.models import Exists, F, OuterRef, Q
from django.db.models.functions import Coalesce

from fleet.models.carts import Cart
from fleet.needs import Need, Promise
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from fleet.sentences import OUT, moment_words
from hire.models.agreements import Line, StandDown
from hire.models.off_hire import OffHire
from hire.owner_standing import owner_findings
from hire.querysets import LineQuerySet
from hire.shifts import Hours, running_shift
from hire.wet_findings import wet_findings
from people.roles import DESK
from people.yard import yard_policy

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
    )


def hours_of(time_zone: str, shifts_a_day: int) -> Hours:
    """When the shifts of a hire are: its own zone and shifts, the yard's hours."""
    policy = yard_policy()
    return Hours(ZoneInfo(time_zone), shifts_a_day, policy.pre_start_by, policy.second_shift_at)


def owed_from(left_at: datetime, since: datetime | None) -> datetime:
    """From when a hire that left owes its pre-starts as its work is now: since the book or the shifts were changed."""
    return max(left_at, since) if since else left_at


def _clash(line: Line, window: Window, at: datetime) -> Blocker | Caution | None:
    who, record = f"{line.agreement.number}, {line.agreement.customer.name}", Record("hire_line", line.pk)
    if line.handed_over_at is not None:
        if line.promised.upper <= window.start and window.start > at:
            sentence = f"Out on {who}; expected back {moment_words(line.promised.upper, at=at)}."
            return Caution(OUT, sentence, record, line.promised.upper, "it is expected back")
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
        .filter(Q(handed_over_at__isnull=False) | Q(promised__overlap=span))
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
    """The hire a cart is out on, else its next promise not yet over, by cart id, in one query of one row a cart."""
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
    # A shift that runs now began yesterday, today or tomorrow, whatever the zones.
    near = (at.date() - timedelta(days=1), at.date() + timedelta(days=1))
    stood_down = StandDown.objects.filter(line=OuterRef("pk"), on__range=near).values("on")
    # Once it is called off it stands: nobody works with it, and no pre-start is owed.
    called_off = OffHire.objects.standing().filter(line=OuterRef("pk"))
    rows = lines.annotate(stood_down=ArraySubquery(stood_down), is_called_off=Exists(called_off)).values_list(
        "pk", "cart_id", "promised__startswith", "promised__endswith", "handed_over_at", "back_at", "stood_down",
        "is_called_off",
        "agreement__leaves_by", "agreement__works_on", "agreement__customer__name", "agreement__place_of_work",
        "agreement__pre_start_book", "agreement__time_zone", "agreement__shifts_a_day", "agreement__water",
        "agreement__owed_since",
    )  # fmt: skip
    for (
        line_id,
        cart_id,
        starts,
        ends,
        left_at,
        back_at,
        days,
        is_called_off,
        leaves_by,
        works_on,
        customer,
        place,
        book,
        zone,
        shifts,
        water,
        owed_since,
    ) in rows:
        window = Window(
            starts,
            ends,
            leaves_by=leaves_by,
            works_on=works_on,
            line_id=line_id,
            is_potable=water == "potable",
        )
        is_out = left_at is not None and back_at is None
        shift = (
            running_shift(
                hours_of(zone, shifts),
                handed_over_at=owed_from(left_at, owed_since),
                stood_down=frozenset(days),
                at=at,
            )
            if is_out and left_at and book == "ours" and not is_called_off
            else None
        )
        yield (
            cart_id,
            Need(
                window,
                f"{customer}, {place}",
                "hire_line",
                line_id,
                is_out,
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
        .annotate(starts_at=Coalesce("handed_over_at", "promised__startswith"))
        .filter(starts_at__lt=end)
        .order_by("starts_at")
        .values_list("pk", "cart_id", "starts_at", "promised__endswith", "handed_over_at", "back_at",
                     "agreement__customer__name", "agreement__place_of_work")
    )  # fmt: skip
    found = []
    for line_id, cart_id, starts, promised_end, left_at, back_at, customer, place in lines:
        is_out = left_at is not None and back_at is None
        ends = back_at or (max(promised_end, at) if is_out else promised_end)
        if ends > starts:
            label, is_late = f"{customer}, {place}", is_out and promised_end < at
            found.append(Promise(cart_id, starts, ends, label, "hire_line", line_id, is_out, is_late))
    return found
