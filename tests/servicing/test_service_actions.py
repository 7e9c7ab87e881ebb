"""Services planned, recorded, struck out, and booked for a day; and what the database itself refuses of them."""

from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from fleet.actions.locks import AgainstARule
from people.journal.models import Entry
from people.refusals import NotAllowed
from servicing import service_actions as actions
from servicing.models.plans import ServiceDone, ServiceDue, ServicePlan
from servicing.service_readings import ReadingWanted
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.factories.services import ServicePlanFactory, VisitFactory
from tests.factories.servicing import NOW
from tests.servicing.services import DAY, TODAY, at_work, found

pytestmark = pytest.mark.django_db


def test_a_service_done_counts_anew_with_what_it_includes_and_is_journalled():
    cart = at_work(260)
    small = cart.service_plans.get()
    grease = ServicePlanFactory(name="Grease", engine_hours=50)
    large = ServicePlanFactory(name="Large", engine_hours=500, includes=[small, grease])
    by = StaffFactory(role="fitter")
    done = actions.record_service(
        cart=cart, plan=large, done_at=NOW, engine_hours=Decimal(2000), by=by, at=NOW
    )
    assert set(done.parts.values_list("plan__name", flat=True)) == {small.name, "Grease"}
    assert set(ServiceDue.objects.filter(cart=cart).values_list("state", "last_engine_hours")) >= {
        ("ok", Decimal(2000))
    }
    assert not found(cart, "service.overdue")
    assert Entry.objects.filter(event="servicing.service.done", subject_id=done.pk).count() == 1


def test_a_smaller_service_written_down_for_the_same_time_stays_as_it_is():
    cart, by = at_work(260), StaffFactory(role="fitter")
    small = cart.service_plans.get()
    large = ServicePlanFactory(name="Large", engine_hours=500, includes=[small])
    told = {"cart": cart, "done_at": NOW, "engine_hours": Decimal(2000), "by": by, "at": NOW}
    own = actions.record_service(plan=small, **told)
    done = actions.record_service(plan=large, **told)
    assert not done.parts.exists()
    assert ServiceDone.objects.filter(plan=small, done_at=NOW).get() == own


def test_struck_out_it_counts_for_nothing_and_stays():
    cart = at_work(276)
    plan = cart.service_plans.get()
    boss, fitter = StaffFactory(role="workshop_manager"), StaffFactory(role="fitter")
    done = actions.record_service(
        cart=cart, plan=plan, done_at=NOW, engine_hours=Decimal(2000), by=fitter, at=NOW
    )
    assert not found(cart, "service.overdue")
    with pytest.raises(NotAllowed):
        actions.strike_service(done=done, words="Another cart's", by=fitter, at=NOW)
    with pytest.raises(AgainstARule):
        actions.strike_service(done=done, words=" ", by=boss, at=NOW)
    actions.strike_service(done=done, words="Another cart's", by=boss, at=NOW)
    assert found(cart, "service.overdue")
    assert ServiceDone.objects.filter(pk=done.pk, struck_words="Another cart's").exists()
    with pytest.raises(actions.StruckAlready):
        actions.strike_service(done=done, words="Again", by=boss, at=NOW)


@pytest.mark.parametrize(
    ("changes", "refusal", "says"),
    [
        ({"engine_hours": None}, ReadingWanted, "Read the engine hours"),
        ({"done_at": NOW + DAY}, AgainstARule, "once it is done"),
        ({"engine_hours": Decimal(1500)}, AgainstARule, "lower than"),
    ],
)
def test_what_is_refused_when_a_service_is_recorded(changes, refusal, says):
    cart = at_work(200)
    told = {
        "cart": cart,
        "plan": cart.service_plans.get(),
        "done_at": NOW,
        "engine_hours": Decimal(2000),
    } | changes
    with pytest.raises(refusal, match=says):
        actions.record_service(**told, by=StaffFactory(role="fitter"), at=NOW)
    assert ServiceDone.objects.count() == 1


