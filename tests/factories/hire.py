"""Customers, agreements and their carts. LineFactory() leaves in two days for a week; out_at= has left, back_at= came back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import factory
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.utils import timezone
from factory.django import DjangoModelFactory

from hire.actions.gate import issue_certificate
from hire.actions.gate_given import Given
from hire.models.agreements import Agreement, Line
from hire.models.bookings import Booking
from hire.models.customers import Customer
from hire.models.job_plans import JobPlan
from hire.models.links import CustomerLink
from hire.models.loads import Load
from hire.models.off_hire import OffHire
from hire.models.pencils import Pencil
from people.canonical import sha256_hex
from people.models import Staff
from people.yard import day_bounds, yard_day
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory

AT = datetime(2026, 11, 30, 21, 0, tzinfo=UTC)


class CustomerFactory(DjangoModelFactory):
    class Meta:
        model = Customer

    name = factory.Sequence(lambda n: f"Earthmoving {n}")
    contact_name = "Aoife Merrin"
    phone = "08 5550 2231"
    email = "site@merrin.example"
    address = "Unit 3, 8 Culvert Street, Ironbark Flat"


class AgreementFactory(DjangoModelFactory):
    class Meta:
        model = Agreement

    number = factory.Sequence(lambda n: f"H2025-{n:05d}")
    customer = factory.SubFactory(CustomerFactory)
    order_number = "PO 88412"
    place_of_work = "Saltbush Road widening"
    time_zone = "Australia/Adelaide"
    rule_set = "au"
    made_at = AT - timedelta(days=3)
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class LineFactory(DjangoModelFactory):
    class Meta:
        model = Line
        exclude = ("starts_at", "ends_at", "out_at", "came_back_at")

    starts_at = AT + timedelta(days=2)
    ends_at = factory.LazyAttribute(lambda made: made.starts_at + timedelta(days=7))
    out_at = None
    came_back_at = None
    agreement = factory.SubFactory(AgreementFactory)
    cart = factory.SubFactory(CartFactory)
    promised = factory.LazyAttribute(lambda made: DateTimeTZRange(made.starts_at, made.ends_at))
    handed_over_at = factory.SelfAttribute("out_at")
    back_at = factory.SelfAttribute("came_back_at")


class LoadFactory(DjangoModelFactory):
    """A load put down by the yard, half an hour after it was taken."""

    class Meta:
        model = Load

    line = factory.SubFactory(LineFactory)
    taken_at = AT + timedelta(hours=1)
    fill_point, litres, source = "Standpipe, Weir Street", 10_000, "potable"
    told_at = factory.LazyAttribute(lambda made: made.taken_at + timedelta(minutes=30))
    by = factory.SubFactory(StaffFactory)
    by_words = factory.LazyAttribute(lambda made: made.by.full_name if made.by else "Col")


class JobPlanFactory(DjangoModelFactory):
    class Meta:
        model = JobPlan

    words = "Haul road, Saltbush pit"
    question = "length_m=2000&width_m=8&area_pct=10&target_l_m2=0.75&passes=6&haul_km=3&haul_km_h=30&other_min=6&hours_a_day=10"
    planned_at = AT
    planned_by = factory.SubFactory(StaffFactory, role="hire_desk")


class PencilFactory(DjangoModelFactory):
    """A cart kept for a caller for a week, a year from now."""

    class Meta:
        model = Pencil

    cart = factory.SubFactory(CartFactory)
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
    made_at = factory.LazyFunction(timezone.now)
    period = factory.LazyAttribute(
        lambda made: DateTimeTZRange(made.made_at + timedelta(days=365), made.made_at + timedelta(days=372))
    )
    caller_words, phone = "Ada Kell", "08 5550 0171"
    expires_at = factory.LazyAttribute(lambda made: made.made_at + timedelta(days=1))


class BookingFactory(DjangoModelFactory):
    """A cart wanted for a week, a year from now, whichever it is; starts_at= and ends_at= say another time."""

    class Meta:
        model = Booking
        exclude = ("starts_at", "ends_at")

    made_at = factory.LazyFunction(timezone.now)
    starts_at = factory.LazyAttribute(lambda made: made.made_at + timedelta(days=365))
    ends_at = factory.LazyAttribute(lambda made: made.starts_at + timedelta(days=7))
    period = factory.LazyAttribute(lambda made: DateTimeTZRange(made.starts_at, made.ends_at))
    customer = factory.SubFactory(CustomerFactory)
    order_number = "PO 88413"
    place_of_work = "Saltbush Road widening"
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


class CustomerLinkFactory(DjangoModelFactory):
    """A link opened by `token`, which the row does not keep."""

    class Meta:
        model = CustomerLink
        exclude = ("token",)

    token = factory.Sequence(lambda n: f"token-{n:026d}")
    line = factory.SubFactory(LineFactory)
    token_sha256 = factory.LazyAttribute(lambda made: sha256_hex(made.token))
    for_words = "Aoife Merrin"
    made_at = AT
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
    expires_at = factory.LazyAttribute(lambda made: made.made_at + timedelta(days=400))


class OffHireFactory(DjangoModelFactory):
    """A call taken by the desk, a day after the cart left."""

    class Meta:
        model = OffHire

    line = factory.SubFactory(LineFactory, starts_at=AT - timedelta(days=3), out_at=AT - timedelta(days=3))
    number = factory.Sequence(lambda n: f"O2025-{n:05d}")
    called_at = factory.LazyAttribute(lambda made: made.line.handed_over_at + timedelta(days=1))
    made_at = factory.SelfAttribute("called_at")
    stops_at = factory.SelfAttribute("called_at")
    called_by_words = "Aoife Merrin"
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")
    pick_up_words = "Saltbush Road, north gate"
    keys_words = "In the site office"
    risk_words = "The customer, until it is picked up"


def walked_line(*, hand: Staff, at: datetime, **line) -> Line:
    """A hire that leaves at `at`, its cart walked: the pre-hire check signed three hours before, the gate-out half an hour, or
    what there was of its day by then."""
    line = LineFactory(
        **{"starts_at": at} | {"cart": line.pop("cart", None) or CartFactory(tyres=True)} | line
    )
    walk.sign(line.cart, "pre_hire", by=hand, at=at - timedelta(hours=3))
    walk.sign(
        line.cart,
        "gate_out",
        by=hand,
        at=at - min(timedelta(minutes=30), (at - day_bounds(yard_day(at))[0]) / 2),
    )
    return line


def ready_line(*, hand: Staff, at: datetime, **line) -> Line:
    """A walked hire with its certificate: it may leave at `at`."""
    line = walked_line(hand=hand, at=at, **line)
    issue_certificate(line=line, by=None, at=at - timedelta(hours=2))
    return line


def given(**changed) -> Given:
    """What is filled in at the gate when the customer signs with a typed name."""
    return Given(
        **{
            "mode": "signed", "place_words": "Home yard", "keys_words": "With the driver", "condition_words": "Clean, no marks",
            "items_words": "Standpipe SP-14\nHydrant key", "fuel_eighths": 7, "taken_by_name": "Aoife Merrin",
            "signature_kind": "typed",
        }
        | changed
    )  # fmt: skip
