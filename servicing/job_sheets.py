"""Everything a job sheet shows, for one defect on a tablet or for many on paper, in a constant number of queries."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from uuid import UUID

from django.db.models import Prefetch

from fleet.drawing import lap_svg
from fleet.models.carts import Cart
from fleet.models.defects import Defect, DefectStep
from fleet.models.equipment import Extinguisher
from fleet.models.wheels import TyreFitting
from fleet.querysets import DefectQuerySet
from fleet.wanted import Wanted, wanted
from people.templatetags.screen import clock_words, day, span_words
from servicing import screens
from servicing.models.jobs import PartUsed, TimeOnJob
from servicing.queue import REPAIR_PRIOR
from servicing.waiting import Own, repair_times

CENT = Decimal("0.01")


@dataclass(frozen=True)
class PartLine:
    """A part on a job sheet: cost is in words, and says where it came from."""

    part: PartUsed
    quantity: str
    cost: str
    note: str


@dataclass(frozen=True)
class JobSheet:
    """One defect as a fitter needs it."""

    defect: Defect
    where: str
    state_words: str
    by_words: str
    facts: list[tuple[str, str, str]]
    wanted: Wanted | None
    photos: list[dict[str, str]]
    photos_after: list[dict[str, str]]
    lap: str
    parts: list[PartLine]
    parts_total: str
    times: list[tuple[str, str, str]]
    time_total: str
    expected: str
    on_now: tuple[UUID, ...]
    exchanges: list[tuple[str, str, UUID]]


@dataclass(frozen=True)
class _Around:
    """What was read once for all the sheets."""

    carts: Mapping[UUID, Cart]
    wanted: Mapping[str, Wanted]
    times: Mapping[tuple[str, str], Own]
    extinguishers: Sequence[Extinguisher]
    fittings: Sequence[TyreFitting]
    at: datetime


def money(amount: Decimal) -> str:
    """An amount in the yard's money, to the cent, a half cent up."""
    return f"{amount.quantize(CENT, rounding=ROUND_HALF_UP):,f}"


def sheet_rows(defects: DefectQuerySet) -> DefectQuerySet:
    """The defects with all their sheets are drawn from."""
    return defects.for_list().prefetch_related(
        "photos",
        Prefetch("parts", PartUsed.objects.select_related("taken_from_cart", "used_by")),
        Prefetch("times", TimeOnJob.objects.select_related("by")),
        Prefetch(
            "steps",
            DefectStep.objects.filter(after_state="repaired", photo__isnull=False)
            .select_related("photo")
            .prefetch_related("further_photos__photo"),
            to_attr="done_steps",
        ),
    )


def _parts(defect: Defect) -> tuple[list[PartLine], str]:
    lines, total, unknown = [], Decimal(0), 0
    for part in defect.parts.all():
        cost = part.cost
        if part.struck_at is None:
            total += cost or 0
            unknown += cost is None
        note = f"taken off {part.taken_from_cart.fleet_number}" if part.taken_from_cart else ""
        lines.append(
            PartLine(
                part, f"{part.quantity.normalize():f}", "not known" if cost is None else money(cost), note
            )
        )
    if not lines:
        return [], ""
    missing = f", {unknown} without a cost" if unknown else ""
    return lines, f"{money(total)}{missing}"


def _times(defect: Defect, at: datetime) -> tuple[list[tuple[str, str, str]], str]:
    rows, whole = [], timedelta(0)
    for one in defect.times.all():
        span = (one.ended_at or at) - one.started_at
        whole += span
        until = clock_words(one.ended_at) if one.ended_at else "now"
        rows.append(
            (
                one.by.full_name,
                f"{day(one.started_at)}, {clock_words(one.started_at)} to {until}",
                span_words(span),
            )
        )
    return rows, span_words(whole) if rows else ""


def _expected(defect: Defect, own: Mapping[tuple[str, str], Own]) -> str:
    found = own.get((defect.grade, defect.check_key))
    if found is None:
        return f"{span_words(REPAIR_PRIOR[defect.grade])} (common practice, no source)"
    return f"{span_words(timedelta(minutes=found.expected_minutes))} ({screens.past_words(found)})"


def _exchanges(defect: Defect, around: _Around) -> list[tuple[str, str, UUID]]:
    """What may be exchanged on this job, as (words, address name, id): tyres at its wheel, extinguishers where it is of one."""
    found = []
    if "extinguisher" in defect.check_key or defect.gear == "extinguisher":
        found += [
            (f"Exchange extinguisher {item.serial}", "servicing:extinguisher_exchange", item.pk)
            for item in around.extinguishers
            if item.cart_id == defect.cart_id
        ]
    if defect.place:
        found += [
            (f"Change the tyre at {fit.wheel_position.words}", "servicing:tyre_change", fit.pk)
            for fit in around.fittings
            if (fit.wheel_position.cart_id, fit.wheel_position.code) == (defect.cart_id, defect.place)
        ]
    return found


def sheets(defects: DefectQuerySet, *, at: datetime) -> list[JobSheet]:
    """The job sheets of these defects, in the order of the query. The same number of queries for one and for fifty."""
    rows = list(sheet_rows(defects))
    checks = {row.check_key for row in rows if row.check_key}
    carts = {
        cart.pk: cart for cart in Cart.objects.for_drawing().filter(pk__in={row.cart_id for row in rows})
    }
    fittings = TyreFitting.objects.filter(wheel_position__cart__in=carts, period__upper_inf=True)
    around = _Around(
        carts=carts,
        wanted=wanted(checks),
        times=repair_times(check_key__in=checks),
        extinguishers=list(Extinguisher.objects.filter(cart__in=carts)),
        fittings=list(fittings.select_related("wheel_position")),
        at=at,
    )
    return [_sheet(row, around) for row in rows]


def _sheet(defect: Defect, around: _Around) -> JobSheet:
    at = around.at
    parts, parts_total = _parts(defect)
    times, time_total = _times(defect, at)
    told = f"{day(defect.told_at)}, {clock_words(defect.told_at)}"
    facts = [("Told", told, f"by {defect.told_by_words}")]
    if defect.assigned_to:
        facts.append(("Whose job", defect.assigned_to.full_name, ""))
    return JobSheet(
        defect=defect,
        where=screens.where_words(defect),
        state_words=screens.state_words(defect, at=at),
        by_words=day(defect.due_on) if defect.due_on else "",
        facts=facts,
        wanted=around.wanted.get(defect.check_key),
        photos=screens.photo_rows(list(defect.photos.all()), alt=f"{defect.title}: as it was told"),
        photos_after=screens.photo_rows(
            [photo for step in defect.done_steps for photo in step.photos],  # type: ignore[attr-defined] # prefetched
            alt=f"{defect.title}: after the repair",
        ),
        lap=lap_svg(around.carts[defect.cart_id], defects=[defect], walk=False, id_prefix=f"lap-{defect.pk}"),
        parts=parts,
        parts_total=parts_total,
        times=times,
        time_total=time_total,
        expected=_expected(defect, around.times),
        on_now=tuple(one.by_id for one in defect.times.all() if one.ended_at is None),
        exchanges=_exchanges(defect, around),
    )
