"""What hire watches: a cart working without its shift's pre-start, and a cart due out without a pre-hire check that holds."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from fleet.alerts.rules import Condition
from fleet.sentences import clock_words, moment_words
from hire.models import Line
from hire.promises import hours_of
from hire.shifts import Shift, last_owed_shift
from inspections.models import WalkRound
from inspections.querysets import last_pre_start
from inspections.standing import pre_hire_faults
from people.roles import Role
from people.yard import yard_policy


def _shift_words(shift: Shift) -> str:
    """The shift as it is said: "Tuesday 01 December", "the night shift of Tuesday 01 December"."""
    day = f"{shift.on:%A %d %B}"
    return f"the {shift.words} of {day}" if shift.words else day


def pre_starts_lapsed(at: datetime) -> Iterator[Condition]:
    """Carts out on a hire that uses our book, whose owed pre-start nobody has signed. Three queries."""
    lines = list(
        Line.objects.out_now()
        .filter(agreement__pre_start_book="ours")
        .for_list()
        .prefetch_related("stand_downs")
    )
    signed = WalkRound.objects.last_pre_starts(carts=[line.cart_id for line in lines], at=at)
    for line in lines:
        owed = last_owed_shift(
            hours_of(line.agreement.time_zone, line.agreement.shifts_a_day),
            handed_over_at=line.handed_over_at,
            stood_down=frozenset(row.on for row in line.stand_downs.all()),
            at=at,
        )
        if owed is None:
            continue
        last = last_pre_start(signed, line.cart_id, line.pk)
        if last is not None and last >= owed.starts_at:
            continue
        known = (
            f"The last one came {moment_words(last, at=at)}."
            if last
            else "None has been signed on this hire."
        )
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{line.cart.fleet_number} has no pre-start for {_shift_words(owed)} at {line.agreement.place_of_work}.",
            how_we_know=f"{known} The hire keeps its pre-starts with us, and the day is not stood down.",
            if_not=f"Ring {line.agreement.customer.name}: a cart nobody walked round should not be working.",
            due_at=owed.due_at,
        )


def pre_hires_missing(at: datetime) -> Iterator[Condition]:
    """Carts due out within the yard's lead time whose pre-hire check is missing or will not hold. Three queries."""
    lines = list(Line.objects.leaving_by(at=at + yard_policy().due_out_lead).for_list())
    starts = {line.cart_id: max(line.promised.lower, at) for line in lines}
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