def test_a_service_of_another_cart_and_one_written_down_twice_are_refused():
    cart, fitter = at_work(200), StaffFactory(role="fitter")
    other = ServicePlanFactory(cart=CartFactory())
    with pytest.raises(actions.NotForThisCart, match="does not come round"):
        actions.record_service(
            cart=cart, plan=other, done_at=NOW, engine_hours=Decimal(2000), by=fitter, at=NOW
        )
    told = {
        "cart": cart,
        "plan": cart.service_plans.get(),
        "done_at": NOW,
        "engine_hours": Decimal(2000),
        "by": fitter,
    }
    actions.record_service(**told, at=NOW)
    with pytest.raises(actions.DoneAlready):
        actions.record_service(**told, at=NOW)


def test_the_hire_desk_records_no_service_and_plans_none():
    desk, cart = StaffFactory(role="hire_desk"), at_work(10)
    with pytest.raises(NotAllowed):
        actions.record_service(
            cart=cart, plan=cart.service_plans.get(), done_at=NOW, engine_hours=Decimal(2000), by=desk, at=NOW
        )
    with pytest.raises(NotAllowed):
        actions.add_plan(details=actions.PlanDetails("Small", 250, None, None), by=desk, at=NOW)


@pytest.mark.parametrize(
    ("columns", "constraint"),
    [
        ({"engine_hours": None}, "has_interval"),
        ({"engine_hours": 0, "months": 6}, "intervals_positive"),
        ({"tolerance_pct": 51}, "tolerance_believable"),
        ({"make": "", "model": "K7"}, "model_has_make"),
    ],
)
def test_the_database_itself_refuses_a_plan(columns, constraint):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        ServicePlanFactory(**columns)


def test_the_database_refuses_one_name_twice_and_a_plan_for_cart_and_class():
    cart = CartFactory()
    ServicePlanFactory(name="Small")
    with pytest.raises(IntegrityError, match="serviceplan_once"), transaction.atomic():
        ServicePlanFactory(name="Small")
    with pytest.raises(IntegrityError, match="cart_or_class"), transaction.atomic():
        ServicePlanFactory(cart=cart, make="Korrin")
    boss = StaffFactory(role="workshop_manager")
    with pytest.raises(AgainstARule, match="of this name"):
        actions.add_plan(details=actions.PlanDetails("Small", 250, None, None), by=boss, at=NOW)


def test_an_ended_plan_comes_round_no_more_and_its_name_is_free():
    cart, boss = at_work(276), StaffFactory(role="workshop_manager")
    plan = cart.service_plans.get()
    actions.end_plan(plan=plan, by=boss, at=NOW)
    assert not ServiceDue.objects.exists()
    ServicePlanFactory(name=plan.name, cart=cart)
    assert ServicePlan.objects.filter(name=plan.name).count() == 2


def test_a_booked_day_is_told_to_who_wants_the_cart():
    cart = CartFactory()
    VisitFactory(cart=cart, on=TODAY + 3 * DAY, words="250-hour service")
    [caution] = found(cart, "visit.booked")
    assert "250-hour service" in caution.sentence
    assert not found(cart, "visit.booked", days_ahead=5)


def test_a_workshop_day_lies_ahead_and_a_second_booking_of_it_changes_what_for():
    cart, boss = CartFactory(), StaffFactory(role="workshop_manager")
    told = {"cart": cart, "where": "yard", "by": boss, "at": NOW}
    with pytest.raises(actions.DayHasPassed):
        actions.book_visit(on=TODAY - DAY, words="Service", **told)
    first = actions.book_visit(on=TODAY, words="Service", **told)
    again = actions.book_visit(on=TODAY, words="Service and tyres", **told)
    assert (first.pk, again.words) == (again.pk, "Service and tyres")
    actions.cancel_visit(visit=first, by=boss, at=NOW)
    with pytest.raises(actions.VisitGone):
        actions.cancel_visit(visit=first, by=boss, at=NOW)
