"""Carts and what stands on them. Everything here keeps the rules: rows are made whole, in an order the yard could have.

CartFactory() is a 6x4 with its wheel positions, meters and some gear; tyres=True fits them all, layout="4x2" makes it a
two-axle cart, gear=(...) says what is fitted instead. DefectFactory(state="repaired") fills what that state requires.
"""

from __future__ import annotations

import hashlib
import uuid
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import factory
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from factory.django import DjangoModelFactory

from fleet.models.carts import AxleGroup, Cart, Fitment, Meter, MeterReading
from fleet.models.defects import Defect, DefectStep
from fleet.models.equipment import Document, Extinguisher, ExtinguisherService
from fleet.models.photos import Photo
from fleet.models.standing import Hold, Limit, Pass
from fleet.models.wheels import TreadReading, Tyre, TyreFitting, WheelPosition
from fleet.wheel_places import GroupPlan, planned_positions
from people.journal.events import Event
from tests.factories.people import StaffFactory

JOINED_AT = datetime(2026, 1, 5, 22, 0, tzinfo=UTC)
JOINED_ON = date(2026, 1, 6)
GEAR = (
    "air_brakes", "air_heads", "beacon", "cannon", "emergency_stop", "hydrant_fill", "pto", "pump_shaft", "rear_heads",
    "reversing_alarm", "spray_controls", "spring_suspension", "transmission_automatic",
)  # fmt: skip
LAYOUTS = {
    "4x2": (
        GroupPlan("steer", 1, has_duals=False, position_m=Decimal(0), tare_kg=3900, limit_kg=6500),
        GroupPlan("drive", 1, has_duals=True, position_m=Decimal("4.2"), tare_kg=3700, limit_kg=9000),
    ),
    "6x4": (
        GroupPlan("steer", 1, has_duals=False, position_m=Decimal(0), tare_kg=4600, limit_kg=6500),
        GroupPlan("drive", 2, has_duals=True, position_m=Decimal("4.9"), tare_kg=6200, limit_kg=17000),
    ),
    "8x4": (
        GroupPlan("steer", 2, has_duals=False, position_m=Decimal("0.9"), tare_kg=6900, limit_kg=11000),
        GroupPlan("drive", 2, has_duals=True, position_m=Decimal("6.4"), tare_kg=7100, limit_kg=17000),
    ),
}


class CartFactory(DjangoModelFactory):
    class Meta:
        model = Cart
        skip_postgeneration_save = True

    fleet_number = factory.Sequence(lambda n: f"T{n:04d}")
    plate = factory.Sequence(lambda n: f"S{n:04d}W")
    make = "Brolga"
    model = "6x4"
    build_year = 2017
    tank_length_m = Decimal("5.20")
    tank_width_m = Decimal("2.30")
    tank_height_m = Decimal("1.60")
    tank_capacity_l = 14000
    gross_limit_kg = 23500
    keys_words = "Key safe"
    plate_code = factory.LazyFunction(lambda: uuid.uuid4().hex[:16])

    @factory.post_generation
    def layout(self, create, extracted, **kwargs):
        """One of LAYOUTS, 6x4 by default."""
        if not create:
            return
        groups = LAYOUTS[extracted or "6x4"]
        for number, plan in enumerate(groups, start=1):
            AxleGroup.objects.create(cart=self, position=number, **vars(plan))
        WheelPosition.objects.bulk_create(
            WheelPosition(cart=self, **vars(place)) for place in planned_positions(groups)
        )

    @factory.post_generation
    def gear(self, create, extracted, **kwargs):
        kinds = () if not create else GEAR if extracted is None else extracted
        Fitment.objects.bulk_create(Fitment(cart=self, kind=kind, fitted_on=JOINED_ON) for kind in kinds)

    @factory.post_generation
    def meters(self, create, extracted, **kwargs):
        kinds = () if not create else ("engine_hours", "pump_hours", "km") if extracted is None else extracted
        Meter.objects.bulk_create(Meter(cart=self, kind=kind, fitted_at=JOINED_AT) for kind in kinds)

    @factory.post_generation
    def tyres(self, create, extracted, **kwargs):
        """True fits a tyre everywhere; a depth ("9.5") also gives each a reading."""
        if create and extracted:
            for position in self.wheel_positions.all():
                fitting = TyreFittingFactory(wheel_position=position)
                if extracted is not True:
                    TreadReadingFactory(fitting=fitting, depth_mm=Decimal(extracted))


class TyreFactory(DjangoModelFactory):
    class Meta:
        model = Tyre

    serial = factory.Sequence(lambda n: f"RW{n:05d}")
    make = "Wallaroo"
    size = "11R22.5"
    load_index = "148/145"
    new_depth_mm = Decimal("16.0")


