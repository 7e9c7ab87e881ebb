"""Where the water of a hire is asked for and shown: the return, the page of the hire, the tank's own record, the tally."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.models.water import WaterTold
from hire.water_on_hire import carried_on
from people.roles import Role
from tests.hire.test_water_on_hires import back, out, tap
from tests.pages import text_of

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


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
