"""More than one yard: carts at home in one, sent to another, and every list narrowed to the yard somebody looks at."""

from datetime import timedelta
from functools import partial

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions import yards as acts
from fleet.actions.locks import AgainstARule, constraint_of
from fleet.models.carts import Cart
from fleet.models.yards import Yard
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import DESK, FLEET_ONLY, MANAGERS, Role
from tests.at_once import at_once
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.hire import LineFactory, PencilFactory
from tests.factories.people import StaffFactory
from tests.factories.yards import YardFactory
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def noor(people):
    return people[Role.FLEET_MANAGER]


@pytest.fixture
def home():
    return YardFactory()


@pytest.fixture
def other():
    return YardFactory(name="Saltbush Crossing")


def send(cart, to, by, at, *, is_there=True):
    return acts.transfer_cart(cart=cart, to=to, is_there=is_there, words="Nearer the work", by=by, at=at)


class TestActions:
    def test_a_cart_is_sent_and_both_journals_say_so(self, home, other, noor, at):
        cart = send(CartFactory(), other, noor, at)
        assert (cart.home_yard, cart.where_sentence, cart.last_moved_at) == (
            "Saltbush Crossing", "In the yard, Saltbush Crossing. Keys: Key safe.", at,
        )  # fmt: skip
        entries = Entry.objects.filter(event="fleet.cart.transferred")
        assert {entry.chain for entry in entries} == {"yard", f"cart:{cart.pk}"}
        assert list(faults_in_journal()) == []

    def test_one_that_goes_later_has_not_moved(self, home, other, noor, at):
        cart = send(CartFactory(where_kind="site"), other, noor, at, is_there=False)
        assert (cart.home_yard, cart.where_kind, cart.last_moved_at) == ("Saltbush Crossing", "site", None)

    def test_not_to_where_it_is_at_home(self, home, noor, at):
        with pytest.raises(acts.AlreadyHome, match="at home in Home yard already"):
            send(CartFactory(), home, noor, at)

    def test_a_cart_out_on_hire_does_not_stand_there(self, home, other, noor, at):
        line = LineFactory(starts_at=at - DAY, out_at=at - DAY)
        with pytest.raises(acts.NotThereYet, match=line.agreement.customer.name):
            send(line.cart, other, noor, at)
        assert send(line.cart, other, noor, at, is_there=False).home_yard == "Saltbush Crossing"

    def test_under_a_new_name_its_carts_stay_its_carts(self, home, other, noor, at):
        cart, elsewhere = CartFactory(), CartFactory(home_yard="Saltbush Crossing")
        acts.change_yard(yard=home, name="Redgum Flat", by=noor, at=at)
        assert [Cart.objects.get(pk=one.pk).home_yard for one in (cart, elsewhere)] == [
            "Redgum Flat",
            "Saltbush Crossing",
        ]

    def test_two_of_one_name(self, home, noor, at):
        with pytest.raises(AgainstARule, match="has this name already"):
            acts.add_yard(name="HOME yard", address="x", by=noor, at=at)
        with pytest.raises(IntegrityError) as error, transaction.atomic():
            YardFactory(name="HOME yard")
        assert constraint_of(error.value) == "fleet_yard_name_once"

    @pytest.mark.parametrize("role", sorted(Role))
    def test_who_may(self, home, other, people, at, role):
        by = people[role]
        for roles, act in (
            (FLEET_ONLY, partial(acts.add_yard, name="Third", address="x", by=by, at=at)),
            (FLEET_ONLY, partial(acts.change_yard, yard=home, address="y", by=by, at=at)),
            (MANAGERS | DESK, partial(send, CartFactory(), other, by, at)),
        ):
            if role in roles:
                assert act()
            else:
                with pytest.raises(NotAllowed):
                    act()


@pytest.mark.django_db(transaction=True)
def test_a_cart_sent_while_its_new_yard_is_renamed_is_at_home_there(at):
    noor, cart = StaffFactory(role="fleet_manager"), CartFactory()
    YardFactory()
    other = YardFactory(name="Saltbush Crossing")
    outcomes = at_once(
        partial(send, cart, other, noor, at),
        partial(acts.change_yard, yard=other, name="Crossing", by=noor, at=at),
    )
    assert {type(one) for one in outcomes} == {Cart, Yard}
    assert Cart.objects.get().home_yard == "Crossing"


