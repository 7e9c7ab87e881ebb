"""What falls due on every cart in the coming weeks, of whatever kind, with how it is known: for the plan of weeks."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from django.db.models import Exists, F, Min, OuterRef, Prefetch, Q
from django.template.defaultfilters import capfirst

from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.models.equipment import DOCUMENT_KINDS, Document, Extinguisher, ExtinguisherService
from fleet.models.standing import Limit
from fleet.models.wheels import TyreFitting
from fleet.offered import offered
from fleet.readiness import Record
from fleet.sentences import source_words
from people.templatetags.screen import day_year
from people.yard import yard_day
from servicing.due import services_due
from servicing.extinguishers import DUE_WORDS
from servicing.models.jobs import RepairTime
from servicing.models.plans import ServiceDue
from servicing.queue import REPAIR_PRIOR
from servicing.retorques import open_retorques, standing_of, stands_words
from servicing.service_due import Meters, meters_now, stop_day, used_words

# Papers that somebody gets by taking the cart in or having it looked at; the others are a desk's work.
BY_INSPECTION = frozenset({"inspection", "backflow", "rops_plate", "noise"})
PAPER_MINUTES, EXTINGUISHER_MINUTES, TYRE_MINUTES, RETORQUE_MINUTES = 90, 20, 45, 15


@dataclass(frozen=True)
class Item:
    """One thing that falls due on a cart. low, high: the spread of a forecast, equal to `on` where the day is fixed, high
    None where there is no latest. latest_on: the last day it may wait. minutes: workshop time; 0: no workshop day wanted."""

    cart_id: UUID
    kind: str
    words: str
    why: str
    record: Record
    on: date
    low: date
    high: date | None
    latest_on: date
    minutes: int

    @property
    def key(self) -> str:
        return f"{self.record.kind}:{self.record.id}:{self.words}"

    @property
    def is_forecast(self) -> bool:
        return self.low != self.on or self.high != self.on


Find = Callable[[Sequence[Cart], date, datetime], Iterator[Item]]


def _services(carts: Sequence[Cart], until: date, at: datetime) -> Iterator[Item]:
    near = Q(on_low__lte=until) | Q(on__lte=until) | Q(state__in=["due", "overdue"])
    rows = list(ServiceDue.objects.filter(near, cart__in=carts).select_related("plan", "done"))
    meters = meters_now([row.cart_id for row in rows], at=at) if rows else {}
    told = offered({row.cart_id for row in rows}, at=at)
    for row in rows:
        on = row.on or yard_day(at)
        why = " ".join(filter(None, [_service_why(row, meters), told.get((row.cart_id, row.plan_id))]))
        # A round that stops nothing may wait.
        latest = (stop_day(row, meters, yard_day(at)) if row.plan.stops else None) or until
        yield Item(
            row.cart_id, "service", row.plan.name, why, Record("service_due", row.pk),
            on, row.on_low or on, row.on_high, latest, row.plan.minutes,
        )  # fmt: skip


def _service_why(row: ServiceDue, meters: Meters) -> str:
    rate = {"engine_hours": row.hours_per_day, "km": row.km_per_day}.get(row.trigger)
    unit = {"engine_hours": "h", "km": "km"}.get(row.trigger, "")
    pace = f", {rate:.1f} {unit} a day" if rate else ""
    return capfirst(f"{used_words(row, meters)}{pace}.")


def _extinguishers(carts: Sequence[Cart], until: date, at: datetime) -> Iterator[Item]:
    today = yard_day(at)
    services = Prefetch("services", ExtinguisherService.objects.order_by("on"))
    for item in Extinguisher.objects.filter(cart__in=carts).prefetch_related(services):
        assert item.cart_id is not None
        soonest = services_due(item, on=today)[0]
        if item.is_discharged:
            yield Item(
                item.cart_id, "extinguisher", f"Extinguisher {item.serial} swapped", "Used or out of the green.",
                Record("extinguisher", item.pk), today, today, today, today, EXTINGUISHER_MINUTES,
            )  # fmt: skip
        elif soonest.on <= until:
            yield Item(
                item.cart_id, "extinguisher", f"Extinguisher {item.serial}: {DUE_WORDS[soonest.kind]}",
                f"By its tag and {source_words(soonest.source)}.", Record("extinguisher", item.pk),
                soonest.on, soonest.on, soonest.on, soonest.on, EXTINGUISHER_MINUTES,
            )  # fmt: skip


def _papers(carts: Sequence[Cart], until: date, at: datetime) -> Iterator[Item]:
    """The newest paper of each kind of each cart."""
    newest: dict[tuple[UUID, str], Document] = {}
    dated = Document.objects.filter(cart__in=carts, expires_on__isnull=False)
    for paper in dated.order_by("expires_on"):
        assert paper.cart_id is not None
        newest[paper.cart_id, paper.kind] = paper
    names = dict(DOCUMENT_KINDS)
    for (cart_id, kind), paper in newest.items():
        last = paper.expires_on
        if last is not None and last <= until:
            yield Item(
                cart_id, "paper", f"{names[kind]} renewed", f"The paper on record is good until {day_year(last)}.",
                Record("cart", cart_id), last, last, last, last, PAPER_MINUTES if kind in BY_INSPECTION else 0,
            )  # fmt: skip


def _defects(carts: Sequence[Cart], until: date, at: datetime) -> Iterator[Item]:
    today = yard_day(at)
    limited = Exists(Limit.objects.filter(defect=OuterRef("pk"), lifted_at=None))
    rows = (
        Defect.objects.open()
        .filter(Q(grade="do_not_use") | Q(due_on__lte=until), cart__in=carts)
        .annotate(is_isolated=limited)
    )
    learned = {(one.check_key, one.grade): one.expected_minutes for one in RepairTime.objects.all()}
    for defect in rows:
        on = today if defect.due_on is None or defect.grade == "do_not_use" else defect.due_on
        isolated: bool = defect.is_isolated  # type: ignore[attr-defined] # annotated
        why = (
            f"To be repaired by {day_year(on)}." if defect.grade != "do_not_use"
            else "Do not use. Its gear is isolated and tagged: the cart goes without it until it is repaired." if isolated
            else "Do not use: the cart stays until it is repaired."
        )  # fmt: skip
        if defect.state == "repaired":
            why += " It is done and waits for a second look."
        usual = int(REPAIR_PRIOR[defect.grade].total_seconds() // 60)
        minutes = learned.get((defect.check_key, defect.grade), usual)
        yield Item(
            defect.cart_id, "defect", defect.title, why, Record("defect", defect.pk), on, on, on,
            until if isolated else on,
            0 if defect.state == "repaired" else minutes,
        )  # fmt: skip


def _tyres(carts: Sequence[Cart], until: date, at: datetime) -> Iterator[Item]:
    today = yard_day(at)
    worn = Q(least_mm__lt=F("forecast__change_out_mm"))
    rows = (
        TyreFitting.objects.filter(wheel_position__cart__in=carts, period__upper_inf=True)
        .annotate(least_mm=Min("tread_readings__depth_mm"))
        .filter(worn | Q(forecast__on_change_out_low__lte=until) | Q(forecast__on_change_out__lte=until))
        .select_related("wheel_position", "forecast")
    )
    for fitting in rows:
        row, least, place = fitting.forecast, fitting.least_mm, fitting.wheel_position.words
        high: date | None = today
        out, on, low = row.change_out_mm, today, today
        if least is not None and least < out:
            why = f"Measured {least} mm, change out at {out.normalize():f} mm."
        elif row.on_change_out is not None:
            why = f"{row.last_depth_mm} mm last read, {out.normalize():f} mm to change out, by its wear."
            on, high = row.on_change_out, row.on_change_out_high
            low = row.on_change_out_low or on
        else:
            continue
        yield Item(
            fitting.wheel_position.cart_id, "tyre", f"Tyre at {place} changed", why, Record("tyre_fitting", fitting.pk),
            on, low, high, on, TYRE_MINUTES,
        )  # fmt: skip


def _retorques(carts: Sequence[Cart], until: date, at: datetime) -> Iterator[Item]:
    today = yard_day(at)
    for task in open_retorques().filter(cart__in=carts):
        found = standing_of(task, at=at)
        on = yard_day(task.shift_ends_at) if task.shift_ends_at and found.step == 2 else today
        yield Item(
            task.cart_id, "retorque", f"Wheel nuts at {task.hub_words} checked again", stands_words(found, task, at=at),
            Record("retorque", task.pk), on, on, on, on, RETORQUE_MINUTES if found.step == 1 else 0,
        )  # fmt: skip


FINDS: list[Find] = [_services, _extinguishers, _papers, _defects, _tyres, _retorques]


def coming(carts: Sequence[Cart], *, until: date, at: datetime) -> dict[UUID, list[Item]]:
    """Everything that may fall due by a day, overdue things too, by cart id, what comes first first. Queries do not grow
    with the carts."""
    found: defaultdict[UUID, list[Item]] = defaultdict(list)
    for find in FINDS:
        for item in find(carts, until, at):
            found[item.cart_id].append(item)
    for pile in found.values():
        pile.sort(key=lambda one: (one.low, one.on, one.words))
    return dict(found)


def weeks_from(on: date, number: int) -> list[date]:
    """The Mondays of so many weeks from the week of a day on."""
    monday = on - timedelta(days=on.weekday())
    return [monday + timedelta(weeks=n) for n in range(number)]
