"""The screens of services and of the coming weeks: what each shows, keeps and refuses; queries that do not grow."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from people.yard import yard_day
from servicing.models.plans import ServiceDone, ServiceDue, ServicePlan, Visit
from servicing.service_book import reckon_services
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.hire import LineFactory
from tests.factories.people import StaffFactory
from tests.factories.services import ServicePlanFactory, VisitFactory
from tests.pages import saved

pytestmark = pytest.mark.django_db


@pytest.fixture
def boss(client):
    person = StaffFactory(role="workshop_manager")
    client.force_login(person)
    return person


def by_months(cart, *, days_left, **kwargs):
    """A six-month service of a cart without meters, last done so that it falls due in some days."""
    now = timezone.now()
    plan = ServicePlanFactory(cart=cart, engine_hours=None, months=6, **kwargs)
    done = now - timedelta(days=182 - days_left)
    ServiceDone.objects.create(cart=cart, plan=plan, done_at=done, recorded_at=done, by_words="Book")
    reckon_services(carts=[cart], at=now)
    return plan


def text(response):
    return " ".join(response.content.decode().split())


def test_the_coming_weeks_say_of_each_cart_what_is_next_why_and_on_which_day(client, boss):
    cart = CartFactory(meters=())
    by_months(cart, days_left=30, name="Half-year service")
    page = client.get(reverse("servicing:week_list"))
    [row] = page.context["page"].object_list
    assert (row.cart, row.items[0].item.words, row.visits[0].suggested.kind) == (
        cart,
        "Half-year service",
        "free",
    )
    assert "Half-year service" in text(page)
    assert row.visits[0].suggested.on <= row.items[0].item.on


def test_a_cart_out_past_the_day_names_the_hire_that_must_give(client, boss):
    cart = CartFactory(meters=())
    by_months(cart, days_left=10)
    now = timezone.now()
    LineFactory(
        cart=cart, starts_at=now - timedelta(days=2), ends_at=now + timedelta(days=40), out_at=now - timedelta(days=2),
        agreement__place_of_work="Callabar pit",
    )  # fmt: skip
    page = text(client.get(reverse("servicing:week_list") + "?wants=gives"))
    assert "Callabar pit has it" in page
    assert "send a fitter out" in page


def test_a_booked_day_stands_in_the_row_and_wants_no_other(client, boss):
    cart = CartFactory(meters=())
    by_months(cart, days_left=15)
    VisitFactory(cart=cart, on=yard_day(timezone.now()) + timedelta(days=6), booked_by=boss)
    [row] = client.get(reverse("servicing:week_list") + "?wants=booked").context["page"].object_list
    assert (row.visits, len(row.booked)) == ((), 1)


@pytest.mark.parametrize(("days_left", "visits"), [(20, 0), (21, 1), (40, 1), (-3, 0)])
def test_a_booked_day_covers_what_is_near_and_nothing_further_off(client, boss, days_left, visits):
    cart = CartFactory(meters=())
    by_months(cart, days_left=days_left)
    low = ServiceDue.objects.get().on_low
    VisitFactory(
        cart=cart, on=max(low - timedelta(days=days_left - 6), yard_day(timezone.now())), booked_by=boss
    )
    [row] = client.get(reverse("servicing:week_list")).context["page"].object_list
    assert len(row.visits) == visits


def test_a_defect_that_waits_for_its_second_look_wants_no_workshop_day(client, boss):
    DefectFactory(state="repaired", grade="do_not_use")
    [row] = client.get(reverse("servicing:week_list")).context["page"].object_list
    assert row.visits == ()
    assert "waits for a second look" in row.items[0].item.why


def test_the_weeks_are_narrowed_by_cart_and_kind_and_say_the_same_of_a_cart(client, boss):
    one, other = CartFactory(meters=()), CartFactory(meters=())
    by_months(one, days_left=30)
    url = reverse("servicing:week_list")
    assert [row.cart for row in client.get(f"{url}?kind=service").context["page"]] == [one]
    assert [row.cart for row in client.get(f"{url}?cart={other.fleet_number}").context["page"]] == [other]
    assert "No cart fits that" in text(client.get(f"{url}?cart=nosuch"))


def test_queries_of_the_weeks_do_not_grow(client, boss):
    url = reverse("servicing:week_list")
    by_months(CartFactory(meters=()), days_left=20)
    client.get(url)
    with CaptureQueriesContext(connection) as few:
        client.get(url)
    for n in range(12):
        cart = CartFactory(meters=())
        by_months(cart, days_left=20 + n)
        DefectFactory(cart=cart, grade="do_not_use")
    with CaptureQueriesContext(connection) as many:
        client.get(url)
    assert len(few) == len(many)


def test_the_day_is_booked_from_what_was_suggested_and_cancelled(client, boss):
    cart = CartFactory()
    on = yard_day(timezone.now()) + timedelta(days=4)
    url = reverse("servicing:visit_book", args=[cart.pk])
    asked = client.get(f"{url}?on={on}&where=yard&minutes=90&words=Half-year+service")
    assert (f'value="{on}"' in text(asked), "Half-year service" in text(asked)) == (True, True)
    client.post(url, {"on": on, "where": "yard", "minutes": 90, "words": "Half-year service"})
    visit = Visit.objects.get()
    assert (visit.on, visit.minutes, visit.booked_by) == (on, 90, boss)
    client.post(reverse("servicing:visit_cancel", args=[visit.pk]))
    visit.refresh_from_db()
    assert visit.cancelled_by == boss


def test_a_day_that_has_passed_comes_back_with_what_was_typed(client, boss):
    url = reverse("servicing:visit_book", args=[CartFactory().pk])
    back = client.post(
        url, {"on": "2026-01-05", "where": "yard", "minutes": 90, "words": "Half-year service"}
    )
    assert back.status_code == 422
    assert "That day has passed" in text(back)
    assert "Half-year service" in text(back)


PLAN = {
    "name": "250-hour service", "engine_hours": "250", "tolerance_pct": "10", "stops": "on", "set_by": "maker", "minutes": "150",
    "tasks": "Oil\nFilters",
}  # fmt: skip


def test_a_plan_is_added_changed_and_ended(client, boss):
    grease = ServicePlanFactory(name="Grease round")
    client.post(reverse("servicing:plan_add"), PLAN | {"includes": [str(grease.pk)]})
    plan = ServicePlan.objects.get(name="250-hour service")
    assert (list(plan.includes.all()), plan.task_list) == ([grease], ["Oil", "Filters"])
    url = reverse("servicing:plan_change", args=[plan.pk])
    assert 'value="250"' in text(client.get(url))
    client.post(url, PLAN | {"engine_hours": "200"})
    plan.refresh_from_db()
    assert (plan.engine_hours, plan.includes.count()) == (200, 0)
    client.post(reverse("servicing:plan_end", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.ended_on


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"engine_hours": ""}, "Give an interval"),
        ({"fleet_number": "NOSUCH"}, "No cart of the fleet is numbered NOSUCH"),
        ({"model": "K7"}, "Give the make"),
        ({"tolerance_pct": "60"}, "0 to 50"),
    ],
)
def test_a_plan_at_fault_comes_back_with_what_was_typed(client, boss, changes, says):
    back = client.post(reverse("servicing:plan_add"), PLAN | changes)
    assert back.status_code == 422
    assert says in text(back)
    assert "250-hour service" in text(back)


def test_one_service_opens_to_its_working_tasks_and_history(client, boss):
    cart = CartFactory(meters=())
    by_months(cart, days_left=30, name="Half-year service", tasks="Oil\nFilters")
    page = text(client.get(reverse("servicing:service_due_detail", args=[ServiceDue.objects.get().pk])))
    for words in (
        "Half-year service",
        "Counts from",
        "Oil",
        "Handbook, page 4",
        "Strike it out",
        "the maker’s handbook decides",
    ):
        assert words in page, words


def test_a_fitter_records_a_service_and_is_asked_for_the_meter(client):
    cart, plan = CartFactory(), ServicePlanFactory()
    client.force_login(StaffFactory(role="fitter"))
    url = reverse("servicing:service_record", args=[cart.pk])
    typed = {"plan": plan.pk, "done_at": "2026-11-20T10:00", "engine_hours": "", "words": "Oil and filters"}
    back = client.post(url, typed)
    assert back.status_code == 422
    assert f"Read the engine hours on cart {cart.fleet_number}" in text(back)
    assert "Oil and filters" in text(back)
    assert client.post(url, typed | {"engine_hours": "2000"}).status_code == 302
    assert ServiceDone.objects.get().words == "Oil and filters"


def test_the_cart_page_shows_its_services(client, boss):
    cart = CartFactory(meters=())
    by_months(cart, days_left=-400, name="Half-year service")
    page = text(client.get(reverse("fleet:cart_detail", args=[cart.pk])))
    assert "past its tolerance" in page
    assert "Half-year service past its tolerance" in page


def test_the_weeks_and_the_services_are_saved_as_files(client, boss):
    cart = CartFactory(meters=())
    by_months(cart, days_left=30, name="=Half-year service")
    for name in ("servicing:week_list", "servicing:plan_list"):
        file = client.get(reverse(name) + "?as=csv")
        assert file["Content-Type"].startswith("text/csv")
        # A name that a spreadsheet would take for a sum stays a name.
        assert "'=Half-year service" in file.content.decode("utf-8-sig")


def test_every_service_done_is_saved_not_the_newest_alone(client, boss):
    cart, now = CartFactory(meters=()), timezone.now()
    plan = by_months(cart, days_left=30)
    for days in range(30):
        done = now - timedelta(days=200 + days)
        ServiceDone.objects.create(
            cart=cart,
            plan=plan,
            done_at=done,
            recorded_at=done,
            by_words="Book",
            cost=Decimal("1250.50"),
            words="=Oil",
        )
    page = reverse("servicing:service_due_detail", args=[ServiceDue.objects.get(cart=cart).pk])
    rows = saved(client, page)
    assert len(rows) == 31
    assert (rows[-1]["Cost"], rows[-1]["What"], rows[-1]["Struck out"]) == ("1250.50", "'=Oil", "")
    assert datetime.fromisoformat(rows[-1]["Done"]) == done.replace(microsecond=0)
