"""Where the water of a hire is asked for and shown: the return, the page of the hire, the tank's own record, the tally; and that it
stood."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.readiness import Window, readiness
from fleet.water_standing import standing_of
from hire.models.water import WaterTold
from hire.water_on_hire import carried_on
from people.roles import Role
from tests.factories.water import SanitisingFactory, WaterCarriedFactory, potable_cart
from tests.hire.test_water_on_hires import back, out, tap
from tests.pages import text_of

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now()


def test_the_return_asks_once_and_offers_what_the_taps_say(client, people, now):
    client.force_login(people[Role.YARD_HAND])
    line = out(now)
    tap(line, "potable", by=people[Role.YARD_HAND], at=now - 2 * HOUR)
    tap(line, "dam", by=people[Role.YARD_HAND], at=now - 3 * HOUR, point="East dam", permit_words="WL-881")
    assert carried_on(line) == "dam"
    address = reverse("hire:back", args=[line.pk])
    assert '<option value="dam" selected>' in client.get(address).content.decode()
    typed = {"where_words": "Bay", "keys_words": "Board", "water": "bore"}
    assert client.post(address, typed).status_code == 302
    assert WaterTold.objects.get().source == "bore"
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "East dam; licence or standpipe WL-881" in page
    assert "Tell what it carried" in page
    listed = text_of(client.get(reverse("fleet:water_list", args=[line.cart_id])))
    assert f"On hire {line.agreement.number}, 1 load from" in listed
    assert "As told on the hire" in listed
    saved = client.get(reverse("fleet:water_list", args=[line.cart_id]) + "?as=csv").content.decode()
    assert "East dam; licence or standpipe WL-881" in saved


def test_it_is_told_later_on_the_page_of_the_hire(client, people, now):
    client.force_login(people[Role.YARD_HAND])
    line = out(now)
    back(line, by=people[Role.YARD_HAND], at=now)
    address = reverse("hire:water_tell", args=[line.pk])
    assert client.post(address, {"source": ""}).status_code == 422
    answer = client.post(address, {"source": "potable", "words": "The customer, by phone"}, follow=True)
    assert "Potable water is on record for this hire. For drinking water: Last sanitised" in text_of(answer)
    again = client.post(address, {"source": "dam", "words": ""})
    assert again.status_code == 422
    assert "puts that right" in text_of(again)


def test_other_water_on_a_potable_hire_is_said_where_it_is_put_down(client, people, now):
    client.force_login(people[Role.HIRE_DESK])
    line = out(now, water="potable")
    address = reverse("hire:line_loads", args=[line.pk])
    words = "nobody drinks from this cart"
    assert words not in text_of(client.get(address))
    assert '<option value="potable" selected>' in client.get(address).content.decode()
    tap(line, "bore", by=people[Role.HIRE_DESK], at=now)
    assert words in text_of(client.get(address))


@pytest.mark.parametrize(
    ("days", "changed", "is_said"),
    [
        (3, {}, True),
        (2.9, {}, False),
        (3, {"is_potable": False}, False),
        # A hire to come finds other water in the tank.
        (3, {"start": 1}, False),
    ],
)
def test_water_that_stood_in_a_loaded_tank_is_a_caution_at_the_gate(now, days, changed, is_said):
    cart = potable_cart()
    WaterCarriedFactory(cart=cart, filled_at=now - days * DAY)
    window = Window(now + changed.pop("start", 0) * DAY, now + 3 * DAY, **{"is_potable": True} | changed)
    said = [one for one in readiness(cart, window=window, at=now).cautions if one.code == "water.stood"]
    assert bool(said) is is_said
    if is_said:
        assert "3 days ago, as far as is on record" in said[0].sentence


def test_a_sanitising_since_or_a_hire_that_is_over_leaves_nothing_standing(hand, now):
    cart = potable_cart()
    WaterCarriedFactory(cart=cart, filled_at=now - 9 * DAY)
    SanitisingFactory(cart=cart, passed=True, done_at=now - 8 * DAY)
    line = out(now, water="potable", cart=cart)
    tap(line, "potable", by=hand, at=now - 3 * DAY)
    assert standing_of(cart).filled_at == now - 3 * DAY
    back(line, by=hand, at=now)
    assert standing_of(cart).filled_at is None
