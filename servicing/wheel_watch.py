"""What is watched of tyres and wheel nuts: tread down or soon to be, nuts not checked again. One growing alert a tyre or hub."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from uuid import UUID

from django.db.models import Count, Max, Min, Q

from fleet.alerts.rules import Condition
from fleet.models.wheels import TyreFitting
from fleet.sentences import day_words, source_words
from people.roles import Role
from people.yard import at_local, yard_day, yard_policy
from servicing.models.tyres import TyreForecast
from servicing.retorques import open_retorques, rule_words, standing_of, stands_words
from servicing.tyre_limits import limits_at
from servicing.wheel_due import change_out_words

# Raised this far above the change-out depth, so that a tyre can be ordered; from field practice, no source.
EARLY_MM = Decimal("1.0")
# A forecast wanders by some days from week to week: it raises inside the yard's lead and clears this much beyond. Ours.
KEEPS = timedelta(days=10)
IF_NOT = "Under the change-out depth the cart does not leave; under the legal depth nobody may pass it."


def _forecast_of(fitting: TyreFitting) -> TyreForecast | None:
    found: TyreForecast | None = getattr(fitting, "forecast", None)
    return found if found is not None and found.on_change_out is not None else None


def _by_depth(fitting: TyreFitting, *, at: datetime) -> Condition | None:
    change_out, legal = limits_at(steers=fitting.wheel_position.steers)
    depth: Decimal | None = fitting.least_mm  # type: ignore[attr-defined] # annotated
    count: int = fitting.count  # type: ignore[attr-defined] # annotated
    if depth is None:
        return None
    near = depth < change_out.depth_mm + EARLY_MM and count >= 2
    if change_out.is_met_by(depth) and not near:
        return None
    rank = "stop" if not legal.is_met_by(depth) else "today" if not change_out.is_met_by(depth) else "soon"
    readings, position = f"{count} depth reading{'s' if count != 1 else ''}", fitting.wheel_position
    return _condition(
        fitting,
        rank=rank,
        what=f"{position.cart.fleet_number}: the tyre at {position.words} is down to {depth} mm; "
        f"change out at {change_out.depth_mm.normalize():f} mm.",
        how=f"{readings}, the last {day_words(fitting.last_at, at=at)}; "  # type: ignore[attr-defined] # annotated
        f"legal {legal.as_written} ({source_words(legal.source)}).",
    )


def _by_forecast(fitting: TyreFitting, row: TyreForecast, *, at: datetime, lead_on: date) -> Condition:
    assert row.on_change_out is not None
    position = fitting.wheel_position
    readings = f"{row.readings_count} depth reading{'s' if row.readings_count != 1 else ''}"
    leaning = {"readings": "", "fleet": ", and the fleet’s wear alone"}.get(
        row.basis, ", and the fleet’s wear"
    )
    return _condition(
        fitting,
        rank="soon",
        what=f"{position.cart.fleet_number}: by its wear the tyre at {position.words} is to be changed out "
        f"{change_out_words(row)}.",
        how=f"{readings}, the last {day_words(row.last_read_at, at=at) if row.last_read_at else 'not known'}{leaning}.",
        due_at=at_local(row.on_change_out, time.min),
        only_keeps=row.on_change_out > lead_on,
    )


def _condition(
    fitting: TyreFitting,
    *,
    rank: str,
    what: str,
    how: str,
    due_at: datetime | None = None,
    only_keeps: bool = False,
) -> Condition:
    return Condition(
        subject_kind="tyre_fitting",
        subject_id=fitting.pk,
        cart_id=fitting.wheel_position.cart_id,
        rank=rank,
        for_role=Role.WORKSHOP_MANAGER,
        what=what,
        how_we_know=how,
        if_not=IF_NOT,
        due_at=due_at,
        act="Order or change the tyre",
        evidence_at=fitting.last_at,  # type: ignore[attr-defined] # annotated
        only_keeps=only_keeps,
    )


def tyres_due(at: datetime) -> Iterator[Condition]:
    """Tyres whose least believed depth is near or under the change-out depth, or whose wear brings them there within the yard's
    lead; one alert a tyre, which grows.

    The least of all readings is used, so a gauge that reads half a millimetre more next time clears nothing. Near the limit two
    readings are wanted; under it one is enough. A forecast raises inside the lead and keeps its alert a little beyond. One query.
    """
    policy = yard_policy()
    lead_on = yard_day(at) + policy.tyre_lead
    deepest = max(policy.tread_steer_mm, policy.tread_other_mm, Decimal(5)) + EARLY_MM
    fittings = (
        TyreFitting.objects.filter(period__upper_inf=True, wheel_position__cart__retired_on=None)
        .annotate(
            least_mm=Min("tread_readings__depth_mm"),
            count=Count("tread_readings"),
            last_at=Max("tread_readings__read_at"),
        )
        .filter(Q(least_mm__lte=deepest) | Q(forecast__on_change_out__lte=lead_on + KEEPS))
        .select_related("wheel_position__cart", "tyre", "forecast")
    )
    for fitting in fittings:
        found, row = _by_depth(fitting, at=at), _forecast_of(fitting)
        if found is not None:
            yield found
        elif row is not None and row.on_change_out is not None and row.on_change_out <= lead_on + KEEPS:
            yield _by_forecast(fitting, row, at=at, lead_on=lead_on)


def retorques_due(at: datetime) -> Iterator[Condition]:
    """Nuts waiting for the check in the yard, due or overdue on the road. One query."""
    for task in open_retorques():
        found = standing_of(task, at=at)
        if found.state in ("settling", "running"):
            continue
        yield Condition(
            subject_kind="retorque",
            subject_id=task.pk,
            cart_id=task.cart_id,
            rank="stop" if found.state == "overdue" else "today",
            for_role=Role.WORKSHOP_MANAGER,
            what=f"{task.cart.fleet_number}: {stands_words(found, task, at=at)}",
            how_we_know=f"{task.why}, {day_words(task.fitted_at, at=at)}. {rule_words(found)}",
            if_not="Nuts that have settled let a wheel work loose, and a wheel that comes off kills.",
            due_at=found.from_at if found.step == 1 else task.shift_ends_at,
            act="Check the nuts and record it",
            evidence_at=task.first_at or task.fitted_at,
        )


def forecast_changed_cart(cart_id: UUID, at: datetime) -> None:
    """The outbox's handler: one cart's tyres are forecast anew after one was changed."""
    from servicing.tyre_forecasts import forecast_cart  # noqa: PLC0415 - for weight: the web process reads rows, not arrays

    forecast_cart(cart_id, at)
