"""A yard that lives by its own clock: carts work and wear, hires come and go, people do what they are told some days later.

Everything is seeded. Truth is kept here, apart from what the application reckons: how fast each cart works, how fast its tyres
wear, what was read when. Rows are written as the actions would leave them; services and tyre changes go through the actions.
"""

from __future__ import annotations

import random
import uuid
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.models.carts import Cart, Meter, MeterReading
from fleet.models.equipment import Document, Extinguisher, ExtinguisherService
from fleet.models.wheels import TreadReading, TyreFitting, WheelPosition
from fleet.readings import tread_doubt
from hire.models.agreements import Agreement, Line
from people.models import Staff
from people.yard import at_local
from servicing.models.plans import ServicePlan
from servicing.service_actions import record_service
from tests.factories.fleet import CartFactory, DocumentFactory, ExtinguisherFactory, TyreFactory
from tests.factories.hire import AgreementFactory
from tests.factories.people import StaffFactory
from tests.factories.services import ServiceDoneFactory, ServicePlanFactory

BEGINS_ON = date(2027, 1, 4)
TENTH = Decimal("0.1")


def tenth(value: float) -> Decimal:
    return Decimal(value).quantize(TENTH)


@dataclass
class Works:
    """One cart in truth. Hours and km run on; a pace is engine hours a hire day. read: the last figures anybody took."""

    cart: Cart
    hours: float
    km: float
    pace: float
    wear: float
    meters: dict[str, Meter]
    depth: dict[uuid.UUID, float] = field(default_factory=dict)
    place: dict[uuid.UUID, str] = field(default_factory=dict)
    least_read: dict[uuid.UUID, list[Decimal]] = field(default_factory=dict)
    read_hours: Decimal = Decimal(0)
    read_at: datetime | None = None
    line: Line | None = None
    late_days: int = 0

    @property
    def is_out(self) -> bool:
        return self.line is not None and self.line.handed_over_at is not None


