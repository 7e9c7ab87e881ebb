"""A tyre changed in one act, a wheel off and on, and its nuts checked again in two steps."""

from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.actions.locks import AgainstARule
from fleet.actions.wheels import NoSuchPosition, TyreDetails, TyreElsewhere, fit_tyre
from fleet.models.wheels import Tyre, TyreFitting
from people.outbox.models import Message
from people.refusals import NotAllowed, Refusal
from people.roles import WORKSHOP, Role
from servicing.models.tyres import TyreForecast
from servicing.models.wheels import Retorque
from servicing.wheel_actions import (
    CheckedAlready,
    FirstCheckFirst,
    NotSettledYet,
    NoTyreThere,
    change_tyre,
    check_first,
    check_second,
    wheel_refitted,
)
from tests.at_once import at_once
from tests.factories.fleet import CartFactory, MeterReadingFactory, TreadReadingFactory, TyreFittingFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW, RetorqueFactory
from tests.fleet.journal import entries_of, events_of
from tests.outbox import deliver

pytestmark = pytest.mark.django_db
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def fitter():
    return StaffFactory(role="fitter", full_name="Teo Marsden")


def details(serial="RW 00900", **changes):
    known = {"make": "Wallaroo", "size": "11R22.5", "new_depth_mm": Decimal("18.0")}
    return TyreDetails(**{"serial": serial} | known | changes)


def change(fitting, by, **changes):
    given = {"details": details(), "changed_at": NOW - HOUR, "by": by, "at": NOW}
    return change_tyre(fitting=fitting, **given | changes)


def first(task, by, **changes):
    given = {
        "done_at": task.fitted_at + 35 * MINUTE, "wrench": "TW-3", "setting_nm": 600, "nuts": 10,
        "second_for": "M. Doyle, Callabar", "shift_ends_at": NOW + 9 * HOUR, "by": by, "at": NOW,
    }  # fmt: skip
    return check_first(task=task, **given | changes)


def second(task, by, **changes):
    given = {"done_at": NOW - MINUTE, "by_words": "M. Doyle, Callabar", "wrench": "TW-9", "setting_nm": 600, "nuts": 10, "by": by,
             "at": NOW}  # fmt: skip
    return check_second(task=task, **given | changes)


def test_a_change_closes_the_old_period_opens_the_new_and_asks_for_its_nuts(fitter):
    cart = CartFactory()
    MeterReadingFactory(cart=cart, kind="km", value=Decimal(41000), read_at=NOW - 2 * HOUR)
    old = TyreFittingFactory(cart=cart, code="2LO")
    new = change(old, fitter, depth_mm=Decimal("17.8"), words="Worn", details=details(cost=Decimal("640.50")))
    old.refresh_from_db()
    assert (old.period.upper, new.period.lower, new.period.upper) == (NOW - HOUR, NOW - HOUR, None)
    assert new.wheel_position == old.wheel_position
    assert new.tread_readings.get().depth_mm == Decimal("17.8")
    assert new.tyre.cost == Decimal("640.50")
    task = Retorque.objects.get()
    assert (task.cart, task.hub_words, task.fitting, task.fitted_at) == (cart, "axle 2 left", new, NOW - HOUR)
    assert (task.km_at_fitting, task.rule_set, task.is_open) == (Decimal(41000), "au", True)
    assert events_of(cart) == ["fleet.tyre.taken_off", "servicing.retorque.opened", "fleet.tyre.fitted"]
    assert Message.objects.filter(kind="servicing.tyres_changed", subject_id=cart.pk).count() == 1


def test_the_cart_s_tyres_are_forecast_anew_after_a_change(fitter):
    new = change(TyreFittingFactory(code="2LO"), fitter, depth_mm=Decimal("17.8"))
    deliver(NOW, "servicing.tyres_changed")
    assert TyreForecast.objects.get().fitting == new


