"""The forms of a cart's details and axles, and what is decided about it: passes, limits, holds."""

from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse
from django.utils import timezone

from fleet.models.carts import Cart
from fleet.models.standing import Pass
from fleet.passing import PASS_REASONS
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    HoldFactory,
    LimitFactory,
    PassFactory,
    TyreFittingFactory,
)
from tests.pages import text_of, today, typed_moment

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def told(response):
    return [str(message) for message in get_messages(response.wsgi_request)]


CART = {
    "fleet_number": "wc-47", "plate": "s491bkt", "vin": "", "make": "Brolga", "model": "6x4", "build_year": "2018",
    "steering_side": "right", "gross_limit_kg": "23500", "tank_shape": "ellipse", "tank_material": "steel",
    "tank_length_m": "5.2", "tank_width_m": "2.3", "tank_height_m": "1.6", "tank_capacity_l": "14000",
    "home_yard": "Redgum Flat",
}  # fmt: skip
AXLES = {
    "group1-kind": "steer", "group1-axles": "1", "group1-position_m": "0", "group1-tare_kg": "4600",
    "group1-limit_kg": "6500", "group2-kind": "drive", "group2-axles": "2", "group2-has_duals": "on",
    "group2-position_m": "4.9", "group2-tare_kg": "6200", "group2-limit_kg": "17000", "group3-kind": "",
}  # fmt: skip


def test_a_cart_is_added_and_its_gear_is_asked_for_next(browser):
    answer = browser.post(reverse("fleet:cart_add"), CART | AXLES)
    cart = Cart.objects.get()
    assert answer.url == reverse("fleet:gear_list", args=[cart.pk])
    assert told(answer) == ["Cart WC-47 is in the fleet. Say next what is fitted to it."]
    assert cart.wheel_positions.count() == 10


def test_what_the_fuel_tanks_hold_is_kept_shown_and_may_be_left_blank(browser):
    browser.post(reverse("fleet:cart_add"), CART | AXLES | {"fuel_tank_l": "300"})
    cart = Cart.objects.get()
    assert cart.fuel_tank_l == 300
    assert "300 L" in browser.get(reverse("fleet:cart_detail", args=[cart.pk])).content.decode()
    answer = browser.post(reverse("fleet:cart_change", args=[cart.pk]), CART | {"fuel_tank_l": "0"})
    assert answer.status_code == 422
    assert "From 1 to 2,000, or blank." in answer.content.decode()
    browser.post(reverse("fleet:cart_change", args=[cart.pk]), CART)
    cart.refresh_from_db()
    assert cart.fuel_tank_l is None


def test_an_odd_vin_is_kept_with_a_warning(browser):
    answer = browser.post(reverse("fleet:cart_add"), CART | AXLES | {"vin": "ch 123"})
    assert Cart.objects.get().vin == "CH 123"
    assert told(answer)[1] == "VIN CH 123 is kept as typed. A VIN has 17 characters and this one has 5."


def test_a_cart_that_cannot_be_comes_back_with_all_that_was_typed(browser):
    CartFactory(fleet_number="WC-47")
    axles = AXLES | {
        "group1-axles": "7",
        "group1-tare_kg": "",
        "group2-tare_kg": "",
        "group2-position_m": "4,9",
    }
    answer = browser.post(reverse("fleet:cart_add"), CART | axles)
    body = text_of(answer)
    assert answer.status_code == 422
    for typed in ('value="wc-47"', 'value="s491bkt"', 'value="7"', 'value="17000"', 'value="4,9"'):
        assert typed in body
    assert "Group 1, axles: A group has one to three axles." in body
    assert "Group 1, tare on it, kg: Not filled in yet." in body
    assert "Group 2, tare on it, kg: Not filled in yet." in body
    again = browser.post(reverse("fleet:cart_add"), CART | AXLES)
    assert again.status_code == 422
    assert "Another cart already has this fleet number. Choose another." in text_of(again)
    assert Cart.objects.count() == 1


