"""The list of walk-rounds, and one walk-round's answers, as files."""

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models.carts import Cart
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.pages import saved, text_of

pytestmark = pytest.mark.django_db


def test_the_walk_rounds_of_the_list_are_saved_with_their_hash(client):
    hand, cart = StaffFactory(role="yard_hand", full_name="Wes Tonkin"), CartFactory(fleet_number="A1")
    signed = walk.sign(cart, "daily", by=hand, at=timezone.now())
    client.force_login(hand)
    page = reverse("inspections:walk_round_list")
    [row] = saved(client, page)
    assert (row["Cart"], row["SHA-256"], row["Sheet issue"]) == ("A1", signed.manifest_sha256, "1")
    assert saved(client, page, purpose="pre_hire") == []


def test_the_list_and_its_file_are_narrowed_to_a_cart(client):
    hand, now = StaffFactory(role="yard_hand"), timezone.now()
    for number in ("K-70", "W-11"):
        walk.sign(CartFactory(fleet_number=number), "daily", by=hand, at=now)
    client.force_login(hand)
    page = reverse("inspections:walk_round_list")
    assert [row["Cart"] for row in saved(client, page, cart="k70")] == ["K-70"]
    text = text_of(client.get(page, {"cart": "k70"}))
    assert ("K-70" in text, "W-11" in text, "1 signed" in text) == (True, False, True)
    assert 'href="?cart=k70&amp;as=csv"' in text
    assert "No walk-round fits that." in text_of(client.get(page, {"cart": "Z"}))
    assert saved(client, page, cart="\x00") != []
    cart_page = text_of(
        client.get(reverse("fleet:cart_detail", args=[Cart.objects.get(fleet_number="K-70").pk]))
    )
    assert f'href="{page}?cart=K-70"' in cart_page


def test_every_answer_of_a_walk_round_is_saved(client):
    hand = StaffFactory(role="yard_hand")
    signed = walk.sign(CartFactory(tyres=True), "daily", by=hand, at=timezone.now())
    client.force_login(hand)
    rows = saved(client, reverse("inspections:walk_round_detail", args=[signed.pk]))
    answers = list(signed.answers.order_by("number"))
    assert [row["Check"] for row in rows] == [one.title for one in answers]
    read = {one.title: one.value for one in answers if one.unit}
    assert read and read.items() <= {(row["Check"], row["Value"]) for row in rows if row["Unit"]}
    # Picked on the tablet, kept by its key, said by its words.
    assert "between" in {one.value for one in answers}
    assert {"Value": "Between the marks", "Check": "Engine oil"}.items() <= next(
        row for row in rows if row["Check"] == "Engine oil"
    ).items()
    page = text_of(client.get(reverse("inspections:walk_round_detail", args=[signed.pk])))
    assert "Between the marks" in page
    assert {row["Answer"] for row in rows} == {"Good"}
    assert all(row["Station"] for row in rows)
