"""How re-torques are read: the open ones with what their carts have run since, and what each wants next, in words."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db.models import DecimalField, F, OuterRef, QuerySet, Subquery

from fleet.models.carts import MeterReading
from fleet.sentences import moment_words, source_words
from servicing.models.wheels import Retorque
from servicing.retorque import Standing, km_run, standing


def with_km(tasks: QuerySet[Retorque]) -> QuerySet[Retorque]:
    """Each with `km_now`, the cart's last km read since the wheel was fitted (None: none), in the same query."""
    read = MeterReading.objects.filter(
        meter__cart=OuterRef("cart"), meter__kind="km", read_at__gte=OuterRef("fitted_at")
    ).order_by("-read_at", "-value")
    return tasks.annotate(km_now=Subquery(read.values("value")[:1], output_field=DecimalField()))


def open_retorques() -> QuerySet[Retorque]:
    """What is not checked twice yet, the longest off the hub first, carts loaded."""
    tasks = Retorque.objects.filter(second_at=None, replaced_at=None, cart__retired_on=None)
    return with_km(tasks).select_related("cart").order_by(F("first_at").asc(nulls_first=True), "fitted_at")


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


def standing_of(task: Retorque, *, at: datetime) -> Standing:
    """How a re-torque read by with_km() stands, by the rule set it was opened under."""
    now: Decimal | None = task.km_now  # type: ignore[attr-defined] # annotated
    return standing(
        rule_set=task.rule_set,
        fitted_at=task.fitted_at,
        first_at=task.first_at,
        second_at=task.second_at,
        shift_ends_at=task.shift_ends_at,
        run_km=km_run(_float(task.km_at_fitting), _float(now)),
        at=at,
    )


def ran_words(found: Standing) -> str:
    return "km since are not known" if found.km_run is None else f"{found.km_run:.0f} km since"


def _until(found: Standing, task: Retorque, at: datetime) -> str:
    by = f"{found.rule.due_km} to {found.rule.overdue_km} km after fitting"
    return f"{by}, or by {moment_words(task.shift_ends_at, at=at)}" if task.shift_ends_at else by


def stands_words(found: Standing, task: Retorque, *, at: datetime) -> str:
    """What the task wants now, as a sentence."""
    hub = f"Wheel nuts at {task.hub_words}"
    if found.state == "settling":
        return f"{hub}: check them again from {moment_words(found.from_at, at=at)}, before it leaves."
    if found.state == "first_due":
        return f"{hub}: check them again now, before it leaves."
    if found.state == "overdue" and found.step == 1:
        return f"{hub}: never checked after fitting, and {ran_words(found)}. Stop it and check them."
    if found.state == "overdue":
        return f"{hub}: the check after the first km is overdue, {ran_words(found)}. {task.second_for} was to do it."
    if found.step == 2:
        lead = "due now" if found.state == "second_due" else "to be done"
        return (
            f"{hub}: second check {lead} by {task.second_for}, {_until(found, task, at)}; {ran_words(found)}."
        )
    return f"{hub}: checked twice."


def rule_words(found: Standing) -> str:
    return (
        f"First check after 30 minutes standing. Second from {found.rule.due_km} km and overdue at {found.rule.overdue_km} km "
        f"({source_words(found.rule.source)}), or by the end of the first shift."
    )
