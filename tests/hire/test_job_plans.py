"""The job planner: which carts and how many, two side by side, the times a day that follow from dust for the yard alone; kept with
the hire, and the customer's page of it."""

import html
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions.locks import AgainstARule, constraint_of
from fleet.road_fill import road_fill
from hire.actions.job_plans import keep_job_plan
from hire.job_forms import FROM_MEMORY, JobForm, StaffJobForm
from hire.models.job_plans import JobPlan
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.factories.hire import (
    BookingFactory,
    CustomerLinkFactory,
    JobPlanFactory,
    LineFactory,
    PencilFactory,
)
from tests.factories.spraying import SpraySheetFactory
from tests.factories.weights import TankMeasuredFactory, WeightSheetFactory
from tests.pages import queries_of, saved, text_of, today

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TOKEN = "token-of-the-plan-0000000000000001"
# As docs/job-plan.md: 16,000 m² six times at 0.75 are six loads of 12,000 L, a round of 55 minutes.
ASKED = {
    "length_m": "2000", "width_m": "8", "area_pct": "0", "target_l_m2": "0.75", "passes": "6", "haul_km": "3", "haul_km_h": "30",
    "other_min": "6", "hours_a_day": "10",
}  # fmt: skip
# 20 vehicles an hour, 75 % down, 0.4 mm/h: 2.93 hours between passes at 0.75 L/m² (WE-12), so four passes in ten hours.
BY_DUST = {"vehicles_per_h": "20", "evaporation_mm_h": "0.4", "target_control_pct": "75"}
PLAN = "hire:job_plan"


@pytest.fixture
def desk_client(client, desk):
    client.force_login(desk)
    return client


def cart(number, capacity=12_500):
    return SpraySheetFactory(
        cart=CartFactory(fleet_number=number, tank_capacity_l=capacity), dead_l=Decimal(500)
    ).cart


def plan(client, **changed):
    return client.get(reverse(PLAN), ASKED | changed)


def kept_down(answer):
    return answer.context["dust"].workings[0].figure


def line_out(made, **link):
    now = timezone.now()
    line = LineFactory(cart=made, starts_at=now - DAY, out_at=now - DAY)
    CustomerLinkFactory(line=line, token=TOKEN, made_at=now - DAY, expires_at=now + 9 * DAY, **link)
    return line


def test_the_plan_says_which_carts_how_many_and_the_round(desk_client):
    cart("WC-07")
    page = text_of(plan(desk_client))
    assert "Back every 55 min, 6 loads" in page
    assert "Second at 1200 rpm, 6.4 km/h: 0.75 L/m². 2,667 m a load over 6 m." in page
    assert "72,000 L" in page
    assert "The full tank." in page
    [row] = saved(desk_client, reverse(PLAN), **ASKED)
    # The file is of the fleet at once, the page of each cart by itself.
    told = [
        row[name]
        for name in (
            "A load L",
            "Gear",
            "Engine rpm",
            "km/h",
            "L/m2",
            "Round min",
            "Loads a day",
            "Litres a day",
        )
    ]
    assert told == ["12000.0", "Second", "1200", "6.4", "0.75", "55.0", "6", "72000"]


def test_ranges_widen_what_is_needed(desk_client):
    cart("WC-07")
    page = text_of(plan(desk_client, area_pct="50", other_most_min="60", slow_km_h="10"))
    # At the worst 9 loads, a round of 145 minutes, four rounds a day: three carts.
    assert "3 to 9" in page
    assert "1 to 3" in page


def test_two_carts_stand_side_by_side_the_best_two_unless_asked(desk_client):
    for number, capacity in (("WC-01", 2_000), ("WC-02", 6_500), ("WC-03", 12_500)):
        cart(number, capacity)
    assert [one.plan.name for one in plan(desk_client).context["made"]] == ["WC-02", "WC-03", "WC-01"]
    assert [one.plan.name for one in plan(desk_client).context["pair"]] == ["WC-02", "WC-03"]
    asked = plan(desk_client, one="wc-01", other="WC-99")
    assert [one.plan.name for one in asked.context["pair"]] == ["WC-01", "WC-02"]
    assert "WC-99 is not among the carts that can be planned with." in text_of(asked)


