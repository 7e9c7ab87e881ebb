"""Services that come round: reckoned from the meters, reset by what is done, told to readiness and the watch."""

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from fleet.actions.locks import AgainstARule
from fleet.models.carts import Meter, MeterReading
from fleet.readiness import Window, readiness
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.yard import yard_day
from servicing import service_actions as actions
from servicing.models.plans import ServiceDone, ServiceDue, ServicePlan
from servicing.service_book import plans_in_force, plans_of, reckon_all, reckon_services
from servicing.service_due import meters_now, stop_day
from servicing.watch_services import services_fall_due
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.factories.services import ServiceDoneFactory, ServicePlanFactory, VisitFactory
from tests.factories.servicing import NOW, line_of

pytestmark = pytest.mark.django_db
TODAY = yard_day(NOW)
DAY = timedelta(days=1)


def read(cart, kind, *points):
    """Readings (days before NOW, value) of the meter now on the cart."""
    meter = cart.meters.get(kind=kind, removed_at=None)
    for days, value in points:
        MeterReading.objects.create(
            meter=meter, value=Decimal(value), read_at=NOW - days * DAY, source_kind="test", source_id=cart.pk
        ) if not meter.readings.filter(source_id=cart.pk).exists() else MeterReading.objects.create(
            meter=meter,
            value=Decimal(value),
            read_at=NOW - days * DAY,
            source_kind=f"test{days}",
            source_id=cart.pk,
        )