@pytest.mark.parametrize(
    ("changes", "refusal", "field", "words"),
    [
        ({"changed_at": NOW + HOUR}, AgainstARule, "changed_at", "has passed"),
        ({"changed_at": NOW - 900 * DAY}, AgainstARule, "changed_at", "was still at"),
        ({"changed_at": NOW - 4 * DAY}, AgainstARule, "changed_at", "was still at"),
        ({"depth_mm": Decimal("30.0")}, AgainstARule, "depth_mm", "18.0 mm when new"),
        ({"details": details(new_depth_mm=Decimal(0))}, AgainstARule, None, "above 0"),
        ({"details": details(cost=Decimal(-1))}, AgainstARule, None, "never below zero"),
        ({"details": details("rw 00001")}, AgainstARule, "serial", "comes off"),
        ({"details": details("ELSEWHERE 7")}, TyreElsewhere, "serial", "on record at"),
    ],
)
def test_a_change_that_cannot_be_changes_nothing(fitter, changes, refusal, field, words):
    old = TyreFittingFactory(code="2LO", tyre__serial="RW 00001")
    TreadReadingFactory(fitting=old, read_at=NOW - 3 * DAY)
    TyreFittingFactory(code="1L", tyre__serial="ELSEWHERE 7")
    with pytest.raises(refusal, match=words) as refused:
        change(old, fitter, **changes)
    assert refused.value.field == field
    old.refresh_from_db()
    assert old.period.upper is None
    assert not Retorque.objects.exists()
    assert Tyre.objects.count() == 2


def test_a_tyre_that_came_off_meanwhile_is_not_changed(fitter):
    gone = TyreFittingFactory(code="2LO", taken_off_at=NOW - DAY)
    with pytest.raises(NoTyreThere, match="came off axle 2 left outer"):
        change(gone, fitter)


@pytest.mark.parametrize("role", sorted(set(Role) - WORKSHOP))
def test_only_the_workshop_works_on_wheels(people, role):
    task, by = RetorqueFactory(), people[role]
    with pytest.raises(NotAllowed):
        change(TyreFittingFactory(code="2LO"), by)
    with pytest.raises(NotAllowed):
        wheel_refitted(cart=task.cart, position_code="1L", refitted_at=NOW, why="Brakes", by=by, at=NOW)
    with pytest.raises(NotAllowed):
        first(task, by)
    with pytest.raises(NotAllowed):
        second(RetorqueFactory(first=True), by)


@pytest.mark.parametrize(("is_fresh", "count"), [(True, 1), (False, 0)])
def test_a_tyre_fitted_now_asks_for_its_nuts_and_one_only_recorded_does_not(fitter, is_fresh, count):
    cart = CartFactory()
    fit_tyre(
        cart=cart, position_code="1L", details=details(), fitted_at=NOW, is_fresh=is_fresh, by=fitter, at=NOW
    )
    assert Retorque.objects.filter(cart=cart, axle=1, side="L").count() == count


def test_a_wheel_off_for_a_brake_job_asks_for_its_nuts_too(fitter):
    cart = CartFactory()
    there = TyreFittingFactory(cart=cart, code="2RI")
    task = wheel_refitted(
        cart=cart, position_code="2RI", refitted_at=NOW, why=" Brake shoes ", by=fitter, at=NOW
    )
    assert (task.hub_words, task.fitting, task.why, task.km_at_fitting) == (
        "axle 2 right",
        there,
        "Brake shoes",
        None,
    )
    [(event, facts)] = entries_of(cart)
    assert (event, facts["hub"]) == ("servicing.retorque.opened", "axle 2 right")


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"why": " "}, AgainstARule, "why"),
        ({"refitted_at": NOW + HOUR}, AgainstARule, "refitted_at"),
        ({"position_code": "9L"}, NoSuchPosition, "position_code"),
    ],
)
def test_a_wheel_that_was_not_off_is_refused(fitter, changes, refusal, field):
    given = {"position_code": "2LO", "refitted_at": NOW, "why": "Brakes"} | changes
    with pytest.raises(refusal) as refused:
        wheel_refitted(cart=CartFactory(), by=fitter, at=NOW, **given)
    assert refused.value.field == field


def test_off_again_before_it_was_checked_the_hub_has_one_open_row(fitter):
    task = RetorqueFactory(code="2LO")
    again = wheel_refitted(
        cart=task.cart, position_code="2LI", refitted_at=NOW, why="Puncture", by=fitter, at=NOW
    )
    task.refresh_from_db()
    assert (task.replaced_at, task.is_open, again.is_open) == (NOW, False, True)
    with pytest.raises(CheckedAlready):
        first(task, fitter)


