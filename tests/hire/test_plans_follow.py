"""A plan of a job follows the call into the pencilled cart, the booking and the hire, and the driver is told it for the cart that
goes: litres, dip, gear and speed on a phone."""

import html
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions.locks import constraint_of
from fleet.road_fill import road_fill
from hire.actions.bookings import make_booking, promise_bookings
from hire.actions.job_plans import keep_job_plan
from hire.actions.off_hire import PickUp
from hire.actions.operator_links import make_operator_link
from hire.actions.swap import swap_cart
from hire.job_told import NO_DIP, plans_on, told_of
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.job_plans import JobPlan, PlanFollowed
from hire.models.pencils import Pencil
from people.journal.models import Entry
from people.yard import yard_day
from tests.factories.fleet import CartFactory
from tests.factories.hire import (
    BookingFactory,
    CustomerFactory,
    CustomerLinkFactory,
    JobPlanFactory,
    LineFactory,
    PencilFactory,
)
from tests.factories.spraying import SpraySheetFactory
from tests.factories.weights import TankMeasuredFactory, WeightSheetFactory
from tests.factories.wet import TurnFactory, WetHireFactory, wet_out
from tests.pages import saved, text_of, today

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TOKEN = "token-of-the-plan-0000000000000002"
# As docs/job-plan.md: 0.75 L/m² by Second at 1,200 rpm.
JOB = "length_m=2000&width_m=8&area_pct=0&target_l_m2=0.75&passes=6&haul_km=3&haul_km_h=30&other_min=6&hours_a_day=10"
BY_ROAD = f"{JOB}&by_road=on"


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def desk_client(client, desk):
    client.force_login(desk)
    return client


def cart(number, *, is_measured=True):
    made = SpraySheetFactory(cart=CartFactory(fleet_number=number, tank_capacity_l=12_500)).cart
    if is_measured:
        TankMeasuredFactory(cart=made)
        WeightSheetFactory(cart=made)
    return made


def booking(customer, now, desk, **more):
    return make_booking(
        customer=customer, place_of_work="Saltbush Road", leaves_by="float", works_on="site", starts_at=now + DAY,
        ends_at=now + 8 * DAY, by=desk, at=now, **more,
    )  # fmt: skip


def told(line, now):
    return told_of(line, on=yard_day(now))


def fact(line, now, name):
    return next(one for one in told(line, now).facts if one[0] == name)


def test_it_goes_from_the_call_through_the_page_into_a_pencilled_cart_and_from_there_into_the_hire(
    desk_client, now
):
    kept, goes = JobPlanFactory(words="Haul road", question=JOB), cart("WC-07")
    opened = desk_client.get(reverse("hire:job_plan_open", args=[kept.pk]), follow=True)
    assert f"{reverse('hire:enquiry')}?plan={kept.pk}" in html.unescape(text_of(opened))
    # Kept anew it does not say under which plan it was kept before.
    assert "plan=" not in opened.context["keep"].initial["question"]
    asked = {"starts_at": f"{today() + DAY:%Y-%m-%d}T06:00", "ends_at": f"{today() + 8 * DAY:%Y-%m-%d}T06:00"}
    answer = desk_client.get(reverse("hire:enquiry"), {"plan": kept.pk, **asked})
    assert f'name="plan" value="{kept.pk}"' in text_of(answer)
    address = f"{reverse('hire:pencil_add', args=[goes.pk])}?{answer.context['carried']}"
    typed = {
        "caller_words": "Ada Kell",
        "phone": "08 5550 0171",
        "expires_at": f"{today() + DAY:%Y-%m-%d}T05:00",
    }
    assert desk_client.post(address, typed | asked).status_code == 302
    pencil = Pencil.objects.get()
    assert list(JobPlan.objects.of_pencil(pencil)) == [kept]
    address = f"{reverse('hire:line_add')}?pencil={pencil.pk}"
    typed = asked | {
        "customer": CustomerFactory().pk, "place_of_work": "Saltbush Road", "leaves_by": "float", "works_on": "site",
        "pre_start_book": "ours", "shift": "day", "water": "any", "cart": goes.pk, "wet": "",
    }  # fmt: skip
    assert desk_client.post(address, typed).status_code == 302
    line = Line.objects.get()
    assert plans_on(line) == [kept]
    assert kept.kept_with == f"WC-07 pencilled for Ada Kell, then {line.agreement.number}, WC-07"
    entry = Entry.objects.filter(event="hire.agreement.made").first()
    assert '"plans":["Haul road"]' in entry.text