def test_a_cart_without_figures_or_too_slow_is_left_out_with_why(desk_client):
    CartFactory(fleet_number="WC-05")
    cart("WC-06")
    page = text_of(plan(desk_client, haul_km="150"))
    assert "No cart can be planned with for this." in page
    assert "No spray figures on record." in page
    assert "A round of WC-06 takes" in html.unescape(page)
    rows = saved(desk_client, reverse(PLAN), **ASKED | {"haul_km": "150"})
    assert {row["Cart"]: row["Carts"] for row in rows} == {"WC-05": "", "WC-06": ""}


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"width_m": "0"}, "Above zero, up to 200."),
        ({"haul_km_h": "0"}, "Above zero, up to 110."),
        ({"target_l_m2": "-1"}, "Above zero, up to 10."),
        ({"passes": "0"}, "From 1 to 200."),
        ({"hours_a_day": "25"}, "Above zero, up to 24."),
        ({"length_m": ""}, "Give length and width of the road, or the area."),
        ({"area_m2": "500"}, "Give the area or the road, not both."),
        ({"slow_km_h": "40"}, "Not over the usual speed."),
        ({"other_most_min": "2"}, "Not under the usual minutes."),
    ],
)
def test_what_cannot_be_comes_back_in_a_sentence_and_no_figure(desk_client, wrong, sentence):
    cart("WC-07")
    answer = plan(desk_client, **wrong)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert "job" not in answer.context
    assert {name: str(answer.context["form"][name].value()) for name in ASKED | wrong} == ASKED | wrong


def test_a_dust_target_says_how_often_and_a_person_plans_with_it(desk_client):
    cart("WC-07")
    answer = plan(desk_client, **BY_DUST)
    # The plan stays as it was typed, for the yard, the driver and the customer alike.
    assert answer.context["job"].passes == 6
    page = text_of(answer)
    assert f"Times a day for 75 % ({FROM_MEMORY})" in page
    assert "WE-01, which is MEMORY" in page
    assert "Plan with 4 times a day" in page
    followed = plan(desk_client, **BY_DUST | {"passes": "4"})
    assert followed.context["job"].passes == 4
    assert "Plan with" not in text_of(followed)


def test_the_ranges_of_traffic_and_evaporation_are_ranges_of_what_is_needed(desk_client):
    cart("WC-07")
    wanted = plan(desk_client, **BY_DUST | {"weather_pct": "50"}).context["wanted"]
    told = dict(row[:2] for row in wanted.working.inputs)
    # docs/dust.md: 25 × 0.75 ÷ (0.8 × 0.4 × 20) is 2.93 hours; at half of both 11.72, at half as much again of both 1.30.
    assert told["Longest between passes"] == "2.93 (1.30 to 11.72) h"
    assert wanted.working.figure == "4 (1 to 8)"
    # 12,000 L a pass, loads of 12,000 L.
    assert told["Loads a day"] == "4 (1 to 8)"
    assert told["Carts"] == "1"


def test_a_target_that_no_watering_meets_says_so(desk_client):
    cart("WC-07")
    answer = plan(desk_client, **BY_DUST | {"target_control_pct": "99", "vehicles_per_h": "9000"})
    assert "no watering does it. Lay more, or aim lower." in text_of(answer)
    assert answer.context["wanted"].passes is None


def test_a_districts_form_says_what_the_passes_keep_down_by_what_is_really_laid(desk_client):
    # WE-09: 60 in a year, 20 an hour, 2 hours and 0.22 gal/yd² keep 86.909 % down; 0.22 gal/yd² are 0.996 L/m².
    SpraySheetFactory(cart=CartFactory(), pump_l_min=Decimal("796.8"), head_kpa=Decimal(100))
    answer = plan(desk_client, vehicles_per_h="20", pan_mm="1524", target_l_m2="0.996", passes="5")
    assert "Dust kept down, about" in text_of(answer)
    assert kept_down(answer) == "87 %"
    # Wanted more than any gear lays: the figure stays that of what is laid.
    more = plan(desk_client, vehicles_per_h="20", pan_mm="1524", target_l_m2="4", passes="5")
    assert kept_down(more) == "87 %"


