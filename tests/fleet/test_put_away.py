"""A cart put away locked, its keys in: who says so, and what ends it."""

from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.actions.carts import move_cart
from fleet.actions.locks import AgainstARule
from fleet.actions.put_away import NotStanding, put_away
from fleet.actions.yards import transfer_cart
from fleet.models.standing import PutAway
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.factories.yards import YardFactory
from tests.fleet.journal import entries_of, events_of
from tests.pages import text_of

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def cart():
    return CartFactory(fleet_number="RG07", keys_words="Board", where_words="Row 3")


@pytest.mark.parametrize("role", sorted(Role))
def test_anybody_of_the_yard_puts_a_cart_away(people, cart, at, role):
    said = put_away(cart=cart, keys_words=" Key safe ", by=people[role], at=at)
    cart.refresh_from_db()
    assert (said.keys_words, cart.keys_words, said.said_by) == ("Key safe", "Key safe", people[role])
    assert cart.last_moved_at is None
    assert events_of(cart) == ["fleet.cart.put_away"]
    assert entries_of(cart)[-1][1]["keys"] == "Key safe"


def test_it_is_said_where_the_keys_are(people, cart, at):
    with pytest.raises(AgainstARule):
        put_away(cart=cart, keys_words=" ", by=people[Role.YARD_HAND], at=at)
    assert not PutAway.objects.exists()


@pytest.mark.parametrize("kind", ["road", "float"])
def test_a_cart_under_way_is_not_put_away(people, cart, at, kind):
    type(cart).objects.filter(pk=cart.pk).update(where_kind=kind)
    with pytest.raises(NotStanding, match="Record where it stands first"):
        put_away(cart=cart, keys_words="Board", by=people[Role.YARD_HAND], at=at)


@pytest.mark.parametrize(
    ("now", "stands"),
    [(("Row 3", "Board"), True), (("Row 3", "Ruby"), False), (("Wash bay", "Board"), False)],
    ids=["the same again", "keys change hands", "moved"],
)
def test_it_stands_until_it_moves_or_its_keys_change_hands(people, cart, at, now, stands):
    said = put_away(cart=cart, keys_words="Board", by=people[Role.YARD_HAND], at=at)
    move_cart(
        cart=cart,
        where_kind="yard",
        where_words=now[0],
        keys_words=now[1],
        by=people[Role.YARD_HAND],
        at=at + HOUR,
    )
    said.refresh_from_db()
    assert (said.ended_at is None) is stands


def test_keys_hung_elsewhere_end_what_was_said_before(people, cart, at):
    first = put_away(cart=cart, keys_words="Board", by=people[Role.YARD_HAND], at=at)
    again = put_away(cart=cart, keys_words="Board", by=people[Role.FITTER], at=at + HOUR)
    assert PutAway.objects.filter(ended_at=None).count() == 2
    last = put_away(cart=cart, keys_words="Key safe", by=people[Role.FITTER], at=at + 2 * HOUR)
    for said in (first, again):
        said.refresh_from_db()
        assert said.ended_at == at + 2 * HOUR
    assert list(PutAway.objects.filter(ended_at=None)) == [last]


def test_sent_to_another_yard_it_is_put_away_no_more(people, cart, at):
    said = put_away(cart=cart, keys_words="Board", by=people[Role.YARD_HAND], at=at)
    transfer_cart(
        cart=cart,
        to=YardFactory(name="Saltbush Crossing"),
        is_there=True,
        words="",
        by=people[Role.FLEET_MANAGER],
        at=at + HOUR,
    )
    said.refresh_from_db()
    assert said.ended_at == at + HOUR


def test_on_its_page_it_is_one_field_and_a_button(client, people, cart):
    client.force_login(people[Role.YARD_HAND])
    address = reverse("fleet:put_away", args=[cart.pk])
    assert "Cart RG07 is locked, its keys are in" in text_of(client.get(address))
    assert client.post(address, {"keys_words": ""}).status_code == 422
    shown = client.post(address, {"keys_words": "Board, hook 7"}, follow=True)
    assert f"Put away locked, its keys in, by {people[Role.YARD_HAND].full_name}" in text_of(shown)
    assert address in shown.content.decode()