def test_it_goes_from_a_pencilled_cart_into_a_booking_and_with_the_cart_chosen_later_into_the_hire(desk, now):
    pencil = PencilFactory(cart=cart("WC-07"))
    kept = keep_job_plan(words="Haul road", question=JOB, pencil=pencil, by=desk, at=now)
    made = booking(CustomerFactory(), now, desk, pencil=pencil)
    assert Pencil.objects.get().ended_how == "booked"
    chains = Entry.objects.filter(event="hire.booking.made").values_list("chain", flat=True)
    assert set(chains) == {"yard", f"cart:{pencil.cart_id}"}
    [line] = promise_bookings(chosen={made: cart("WC-08")}, by=desk, at=now)
    assert plans_on(line) == [kept]
    assert told(line, now).cart_words.startswith("Planned for WC-07, but WC-08 goes")
    assert plans_on(LineFactory(cart=CartFactory())) == []


def test_booking_any_cart_from_a_pencil_ends_it_and_takes_the_calls_plan_along(desk_client, now):
    pencil, kept = PencilFactory(), JobPlanFactory()
    page = text_of(desk_client.get(reverse("hire:line_list")))
    address = f"{reverse('hire:booking_add')}?pencil={pencil.pk}"
    assert address in html.unescape(page)
    typed = {
        "customer": CustomerFactory().pk, "place_of_work": "Saltbush Road", "starts_at": f"{today() + DAY:%Y-%m-%d}T06:00",
        "ends_at": f"{today() + 8 * DAY:%Y-%m-%d}T06:00", "leaves_by": "float", "works_on": "site", "water": "any",
        "drive_axles": "0", "pre_start_book": "ours", "shift": "day",
    }  # fmt: skip
    assert desk_client.post(f"{address}&plan={kept.pk}", typed).status_code == 302
    assert Pencil.objects.get().ended_how == "booked"
    assert PlanFollowed.objects.get().booking == Booking.objects.get()


def test_a_hire_made_without_a_plan_goes_without_one(desk, now):
    made = booking(CustomerFactory(), now, desk)
    [line] = promise_bookings(chosen={made: cart("WC-08")}, by=desk, at=now)
    assert not PlanFollowed.objects.exists()
    assert told(line, now) is None


def test_the_driver_is_told_litres_dip_gear_and_speed_on_the_customers_phone(client, now):
    line = LineFactory(cart=cart("WC-07"), starts_at=now + DAY)
    JobPlanFactory(line=line, question=BY_ROAD)
    CustomerLinkFactory(
        line=line, token=TOKEN, rights="operator", made_at=now - DAY, expires_at=now + 9 * DAY
    )
    fill = road_fill(line.cart, on=yard_day(now))
    page = html.unescape(text_of(client.get(reverse("hire:customer_page", args=[TOKEN]))))
    assert fact(line, now, "In the tank")[1] == f"{fill.litres:,} L"
    for words in (
        f"{fill.litres:,} L", f"{fill.down_mm:,} mm down from the lid", f"{fill.sight_mm:,} mm on the sight tube",
        "Second at 1,200 rpm", "6.4 km/h", "Back every", "A part load moves",
    ):  # fmt: skip
        assert words in page
    for word in ("WE-01", "WE-02", "MEMORY", "memory"):
        assert word not in page


def test_accounts_are_not_told_of_the_job(client, now):
    line = LineFactory(cart=cart("WC-07"), starts_at=now + DAY)
    JobPlanFactory(line=line, question=JOB)
    CustomerLinkFactory(
        line=line, token=TOKEN, rights="accounts", made_at=now - DAY, expires_at=now + 9 * DAY
    )
    assert "Second at" not in text_of(client.get(reverse("hire:customer_page", args=[TOKEN])))


def test_our_operator_is_told_of_tomorrows_job_and_of_nobody_elses(client, desk, now):
    line = LineFactory(cart=cart("WC-07"), starts_at=now + DAY)
    turn = TurnFactory(line=WetHireFactory(line=line).line)
    JobPlanFactory(line=line, question=JOB)
    token = make_operator_link(operator=turn.operator, by=desk, at=now)[1]
    address = reverse("hire:operator_plan", args=[token, line.pk])
    assert address in text_of(client.get(reverse("hire:operator_page", args=[token])))
    page = text_of(client.get(address))
    for words in ("12,500 L", "On site alone", "mm down from the lid", "Second at 1,200 rpm", "6.4 km/h"):
        assert words in page
    other = wet_out(at=now, days=4).line
    assert client.get(reverse("hire:operator_plan", args=[token, other.pk])).status_code == 404
    type(turn).objects.filter(pk=turn.pk).update(cancelled_at=now, cancelled_why="Sick")
    assert client.get(address).status_code == 404