def test_the_road_fill_is_planned_with_where_the_way_is_a_public_road(desk_client):
    made = cart("WC-07")
    page = text_of(plan(desk_client, by_road="on"))
    assert "The full tank, since there is no road fill" in page

    TankMeasuredFactory(cart=made)
    WeightSheetFactory(cart=made)
    fill = road_fill(made, on=today())
    answer = plan(desk_client, by_road="on")
    [one] = answer.context["made"]
    # Less what its tank, as it was measured, keeps from the pump.
    assert one.plan.load_l == min(fill.litres, 12_500) - 150
    assert f"The road fill, {fill.source}; a weighbridge decides." in html.unescape(text_of(answer))


def test_a_plan_is_kept_with_its_hire_and_opens_from_it(desk_client):
    line = line_out(cart("WC-07"))
    shown = plan(desk_client, line=line.pk, enquiry="starts_at=2027-03-01T06:00&litres=12000")
    assert "What the caller asked" in text_of(shown)
    question = shown.context["keep"].initial["question"]
    typed = {"words": "Haul road, Saltbush pit", "question": question}
    for _ in range(2):
        kept = desk_client.post(reverse("hire:job_plan_keep"), typed, follow=True)
        assert "The plan for Haul road, Saltbush pit is kept." in text_of(kept)
    [found] = JobPlan.objects.all()
    assert (found.line, found.enquiry) == (line, "starts_at=2027-03-01T06%3A00&litres=12000")
    assert Entry.objects.filter(event="hire.job.planned").count() == 1
    detail = text_of(desk_client.get(reverse("hire:line_detail", args=[line.pk])))
    assert reverse("hire:job_plan_open", args=[found.pk]) in detail
    again = desk_client.get(reverse("hire:job_plan_open", args=[found.pk]), follow=True)
    assert "Back every 55 min, 6 loads" in text_of(again)


def test_what_cannot_be_planned_is_not_kept(desk_client):
    for typed in ({"words": "", "question": "x=1"}, {"words": "Job", "question": "target_l_m2=0"}):
        answer = desk_client.post(reverse("hire:job_plan_keep"), typed, follow=True)
        assert "Not kept" in text_of(answer)
    assert not JobPlan.objects.exists()


def test_a_plan_goes_with_its_booking_into_the_hire(desk, at):
    line = LineFactory(cart=CartFactory())
    booking = BookingFactory()
    kept = keep_job_plan(words="Job", question="a=1", booking=booking, by=desk, at=at)
    assert not JobPlan.objects.of_lines([line]).exists()
    type(booking).objects.filter(pk=booking.pk).update(
        line=line, ended_at=timezone.now(), ended_how="promised"
    )
    assert list(JobPlan.objects.of_lines([line])) == [kept]
    assert kept.kept_with == f"booking of {booking.customer.name}"


def test_who_may_not_keep_one_and_what_is_against_the_rules(desk, people, at):
    with pytest.raises(NotAllowed):
        keep_job_plan(words="Job", question="a=1", by=people[Role.FITTER], at=at)
    with pytest.raises(AgainstARule):
        keep_job_plan(words=" ", question="a=1", by=desk, at=at)
    with pytest.raises(AgainstARule, match="not with two"):
        keep_job_plan(
            words="Job", question="a=1", booking=BookingFactory(), pencil=PencilFactory(), by=desk, at=at
        )


