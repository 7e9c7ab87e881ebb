"""What tyres and wheel nuts say of a cart: rubber too old, tread that will be down before it is back, nuts to be checked again."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from uuid import UUID

from django.db.models import Q

from fleet.models.carts import Cart
from fleet.models.wheels import TyreFitting
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from people.roles import MANAGERS, WORKSHOP
from people.yard import at_local, yard_day, yard_policy
from servicing.models.tyres import TyreForecast
from servicing.retorques import open_retorques, standing_of, stands_words

# TY-10, VERIFIED-S: the United Kingdom's limit for a front axle; elsewhere common practice, no source.
OLDEST_YEARS = 10
# Few tyres and hubs have something to say at any time: asked of many carts, all are read and no cart is named to the database.
NAMED = 100


def made_before(on: date) -> date:
    """Tyres made before this day are older than ten years on `on`."""
    if (on.month, on.day) == (2, 29):
        return date(on.year - OLDEST_YEARS, 3, 1)
    return date(on.year - OLDEST_YEARS, on.month, on.day)


def too_old_on(made_on: date) -> date:
    """The first day on which a tyre is older than ten years."""
    is_leap_day = (made_on.month, made_on.day) == (2, 29)
    birthday = date(made_on.year + OLDEST_YEARS, 2, 28) if is_leap_day else date(
        made_on.year + OLDEST_YEARS, made_on.month, made_on.day
    )  # fmt: skip
    return birthday + timedelta(days=1)


def age_findings(fitting: TyreFitting, window: Window) -> Findings:
    """A steer tyre over ten years old: stops the cart where the law says so, is a caution elsewhere."""
    made_on = fitting.tyre.made_on
    if made_on is None or not fitting.wheel_position.steers:
        return Findings()
    on, record = too_old_on(made_on), Record("tyre_fitting", fitting.pk)
    where, is_over = f"Tyre at {fitting.wheel_position.words}", on <= yard_day(window.start)
    if "uk" not in {yard_policy().rule_set, window.rule_set}:
        sentence = f"{where} was made in {made_on:%b %Y}: over 10 years old on a steer axle. Have a tyre fitter look at it."
        return Findings(
            cautions=(Caution("tyre.age", sentence, record, None, "a tyre’s age"),) if is_over else ()
        )
    if is_over:
        sentence = f"{where} was made in {made_on:%b %Y}: over 10 years old on a front axle."
        blocker = Blocker(
            "tyre.age", sentence, record, MANAGERS, "Workshop manager, with a tyre change", weight=12
        )
        return Findings(blockers=(blocker,))
    if on >= yard_day(window.end):
        return Findings()
    sentence = (
        f"{where} is 10 years old on {on - timedelta(days=1):%-d %b %Y}: it may not stay on a front axle."
    )
    return Findings(
        cautions=(Caution("tyre.age", sentence, record, at_local(on, time.min), "a tyre’s tenth year"),)
    )


def _day(on: date) -> str:
    return f"{on.day} {on:%b}"


def change_out_words(row: TyreForecast) -> str:
    """The forecast day with its spread: "about 14 Dec (9 Dec to 22 Dec)"; its day must be known."""
    assert row.on_change_out is not None
    low, high = row.on_change_out_low, row.on_change_out_high
    spread = ""
    if low is not None:
        spread = f" ({_day(low)} to {_day(high)})" if high is not None else f" (from {_day(low)})"
    return f"about {_day(row.on_change_out)}{spread}"


def _down(row: TyreForecast, window: Window) -> Caution:
    position, record = row.fitting.wheel_position, Record("tyre_fitting", row.fitting_id)
    assert row.on_change_out is not None
    whose = "the fleet’s wear" if row.basis == "fleet" else "its wear"
    if row.on_change_out <= yard_day(window.start):
        sentence = f"Tyre at {position.words}: by {whose} it is down to its change-out depth. Measure it before it leaves."
        return Caution("tyre.forecast", sentence, record, None, "a tyre to measure", weight=40)
    sentence = f"Tyre at {position.words}: change out {change_out_words(row)} by {whose}."
    due_at = at_local(row.on_change_out, time.min)
    return Caution("tyre.forecast", sentence, record, due_at, "a tyre change", weight=40)


def forecast_findings(
    carts: Sequence[Cart], windows: Mapping[UUID, Window], *, held: Collection[UUID]
) -> Iterator[tuple[UUID, Findings]]:
    """Tyres that will be down inside their cart's window, and dual pairs that are not alike. One query. held: fittings that
    stop their cart already."""
    latest = yard_day(max(window.end for window in windows.values()))
    rows = TyreForecast.objects.filter(
        Q(on_change_out__lt=latest) | ~Q(pair_words=""),
        fitting__period__upper_inf=True,
    ).select_related("fitting__wheel_position")
    if len(carts) <= NAMED:
        rows = rows.filter(fitting__wheel_position__cart__in=carts)
    told: set[tuple[UUID, int, str]] = set()
    for row in rows:
        place, cautions = row.fitting.wheel_position, []
        if place.cart_id not in windows:
            continue
        window, hub = windows[place.cart_id], (place.cart_id, place.axle, place.side)
        is_inside = row.on_change_out is not None and row.on_change_out < yard_day(window.end)
        if is_inside and row.fitting_id not in held:
            cautions.append(_down(row, window))
        if row.pair_words and hub not in told:
            told.add(hub)
            side = "left" if place.side == "L" else "right"
            sentence = f"Duals at axle {place.axle} {side}: {row.pair_words}"
            record = Record("tyre_fitting", row.fitting_id)
            cautions.append(Caution("tyre.pair", sentence, record, None, "a dual pair", weight=45))
        if cautions:
            yield place.cart_id, Findings(cautions=tuple(cautions))


def retorque_findings(
    carts: Sequence[Cart], windows: Mapping[UUID, Window], *, at: datetime
) -> Iterator[tuple[UUID, Findings]]:
    """Nuts to be checked again: before it leaves they stop the cart, and nobody passes that; on the road they are its driver's.
    One query."""
    tasks = open_retorques()
    if len(carts) <= NAMED:
        tasks = tasks.filter(cart__in=carts)
    for task in tasks:
        if task.cart_id not in windows:
            continue
        found = standing_of(task, at=at)
        sentence, record = stands_words(found, task, at=at), Record("retorque", task.pk)
        if found.holds_cart:
            blocker = Blocker(
                "retorque.outstanding" if found.step == 1 else "retorque.overdue", sentence, record, WORKSHOP,
                "Fitter, with a wrench: check the nuts and record it", weight=12,
            )  # fmt: skip
            yield task.cart_id, Findings(blockers=(blocker,))
        else:
            caution = Caution(
                "retorque.second",
                sentence,
                record,
                task.shift_ends_at,
                "wheel nuts to check again",
                weight=20,
            )
            yield task.cart_id, Findings(cautions=(caution,))
