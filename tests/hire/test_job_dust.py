"""A job's road by its silt: the emission with its range and tag, what the passes leave of it, and how long one may wait between
passes; nothing from memory reaches a customer."""

import html
import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.job_forms import FROM_MEMORY
from tests.factories.fleet import CartFactory
from tests.factories.hire import CustomerLinkFactory, JobPlanFactory, LineFactory
from tests.factories.spraying import SpraySheetFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TOKEN = "token-of-the-dust-0000000000000001"
JOB = {
    "length_m": "2000", "width_m": "8", "area_pct": "0", "target_l_m2": "0.75", "passes": "6", "haul_km": "3", "haul_km_h": "30",
    "other_min": "6", "hours_a_day": "10",
}  # fmt: skip
# AP-23: 8.3 % and 20 short tons, 712.6 g of PM10 a vehicle kilometre.
SILT = {"road_kind": "industrial", "silt_pct": "8.3", "mean_mass_t": "18.144"}
BY_1B = {
    "road_kind": "public",
    "silt_pct": "12",
    "mean_km_h": "48.28",
    "moisture_pct": "0.5",
    "mean_mass_t": "",
}
WATERED = {"vehicles_per_h": "20", "pan_mm": "1524", "target_control_pct": "75"}


@pytest.fixture
def plan(client, desk):
    SpraySheetFactory(cart=CartFactory(fleet_number="WC-07", tank_capacity_l=12_500))
    client.force_login(desk)
    return lambda **changed: client.get(reverse("hire:job_plan"), JOB | changed)


def found(answer, label):
    return next(one for one in answer.context["dust"].workings if one.label.startswith(label))


def test_an_industrial_road_by_equation_1a(plan):
    one = found(plan(**SILT), "Dust of the dry road, a vehicle")
    assert dict(row[:2] for row in one.inputs)["PM10"] == "713 g"
    assert one.figure == "2,506 g"
    assert "VERIFIED-R" in one.source
    assert "no measurement" in one.rule


def test_a_public_road_by_equation_1b(plan):
    # At 12 %, 30 mph and 0.5 % the equation is k - C: 5.99953 lb of PM30 a vehicle mile, × 281.9.
    one = found(plan(**BY_1B), "Dust of the dry road, a vehicle")
    assert one.figure == "1,691 g"
    assert one.source.startswith("Equation 1b")


def test_the_range_of_the_silt_is_the_range_of_the_dust(plan):
    one = found(plan(**SILT, silt_more_pct="50"), "Dust of the dry road, a vehicle")
    # (0.5)^0.7 and (1.5)^0.7 of it.
    assert one.figure == "2,506 g (1,543 to 3,328)"
    assert ("Silt", "8.3 %", "4.15 to 12.45 %") in one.inputs


def test_what_was_not_given_is_not_judged_and_said_so(plan):
    asked = SILT | {"mean_km_h": "", "moisture_pct": ""}
    one = found(plan(**asked), "Dust of the dry road, a vehicle")
    assert "Not held to the equation’s range, since not given: speed, wheels, moisture." in one.rule
    given = plan(**asked | {"mean_km_h": "30", "moisture_pct": "2", "mean_wheels": "18"})
    assert "Not held to" not in found(given, "Dust of the dry road, a vehicle").rule
    # AP-12: 4 to 17 wheels.
    assert "A mean number of 18 wheels is outside 4 to 17 wheels" in text_of(given)


def test_what_passes_is_a_mean_mass(plan):
    # AP-14: 98 of 2 t with 2 of 20 t are 2.36 t on the mean.
    one = found(
        plan(**SILT | {"mean_mass_t": "", "masses": "98 of 2 t, 2 of 20"}), "Dust of the dry road, a vehicle"
    )
    assert ("Mean mass", "2.6 short tons", "2.36 t") in one.inputs
    both = plan(**SILT | {"masses": "12 of 60 t"})
    assert list(both.context["form"].errors) == ["masses"]
    for wrong in ("twelve big ones", "0 of 2 t", "3 of 0 t"):
        assert list(plan(**SILT | {"mean_mass_t": "", "masses": wrong}).context["form"].errors) == ["masses"]