LISTS = (
    "home",
    "fleet:cart_list",
    "servicing:defect_list",
    "hire:hire_grid",
    "hire:line_list",
    "hire:enquiry",
)
ASKED = {
    "hire:enquiry": {
        "starts_at": "2099-03-01T06:00", "ends_at": "2099-03-08T16:00", "leaves_by": "road", "works_on": "road", "water": "any",
        "drive_axles": "0",
    }
}  # fmt: skip


class TestLists:
    @pytest.fixture
    def client(self, client, noor):
        client.force_login(noor)
        return client

    @pytest.fixture
    def carts(self, db):
        """One of each yard, wanted, pencilled and with a defect."""
        now = timezone.now()
        for number, yard in (("HERE-1", "Home yard"), ("THERE-1", "Saltbush Crossing")):
            cart = CartFactory(fleet_number=number, home_yard=yard)
            LineFactory(cart=cart, starts_at=now + DAY / 2, ends_at=now + 3 * DAY)
            PencilFactory(cart=cart)
            DefectFactory(cart=cart)

    @pytest.mark.parametrize("name", LISTS)
    def test_each_list_is_narrowed_to_the_yard_asked_for(self, client, home, other, carts, name):
        page, asked = reverse(name), ASKED.get(name, {})
        whole = text_of(client.get(page, asked))
        assert "HERE-1" in whole
        assert "THERE-1" in whole
        there = text_of(client.get(page, asked | {"yard": "Saltbush Crossing"}))
        assert "THERE-1" in there
        assert "HERE-1" not in there.replace("THERE-1", "")

    def test_it_is_remembered_from_list_to_list_until_all_are_asked_for(self, client, home, other, carts):
        client.get(reverse("fleet:cart_list"), {"yard": "Saltbush Crossing"})
        assert "HERE-1" not in text_of(client.get(reverse("hire:line_list"))).replace("THERE-1", "")
        rows = saved(client, reverse("fleet:cart_list"))
        assert [row["Cart"] for row in rows] == ["THERE-1"]
        assert "HERE-1" in text_of(client.get(reverse("hire:line_list"), {"yard": "all"})).replace(
            "THERE-1", ""
        )
        assert "HERE-1" in text_of(client.get(reverse("fleet:cart_list"))).replace("THERE-1", "")

    @pytest.mark.parametrize("asked", ["nowhere", "", "\x00", "home yard"])
    def test_a_yard_nobody_offers_narrows_nothing(self, client, home, other, carts, asked):
        page = text_of(client.get(reverse("fleet:cart_list"), {"yard": asked}))
        assert "HERE-1" in page.replace("THERE-1", "")

    def test_a_business_of_one_yard_sees_nothing_of_it(self, client, home, carts):
        for name in LISTS:
            page = client.get(reverse(name), ASKED.get(name, {}) | {"yard": "Home yard"}).content.decode()
            assert "All yards" not in page
            assert "THERE-1" in page
        assert "another yard" not in text_of(
            client.get(reverse("fleet:cart_detail", args=[Cart.objects.first().pk]))
        )
        assert 'name="home_yard" value="Home yard"' in text_of(client.get(reverse("fleet:cart_add")))

    def test_with_two_a_carts_home_is_one_of_them(self, client, home, other, carts):
        assert '<option value="Saltbush Crossing">' in text_of(client.get(reverse("fleet:cart_add")))

    def test_sent_from_its_page(self, client, home, other, carts):
        cart = Cart.objects.get(fleet_number="HERE-1")
        page = reverse("fleet:cart_transfer", args=[cart.pk])
        assert page in client.get(reverse("fleet:cart_detail", args=[cart.pk])).content.decode()
        answer = client.post(page, {"to": home.pk, "words": "Kept where it is"})
        assert answer.status_code == 422
        assert "Kept where it is" in answer.content.decode()
        done = client.post(page, {"to": other.pk, "words": "Nearer", "is_there": "on"}, follow=True)
        assert "Cart HERE-1 is at home in Saltbush Crossing from now on." in text_of(done)

    def test_the_yards_with_their_carts_and_those_of_none(self, client, home, carts):
        assert "Carts of none of these yards: 1" in text_of(client.get(reverse("fleet:yard_list")))
        [row] = saved(client, reverse("fleet:yard_list"))
        assert (row["Yard"], row["Carts"]) == ("Home yard", "1")
        few = queries_of(client, reverse("fleet:yard_list"))
        for n in range(12):
            YardFactory(name=f"Yard {n}")
            CartFactory(home_yard=f"Yard {n}")
        assert queries_of(client, reverse("fleet:yard_list")) == few
