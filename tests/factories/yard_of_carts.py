"""A large yard at once, for measuring: many carts in every state, by bulk inserts, in proportions a yard could have."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.models.carts import AxleGroup, Cart, Fitment
from fleet.models.defects import Defect
from fleet.models.equipment import Document, Extinguisher, ExtinguisherService
from fleet.models.standing import Hold
from fleet.models.wheels import TreadReading, Tyre, TyreFitting, WheelPosition
from fleet.wheel_places import planned_positions
from hire.models.agreements import Line
from inspections.models import WalkRound
from tests.factories import inspections as walk
from tests.factories.fleet import JOINED_AT, JOINED_ON, LAYOUTS
from tests.factories.hire import AgreementFactory
from tests.factories.people import StaffFactory

GRADES = ("watch", "by_date", "do_not_use")


def many_carts(number: int, *, at: datetime) -> list[Cart]:
    """Carts with tyres, readings, an extinguisher, papers, defects, holds, checks and hires, as known at `at`."""
    by = StaffFactory(role="workshop_manager")
    carts = Cart.objects.bulk_create(_cart(n) for n in range(number))
    groups = LAYOUTS["4x2"]
    AxleGroup.objects.bulk_create(
        AxleGroup(cart=cart, position=n, **vars(plan))
        for cart in carts
        for n, plan in enumerate(groups, start=1)
    )
    _tyres(carts, at)
    Fitment.objects.bulk_create(
        Fitment(cart=cart, kind="extinguisher", fitted_on=JOINED_ON) for cart in carts
    )
    aboard = Extinguisher.objects.bulk_create(
        Extinguisher(
            serial=f"Y{n:05d}", made_on=date(2025, 6, 1), cart=cart, bracket="Cab", is_discharged=n % 37 == 0
        )
        for n, cart in enumerate(carts)
        if n % 29
    )
    ExtinguisherService.objects.bulk_create(
        ExtinguisherService(
            extinguisher=item,
            kind="routine_12_month",
            on=date(2026, 5, 20) + timedelta(days=n % 180),
            by_words="Tag House",
        )
        for n, item in enumerate(aboard)
        if n % 31
    )
    _papers(carts)
    _defects(carts, at)
    Hold.objects.bulk_create(
        Hold(
            cart=cart, reason="Waiting for a part", keys_words="Board", placed_at=at - timedelta(days=2), placed_by=by,
            kind="incident" if n % 2 else "manual",
        )
        for n, cart in enumerate(carts[::23])
    )  # fmt: skip
    _walks(carts, at, by)
    agreement = AgreementFactory()
    Line.objects.bulk_create(
        Line(
            agreement=agreement, cart=cart, promised=DateTimeTZRange(at - timedelta(days=9), at + timedelta(days=1)),
            handed_over_at=at - timedelta(days=9) if n % 2 else None,
        )
        for n, cart in enumerate(carts[::11])
    )  # fmt: skip
    return carts


def _cart(n: int) -> Cart:
    return Cart(
        fleet_number=f"Y{n:04d}", plate=f"Y{n:04d}W", make="Brolga", model="4x2", build_year=2018,
        tank_length_m=Decimal(5), tank_width_m=Decimal("2.3"), tank_height_m=Decimal("1.6"), tank_capacity_l=12000,
        gross_limit_kg=16500, plate_code=uuid.uuid4().hex[:16],
    )  # fmt: skip


def _tyres(carts: list[Cart], at: datetime) -> None:
    places = WheelPosition.objects.bulk_create(
        WheelPosition(cart=cart, **vars(place))
        for cart in carts
        for place in planned_positions(LAYOUTS["4x2"])
    )
    tyres = Tyre.objects.bulk_create(
        Tyre(serial=f"YT{n:06d}", make="Wallaroo", size="11R22.5", new_depth_mm=Decimal(16))
        for n in range(len(places))
    )
    fittings = TyreFitting.objects.bulk_create(
        TyreFitting(tyre=tyre, wheel_position=place, period=DateTimeTZRange(JOINED_AT, None))
        for tyre, place in zip(tyres, places, strict=True)
    )
    TreadReading.objects.bulk_create(
        TreadReading(
            fitting=fitting, depth_mm=Decimal("1.2") if n % 97 == 0 else Decimal("2.5") if n % 61 == 0 else depth,
            read_at=at - timedelta(days=days), source_kind="walk_round", source_id=uuid.uuid4(),
        )
        for n, fitting in enumerate(fittings)
        for depth, days in ((Decimal("9.0"), 40), (Decimal("8.5"), 5))
    )  # fmt: skip


def _papers(carts: list[Cart]) -> None:
    Document.objects.bulk_create(
        Document(
            cart=cart, kind=kind, recorded_at=JOINED_AT, expires_on=date(2026, 10, 1) if n % every == 0 else date(2027, 8, 1)
        )
        for n, cart in enumerate(carts)
        for kind, every in (("registration", 19), ("rops_plate", 43), ("noise", 7))
    )  # fmt: skip
    Document.objects.create(kind="insurance", recorded_at=JOINED_AT, expires_on=date(2027, 6, 30))


def _defects(carts: list[Cart], at: datetime) -> None:
    Defect.objects.bulk_create(
        Defect(
            cart=cart, title="Spray head weeps", station="rear", grade=GRADES[n % 3], source_kind="walk_round",
            source_id=uuid.uuid4(), told_at=at - timedelta(days=3), told_by_words="Yard hand", state="assessed",
            due_on=(date(2026, 11, 20) if n % 2 else date(2026, 12, 20)) if n % 3 == 1 else None,
        )
        for n, cart in enumerate(carts[::3])
    )  # fmt: skip


def _walks(carts: list[Cart], at: datetime, by) -> None:
    issue = walk.edition()
    WalkRound.objects.bulk_create(
        WalkRound(
            cart=cart, purpose=purpose, edition=issue, rule_set="au", manifest="{}", manifest_sha256="0" * 64,
            started_at=at - age, device_signed_at=at - age, signed_at=at - age, received_at=at - age, author=by,
            author_words="Yard hand", sent_by=by, signature_kind="typed", signature_name="Yard hand", outcome="ready",
            headline="Ready", reasons=[], not_done=1 if n % 53 == 0 else 0,
        )
        for n, cart in enumerate(carts)
        for purpose, age in (
            ("pre_hire", timedelta(hours=80 if n % 5 == 0 else 20)),
            ("gate_out", timedelta(minutes=150 if n % 7 == 0 else 30)),
        )
        if n % 13
    )  # fmt: skip
