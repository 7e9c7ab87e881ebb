"""What servicing watches of services that come round: soon, due, past their tolerance, and those that cannot be reckoned."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta

from django.db.models import Q
from django.template.defaultfilters import capfirst

from fleet.alerts.rules import Condition
from fleet.sentences import day_words
from people.roles import Role
from people.templatetags.screen import day_year
from people.yard import at_local, yard_day
from servicing.models.plans import ServiceDue
from servicing.service_due import Meters, meters_now, passed_line, unknown_words, used_words

SOON = timedelta(days=14)
# A forecast wanders by some days: an alert once raised stands until the day is this much further off.
WANDERS = timedelta(days=7)


def _condition(row: ServiceDue, meters: Meters, at: datetime) -> Condition | None:
    today, number, name = yard_day(at), row.cart.fleet_number, row.plan.name
    is_due, is_over = passed_line(row, "due", meters, today), passed_line(row, "stop", meters, today)
    unknown = row.state == "unknown"
    if not (is_due or unknown) and (row.on is None or row.on > today + SOON + WANDERS):
        return None
    what = (
        f"{number}: the {name} cannot be reckoned: {unknown_words(row, meters)}." if unknown
        else f"{number}: the {name} is past its tolerance." if is_over
        else f"{number}: the {name} is due now." if is_due
        else f"{number}: the {name} falls due about {day_year(row.on)}."
    )  # fmt: skip
    read = f" Meters last read {day_words(row.read_at, at=at)}." if row.read_at else ""
    return Condition(
        subject_kind="service_due",
        subject_id=row.pk,
        cart_id=row.cart_id,
        # A round that stops nothing is chased in the morning's list, never by itself.
        rank="today" if is_due and row.plan.stops else "soon",
        for_role=Role.WORKSHOP_MANAGER,
        what=what,
        how_we_know=f"{capfirst(used_words(row, meters))}.{read}",
        if_not="Read its meters at its next check, or settle which reading is right." if unknown
        else "The cart may not leave the gate until it is done." if is_over and row.plan.stops
        else "Past its tolerance the cart may not leave the gate." if row.plan.stops
        else "It is chased until it is done; the cart may go.",
        due_at=at_local(row.on, time.min) if row.on else None,
        act="Record the service" if is_due else "Plan its day",
        evidence_at=row.read_at,
        only_keeps=not is_due and not unknown and row.on is not None and row.on > today + SOON,
    )  # fmt: skip


def services_fall_due(at: datetime) -> Iterator[Condition]:
    """Services due within two weeks, due, past their tolerance or not to be reckoned. Two queries.

    Which rows may matter is asked of what the worker last reckoned and of the lines against the meters as they stand.
    """
    far = yard_day(at) + SOON + WANDERS
    rows = list(
        ServiceDue.objects.filter(
            Q(on__lte=far) | Q(state__in=["due", "overdue", "unknown"]), cart__retired_on=None
        ).select_related("cart", "plan")
    )
    meters = meters_now([row.cart_id for row in rows], at=at) if rows else {}
    for row in rows:
        if condition := _condition(row, meters, at):
            yield condition
