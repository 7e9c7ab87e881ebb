"""What hire watches: a cart working without today's pre-start, and a cart due out without a pre-hire check that holds."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max

from fleet.alerts.rules import Condition
from fleet.sentences import clock_words, moment_words
from hire.models import Line
from inspections.models import WalkRound
from inspections.standing import pre_hire_faults
from people.roles import Role
from people.yard import yard_policy

LONGEST_LOOK_BACK = 60


def last_owed_day(line: Line, *, by: time, stood_down: frozenset[date], at: datetime) -> date | None:
    """The latest day for which a cart on hire owes its pre-start: the hire's own calendar day, its hour passed, not
    stood down, and after the day it was handed over (that day has its gate-out check). None when none is owed.

    It never becomes "not owed" by midnight: until today's hour has passed, yesterday's is still the one owed.
    """
    if line.handed_over_at is None:
        return None
    zone = ZoneInfo(line.agreement.time_zone)
    today = at.astimezone(zone).date()
    first = line.handed_over_at.astimezone(zone).date() + timedelta(days=1)
    for back in range(LONGEST_LOOK_BACK):
        day = today - timedelta(days=back)
        if day < first:
            return None
        if day not in stood_down and datetime.combine(day, by, zone) <= at:
            return day
    return None


def pre_starts_lapsed(at: datetime) -> Iterator[Condition]:
    """Carts out on a hire that uses our book, whose owed pre-start nobody has signed. Three queries."""
    lines = list(
        Line.objects.out_now()
        .filter(agreement__pre_start_book="ours")
        .for_list()
        .prefetch_related("stand_downs")
    )
    signed = dict(
        WalkRound.objects.filter(
            cart__in=[line.cart_id for line in lines], purpose="daily", signed_at__lte=at
        )
        .values_list("cart")
        .annotate(Max("signed_at"))
    )
    by = yard_policy().pre_start_by
    for line in lines:
        stood_down = frozenset(row.on for row in line.stand_downs.all())
        owed = last_owed_day(line, by=by, stood_down=stood_down, at=at)
        if owed is None:
            continue
        zone = ZoneInfo(line.agreement.time_zone)
        day_start = datetime.combine(owed, time.min, zone).astimezone(UTC)
        last = signed.get(line.cart_id)
        if last is not None and last >= day_start:
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
            what=f"{line.cart.fleet_number} has no pre-start for {owed:%A %d %B} at {line.agreement.place_of_work}.",
            how_we_know=f"{known} The hire keeps its pre-starts with us, and the day is not stood down.",
            if_not=f"Ring {line.agreement.customer.name}: a cart nobody walked round should not be working.",
            due_at=datetime.combine(owed, by, zone).astimezone(UTC),
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