def test_two_checks_close_it(fitter):
    task = RetorqueFactory()
    done = first(task, fitter)
    assert (done.first_by, done.first_by_words, done.first_wrench) == (fitter, "Teo Marsden", "TW-3")
    assert (done.first_nm, done.first_nuts, done.second_for) == (600, 10, "M. Doyle, Callabar")
    assert done.is_open
    closed = second(task, fitter, km=Decimal(41060))
    assert (closed.second_by_words, closed.second_told_to, closed.second_km) == (
        "M. Doyle, Callabar",
        fitter,
        Decimal(41060),
    )
    assert not closed.is_open
    assert events_of(task.cart) == ["servicing.retorque.first", "servicing.retorque.second"]
    for again in (first, second):
        with pytest.raises(CheckedAlready):
            again(task, fitter)


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"done_at": NOW - 91 * MINUTE}, NotSettledYet, "done_at"),
        ({"done_at": NOW + HOUR}, AgainstARule, "done_at"),
        ({"shift_ends_at": NOW - 85 * MINUTE}, AgainstARule, "shift_ends_at"),
        ({"setting_nm": 60}, AgainstARule, "setting_nm"),
        ({"nuts": 2}, AgainstARule, "nuts"),
        ({"second_for": " "}, AgainstARule, None),
    ],
)
def test_a_first_check_that_cannot_be_is_refused(fitter, changes, refusal, field):
    task = RetorqueFactory()
    with pytest.raises(refusal) as refused:
        first(task, fitter, **changes)
    assert refused.value.field == field
    task.refresh_from_db()
    assert task.first_at is None


def test_it_has_stood_after_thirty_minutes_to_the_minute(fitter):
    task = RetorqueFactory()
    assert first(task, fitter, done_at=task.fitted_at + 30 * MINUTE).first_at == task.fitted_at + 30 * MINUTE


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"done_at": NOW + HOUR}, "done_at"),
        ({"done_at": NOW - 3 * HOUR}, "done_at"),
        ({"km": Decimal(40999)}, "km"),
        ({"by_words": " "}, None),
        ({"setting_nm": 6000}, "setting_nm"),
    ],
)
def test_a_second_check_that_cannot_be_is_refused(fitter, changes, field):
    task = RetorqueFactory(first=True, km_at_fitting=Decimal(41000))
    with pytest.raises(AgainstARule) as refused:
        second(task, fitter, **changes)
    assert refused.value.field == field


def test_the_check_on_the_road_does_not_stand_for_the_one_in_the_yard(fitter):
    with pytest.raises(FirstCheckFirst):
        second(RetorqueFactory(), fitter)


@pytest.mark.parametrize(
    ("values", "constraint"),
    [
        ({"first_nm": 600}, "servicing_retorque_first_whole"),
        ({"second_nm": 600}, "servicing_retorque_second_whole"),
        ({"km_at_fitting": -1}, "servicing_retorque_km_not_negative"),
    ],
)
def test_the_database_refuses_half_a_check(values, constraint):
    task = RetorqueFactory()
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        Retorque.objects.filter(pk=task.pk).update(**values)


def test_the_database_refuses_checks_out_of_order_and_two_open_rows_of_one_hub():
    task = RetorqueFactory(first=True)
    whole = {"second_by_words": "M", "second_nm": 600, "second_nuts": 10}
    for values, constraint in (
        ({"second_at": task.first_at, **whole}, "servicing_retorque_second_after_first"),
        ({"first_at": task.fitted_at - MINUTE}, "servicing_retorque_first_after_fitting"),
        ({"second_for": ""}, "servicing_retorque_first_after_fitting"),
    ):
        with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
            Retorque.objects.filter(pk=task.pk).update(**values)
    with pytest.raises(IntegrityError, match="servicing_retorque_one_a_hub"), transaction.atomic():
        RetorqueFactory(cart=task.cart, code="2LI")


@pytest.mark.django_db(transaction=True)
def test_two_who_change_one_tyre_at_once_change_it_once():
    now, fitter = timezone.now(), StaffFactory(role="fitter")
    old = TyreFittingFactory(code="2LO", fitted_at=now - 20 * DAY)
    answers = at_once(
        *[
            partial(
                change_tyre, fitting=old, details=details(serial), changed_at=now - HOUR, by=fitter, at=now
            )
            for serial in ("ONE", "OTHER")
        ]
    )
    assert sorted(isinstance(answer, Refusal) for answer in answers) == [False, True]
    assert TyreFitting.objects.filter(period__upper_inf=True).count() == 1
    assert Retorque.objects.count() == 1