class TyreFittingFactory(DjangoModelFactory):
    """A tyre on a cart from the day the cart joined; give cart= and code=, or wheel_position=."""

    class Meta:
        model = TyreFitting
        exclude = ("cart", "code", "fitted_at", "taken_off_at")

    cart = None
    code = "1L"
    fitted_at = JOINED_AT
    taken_off_at = None
    tyre = factory.SubFactory(TyreFactory)
    wheel_position = factory.LazyAttribute(
        lambda made: WheelPosition.objects.get(cart=made.cart or CartFactory(), code=made.code)
    )
    period = factory.LazyAttribute(lambda made: DateTimeTZRange(made.fitted_at, made.taken_off_at, "[)"))


class TreadReadingFactory(DjangoModelFactory):
    class Meta:
        model = TreadReading

    fitting = factory.SubFactory(TyreFittingFactory)
    depth_mm = Decimal("11.0")
    read_at = JOINED_AT + timedelta(days=30)
    source_kind = "walk_round"
    source_id = factory.LazyFunction(uuid.uuid4)


class MeterReadingFactory(DjangoModelFactory):
    """A reading of a cart's meter: give meter=, or cart= and kind=. Give later readings larger values."""

    class Meta:
        model = MeterReading
        exclude = ("cart", "kind")

    cart = None
    kind = "engine_hours"
    meter = factory.LazyAttribute(
        lambda made: Meter.objects.get(cart=made.cart or CartFactory(), kind=made.kind, removed_at=None)
    )
    value = Decimal("8200.0")
    read_at = JOINED_AT + timedelta(days=30)
    source_kind = "walk_round"
    source_id = factory.LazyFunction(uuid.uuid4)


class ExtinguisherFactory(DjangoModelFactory):
    """On a cart, and serviced a month after the cart joined, so that it is in date for most of a year."""

    class Meta:
        model = Extinguisher
        skip_postgeneration_save = True

    serial = factory.Sequence(lambda n: f"EX{n:05d}")
    made_on = date(2025, 12, 1)
    cart = factory.SubFactory(CartFactory)
    bracket = factory.LazyAttribute(lambda made: "Cab, left of the seat" if made.cart else "")

    @factory.post_generation
    def serviced(self, create, extracted, **kwargs):
        """{kind: day}: services on the tag."""
        for kind, on in (extracted or {}).items():
            ExtinguisherService.objects.create(
                extinguisher=self, kind=kind, on=on, by_words="Tag House, R. Iyer"
            )


class DocumentFactory(DjangoModelFactory):
    class Meta:
        model = Document

    cart = factory.SubFactory(CartFactory)
    kind = "registration"
    number = factory.Sequence(lambda n: f"R{n:06d}")
    issued_on = JOINED_ON
    expires_on = factory.LazyAttribute(lambda made: made.issued_on + timedelta(days=730))
    recorded_at = JOINED_AT


class PhotoFactory(DjangoModelFactory):
    """A photo's row; nothing is stored under its names."""

    class Meta:
        model = Photo

    original_sha256 = factory.LazyFunction(lambda: hashlib.sha256(uuid.uuid4().bytes).hexdigest())
    stored_sha256 = factory.LazyFunction(lambda: hashlib.sha256(uuid.uuid4().bytes).hexdigest())
    stored_name = factory.LazyAttribute(
        lambda made: f"photos/{made.stored_sha256[:2]}/{made.stored_sha256[2:4]}/{made.stored_sha256}.jpg"
    )
    print_name = factory.SelfAttribute("stored_name")
    width_px = 1600
    height_px = 1200
    size_bytes = 240_000
    perceptual_hash = factory.LazyFunction(lambda: uuid.uuid4().hex[:16])
    received_at = JOINED_AT


