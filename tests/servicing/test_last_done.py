"""One service over all its carts: the list, its rows filled in together, all of it recorded or nothing; old days."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.actions.locks import AgainstARule
from fleet.actions.readings import change_meter
from fleet.models.carts import MeterReading, ReadingQuestion
from people.journal.models import Entry
from people.refusals import NotAllowed
from servicing import service_actions as actions
from servicing.last_done_actions import LastDone, SomeDoNotFit, record_services
from servicing.models.plans import ServiceDone, ServiceDue
from servicing.service_book import carts_of, plans_in_force, plans_of
from servicing.service_pages import due_page
from servicing.service_readings import ReadingWanted
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.factories.services import ServiceDoneFactory, ServicePlanFactory
from tests.factories.servicing import NOW
from tests.pages import queries_of, text_of, today
from tests.servicing.services import DAY, TODAY, at_work, due

pytestmark = pytest.mark.django_db

LONG_AGO = TODAY - 150 * DAY


@pytest.fixture
def fitter():
    return StaffFactory(role="fitter")


def newcomer(fitter, *, at=NOW):
    """A cart entered ten days ago: from that day its hour meter is on record, and no earlier."""
    cart, entered = CartFactory(meters=()), at - 10 * DAY
    change_meter(
        cart=cart, kind="engine_hours", changed_at=entered, last_value=None, first_value=Decimal(4000), words="Entered",
        by=fitter, at=entered,
    )  # fmt: skip
    return cart


def given(cart, on, hours=None):
    return LastDone(cart.pk, on, None if hours is None else Decimal(hours))


def test_every_row_is_recorded_with_its_own_entry_its_reading_and_what_it_includes(fitter):
    grease = ServicePlanFactory(name="Grease", engine_hours=50)
    plan = ServicePlanFactory(includes=[grease])
    carts = [at_work(0, plan=ServicePlanFactory()) for _ in range(3)]
    MeterReading.objects.filter(read_at__gt=NOW - 10 * DAY).delete()

    done = record_services(
        plan=plan, rows=[given(cart, TODAY, 2000) for cart in carts], by_words="Old book", by=fitter, at=NOW
    )

    assert {one.cart for one in done} == set(carts)
    assert {one.by_words for one in done} == {"Old book"}
    assert all(one.done_at <= NOW for one in done)
    for one in done:
        assert one.parts.get().plan == grease
        assert Entry.objects.filter(event="servicing.service.done", subject_id=one.pk).count() == 1
        assert MeterReading.objects.get(source_id=one.pk).value == 2000
        assert ServiceDue.objects.get(cart=one.cart, plan=plan).last_engine_hours == 2000


def test_one_row_that_does_not_fit_and_nothing_is_recorded(fitter):
    plan = ServicePlanFactory()
    fine, late, low, twice, bare, other = [at_work(200, plan=plan) for _ in range(6)]
    ServicePlanFactory(name=plan.name, cart=other, engine_hours=100)
    before = (ServiceDone.objects.count(), Entry.objects.count(), MeterReading.objects.count())
    actions.record_service(
        cart=twice, plan=plan, done_at=NOW - 9 * DAY, engine_hours=Decimal(1956), by=fitter, at=NOW
    )
    rows = [
        given(fine, TODAY, 2000),
        given(late, TODAY + DAY, 2000),
        given(low, TODAY - 5 * DAY, 1500),
        given(twice, TODAY - 9 * DAY, 1956),
        given(bare, TODAY - 5 * DAY),
        given(other, TODAY, 2000),
    ]

    with pytest.raises(SomeDoNotFit, match="5 carts do not fit") as no:
        record_services(plan=plan, rows=rows, by=fitter, at=NOW)

    assert {cart_id: type(why) for cart_id, why in no.value.refused.items()} == {
        late.pk: AgainstARule,
        low.pk: AgainstARule,
        twice.pk: actions.DoneAlready,
        bare.pk: ReadingWanted,
        other.pk: actions.NotForThisCart,
    }
    assert "lower than" in no.value.refused[low.pk].sentence
    assert "is on record already" in no.value.refused[twice.pk].sentence
    after = (ServiceDone.objects.count() - 1, Entry.objects.count() - 1, MeterReading.objects.count() - 1)
    assert after == before
    assert not ReadingQuestion.objects.exists()


def test_who_may_not_record_one_may_not_record_many():
    plan, cart = ServicePlanFactory(), CartFactory()
    with pytest.raises(NotAllowed):
        record_services(plan=plan, rows=[given(cart, TODAY, 1)], by=StaffFactory(role="hire_desk"), at=NOW)


def test_a_service_from_before_the_meter_was_on_record_counts_by_its_hours(fitter):
    cart, plan = newcomer(fitter), ServicePlanFactory()

    [done] = record_services(plan=plan, rows=[given(cart, LONG_AGO, 3800)], by=fitter, at=NOW)

    assert (due(cart).last_engine_hours, due(cart).due_engine_hours) == (3800, 4050)
    assert due(cart).last_on == LONG_AGO
    # It is no reading of a meter that was not on record then.
    assert not MeterReading.objects.filter(source_id=done.pk).exists()
    assert not ReadingQuestion.objects.exists()


def test_hours_from_before_the_meter_lie_below_its_first_reading(fitter):
    cart, plan = newcomer(fitter), ServicePlanFactory()
    with pytest.raises(AgainstARule, match=r"4000.1 h was read, higher than 4000.0 on .*would have shown"):
        actions.record_service(
            cart=cart, plan=plan, done_at=NOW - 150 * DAY, engine_hours=Decimal("4000.1"), by=fitter, at=NOW
        )
    actions.record_service(
        cart=cart, plan=plan, done_at=NOW - 150 * DAY, engine_hours=Decimal(4000), by=fitter, at=NOW
    )


def test_an_old_day_alone_is_enough_where_the_calendar_counts_and_not_else(fitter):
    cart = newcomer(fitter)
    by_hours = ServicePlanFactory(cart=cart)
    with pytest.raises(SomeDoNotFit) as no:
        record_services(plan=by_hours, rows=[given(cart, LONG_AGO)], by=fitter, at=NOW)
    assert "counts by nothing else" in no.value.refused[cart.pk].sentence

    by_both = ServicePlanFactory(cart=cart, months=6)
    record_services(plan=by_both, rows=[given(cart, LONG_AGO)], by=fitter, at=NOW)
    row = ServiceDue.objects.get(cart=cart, plan=by_both)
    # The hours still count: from the first reading on record, as they would without any service.
    assert (row.last_on, row.last_engine_hours, row.due_engine_hours) == (LONG_AGO, 4000, 4250)
    told = {label: note for label, _, note in due_page(row.pk, at=NOW)["inputs"]}
    assert told["Engine hours then"] == "not written down: the first reading since"


def test_a_cart_without_the_meter_is_not_asked_for_it(fitter):
    cart, plan = CartFactory(meters=()), ServicePlanFactory(months=6)
    record_services(plan=plan, rows=[given(cart, LONG_AGO)], by=fitter, at=NOW)
    assert due(cart).last_on == LONG_AGO


def test_a_day_before_the_cart_was_built_is_refused(fitter):
    cart, plan = CartFactory(build_year=2019), ServicePlanFactory()
    with pytest.raises(SomeDoNotFit) as no:
        record_services(plan=plan, rows=[given(cart, date(2018, 12, 31), 10)], by=fitter, at=NOW)
    assert f"Cart {cart.fleet_number} was built in 2019" in no.value.refused[cart.pk].sentence


def test_the_carts_of_a_plan_are_those_it_comes_round_for():
    makes = [("Korrin", "K7"), ("Korrin", "K5"), ("Wallaroo", "K7")]
    carts = [CartFactory(make=make, model=model) for make, model in makes for _ in range(2)]
    CartFactory(retired_on=TODAY)
    for cover in (
        {},
        {"make": "Korrin"},
        {"make": "Korrin", "model": "K7"},
        {"cart": carts[0]},
        {"cart": carts[5]},
    ):
        ServicePlanFactory(name="250-hour service", **cover)
    ServicePlanFactory(name="Grease", cart=carts[1])
    plans = plans_in_force()
    for plan in plans:
        assert set(carts_of(plan, plans, on=TODAY)) == {one for one in carts if plan in plans_of(one, plans)}


# The page.


MARCH, MAY = f"{today().year - 1}-03-12", f"{today().year - 1}-05-13"


def new_here(fitter):
    return newcomer(fitter, at=timezone.now())


def address(plan):
    return reverse("servicing:last_done", args=[plan.pk])


def filled(*rows, **more):
    """What a form sends: rows of (cart, day, hours), every cart of it on the page."""
    sent = {"cart": [str(cart.pk) for cart, *_ in rows]} | more
    for cart, on, hours in rows:
        sent |= {f"{cart.pk}-on": str(on), f"{cart.pk}-engine_hours": hours}
    return sent


def test_the_list_is_reached_from_the_services_and_shows_what_is_on_record(client, fitter):
    plan = ServicePlanFactory(name="250-hour service", km=10000)
    done, never, bare = new_here(fitter), CartFactory(), CartFactory(meters=())
    ServiceDoneFactory(
        cart=done, plan=plan, engine_hours=3990, done_at=timezone.now() - DAY, recorded_at=timezone.now()
    )
    client.force_login(fitter)
    assert f'href="{address(plan)}"' in text_of(client.get(reverse("servicing:plan_list")))
    page = client.get(address(plan))
    rows = {row.cart: row for row in page.context["rows"]}
    assert (rows[done].last.engine_hours, rows[done].now) == (3990, "4,000.0\N{NO-BREAK SPACE}h")
    assert (rows[never].last, list(rows[never].form.fields)) == (None, ["on", "engine_hours", "km"])
    assert list(rows[bare].form.fields) == ["on"]
    assert "none on record" in text_of(page)
    assert f'aria-label="Engine hours, cart {done.fleet_number}"' in text_of(page)


def test_filled_rows_are_recorded_and_empty_ones_left_alone(client, fitter):
    plan = ServicePlanFactory()
    one, other, empty = new_here(fitter), new_here(fitter), new_here(fitter)
    client.force_login(fitter)
    sent = filled((one, MARCH, "3800"), (other, MAY, "3790.5"), (empty, "", ""), by_words="Depot")
    page = client.post(address(plan), sent, follow=True)
    assert "is on record for 2 carts" in text_of(page)
    kept = ServiceDone.objects.values_list("cart", "engine_hours", "by_words")
    assert set(kept) == {(one.pk, Decimal(3800), "Depot"), (other.pk, Decimal("3790.5"), "Depot")}
    assert {row.cart: bool(row.last) for row in page.context["rows"]} == {
        one: True,
        other: True,
        empty: False,
    }


def test_a_row_that_does_not_fit_comes_back_beside_itself_with_all_that_was_typed(client, fitter):
    plan = ServicePlanFactory()
    fine, high, ahead = new_here(fitter), new_here(fitter), new_here(fitter)
    client.force_login(fitter)
    coming = today() + timedelta(days=3)
    sent = filled((fine, MARCH, "3800"), (high, MAY, "4321"), (ahead, coming, "3950"), by_words="Depot")
    page = client.post(address(plan), sent)
    assert page.status_code == 422
    assert not ServiceDone.objects.exists()
    words = text_of(page)
    for value in (MARCH, "3800", MAY, "4321", str(coming), "3950", "Depot"):
        assert f'value="{value}"' in words, value
    assert "2 carts do not fit" in words
    assert f'id="id_{high.pk}-engine_hours_error"' in words
    assert f"Cart {high.fleet_number}: 4321 h was read, higher than 4000.0" in words
    assert f"Cart {ahead.fleet_number}: A service is recorded once it is done" in words
    assert not {row.cart: row.form.faults for row in page.context["rows"]}[fine]


@pytest.mark.parametrize(
    ("on", "hours", "says"),
    [
        ("", "3800", "Give the day it was done on cart {number}"),
        ("0026-06-12", "3800", "Cart {number}: Give the year in full"),
        ("soon", "3800", "Cart {number}: Enter a valid date"),
        (MARCH, "-4", "Cart {number}: Not below zero"),
        (MARCH, "", "Give the engine hours that cart {number} had"),
        ("", "", "Fill in the row of at least one cart"),
    ],
)
def test_what_cannot_be_read_comes_back_with_what_was_typed(client, fitter, on, hours, says):
    cart, plan = new_here(fitter), ServicePlanFactory()
    client.force_login(fitter)
    page = client.post(address(plan), filled((cart, on, hours)))
    assert page.status_code == 422
    assert says.format(number=cart.fleet_number) in text_of(page)
    assert f'value="{hours}"' in text_of(page) or not hours
    assert not ServiceDone.objects.exists()


def test_a_cart_that_left_the_list_meanwhile_is_told_of_and_not_passed_over(client, fitter):
    cart, plan = new_here(fitter), ServicePlanFactory()
    ServicePlanFactory(name=plan.name, cart=cart)
    client.force_login(fitter)
    page = client.post(address(plan), filled((cart, MARCH, "3800")))
    assert page.status_code == 422
    assert f"does not come round for cart {cart.fleet_number}" in text_of(page)
    assert 'value="3800"' in text_of(page)


def test_pressed_twice_nothing_is_recorded_twice(client, fitter):
    cart, plan = new_here(fitter), ServicePlanFactory()
    client.force_login(fitter)
    sent = filled((cart, MARCH, "3800"))
    client.post(address(plan), sent)
    again = client.post(address(plan), sent)
    assert f"of cart {cart.fleet_number} on 12 Mar {today().year - 1} is on record already" in text_of(again)
    assert ServiceDone.objects.count() == 1


def test_the_list_takes_the_same_queries_for_3_carts_and_for_30_and_is_paged(client, fitter, monkeypatch):
    plan = ServicePlanFactory()
    client.force_login(fitter)
    [new_here(fitter) for _ in range(3)]
    client.get(address(plan))
    few = queries_of(client, address(plan))
    [new_here(fitter) for _ in range(27)]
    assert queries_of(client, address(plan)) == few
    monkeypatch.setattr("servicing.last_done_views.PAGE", 20)
    second = client.get(f"{address(plan)}?page=2")
    assert len(second.context["rows"]) == 10
    assert "Record this page before you open the next" in text_of(second)


def test_a_service_for_no_cart_says_what_to_do(client, fitter):
    client.force_login(fitter)
    plan = ServicePlanFactory(make="Korrin", model="K9")
    assert "comes round for no cart yet" in text_of(client.get(address(plan)))