def test_details_are_changed_and_a_refusal_names_its_field(browser):
    cart = CartFactory(fleet_number="WC-47")
    url = reverse("fleet:cart_change", args=[cart.pk])
    assert 'value="WC-47"' in text_of(browser.get(url))
    answer = browser.post(url, CART | {"fleet_number": "WC-47!"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["fleet_number"] == ["Use letters, digits and hyphens."]
    answer = browser.post(url, CART | {"make": "Emu", "retired_on": today().isoformat()})
    cart.refresh_from_db()
    assert (answer.status_code, cart.make, cart.retired_on) == (302, "Emu", today())
    assert "Left the fleet" in text_of(browser.get(reverse("fleet:cart_detail", args=[cart.pk])))


def test_axles_are_changed_and_tyres_keep_theirs(browser):
    cart = CartFactory(layout="6x4")
    url = reverse("fleet:axles_change", args=[cart.pk])
    assert 'value="4.90"' in text_of(browser.get(url))
    TyreFittingFactory(cart=cart, code="3LO")
    refused = browser.post(url, AXLES | {"group2-axles": "1"})
    assert refused.status_code == 422
    assert "has tyres on record at 3LO" in text_of(refused)
    assert browser.post(url, AXLES | {"group2-limit_kg": "16500"}).status_code == 302
    assert cart.axle_groups.get(position=2).limit_kg == 16500
    assert cart.wheel_positions.count() == 10


def test_the_yards_own_paper_is_recorded(browser):
    answer = browser.post(reverse("fleet:yard_document_add"), {"kind": "insurance", "number": "P7"})
    assert told(answer) == ["Insurance of the whole yard is on record."]


def late_defect():
    return DefectFactory(
        grade="by_date",
        state="assessed",
        may_be_passed=True,
        told_at=timezone.now() - 20 * DAY,
        due_on=today() - 3 * DAY,
    )


def pass_url(defect, **changes):
    query = {"rule": "defect.late", "kind": "defect", "record": str(defect.pk)} | changes
    return (
        reverse("fleet:pass_give", args=[defect.cart_id])
        + "?"
        + "&".join(f"{k}={v}" for k, v in query.items())
    )


def test_a_pass_is_given_for_what_stops_the_cart(browser):
    defect = late_defect()
    typed = {"reason": PASS_REASONS[1], "words": "Glass on Thursday", "condition_words": "By day",
             "done_instead": "Second mirror", "told_words": "Driver",
             "ends_at": typed_moment(timezone.now() + 2 * DAY)}  # fmt: skip
    assert defect.title in text_of(browser.get(pass_url(defect)))
    back = browser.post(pass_url(defect), typed | {"ends_at": typed_moment(timezone.now() - DAY)})
    assert back.status_code == 422
    assert back.context["form"].errors["ends_at"] == ["A pass is never back-dated: it ends later than now."]
    assert back.context["form"]["done_instead"].value() == "Second mirror"
    assert browser.post(pass_url(defect), typed).status_code == 302
    assert Pass.objects.get().record_id == defect.pk
    assert browser.get(pass_url(defect)).status_code == 404


@pytest.mark.parametrize("changes", [{"rule": "defect.other"}, {"record": "x"}, {"kind": "hold"}])
def test_a_pass_of_nothing_is_not_there(browser, changes):
    assert browser.get(pass_url(late_defect(), **changes)).status_code == 404
    assert browser.get(reverse("fleet:pass_give", args=[CartFactory().pk])).status_code == 404


@pytest.mark.parametrize(
    ("name", "make", "words"),
    [("pass_close", PassFactory, "closed this pass"), ("limit_lift", LimitFactory, "was lifted already")],
)
def test_what_is_ended_with_one_button_is_told_and_a_second_time_refused_in_words(browser, name, make, words):
    thing = make()
    url = reverse(f"fleet:{name}", args=[thing.pk])
    assert browser.get(url).status_code == 405
    first = browser.post(url)
    assert first.url == reverse("fleet:cart_detail", args=[thing.cart_id])
    assert words in text_of(browser.post(url, follow=True))


def test_a_hold_without_a_tag_asks_for_none(browser):
    body = text_of(browser.get(reverse("fleet:hold_lift", args=[HoldFactory(is_tag_hung=False).pk])))
    assert "taken the tag off" not in body
