"""The pages of what a tank carried: the cart's panel, the whole record with its file, and each form asked, done and sent back."""

import csv
import io
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models.water import Sanitising, WaterCarried
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.factories.water import SanitisingFactory, WaterCarriedFactory, potable_cart
from tests.pages import queries_of, text_of, typed_moment

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
CAUTION = "Whether a tank may carry drinking water is decided by local health rules"


def page(client, name, thing):
    return client.get(reverse(f"fleet:{name}", args=[thing.pk]))


def of_fill(**wrong):
    return {
        "source": "dam",
        "filled_at": typed_moment(timezone.now() - HOUR),
        "place_words": "East dam",
    } | wrong


def of_sanitising(**wrong):
    return {
        "done_at": typed_moment(timezone.now() - HOUR), "how": "Scrubbed", "product": "Hypochlorite", "dose_mg_l": "10",
        "minutes": "720", "rinse": "Twice", "residual_mg_l": "0.6", "by_words": "Wes Tonkin",
    } | wrong  # fmt: skip


def of_test(**wrong):
    return {
        "tested_at": typed_moment(timezone.now() - HOUR),
        "test_passed": "yes",
        "test_words": "Report 2208",
    } | wrong


FORMS = {
    "water_fill": (CartFactory, of_fill, {"filled_at": typed_moment(timezone.now() + DAY)}),
    "tank_sanitise": (CartFactory, of_sanitising, {"minutes": "0"}),
    "sanitising_test": (SanitisingFactory, of_test, {"tested_at": "2025-01-01T07:00"}),
    "water_strike": (WaterCarriedFactory, lambda: {"words": "Was another cart"}, {"words": " "}),
    "sanitising_strike": (SanitisingFactory, lambda: {"words": "Was another cart"}, {"words": " "}),
}


@pytest.mark.parametrize("name", FORMS)
def test_each_form_is_asked_done_and_shows_the_record(browser, name):
    make, posted, _ = FORMS[name]
    thing = make()
    assert "button-working" in text_of(page(browser, name, thing))
    done = browser.post(reverse(f"fleet:{name}", args=[thing.pk]), posted(), follow=True)
    cart = getattr(thing, "cart", thing)
    assert done.redirect_chain[-1][0] == reverse("fleet:water_list", args=[cart.pk])
    assert "For drinking water: No potable tank is fitted." in text_of(done)


@pytest.mark.parametrize("name", FORMS)
def test_each_form_comes_back_with_what_was_typed(browser, name):
    make, posted, wrong = FORMS[name]
    thing, typed = make(), posted() | wrong
    before = list(WaterCarried.objects.values()), list(Sanitising.objects.values())
    answer = browser.post(reverse(f"fleet:{name}", args=[thing.pk]), typed)
    assert answer.status_code == 422
    assert {field: str(answer.context["form"][field].value()) for field in typed} == typed
    assert before == (list(WaterCarried.objects.values()), list(Sanitising.objects.values()))


def test_a_dam_fill_spoils_the_tank_before_everybodys_eyes(browser):
    cart = potable_cart()
    body = text_of(page(browser, "cart_detail", cart))
    assert "May carry drinking water." in body
    assert CAUTION in body
    told = text_of(browser.post(reverse("fleet:water_fill", args=[cart.pk]), of_fill(), follow=True))
    assert "Dam water is on record on cart" in told
    assert "the yard keeps drinking-water tanks for potable water alone" in told
    assert "Not for drinking water." in text_of(page(browser, "cart_detail", cart))


def test_the_panel_shows_the_last_few_and_the_list_all_of_it(browser):
    cart = potable_cart()
    for n in range(7):
        WaterCarriedFactory(cart=cart, filled_at=timezone.now() - n * DAY, place_words=f"Standpipe {n}")
    panel = text_of(page(browser, "cart_detail", cart))
    assert "Standpipe 4." in panel
    assert "Standpipe 5." not in panel
    whole = text_of(page(browser, "water_list", cart))
    assert "Standpipe 6." in whole
    assert "Test passed, sample of" in whole


def test_who_is_offered_what(people, sign_in):
    cart = potable_cart()
    SanitisingFactory(cart=cart, done_at=timezone.now() - DAY)
    ways = {"water_fill": "Record a fill", "sanitising_test": "Record its test", "water_strike": "Strike out"}
    for role, offered in (
        (Role.HIRE_DESK, set()),
        (Role.YARD_HAND, {"water_fill", "sanitising_test"}),
        (Role.FITTER, {"water_fill", "sanitising_test"}),
        (Role.WORKSHOP_MANAGER, set(ways)),
    ):
        for name in ("cart_detail", "water_list"):
            body = text_of(page(sign_in(people[role]), name, cart))
            assert {way for way, words in ways.items() if words in body} == offered, (role, name)


def test_a_line_struck_out_stays_with_its_reason(browser, people):
    now = timezone.now()
    row = WaterCarriedFactory(
        source="dam", struck_at=now, struck_by=people[Role.FLEET_MANAGER], struck_words="Was WC-3"
    )
    body = text_of(page(browser, "water_list", row.cart))
    assert "<s>Dam water</s>" in body
    assert ": Was WC-3" in body
    assert "Strike out" not in body


def test_an_empty_record_says_what_to_do(browser):
    cart = CartFactory()
    assert "a cart without a water history is not offered" in text_of(page(browser, "water_list", cart))
    assert "Nothing on record of its tank." in text_of(page(browser, "cart_detail", cart))


def test_the_file_holds_every_line_and_no_formula(browser):
    cart = potable_cart()
    for n in range(60):
        WaterCarriedFactory(cart=cart, filled_at=timezone.now() - n * DAY, place_words="=1+1")
    assert "Page 1 of 2" in text_of(page(browser, "water_list", cart))
    answer = browser.get(reverse("fleet:water_list", args=[cart.pk]) + "?as=csv")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert len(rows) == 62
    assert rows[0]["Where"] == "'=1+1"
    [done] = [row for row in rows if row["What"] == "Sanitised"]
    assert (done["Dose mg/L"], done["Test passed"], done["Done by"]) == ("10.0", "yes", "Wes Tonkin")


def test_a_long_record_costs_what_a_short_one_does(browser):
    short, long = potable_cart(), potable_cart()
    for n in range(80):
        WaterCarriedFactory(cart=long, filled_at=timezone.now() - n * DAY)
        SanitisingFactory(cart=long, done_at=timezone.now() - n * DAY - HOUR)
    for name in ("water_list", "cart_detail"):
        url = reverse(f"fleet:{name}", args=[short.pk])
        browser.get(url)
        assert queries_of(browser, url) == queries_of(browser, reverse(f"fleet:{name}", args=[long.pk]))