def test_days_with_rain_give_the_mean_of_a_year(plan):
    # AP-15: 2,506 g × (365 - 73) ÷ 365.
    one = found(plan(**SILT | {"wet_days": "73"}), "Dust of the dry road, a vehicle")
    assert ("Mean over a year", "2,005 g", "73 days with rain") in one.inputs
    assert "AP-15" in one.source
    assert "wet_days" in plan(**SILT | {"wet_days": "366"}).context["form"].errors


def test_a_target_offers_the_times_a_day_of_the_districts_form(plan):
    assert "Plan with 4 times a day, by the district’s form" in text_of(plan(**WATERED))
    assert "Plan with" not in text_of(plan(**WATERED | {"passes": "4"}))


def test_outside_the_equations_range_the_page_says_so_at_once(plan):
    page = text_of(plan(**SILT | {"silt_pct": "30"}))
    assert "A silt of 30 % is outside 1.8 to 25.2 %, the range of the equation." in page
    assert "is outside" not in text_of(plan(**SILT))
    # The high end alone may lie outside.
    assert "A silt of 28.5 %" in text_of(plan(**SILT | {"silt_pct": "19", "silt_more_pct": "50"}))


def test_what_the_passes_leave_of_a_days_dust(plan):
    # 20 an hour for ten hours over 2 km; six passes at 0.75 L/m² keep 85.5 % down.
    one = found(plan(**SILT, **WATERED), "Dust of the dry road, a day")
    assert one.figure == "1,002 kg"
    assert ("Left with these passes", "145 kg", "86 % kept down") in one.inputs


def test_how_long_one_may_wait_and_how_wet_to_keep_it(plan):
    answer = plan(**WATERED, moisture_pct="2")
    # 25 × 0.16566 ÷ (0.0012 × 60 × 20).
    between = found(answer, "Longest between passes for 75 %")
    assert between.figure == "2.9 h"
    assert ("In a day", "4 times", "planned are 6") in between.inputs
    wet = found(answer, "How wet to keep it")
    assert wet.figure == "2.00 times as moist as dry"
    assert ("Wet surface", "4.0 % moisture", "2 % dry") in wet.inputs
    labels = [one.label for one in plan(**WATERED | {"target_control_pct": "97"}).context["dust"].workings]
    assert not any(label.startswith("How wet") for label in labels)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"silt_pct": "8", "road_kind": "industrial"}, "mean_mass_t"),
        ({"silt_pct": "8", "road_kind": "public", "mean_km_h": "40"}, "moisture_pct"),
        ({"silt_pct": "8", "road_kind": "public", "moisture_pct": "1"}, "mean_km_h"),
        ({"mean_mass_t": "20"}, "silt_pct"),
        ({"silt_pct": "0", "mean_mass_t": "20"}, "silt_pct"),
    ],
)
def test_what_is_missing_or_cannot_be_is_said_at_its_field(plan, wrong, field):
    answer = plan(**wrong)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]


def test_the_customer_has_it_too_and_nothing_from_memory(client):
    now = timezone.now()
    line = LineFactory(
        cart=SpraySheetFactory(cart=CartFactory(tank_capacity_l=12_500)).cart, starts_at=now - DAY
    )
    CustomerLinkFactory(line=line, token=TOKEN, made_at=now - DAY, expires_at=now + 9 * DAY)
    asked = JOB | SILT | WATERED | {"evaporation_mm_h": "0.4"}
    JobPlanFactory(line=line, question="&".join(f"{name}={value}" for name, value in asked.items()))
    for page in (
        client.get(reverse("hire:link_plan", args=[TOKEN])),
        client.get(reverse("hire:link_plan", args=[TOKEN]), asked),
        client.get(reverse("hire:customer_page", args=[TOKEN])),
    ):
        text = html.unescape(text_of(page))
        for word in (
            FROM_MEMORY,
            "MEMORY",
            "memory",
            "WE-01",
            "WE-02",
            "WE-12",
            "mm/h",
            "evaporation_mm_h",
        ):
            assert word not in text
    text = text_of(client.get(reverse("hire:link_plan", args=[TOKEN])))
    followed = re.search(r'href="([?][^"]*)">Plan with 4 times', text)
    assert "Back every" in text_of(
        client.get(reverse("hire:link_plan", args=[TOKEN]) + html.unescape(followed[1]))
    )
    for word in ("2,506 g", "WE-03 (VERIFIED-R)", "Longest between passes", "Equation 1a"):
        assert word in text
