"""Telling a defect by hand: anybody may, once, and what was typed is never lost."""

import uuid

import pytest
from django.urls import reverse

from fleet.models.defects import Defect
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.pages import small_photo, text_of

pytestmark = pytest.mark.django_db
TELL = "/workshop/tell/"


def told(cart, **typed):
    return {
        "told_id": str(uuid.uuid4()),
        "cart": cart.pk,
        "title": "Hose weeping",
        "station": "rear",
        "grade": "watch",
    } | typed


@pytest.mark.parametrize("role", list(Role))
def test_anybody_may_tell_a_defect_once_however_often_the_form_is_sent(people, sign_in, role):
    cart, client = CartFactory(), sign_in(people[role])
    typed = told(cart, photo=small_photo())

    for _ in range(2):
        client.post(TELL, typed)
        typed["photo"] = small_photo()

    defect = Defect.objects.get()
    assert (defect.title, defect.told_by, defect.second_look_always) == ("Hose weeping", people[role], True)
    assert defect.photos.count() == 1


def test_a_defect_told_by_hand_has_no_walk_round_to_open(people, sign_in):
    client = sign_in(people[Role.FITTER])
    client.post(TELL, told(CartFactory()))

    page = client.get(reverse("servicing:defect_detail", args=[Defect.objects.get().pk]))

    assert page.context["source_url"] == ""


@pytest.mark.parametrize(
    "wrong",
    [{"title": ""}, {"title": "x" * 81}, {"station": "moon"}, {"grade": ""}, {"cart": str(uuid.UUID(int=1))}, {"told_id": "x"}],
    ids=["no title", "long title", "no such place", "no grade", "no such cart", "no id"],
)  # fmt: skip
def test_telling_too_little_comes_back_with_what_was_typed(people, sign_in, wrong):
    answer = sign_in(people[Role.YARD_HAND]).post(
        TELL, told(CartFactory(), words="By the <coupling>.") | wrong
    )

    assert answer.status_code == 422
    assert "By the &lt;coupling&gt;." in text_of(answer)
    assert not Defect.objects.exists()


def test_the_cart_is_chosen_already_when_telling_from_its_page(people, sign_in):
    cart = CartFactory()

    page = text_of(sign_in(people[Role.YARD_HAND]).get(f"{TELL}?cart={cart.pk}"))

    assert f'<option value="{cart.pk}" selected>' in page


@pytest.mark.parametrize("query", ["?cart=x", "?cart="])
def test_a_bad_cart_in_the_address_is_no_cart(people, sign_in, query):
    assert sign_in(people[Role.YARD_HAND]).get(f"{TELL}{query}").status_code == 200