class Yard:
    def __init__(self, *, seed: int, carts: int) -> None:
        self.chance = random.Random(seed)
        self.by = StaffFactory(role="fitter")
        self.boss: Staff = StaffFactory(role="workshop_manager")
        for role in ("hire_desk", "fleet_manager"):
            StaffFactory(role=role)
        self.agreement: Agreement = AgreementFactory(
            pre_start_book="theirs", made_at=at_local(BEGINS_ON, time(7))
        )
        self.plans = self._plans()
        self.works = [self._cart(n) for n in range(carts)]
        self.by_cart = {one.cart.pk: one for one in self.works}

    def _plans(self) -> list[ServicePlan]:
        small = ServicePlanFactory(name="250-hour service", engine_hours=250, months=6)
        large = ServicePlanFactory(name="1,000-hour service", engine_hours=1000, months=12, includes=[small])
        return [small, large]

    def _cart(self, n: int) -> Works:
        at, chance = at_local(BEGINS_ON, time(6)), self.chance
        cart = CartFactory(layout="4x2", meters=(), gear=("extinguisher",))
        works = Works(
            cart, 1000.0 + 317 * n, 20_000.0 + 4_000 * n, chance.uniform(4, 9), chance.uniform(0.12, 0.3),
            {kind: Meter.objects.create(cart=cart, kind=kind, fitted_at=at) for kind in ("engine_hours", "km")},
        )  # fmt: skip
        self.read_meters(works, at)
        for plan in self.plans:
            used = chance.randrange(0, plan.engine_hours or 1)
            done_at = at - timedelta(days=chance.randrange(1, 60))
            ServiceDoneFactory(
                cart=cart, plan=plan, engine_hours=works.read_hours - used, done_at=done_at, recorded_at=at, by=self.by
            )  # fmt: skip
        item = ExtinguisherFactory(cart=cart, made_on=date(2025, 1 + n % 12, 28))
        for kind, ago in (("routine_6_month", n * 11 % 170), ("routine_12_month", 60 + n * 17 % 200)):
            ExtinguisherService.objects.create(
                extinguisher=item, kind=kind, on=BEGINS_ON - timedelta(days=ago), by_words="Tag House"
            )
        DocumentFactory(
            cart=cart, kind="registration", issued_on=BEGINS_ON - timedelta(days=300),
            expires_on=BEGINS_ON + timedelta(days=31 + n * 23 % 330), recorded_at=at,
        )  # fmt: skip
        for position in cart.wheel_positions.all():
            self._fit(works, position, at, depth=chance.uniform(9, 16))
        return works

    def _fit(self, works: Works, position: WheelPosition, at: datetime, *, depth: float = 16.0) -> None:
        fitting = TyreFitting.objects.create(
            tyre=TyreFactory(), wheel_position=position, period=DateTimeTZRange(at, None, "[)")
        )
        works.depth[fitting.pk], works.place[fitting.pk] = depth, "steer" if position.steers else "other"
        works.least_read[fitting.pk] = []
        self._read_tyre(works, fitting, at)

    def read_meters(self, works: Works, at: datetime) -> None:
        for kind, value in (("engine_hours", works.hours), ("km", works.km)):
            MeterReading.objects.create(
                meter=works.meters[kind],
                value=tenth(value),
                read_at=at,
                source_kind="day",
                source_id=uuid.uuid4(),
            )
        works.read_hours, works.read_at = tenth(works.hours), at

    def _read_tyre(self, works: Works, fitting: TyreFitting, at: datetime) -> None:
        """With a gauge's half millimetre; what does not fit its neighbours is not kept, as the application would not."""
        seen = works.least_read[fitting.pk]
        depth = tenth(max(0.0, works.depth[fitting.pk] + self.chance.uniform(-0.25, 0.25)))
        before = (at, seen[-1]) if seen else None
        if tread_doubt(depth, new_depth_mm=Decimal(16), before=before, after=None):
            return
        TreadReading.objects.create(
            fitting=fitting, depth_mm=depth, read_at=at, source_kind="day", source_id=uuid.uuid4()
        )
        seen.append(depth)

    def live(self, on: date) -> None:
        """One day: who is out works, what was promised leaves and comes back, what is read is read."""
        at, chance = at_local(on, time(6)), self.chance
        for n, works in enumerate(self.works):
            if works.is_out:
                worked = max(0.0, chance.gauss(works.pace, 1.0))
                works.hours += worked
                works.km += worked * 12
                for pk in works.depth:
                    works.depth[pk] = max(0.0, works.depth[pk] - works.wear * worked * 12 / 1000)
            self._hires(works, on, at)
            if (works.is_out and chance.random() < 0.9) or (not works.is_out and on.weekday() == 0):
                self.read_meters(works, at)
            if on.day == 1 + n % 7:
                fitted = TyreFitting.objects.filter(pk__in=works.depth)
                for fitting in fitted.order_by("wheel_position__code"):
                    self._read_tyre(works, fitting, at)

    def _hires(self, works: Works, on: date, at: datetime) -> None:
        line, chance = works.line, self.chance
        if line is None:
            if chance.random() < 0.08:
                starts = at + timedelta(days=chance.randrange(1, 10))
                ends = starts + timedelta(days=chance.randrange(3, 28))
                works.line = Line.objects.create(
                    cart=works.cart, agreement=self.agreement, promised=DateTimeTZRange(starts, ends)
                )
                works.late_days = chance.choice((0, 0, 0, 0, 0, 0, 1, 4))
        elif line.handed_over_at is None and line.promised.lower <= at:
            line.handed_over_at = at
            line.save(update_fields=["handed_over_at"])
        elif line.handed_over_at and line.promised.upper + timedelta(days=works.late_days) <= at:
            line.back_at = at
            line.save(update_fields=["back_at"])
            works.line = None

    # What people do about an alert: the act it asks for, whatever the application thinks of it afterwards.

    def serve(self, works: Works, plan: ServicePlan, at: datetime) -> None:
        self.read_meters(works, at)
        record_service(
            cart=works.cart,
            plan=plan,
            done_at=at,
            engine_hours=works.read_hours,
            km=tenth(works.km),
            by=self.by,
            at=at,
        )

    def service_extinguisher(self, item: Extinguisher, kind: str, on: date) -> None:
        ExtinguisherService.objects.create(extinguisher=item, kind=kind, on=on, by_words="Tag House")

    def renew(self, paper: Document, on: date, at: datetime) -> None:
        DocumentFactory(
            cart=paper.cart,
            kind=paper.kind,
            issued_on=on,
            expires_on=(paper.expires_on or on) + timedelta(days=365),
            recorded_at=at,
        )

    def change_tyre(self, fitting: TyreFitting, at: datetime) -> None:
        works = self.by_cart[fitting.wheel_position.cart_id]
        fitting.period = DateTimeTZRange(fitting.period.lower, at, "[)")
        fitting.save(update_fields=["period"])
        for facts in (works.depth, works.place, works.least_read):
            del facts[fitting.pk]
        self._fit(works, fitting.wheel_position, at)


def days(number: int) -> Iterator[date]:
    return (BEGINS_ON + timedelta(days=n) for n in range(number))