def at_work(used, *, hours_a_day=5, plan=None, **kwargs):
    """A cart that runs so many hours a day and has used so many hours of its 250-hour service."""
    cart = CartFactory(**kwargs)
    read(cart, "engine_hours", *[(days, 2000 - hours_a_day * days) for days in range(50, 0, -1)], (0, 2000))
    plan = plan or ServicePlanFactory(cart=cart)
    ServiceDoneFactory(
        cart=cart, plan=plan, engine_hours=2000 - used, done_at=NOW - (used // hours_a_day) * DAY
    )
    reckon_services(carts=[cart], at=NOW)
    return cart


def due(cart):
    return ServiceDue.objects.get(cart=cart)


def window(days_ahead=1, days=7):
    start = NOW + days_ahead * DAY
    return Window(start, start + days * DAY, asks_gate=False)


def found(cart, code, **kwargs):
    answer = readiness(cart, window=window(**kwargs), at=NOW)
    return [one for one in (*answer.blockers, *answer.cautions) if one.code == code]


def test_a_service_is_reckoned_from_the_hours_a_day():
    row = due(at_work(200))
    assert (row.state, row.trigger, row.due_engine_hours, row.stop_engine_hours) == (
        "soon",
        "engine_hours",
        2050,
        2075,
    )
    assert row.on == TODAY + 10 * DAY
    assert row.hours_per_day == pytest.approx(5)


@pytest.mark.parametrize(
    ("used", "state"), [(150, "ok"), (249, "soon"), (250, "due"), (275, "due"), (276, "overdue")]
)
def test_its_state_at_and_beside_each_line(used, state):
    assert due(at_work(used, hours_a_day=1 if used == 150 else 5)).state == state


def test_past_its_tolerance_it_stops_the_cart_and_a_manager_may_pass_one_further():
    [blocker] = found(at_work(276), "service.overdue")
    assert "276 of 250 h used" in blocker.sentence
    assert blocker.passed_by
    [far] = found(at_work(301), "service.overdue")
    assert not far.passed_by


def test_within_its_tolerance_it_is_a_caution():
    [caution] = found(at_work(260), "service.due")
    assert "is due now" in caution.sentence


def test_a_forecast_inside_the_hire_is_a_caution_and_one_beyond_it_is_not():
    assert found(at_work(230), "service.due")
    assert not found(at_work(150), "service.due")


def test_a_round_that_stops_nothing_is_a_caution_even_past_its_tolerance():
    cart = CartFactory()
    cart = at_work(290, plan=ServicePlanFactory(stops=False))
    assert not found(cart, "service.overdue")
    assert found(cart, "service.due")


def test_the_meters_as_they_stand_now_are_asked_not_as_they_stood():
    """The worker's reckoning is some minutes old; the cart has worked since."""
    cart = at_work(249)
    read(cart, "engine_hours", (-0.01, 2027))
    answer = readiness(cart, window=window(), at=NOW + DAY)
    assert "service.overdue" in [one.code for one in answer.blockers]


def test_a_cart_whose_meters_were_never_read_is_told_of_and_never_passed_over():
    cart = CartFactory()
    ServicePlanFactory(cart=cart)
    reckon_services(carts=[cart], at=NOW)
    assert due(cart).state == "unknown"
    assert found(cart, "service.unknown")
    assert [one.subject_id for one in services_fall_due(NOW)] == [due(cart).pk]


def test_months_count_where_no_meter_does():
    cart = CartFactory(meters=())
    plan = ServicePlanFactory(cart=cart, engine_hours=None, months=6)
    ServiceDoneFactory(cart=cart, plan=plan, done_at=NOW - 100 * DAY)
    reckon_services(carts=[cart], at=NOW)
    assert (due(cart).trigger, due(cart).on) == ("months", date(2027, 2, 23))


def test_a_changed_meter_counts_on():
    cart = CartFactory(meters=())
    old = Meter.objects.create(
        cart=cart, kind="engine_hours", fitted_at=NOW - 90 * DAY, removed_at=NOW - 20 * DAY
    )
    new = Meter.objects.create(cart=cart, kind="engine_hours", fitted_at=NOW - 20 * DAY)
    for n, (meter, days, value) in enumerate([(old, 60, 4000), (old, 20, 4200), (new, 20, 0), (new, 0, 100)]):
        MeterReading.objects.create(
            meter=meter, value=value, read_at=NOW - days * DAY, source_kind=f"t{n}", source_id=cart.pk
        )
    plan = ServicePlanFactory(cart=cart)
    ServiceDoneFactory(cart=cart, plan=plan, engine_hours=4100, done_at=NOW - 40 * DAY)
    reckon_services(carts=[cart], at=NOW)
    # 100 h on the old meter and 100 on the new are used; the new shows 150 when the interval is up.
    assert (due(cart).due_engine_hours, due(cart).last_engine_hours) == (150, -100)
    assert due(cart).on == TODAY + 10 * DAY


def test_the_narrowest_plan_of_a_name_counts():
    cart = CartFactory(make="Korrin", model="K7")
    wide = ServicePlanFactory(name="Small", engine_hours=250)
    make = ServicePlanFactory(name="Small", make="Korrin", engine_hours=200)
    assert plans_of(cart, plans_in_force()) == [make]
    own = ServicePlanFactory(name="Small", cart=cart, engine_hours=100)
    assert plans_of(cart, plans_in_force()) == [own]
    assert plans_of(CartFactory(make="Welmar"), plans_in_force()) == [wide]


def test_reckoning_twice_writes_nothing_the_second_time():
    at_work(200)
    assert reckon_all(at=NOW) == 0
    with CaptureQueriesContext(connection) as first:
        reckon_all(at=NOW)
    assert not [one for one in first if one["sql"].startswith(("UPDATE", "INSERT", "DELETE"))]


def test_queries_do_not_grow_with_the_carts():
    carts = [at_work(200) for _ in range(2)]
    with CaptureQueriesContext(connection) as few:
        reckon_services(carts=carts, at=NOW)
    carts += [at_work(200) for _ in range(4)]
    with CaptureQueriesContext(connection) as many:
        reckon_services(carts=carts, at=NOW)
    assert len(few) == len(many)


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
        ({"engine_hours": None}, actions.ReadingWanted, "Read the engine hours"),
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


@pytest.mark.parametrize(("used", "rank"), [(170, None), (185, "soon"), (250, "today"), (276, "today")])
def test_the_watch_tells_of_it_in_time_and_not_before(used, rank):
    cart = at_work(used)
    assert [one.rank for one in services_fall_due(NOW) if not one.only_keeps] == ([rank] if rank else [])
    assert cart


def test_a_day_that_wanders_off_a_little_keeps_its_alert():
    at_work(165)
    [condition] = services_fall_due(NOW)
    assert condition.only_keeps


@pytest.mark.parametrize(("used", "days"), [(200, 15), (250, 5), (275, 0), (276, -6)])
def test_how_long_it_may_wait_at_the_carts_pace(used, days):
    row = due(at_work(used))
    assert stop_day(row, meters_now([row.cart_id], at=NOW), TODAY) == TODAY + days * DAY


def test_promised_days_ahead_count_as_hire_days():
    """A cart that works ten hours a day on hire and stands still between: a hire ahead brings the service nearer."""
    cart = CartFactory()
    out = line_of(cart, starts_at=NOW - 20 * DAY, out_at=NOW - 20 * DAY)
    out.back_at = NOW - 10 * DAY
    out.save()
    read(
        cart,
        "engine_hours",
        (40, 1000),
        (30, 1000),
        *[(20 - n, 1000 + 10 * n) for n in range(11)],
        (5, 1100),
        (0, 1100),
    )
    ServiceDoneFactory(
        cart=cart, plan=ServicePlanFactory(cart=cart), engine_hours=1000, done_at=NOW - 30 * DAY
    )
    reckon_services(carts=[cart], at=NOW)
    before = due(cart).on
    line_of(cart, starts_at=NOW + DAY)
    reckon_services(carts=[cart], at=NOW)
    assert before is None or due(cart).on < before


def worked_rows():
    lines = (
        Path("docs/services.md")
        .read_text(encoding="utf-8")
        .split("| used, of an interval")[1]
        .splitlines()[2:]
    )
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[: lines.index("")]]
    return [(int(row[0].split(" h")[0]), *row[1:]) for row in rows]


@pytest.mark.parametrize("row", worked_rows(), ids=lambda row: f"{row[0]} h")
def test_the_worked_table_of_the_page_is_true(row):
    used, state, right_to_go, alert = row
    cart = at_work(used)
    ranks = [one.rank for one in services_fall_due(NOW) if not one.only_keeps]
    assert (due(cart).state, ranks) == (state, [] if alert == "none" else [alert])
    stopped = found(cart, "service.overdue")
    assert bool(stopped) == right_to_go.startswith("stopped")
    if stopped:
        assert bool(stopped[0].passed_by) == ("may pass" in right_to_go and "nobody" not in right_to_go)
    else:
        assert bool(found(cart, "service.due", days=14)) == (right_to_go != "nothing")
