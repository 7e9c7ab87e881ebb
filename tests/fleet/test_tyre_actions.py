"""Tyres go on and come off with a period each; two are never in one place, nor one in two."""

from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.utils import timezone

from fleet.actions.locks import AgainstARule
from fleet.actions.wheels import (
    AlreadyOff,
    NoSuchPosition,
    PositionTaken,
    TyreDetails,
    TyreElsewhere,
    fit_tyre,
    take_off_tyre,
)
from fleet.models.wheels import Tyre, TyreFitting
from people.refusals import NotAllowed, Refusal
from people.roles import WORKSHOP, Role
from tests.at_once import at_once
from tests.factories.fleet import CartFactory, TreadReadingFactory, TyreFittingFactory
from tests.factories.people import StaffFactory
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def details(serial="rw 00471", **changes):
    return TyreDetails(
        **{"serial": serial, "make": "Wallaroo", "size": "11R22.5", "new_depth_mm": Decimal("16.0")} | changes
    )


def fit(cart, by, at, code="2LO", **changes):
    return fit_tyre(
        cart=cart, position_code=code, by=by, at=at, **{"details": details(), "fitted_at": at - DAY} | changes
    )


def test_a_tyre_is_fitted_with_its_depth(fitter, at):
    cart = CartFactory()
    fitting = fit(cart, fitter, at, depth_mm=Decimal("15.8"))
    assert fitting.tyre.serial == "RW 00471"
    assert (fitting.period.lower, fitting.period.upper) == (at - DAY, None)
    reading = fitting.tread_readings.get()
    assert (reading.depth_mm, reading.source_kind, reading.source_id) == (
        Decimal("15.8"),
        "tyre_fitting",
        fitting.pk,
    )
    [(event, facts)] = entries_of(cart)
    assert (event, facts["position"], facts["depth_mm"]) == ("fleet.tyre.fitted", "2LO", "15.8")


def test_a_known_serial_is_that_tyre(fitter, at):
    cart = CartFactory()
    off = fit(cart, fitter, at, fitted_at=at - 9 * DAY)
    take_off_tyre(fitting=off, taken_off_at=at - 2 * DAY, by=fitter, at=at)
    again = fit(cart, fitter, at, "2RO", details=details("RW 00471", new_depth_mm=Decimal(10), make="Emu"))
    assert again.tyre == off.tyre
    assert (again.tyre.make, again.tyre.new_depth_mm) == ("Wallaroo", Decimal("16.0"))
    assert Tyre.objects.count() == 1


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"code": "9L"}, NoSuchPosition, "position_code"),
        ({"fitted_at": timedelta(minutes=2)}, AgainstARule, "fitted_at"),
        ({"details": details(new_depth_mm=Decimal(0))}, AgainstARule, None),
        ({"details": details(new_depth_mm=Decimal(41))}, AgainstARule, None),
        ({"details": details(make="")}, AgainstARule, "make"),
        ({"depth_mm": Decimal("17.1")}, AgainstARule, "depth_mm"),
    ],
)
def test_a_tyre_that_cannot_be_leaves_nothing_behind(at, changes, refusal, field):
    changes = {name: at + value if name == "fitted_at" else value for name, value in changes.items()}
    with pytest.raises(refusal) as refused:
        fit(CartFactory(), StaffFactory(role="fitter"), at, **changes)
    assert refused.value.field == field
    assert not TyreFitting.objects.exists()
    assert not Tyre.objects.exists()


def test_a_place_that_has_a_tyre_and_a_tyre_that_has_a_place(fitter, at):
    cart, other = CartFactory(fleet_number="WC-47"), CartFactory(fleet_number="WC-48")
    fit(cart, fitter, at)
    with pytest.raises(PositionTaken, match="Take it off first"):
        fit(cart, fitter, at, details=details("OTHER"))
    with pytest.raises(TyreElsewhere, match="axle 2 left outer of cart WC-47"):
        fit(other, fitter, at)


def test_a_tyre_fitted_into_a_time_another_was_there_is_refused(fitter, at):
    cart = CartFactory()
    TyreFittingFactory(cart=cart, code="2LO", taken_off_at=at - DAY)
    with pytest.raises(AgainstARule, match="Another tyre is in this position for that time"):
        fit(cart, fitter, at, fitted_at=at - 2 * DAY)
    assert fit(cart, fitter, at, fitted_at=at - DAY).period.lower == at - DAY


def test_a_tyre_comes_off_once_after_its_last_reading(fitter, at):
    fitting = TyreFittingFactory(fitted_at=at - 20 * DAY)
    TreadReadingFactory(fitting=fitting, read_at=at - 4 * DAY)
    for moment in (at - 20 * DAY, at - 5 * DAY):
        with pytest.raises(AgainstARule, match="was still at"):
            take_off_tyre(fitting=fitting, taken_off_at=moment, by=fitter, at=at)
    with pytest.raises(AgainstARule, match="has passed"):
        take_off_tyre(fitting=fitting, taken_off_at=at + DAY, by=fitter, at=at)
    off = take_off_tyre(fitting=fitting, taken_off_at=at - 4 * DAY, words=" Cut ", by=fitter, at=at)
    assert off.period.upper == at - 4 * DAY
    with pytest.raises(AlreadyOff):
        take_off_tyre(fitting=fitting, taken_off_at=at, by=fitter, at=at)
    assert entries_of(fitting.wheel_position.cart)[0][1]["words"] == "Cut"
    assert events_of(fitting.wheel_position.cart) == ["fleet.tyre.taken_off"]


@pytest.mark.parametrize("role", sorted(set(Role) - WORKSHOP))
def test_only_the_workshop_records_tyres(people, at, role):
    with pytest.raises(NotAllowed):
        fit(CartFactory(), people[role], at)
    with pytest.raises(NotAllowed):
        take_off_tyre(fitting=TyreFittingFactory(), taken_off_at=at, by=people[role], at=at)


@pytest.mark.django_db(transaction=True)
def test_one_tyre_fitted_to_two_carts_at_once_is_on_one():
    at, fitter = timezone.now(), StaffFactory(role="fitter")
    known = TyreFittingFactory(fitted_at=at - 20 * DAY, taken_off_at=at - 10 * DAY).tyre
    carts = CartFactory.create_batch(2)
    answers = at_once(*[partial(fit, cart, fitter, at, details=details(known.serial)) for cart in carts])
    assert sorted(isinstance(answer, Refusal) for answer in answers) == [False, True]
    assert sorted(isinstance(answer, TyreFitting) for answer in answers) == [False, True]
    assert TyreFitting.objects.filter(period__upper_inf=True).count() == 1