def test_the_customer_sees_the_yards_plan_of_this_hire_and_nothing_from_memory(client):
    line = line_out(cart("WC-07"))
    question = "&".join(f"{name}={value}" for name, value in (ASKED | BY_DUST | {"passes": "6"}).items())
    JobPlanFactory(line=line, question=question)
    page = text_of(client.get(reverse("hire:link_plan", args=[TOKEN])))
    # With the times a day that the yard decided on.
    assert "Back every 55 min, 6 loads" in page
    for word in (
        "MEMORY",
        "memory",
        "WE-01",
        "WE-02",
        "WE-12",
        "evaporation_mm_h",
        "2.93",
    ):
        assert word not in page


def test_the_customer_plans_their_own_cart_alone(client):
    line_out(cart("WC-07"))
    cart("WC-08")
    address = reverse("hire:link_plan", args=[TOKEN])
    assert "Plan it" in text_of(client.get(address))
    page = text_of(client.get(address, ASKED | BY_DUST | {"pan_mm": "1524"}))
    assert "<b>6 loads</b>" in page
    assert "WC-08" not in page
    assert "WE-03 (VERIFIED-R)" in page
    assert "WE-01" not in page
    wrong = client.get(address, ASKED | {"width_m": "0"})
    assert wrong.status_code == 422
    assert "Back every" not in text_of(wrong)


def test_the_planner_asks_the_same_for_three_carts_and_thirty(desk_client):
    for n in range(3):
        cart(f"WC-{n}")
    address = f"{reverse(PLAN)}?{'&'.join(f'{name}={value}' for name, value in ASKED.items())}&by_road=on"
    few = queries_of(desk_client, address)
    for n in range(3, 30):
        cart(f"WC-{n}")
    assert queries_of(desk_client, address) == few


@pytest.mark.parametrize("form", [JobForm, StaffJobForm])
def test_every_field_is_asked_once_under_a_heading(form):
    named = [name for _, names in form.GROUPS for name in names]
    assert sorted(named) == sorted(form.base_fields)


def test_the_row_of_this_job_comes_first_in_the_drivers_table(desk_client):
    cart("WC-07")
    [one] = plan(desk_client, target_l_m2="0.5").context["made"]
    assert one.table[0].row == one.plan.row != one.plan.rows[0]
    assert {row.row for row in one.table} == set(one.plan.rows)
    page = text_of(plan(desk_client))
    for opening in one.sheet.openings[1:]:
        assert f"{opening.name} open, 12,500" in page
    assert len(one.sheet.openings) > 1
    assert text_of(plan(desk_client, target_l_m2="0.5")).count("this job") == 1


def test_a_plan_with_other_heads_chosen_from_those_on_record(desk_client):
    cart("WC-07")
    choices = plan(desk_client).context["made"][0].sheet.openings
    page = plan(desk_client, heads=choices[1].name)
    [one] = page.context["made"]
    assert one.opening == choices[1]
    assert [opening for opening, _ in one.others] == [choices[0]]
    assert f'<option value="{choices[1].name}" selected>' in text_of(page)
    assert f"{choices[1].name} open, 12,500" in text_of(page)
    none = plan(desk_client, heads="Cannon")
    assert none.context["made"] == []
    assert "has no choice of heads called “Cannon”" in text_of(none)
    assert '<option value="Cannon" selected>' in text_of(none)


def test_the_list_of_plans_and_its_file(desk_client):
    address = reverse("hire:job_plan_list")
    assert "No plan is kept." in text_of(desk_client.get(address))
    JobPlanFactory(pencil=PencilFactory())
    few = queries_of(desk_client, address)
    for n in range(9):
        JobPlanFactory(words=f"Job {n}", booking=BookingFactory())
    assert queries_of(desk_client, address) == few
    assert len(saved(desk_client, address)) == 10


@pytest.mark.parametrize(
    ("name", "made"),
    [
        ("hire_jobplan_of_one", lambda: JobPlanFactory(booking=BookingFactory(), pencil=PencilFactory())),
        ("hire_jobplan_of_one", lambda: JobPlanFactory(line=LineFactory(), pencil=PencilFactory())),
        ("hire_jobplan_says_whose", lambda: JobPlanFactory(words="")),
    ],
)
def test_the_database_refuses_it_by_name(name, made):
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        made()
    assert constraint_of(refused.value) == name
