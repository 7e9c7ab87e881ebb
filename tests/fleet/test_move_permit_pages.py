"""The pages of move permits: given with everything typed kept, shown on the cart's page, used, printed, and a held cart's move."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet import wanted
from fleet.models.carts import Cart
from fleet.models.permits import MovePermit
from fleet.models.photos import Photo
from fleet.wanted import Wanted
from people.roles import Role
from tests.factories.fleet import CartFactory, DefectFactory, HoldFactory
from tests.factories.standing import MovePermitFactory
from tests.pages import queries_of, saved, small_photo, text_of, typed_moment

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def checks(monkeypatch):
    """What two checks belong to, as the newest issue says it."""
    systems = {"brake-gear": "brakes", "steering-joints": "steering"}
    told = {key: Wanted("", "", "", system) for key, system in systems.items()}
    provider = lambda keys: {key: told[key] for key in keys if key in told}  # noqa: E731 - one line
    monkeypatch.setattr(wanted, "_provider", [provider])


def typed(**changes):
    return {
        "way": "ground", "to_kind": "workshop", "to_words": "Mill Road Wheels", "reason": "Two tyres", "driver": "",
        "driver_words": "K. Amos, Amos Towing", "licence_words": "HR", "speed_km_h": "15",
        "controls_words": "Teo tried them: all good", "is_empty": "on", "empty_words": "Ruby, from the lid",
        "conditions": "Beacon on", "expires_at": typed_moment(timezone.now() + 4 * HOUR),
    } | changes  # fmt: skip


def give_url(cart):
    return reverse("fleet:permit_give", args=[cart.pk])


def fresh(**changes):
    now = timezone.now().replace(second=0, microsecond=0)
    return MovePermitFactory(given_at=now - HOUR, expires_at=now + 4 * HOUR, **changes)


def page_of(client, permit, name="permit_detail"):
    return text_of(client.get(reverse(f"fleet:{name}", args=[permit.pk])))


def test_given_on_its_page_and_shown_on_the_carts(browser, people):
    cart, hand = HoldFactory().cart, people[Role.YARD_HAND]
    assert give_url(cart) in text_of(browser.get(reverse("fleet:cart_detail", args=[cart.pk])))
    answer = browser.post(give_url(cart), typed(driver=str(hand.pk), driver_words="", photo=small_photo()))
    permit = MovePermit.objects.get()
    assert answer.url == reverse("fleet:permit_detail", args=[permit.pk])
    assert (permit.driver, permit.speed_km_h, permit.photo) == (hand, 15, Photo.objects.get())
    body = text_of(browser.get(reverse("fleet:cart_detail", args=[cart.pk])))
    assert permit.number in body
    assert "May be used" in body
    [row] = saved(browser, reverse("fleet:cart_detail", args=[cart.pk]), table="permits")
    assert (row["Number"], row["Stands"], row["Driver"]) == (permit.number, "May be used", hand.full_name)


def test_a_cart_nothing_holds_offers_none(browser):
    cart = CartFactory()
    body = text_of(browser.get(reverse("fleet:cart_detail", args=[cart.pk])))
    assert give_url(cart) not in body
    assert "Move permits" not in body


def test_refused_with_everything_typed(browser):
    cart = DefectFactory(title="Brake hose burst", check_key="brake-gear").cart
    answer = browser.post(give_url(cart), typed(photo=small_photo()))
    body = text_of(answer)
    assert answer.status_code == 422
    assert "Brake hose burst" in body
    assert "Put it on a float" in body
    for value in (
        "Mill Road Wheels",
        "K. Amos, Amos Towing",
        "Teo tried them: all good",
        "Ruby, from the lid",
        "Beacon on",
    ):
        assert value in body, value
    assert str(Photo.objects.get().pk) in body, "the photo is kept"
    assert not MovePermit.objects.exists()
    answer = browser.post(
        give_url(cart), typed(way="float", speed_km_h="", kept_photo=str(Photo.objects.get().pk))
    )
    assert answer.status_code == 302
    assert MovePermit.objects.get().photo is not None


@pytest.mark.parametrize(
    "changes", [{"is_empty": ""}, {"to_words": ""}, {"expires_at": "2020-01-01T07:00"}, {"speed_km_h": "200"}]
)
def test_one_field_at_fault_comes_back(browser, changes):
    answer = browser.post(give_url(HoldFactory().cart), typed(**changes))
    assert answer.status_code == 422
    assert "K. Amos, Amos Towing" in text_of(answer)
    assert not MovePermit.objects.exists()


def test_used_from_its_page_once(browser, people, sign_in):
    permit = fresh()
    hand = sign_in(people[Role.YARD_HAND])
    leave, come = (reverse(f"fleet:permit_{name}", args=[permit.pk]) for name in ("leave", "came"))
    body = page_of(hand, permit)
    assert leave in body
    assert reverse("fleet:permit_withdraw", args=[permit.pk]) not in body
    hand.post(leave)
    body = page_of(hand, permit)
    assert "on its way" in body
    assert leave not in body
    assert "is for one trip" in text_of(hand.post(leave, follow=True))
    form = text_of(hand.get(come))
    assert 'value="Mill Road Wheels"' in form
    answer = hand.post(come, {"where_kind": "workshop", "where_words": "Mill Road Wheels", "keys_words": ""})
    assert answer.status_code == 422
    hand.post(come, {"where_kind": "workshop", "where_words": "Mill Road Wheels", "keys_words": "Counter"})
    assert Cart.objects.get(pk=permit.cart_id).where_words == "Mill Road Wheels"
    assert "used." in page_of(hand, permit)


def test_one_that_is_late_says_whom_to_ring(browser):
    permit = MovePermitFactory(left=True)
    body = page_of(browser, permit)
    assert "not come by its end" in body
    assert f"Ring {permit.driver.full_name}" in body


def test_withdrawn_by_a_manager(browser):
    permit = fresh()
    address = reverse("fleet:permit_withdraw", args=[permit.pk])
    assert browser.post(address, {"words": ""}).status_code == 422
    assert browser.post(address, {"words": "The shop is shut"}).status_code == 302
    assert "The shop is shut" in page_of(browser, permit)


def test_the_print_has_all_a_driver_is_asked_for(browser, settings):
    settings.YARD_ON_CALL = "08 5550 0199"
    permit = fresh(conditions="Beacon on")
    body = page_of(browser, permit, "permit_print")
    for words in (
        permit.number, permit.cart.fleet_number, permit.cart.plate, permit.driver.full_name, "Mill Road Wheels", "20 km/h", "EMPTY",
        "Beacon on", *permit.held_by, permit.given_by.full_name, "08 5550 0199", "road law", "maker’s manual", "In the yard",
    ):  # fmt: skip
        assert words in body, words
    assert "Not good" not in body
    assert "Not good: ended, not used." in page_of(browser, MovePermitFactory(), "permit_print")


def test_a_held_carts_move_asks_why_without_a_permit(browser):
    cart = HoldFactory().cart
    address = reverse("fleet:cart_move", args=[cart.pk])
    assert "a manager gives it a move permit" in text_of(browser.get(address))
    where = {"where_kind": "workshop", "where_words": "Mill Road", "keys_words": "Wes"}
    answer = browser.post(address, where | {"without_permit": ""})
    assert answer.status_code == 422
    assert "why without one" in text_of(answer)
    assert 'value="Mill Road"' in text_of(answer)
    assert browser.post(address, where | {"without_permit": "It was in the way"}).status_code == 302
    body = text_of(browser.get(reverse("fleet:cart_detail", args=[cart.pk])))
    assert "recorded that the held cart moved without a move permit" in body


def test_a_free_carts_move_asks_nothing_more(browser):
    cart = CartFactory()
    address = reverse("fleet:cart_move", args=[cart.pk])
    assert "without_permit" not in text_of(browser.get(address))
    where = {"where_kind": "workshop", "where_words": "Mill Road", "keys_words": "Wes"}
    assert browser.post(address, where).status_code == 302


def test_many_permits_cost_the_page_no_more(browser):
    one, many = HoldFactory().cart, HoldFactory().cart
    MovePermitFactory(cart=one, came=True)
    for _ in range(8):
        MovePermitFactory(cart=many, came=True)
    addresses = [reverse("fleet:cart_detail", args=[cart.pk]) for cart in (one, many)]
    queries_of(browser, addresses[0])
    assert len({queries_of(browser, address) for address in addresses}) == 1
    assert "The newest five are shown" in text_of(browser.get(addresses[1]))
    assert len(saved(browser, addresses[1], table="permits")) == 8
