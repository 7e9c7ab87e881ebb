"""What hire watches: a cart working without its shift's pre-start, and a cart due out without a pre-hire check that holds."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from fleet.alerts.rules import Condition
from fleet.sentences import clock_words, moment_words, past_words
from hire.lapsed import watched_lines
from hire.models.agreements import Line
from hire.models.breakdowns import Breakdown
from hire.models.off_hire import OffHire
from hire.owed_facts import Out, works_of
from hire.querysets import overdue
from hire.shifts import LOOK_BACK, Shift, last_owed_shift
from inspections.models import WalkRound
from inspections.querysets import last_pre_start
from inspections.standing import pre_hire_faults
from people.roles import Role
from people.yard import yard_policy


def _shift_words(shift: Shift) -> str:
    """The shift as it is said: "Tuesday 01 December", "the night shift of Tuesday 01 December"."""
    day = f"{shift.on:%A %-d %B}"
    return f"the {shift.words} of {day}" if shift.words else day


def pre_starts_lapsed(at: datetime) -> Iterator[Condition]:
    """Carts out on a hire that uses our book, whose owed pre-start nobody has signed; one called off stands. Twelve queries."""
    lines = list(watched_lines())
    works = works_of([Out.of(line) for line in lines], since=at - LOOK_BACK, at=at)
    signed = WalkRound.objects.last_pre_starts(carts=[line.cart_id for line in lines], at=at)
    for line in lines:
        owed = last_owed_shift(works[line.pk], at=at)
        if owed is None:
            continue
        last = last_pre_start(signed, line.cart_id, line.pk)
        if last is not None and last >= owed.shift.starts_at:
            continue
        known = (
            f"The last one came {moment_words(last, at=at)}."
            if last
            else "None has been signed on this hire."
        )
        why = (
            f"It is a day off, and the cart was used: {owed.why}."
            if owed.why
            else "It is a day the hire works, and no meter says that the cart stood."
        )
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{line.cart.fleet_number} has no pre-start for {_shift_words(owed.shift)} at {line.agreement.place_of_work}.",
            how_we_know=f"{known} The hire keeps its pre-starts with us. {why}",
            if_not=f"Ring {line.agreement.customer.name}: a cart nobody walked round should not be working.",
            due_at=owed.shift.due_at,
        )


# A cart a little late is on its way; after this somebody rings. Common practice, no source.
LATE_GRACE = timedelta(hours=2)
# How much of a report stands in an alert.
SHORT = 80


def _late_words(line: Line, call: OffHire | None, *, at: datetime) -> str:
    if call is None:
        return f"was expected back {past_words(line.promised.upper, at=at)} and is still out"
    if call.left_site_at is not None:
        return f"left the site {past_words(call.left_site_at, at=at)} and is not back"
    return f"was called off {past_words(call.called_at, at=at)} and is not picked up"


def returns_overdue(at: datetime) -> Iterator[Condition]:
    """Carts still out past the time they were expected back, or called off and not fetched by the time agreed, with the next hire
    that waits for each. Three queries."""
    off = {call.line_id: call for call in OffHire.objects.awaiting()}
    late = list(Line.objects.out_now().filter(overdue(at=at - LATE_GRACE)).for_list())
    waiting = next_after(late)
    for line in late:
        call, after = off.get(line.pk), waiting.get(line.cart_id)
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{line.cart.fleet_number} {_late_words(line, call, at=at)}.",
            how_we_know=f"{call.number if call else line.agreement.number}, {line.agreement.customer.name}: "
            "no return is recorded.",
            if_not=f"It is wanted by {after.agreement.customer.name} {moment_words(after.promised.lower, at=at)}."
            if after
            else f"It {'earns nothing' if call else 'goes on being charged'}, and nobody else can have it.",
            due_at=line.expected_back,
            act=("Find out where it is" if call.left_site_at else "Send somebody for it")
            if call
            else "Ring and agree when it comes back",
        )


def breakdowns(at: datetime) -> Iterator[Condition]:
    """Carts that broke down on hire, until the defect is closed, the cart is back, or another has its place. One query."""
    down = Breakdown.objects.still_down().select_related("line__cart", "line__agreement", "link")
    for one in down.order_by("defect", "at"):
        words = one.words if len(one.words) <= SHORT else f"{one.words[: SHORT - 1].rstrip()}…"
        yield Condition(
            subject_kind="defect",
            subject_id=one.defect_id,
            cart_id=one.line.cart_id,
            rank="stop",
            for_role=Role.WORKSHOP_MANAGER,
            what=f"{one.line.cart.fleet_number} has broken down at {one.line.agreement.place_of_work[:80]}: {words}",
            how_we_know=f"{one.link.for_words} told us {past_words(one.at, at=at)} by the customer’s link. "
            f"Ring {one.phone}. It {'can' if one.can_be_driven else 'cannot'} be driven.",
            if_not="They stand without water and wait for somebody to ring.",
            due_at=one.at,
            act="Ring them",
            evidence_at=one.at,
        )


def next_after(lines: Sequence[Line]) -> dict[UUID, Line]:
    """The next promise of each cart that is still out, by cart id. One query."""
    to_come = (
        Line.objects.to_come()
        .filter(cart__in=[line.cart_id for line in lines])
        .order_by("cart_id", "promised")
        .distinct("cart_id")
        .for_list()
    )
    return {line.cart_id: line for line in to_come}


def _leaves_at(line: Line, *, at: datetime) -> datetime:
    """The moment its pre-hire check has to hold at: as it leaves, or as it was loaded on its float for that."""
    leaves = max(line.promised.lower, at)
    return line.loaded_for(leaves) or leaves


def pre_hires_missing(at: datetime) -> Iterator[Condition]:
    """Carts due out within the yard's lead time whose pre-hire check is missing or will not hold. Three queries."""
    lines = list(Line.objects.leaving_by(at=at + yard_policy().due_out_lead).for_list())
    starts = {line.cart_id: _leaves_at(line, at=at) for line in lines}
    faults = pre_hire_faults([line.cart for line in lines], starts=starts, at=at)
    for line in lines:
        fault = faults.get(line.cart_id)
        if not fault:
            continue
        leaves = line.promised.lower
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.WORKSHOP_MANAGER,
            what=f"{line.cart.fleet_number} leaves {moment_words(leaves, at=at)} and its pre-hire check does not hold.",
            how_we_know=fault,
            if_not=f"The gate will not release it to {line.agreement.customer.name} at {clock_words(leaves)}.",
            due_at=leaves,
        )