def test_the_hires_page_tells_it_to_everybody_of_the_yard(desk_client, now):
    line = LineFactory(cart=cart("WC-07"))
    JobPlanFactory(line=line, question=JOB)
    page = text_of(desk_client.get(reverse("hire:line_detail", args=[line.pk])))
    for words in ("12,500 L", "the full tank", "Second at 1,200 rpm", "Show the working", "RT-01 (COMPUTED)"):
        assert words in page


def test_after_a_swap_it_is_reckoned_for_the_cart_that_goes_and_says_so(desk, now):
    line = LineFactory(cart=cart("WC-07"), starts_at=now - DAY, out_at=now - DAY)
    JobPlanFactory(line=line, question=JOB, planned_at=now - DAY)
    other = cart("WC-08")
    type(other).objects.filter(pk=other.pk).update(tank_capacity_l=6_000)
    other.refresh_from_db()
    new = swap_cart(
        line=line, cart=other, swapped_at=now, called_by_words="Aoife", why="Shaft", by=desk, at=now,
        pick_up=PickUp("Saltbush Road, by the dam", "With the site hut", "Merrin Civil"),
    )  # fmt: skip
    assert fact(new, now, "In the tank") == ("In the tank", "6,000 L", "the full tank")
    assert "Planned for WC-07, but WC-08 goes" in told(new, now).cart_words
    # Planned anew for the new cart, nothing is said of another.
    JobPlanFactory(line=new, question=JOB, planned_at=now)
    assert not told(new, now).cart_words


def test_without_a_road_fill_nobody_is_told_how_much_to_fill_for_a_public_road(now):
    line = LineFactory(cart=cart("WC-07", is_measured=False))
    JobPlanFactory(line=line, question=BY_ROAD)
    it = told(line, now)
    assert [name for name, *_ in it.facts] == ["Heads open", "Gear", "Speed"]
    assert "none on record" in it.cautions[0]
    assert [one.label for one in it.workings] == ["Second at 1200 rpm lays"]


def test_what_cannot_be_told_says_why(now):
    line = LineFactory(cart=CartFactory(fleet_number="WC-05"))
    JobPlanFactory(line=line, question=JOB)
    assert told(line, now).why == "No spray figures on record."
    unmeasured = LineFactory(cart=cart("WC-06", is_measured=False))
    JobPlanFactory(line=unmeasured, question=JOB)
    assert NO_DIP in told(unmeasured, now).cautions
    odd = LineFactory(cart=cart("WC-08"))
    JobPlanFactory(line=odd, question="target_l_m2=0")
    assert "can’t be read any more" in told(odd, now).why


def test_a_hire_that_is_over_tells_nothing(now):
    line = LineFactory(
        cart=cart("WC-07"), starts_at=now - 9 * DAY, out_at=now - 9 * DAY, came_back_at=now - DAY
    )
    JobPlanFactory(line=line, question=JOB)
    assert told(line, now) is None


def test_the_list_says_where_each_plan_went(desk_client, desk, now):
    pencil = PencilFactory(caller_words="Ada Kell")
    keep_job_plan(words="Haul road", question=JOB, pencil=pencil, by=desk, at=now)
    booking(CustomerFactory(name="Merrin Civil"), now, desk, pencil=pencil)
    [row] = saved(desk_client, reverse("hire:job_plan_list"))
    assert row["Kept with"].endswith("pencilled for Ada Kell, then booking of Merrin Civil")


@pytest.mark.parametrize("places", [{}, {"line": LineFactory, "booking": BookingFactory}])
def test_the_database_refuses_a_plan_that_goes_with_nothing_or_with_two(places, desk, now):
    made = {name: factory() for name, factory in places.items()}
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        PlanFollowed.objects.create(plan=JobPlanFactory(), followed_at=now, by=desk, **made)
    assert constraint_of(refused.value) == "hire_planfollowed_into_one"


def test_a_cart_without_the_heads_planned_with_is_told_its_first_and_why(now):
    kept = JobPlanFactory(
        question=f"{JOB}&heads=Cannon", line=LineFactory(cart=cart("WC-07")), planned_at=now - DAY
    )
    line = kept.line
    found = told(line, now)
    assert "WC-07 has no choice of heads called “Cannon”. It has “" in found.cart_words
    assert fact(line, now, "Heads open")[1] == found.one.sheet.openings[0].name
    JobPlanFactory(question=f"{JOB}&heads={found.one.sheet.openings[1].name}", line=line)
    other = told(line, now)
    assert other.cart_words == ""
    assert other.one.opening == other.one.sheet.openings[1]
    assert fact(line, now, "Heads open")[1] == other.one.opening.name