class DefectFactory(DjangoModelFactory):
    """A told defect; state="assessed" | "put_off" | "in_repair" | "repaired" | "verified" | "no_fault_found" |
    "same_as" fills what that needs, the second look always by somebody other than who did the repair."""

    class Meta:
        model = Defect
        skip_postgeneration_save = True

    cart = factory.SubFactory(CartFactory)
    title = "Cut in the side wall"
    words = "A flap as long as a thumb, no cord seen."
    station = "left_rear_wheels"
    place = "2LO"
    grade = "do_not_use"
    state = "reported"
    source_kind = "walk_round"
    source_id = factory.LazyFunction(uuid.uuid4)
    told_at = JOINED_AT + timedelta(days=40)
    told_by = factory.SubFactory(StaffFactory)
    told_by_words = factory.LazyAttribute(
        lambda made: f"{made.told_by.full_name}, yard hand" if made.told_by else ""
    )
    due_on = factory.LazyAttribute(
        lambda made: (
            (made.told_at + timedelta(days=7)).date()
            if made.grade == "by_date" and made.state != "reported"
            else None
        )
    )
    repaired_by = factory.Maybe(
        factory.LazyAttribute(lambda made: made.state in ("repaired", "verified")),
        factory.SubFactory(StaffFactory, role="fitter"),
    )
    repaired_at = factory.LazyAttribute(
        lambda made: made.told_at + timedelta(hours=5) if made.state in ("repaired", "verified") else None
    )
    verified_by = factory.Maybe(
        factory.LazyAttribute(lambda made: made.state == "verified"),
        factory.SubFactory(StaffFactory, role="workshop_manager"),
    )
    verified_at = factory.LazyAttribute(
        lambda made: made.told_at + timedelta(hours=6) if made.state == "verified" else None
    )
    closed_at = factory.LazyAttribute(
        lambda made: (
            made.told_at + timedelta(hours=6)
            if made.state in ("verified", "no_fault_found", "same_as")
            else None
        )
    )

    same_as = factory.Maybe(
        factory.LazyAttribute(lambda made: made.state == "same_as"),
        factory.SubFactory(
            "tests.factories.fleet.DefectFactory",
            cart=factory.SelfAttribute("..cart"),
            grade=factory.SelfAttribute("..grade"),
        ),
    )
    put_off_by = factory.Maybe(
        factory.LazyAttribute(lambda made: made.state == "put_off"),
        factory.SubFactory(StaffFactory, role="workshop_manager"),
    )
    put_off_until = factory.LazyAttribute(
        lambda made: (made.told_at + timedelta(days=5)).date() if made.state == "put_off" else None
    )
    put_off_because = factory.LazyAttribute(
        lambda made: "The part is on order." if made.state == "put_off" else ""
    )
    put_off_times = factory.LazyAttribute(lambda made: int(made.state == "put_off"))

    @factory.post_generation
    def told(self, create, extracted, **kwargs):
        DefectStep.objects.create(
            defect=self,
            at=self.told_at,
            by=self.told_by,
            by_words=self.told_by_words,
            after_state="reported",
            after_grade=self.grade,
            words=self.words,
        )


class RepairStepFactory(DjangoModelFactory):
    """The repair of a defect that is done, with its photo."""

    class Meta:
        model = DefectStep

    defect = factory.SubFactory(DefectFactory, state="repaired")
    at = factory.SelfAttribute("defect.repaired_at")
    by = factory.SelfAttribute("defect.repaired_by")
    by_words = factory.LazyAttribute(lambda made: f"{made.by.full_name}, {made.by.role_label.lower()}")
    before_state = "in_repair"
    after_state = "repaired"
    before_grade = factory.SelfAttribute("defect.grade")
    after_grade = factory.SelfAttribute("defect.grade")
    event = Event.REPAIR_DONE
    photo = factory.SubFactory(PhotoFactory)


class HoldFactory(DjangoModelFactory):
    class Meta:
        model = Hold

    cart = factory.SubFactory(CartFactory)
    reason = "Gearbox noise, waiting for the maker"
    tag_number = factory.Sequence(lambda n: f"{n:03d}")
    is_tag_hung = True
    keys_words = "Workshop board"
    placed_at = JOINED_AT + timedelta(days=50)
    placed_by = factory.SubFactory(StaffFactory, role="workshop_manager")


class LimitFactory(DjangoModelFactory):
    """A limit over a cannon defect of its cart."""

    class Meta:
        model = Limit

    defect = factory.SubFactory(
        DefectFactory,
        title="Cannon does not swing",
        station="tank_top",
        place="",
        gear="cannon",
        grade="by_date",
    )
    cart = factory.SelfAttribute("defect.cart")
    gear = factory.SelfAttribute("defect.gear")
    words = "Cannon isolated and tagged: not for use."
    how_isolated = "Air off, valve shut and tied"
    tag_number = factory.Sequence(lambda n: f"L{n:03d}")
    set_at = factory.LazyAttribute(lambda made: made.defect.told_at + timedelta(hours=1))
    set_by = factory.SubFactory(StaffFactory, role="workshop_manager")


class PassFactory(DjangoModelFactory):
    """A pass over a defect of its cart that is past its date."""

    class Meta:
        model = Pass
        exclude = ("defect",)

    defect = factory.SubFactory(DefectFactory, grade="by_date", state="assessed", may_be_passed=True)
    cart = factory.SelfAttribute("defect.cart")
    rule = "defect.late"
    record_kind = "defect"
    record_id = factory.SelfAttribute("defect.pk")
    found = "Cut in the side wall (2LO), was to be repaired by 21 Feb; looked at."
    reason = "Part or spare is ordered and on its way"
    words = "The mirror glass comes on Thursday."
    condition_words = "By day only"
    done_instead = "Second mirror clamped on"
    told_words = "Driver, by phone"
    given_at = JOINED_AT + timedelta(days=60)
    given_by = factory.SubFactory(StaffFactory, role="workshop_manager")
    ends_at = factory.LazyAttribute(lambda made: made.given_at + timedelta(days=3))
