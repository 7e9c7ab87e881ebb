"""What the figures are read from, in a period: hires, meters, defects, tags, limits; as many queries for all carts as for one."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models.carts import Meter
from fleet.models.defects import DefectStep
from hire.figures_inputs import classes_of, told_of
from tests.factories.fleet import (
    JOINED_AT,
    CartFactory,
    DefectFactory,
    HoldFactory,
    LimitFactory,
    MeterReadingFactory,
)
from tests.factories.hire import LineFactory

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def start(at):
    return at - 30 * DAY


@pytest.fixture
def told(start, at):
    def inner(cart, **asked):
        found = told_of(**{"start": start, "end": at} | asked)
        return next(one.inputs for one in found if one.cart == cart)

    return inner


def test_a_cart_is_in_the_fleet_from_what_is_first_heard_of_it_until_it_leaves(told, start, at):
    old, new, gone = CartFactory(), CartFactory(meters=(), gear=()), CartFactory()
    Meter.objects.create(cart=new, kind="km", fitted_at=start + 10 * DAY)
    gone.retired_on = date(2026, 11, 20)
    gone.save()
    assert told(old).fleet_hours == 30 * 24
    assert told(new).fleet_hours == 20 * 24
    # The day begins by the yard's clock, 10.5 h before it does in UTC.
    assert told(gone).fleet_hours == 18 * 24 + 16.5


def test_a_cart_that_left_before_is_not_told_of(start, at):
    CartFactory(retired_on=(start - 5 * DAY).date())
    assert told_of(start=start, end=at) == []


def test_hours_out_are_those_between_handover_and_return_inside_the_period(told, start, at):
    cart = CartFactory()
    LineFactory(cart=cart, starts_at=start - 5 * DAY, out_at=start - 4 * DAY, came_back_at=start + 2 * DAY)
    LineFactory(cart=cart, starts_at=start + 5 * DAY, ends_at=start + 6 * DAY)
    LineFactory(cart=cart, starts_at=at - 3 * DAY, out_at=at - 2 * DAY)
    assert told(cart).hire_hours == 4 * 24


def test_a_changed_meter_counts_on(told, start, at):
    cart = CartFactory()
    old = cart.meters.get(kind="engine_hours")
    for days, value in ((0, 1000), (9, 1050)):
        MeterReadingFactory(meter=old, read_at=start + days * DAY, value=value)
    old.removed_at = start + 10 * DAY
    old.save()
    new = Meter.objects.create(cart=cart, kind="engine_hours", fitted_at=start + 10 * DAY)
    for days, value in ((10, 0), (29, 70)):
        MeterReadingFactory(meter=new, read_at=start + days * DAY, value=value)
    MeterReadingFactory(cart=cart, kind="pump_hours", read_at=at, value=9000)
    inputs = told(cart)
    assert (inputs.engine_hours, inputs.km) == (120, None)


def test_an_edge_between_two_readings_takes_its_share(told, start):
    cart = CartFactory()
    for days, value in ((-10, 50000), (10, 52000), (20, 53000), (40, 54000)):
        MeterReadingFactory(cart=cart, kind="km", read_at=start + days * DAY, value=value)
    assert told(cart).km == 1000 + 1000 + 500


def test_defects_told_in_the_period_count_but_those_without_a_fault(told, start, at):
    cart = CartFactory()
    for told_at, state in (
        (start - HOUR, "reported"),
        (start, "reported"),
        (start + DAY, "verified"),
        (start + 2 * DAY, "no_fault_found"),
        (at, "reported"),
    ):
        DefectFactory(cart=cart, told_at=told_at, state=state, grade="watch")
    assert told(cart).told == 2


def test_repairs_are_timed_from_the_first_start_to_the_last_done(told, start):
    cart = CartFactory()
    defect = DefectFactory(cart=cart, told_at=start + DAY, state="verified", grade="watch")
    for hours in (4, 30):
        DefectStep(
            defect=defect, at=defect.told_at + hours * HOUR, by_words="T. Ilic", after_state="in_repair", after_grade="watch"
        ).save(force_insert=True)  # fmt: skip
    defect.repaired_at, defect.verified_at = defect.told_at + 32 * HOUR, defect.told_at + 50 * HOUR
    defect.closed_at = defect.verified_at
    defect.save()
    inputs = told(cart)
    assert (inputs.repairs, inputs.repair_hours) == (1, 28)
    assert (inputs.second_looks, inputs.second_look_hours) == (1, 50)


def test_a_repair_sent_back_is_not_done(told, start):
    cart = CartFactory()
    defect = DefectFactory(cart=cart, told_at=start + DAY, state="repaired", grade="watch")
    DefectStep(
        defect=defect, at=start + DAY, by_words="T. Ilic", after_state="in_repair", after_grade="watch"
    ).save(force_insert=True)  # fmt: skip
    defect.repaired_at = start + 2 * DAY
    defect.save()
    assert told(cart).repairs == 1
    defect.state = "in_repair"
    defect.save()
    assert told(cart).repairs == 0


def test_down_is_tagged_out_or_do_not_use_and_counted_once(told, start, at):
    cart, other = CartFactory(), CartFactory()
    DefectFactory(cart=cart, grade="do_not_use", told_at=at - 2 * DAY)
    HoldFactory(cart=cart, placed_at=at - 3 * DAY)
    DefectFactory(cart=other, grade="by_date", told_at=at - 9 * DAY)
    assert told(cart).down_hours == 3 * 24
    assert told(other).down_hours == 0


def test_an_isolated_defect_does_not_keep_its_cart_down(told, start, at):
    cart = CartFactory()
    defect = DefectFactory(cart=cart, grade="do_not_use", told_at=at - 10 * DAY, gear="cannon")
    LimitFactory(cart=cart, defect=defect, set_at=at - 9 * DAY, lifted_at=at - DAY)
    assert told(cart).down_hours == 2 * 24


def test_costs_are_told_to_their_carts(told):
    cart, other = CartFactory(), CartFactory()
    costs = {cart.pk: Decimal("412.50")}
    assert told(cart, costs=costs).cost == Decimal("412.50")
    assert told(other, costs=costs).cost is None


def test_classes_stand_by_axles_then_tank():
    for layout, litres in (("8x4", 18000), ("6x4", 8000), ("6x4", 14000), ("4x2", 14000)):
        CartFactory(layout=layout, tank_capacity_l=litres)
    assert classes_of() == [
        "2-axle, 12,000–16,000 L",
        "3-axle, 8,000–12,000 L",
        "3-axle, 12,000–16,000 L",
        "4-axle, 16,000–20,000 L",
    ]


def test_thirty_carts_are_told_of_in_as_many_queries_as_three(start, at):
    def add(number):
        for _ in range(number):
            cart = CartFactory()
            LineFactory(cart=cart, starts_at=at - 3 * DAY, out_at=at - 2 * DAY)
            MeterReadingFactory(cart=cart, read_at=JOINED_AT)
            LimitFactory(
                cart=cart,
                defect=DefectFactory(cart=cart, grade="do_not_use", told_at=at - DAY),
                set_at=at - HOUR,
            )
            HoldFactory(cart=cart, placed_at=at - DAY)

    def queries():
        with CaptureQueriesContext(connection) as found:
            told_of(start=start, end=at)
        return len(found)

    add(3)
    few = queries()
    add(27)
    assert queries() == few
