"""Services that come round: reckoned from the meters, reset by what is done, told to readiness and the watch."""

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.actions.readings import METERS_CHANGED, change_meter, settle_question
from fleet.models.carts import Meter, MeterReading, ReadingQuestion
from fleet.readiness import readiness
from fleet.readings import meter_subject
from servicing.service_book import plans_in_force, plans_of, reckon_all, reckon_services
from servicing.service_due import meters_now, stop_day
from servicing.watch_services import services_fall_due
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.factories.services import ServiceDoneFactory, ServicePlanFactory
from tests.factories.servicing import NOW, line_of
from tests.outbox import deliver
from tests.servicing.services import DAY, TODAY, at_work, due, found, read, window

pytestmark = pytest.mark.django_db


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


@pytest.mark.parametrize(
    ("name", "inside"),
    [
        ("Grease round", "the grease round"),
        ("500-hour service", "the 500-hour service"),
        ("A service", "the A service"),
    ],
)
def test_its_name_within_a_sentence(name, inside):
    [caution] = found(at_work(230, plan=ServicePlanFactory(name=name)), "service.due")
    assert caution.short == inside
    assert caution.sentence.startswith(f"{name} falls due")


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


def test_a_meter_that_shows_less_than_at_the_last_service_is_named():
    cart = CartFactory()
    read(cart, "engine_hours", (9, 1000), (0, 1010))
    plan = ServicePlanFactory(cart=cart)
    ServiceDoneFactory(cart=cart, plan=plan, engine_hours=1450, done_at=NOW - 5 * DAY)
    reckon_services(carts=[cart], at=NOW)
    [caution] = found(cart, "service.unknown")
    words = "the engine hours show 1010 h, less than the 1450 h at its last service."
    assert caution.sentence.endswith(words)
    [condition] = services_fall_due(NOW)
    assert condition.what.endswith(words)


def test_a_meter_written_in_the_workshop_counts_at_once():
    """Before, the new meter's figures were held against the old one's lines until the worker came round."""
    cart = at_work(240)
    fitter = StaffFactory(role="fitter")
    change_meter(
        cart=cart, kind="engine_hours", changed_at=NOW, last_value=Decimal(2000), first_value=Decimal(0), words="Worn out",
        by=fitter, at=NOW,
    )  # fmt: skip
    assert due(cart).due_engine_hours == 2010
    deliver(NOW, METERS_CHANGED)
    assert due(cart).due_engine_hours == 10


def test_a_parked_reading_found_right_counts_at_once():
    cart = at_work(240)
    asked = ReadingQuestion.objects.create(
        cart=cart, subject=meter_subject("engine_hours"), value=Decimal(2300), read_at=NOW, question="Rose too fast.",
        source_kind="walk_round", source_id=cart.pk,
    )  # fmt: skip
    fitter = StaffFactory(role="fitter")
    settle_question(question=asked, is_right=True, words="Read it myself.", by=fitter, at=NOW)
    deliver(NOW, METERS_CHANGED)
    assert due(cart).now_engine_hours == 2300


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
