"""The page of what came back: pictures side by side, values out and back, what is new, and a refused decision."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.actions.back import charge_found
from hire.charging.back import Typed
from hire.models.back import BackDecision
from tests.factories.back import DAY, REAR, back_line, returned_line, wrong
from tests.factories.fleet import CartFactory, DefectFactory, PhotoFactory
from tests.factories.hire import LineFactory
from tests.factories.money import BODY, AgreedTermsFactory
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db


def page_of(line):
    return reverse("hire:out_and_back", args=[line.pk])


def decide(line, key):
    return reverse("hire:back_decide", args=[line.pk, key])


def test_the_record_out_and_back_side_by_side(people, hand, sign_in):
    at = timezone.now() - timedelta(days=9)
    before = PhotoFactory()
    line = returned_line(
        hand=hand, at=at, out={"rear-lights": {"photos": [before.original_sha256]}}, fuel_eighths=8,
        found={REAR: wrong("Side board bent in"), "how-dirty": {"choice": "clay"}},
    )  # fmt: skip
    client = sign_in(people["hire_desk"])
    page = text_of(client.get(page_of(line)))
    assert "Gate-out check" in page
    assert "8 of 8 out, 7 of 8 back" in page
    assert "−1 of 8" in page
    rear = page.split('id="station-rear"')[1]
    out, back = rear.split("Pictures as it came back")[:2]
    assert reverse("fleet:photo", args=[before.pk]) in out.split("Pictures as it left")[1]
    assert "Side board bent in" in back
    assert re.search(r'<svg[^>]*class="lap.*<svg[^>]*class="lap', page)
    assert "As returned, " in page
    assert "Fuel, 1 of 8 short" in page
    (dent,) = line.cart.defects.all()
    decision = text_of(client.get(decide(line, f"defect-{dent.pk}")))
    assert reverse("fleet:photo", args=[before.pk]) in decision.split("As it left")[1]
    assert "As returned: set clay." in page


def test_what_stood_on_the_record_is_said_to_be_so(people, hand, sign_in):
    at = timezone.now() - timedelta(days=9)
    line = returned_line(hand=hand, at=at, out={"rear-lights": wrong("Lens cracked", "watch")})
    page = text_of(sign_in(people["fitter"]).get(page_of(line)))
    left = page.split('id="left"')[1].split('id="came"')[0]
    assert "Lens cracked" in left
    assert "On the record it left with" in left
    assert "Nothing new." in page


def test_a_cart_nobody_has_walked_is_not_said_to_be_sound(people, sign_in):
    line = LineFactory(
        starts_at=timezone.now() - DAY, out_at=timezone.now() - DAY, came_back_at=timezone.now()
    )
    page = text_of(sign_in(people["hire_desk"]).get(page_of(line)))
    assert "Nobody has looked yet." in page
    assert "Nothing is known yet: it has to be walked as returned" in page
    assert "no new damage" not in page


def test_money_is_the_desks(people, sign_in):
    line, dent = back_line(at=timezone.now())
    hand_page = text_of(sign_in(people["yard_hand"]).get(page_of(line)))
    assert "To decide" not in hand_page
    assert "Count it" in hand_page
    assert decide(line, f"defect-{dent.pk}") in text_of(sign_in(people["hire_desk"]).get(page_of(line)))


def test_a_cart_that_has_not_left_and_one_that_is_out_say_what_comes(people, sign_in):
    client = sign_in(people["hire_desk"])
    assert "It has not left on this hire." in text_of(client.get(page_of(LineFactory())))
    out = LineFactory(starts_at=timezone.now() - DAY, out_at=timezone.now() - DAY)
    page = text_of(client.get(page_of(out)))
    assert "not recorded back yet" in page
    assert "Nothing is decided before it is back." in page


def test_a_refused_decision_comes_back_as_it_was_typed(people, sign_in):
    line, dent = back_line(at=timezone.now())
    client, address = sign_in(people["hire_desk"]), decide(line, f"defect-{dent.pk}")
    answer = client.post(address, {"outcome": "charged", "words": "New side board"})
    assert answer.status_code == 422
    assert "Give the amount, before tax." in text_of(answer)
    assert 'value="New side board"' in text_of(answer)
    answer = client.post(address, {"outcome": "let_go", "words": "Old scuff"})
    assert (answer.status_code, "Say why it is let go." in text_of(answer)) == (422, True)
    assert 'value="Old scuff"' in text_of(answer)
    answer = client.post(address, {"outcome": "charged", "amount": "-4"})
    assert answer.status_code == 422
    assert not BackDecision.objects.exists()


def test_a_charge_leads_back_to_what_shows_it(people, sign_in):
    line, dent = back_line(at=timezone.now())
    AgreedTermsFactory(line=line)
    client, key = sign_in(people["hire_desk"]), f"defect-{dent.pk}"
    answer = client.post(
        decide(line, key), {"outcome": "charged", "amount": "240", "words": "New side board"}, follow=True
    )
    assert "Damage, rear is charged: 240.00." in text_of(answer)
    assert "<b>Charged 240.00</b>" in text_of(answer)
    assert f'id="found-{key}"' in text_of(answer)
    charges = text_of(client.get(reverse("hire:charges", args=[line.pk])))
    assert f'{page_of(line)}#found-{key}">What shows it' in charges
    made = client.post(reverse("hire:docket_make", args=[line.pk]), follow=True)
    assert f'{page_of(line)}#found-{key}">What shows it' in text_of(made)
    assert "240.00" in text_of(made)
    assert "Damage, rear" in charges
    assert "It is charged already." in text_of(client.get(decide(line, key)))


def test_an_agreed_price_is_not_asked_for(people, hand, sign_in):
    at = timezone.now() - timedelta(days=9)
    line = returned_line(hand=hand, at=at, fuel_eighths=8, found={"how-dirty": {"choice": "clay"}})
    client = sign_in(people["hire_desk"])
    assert 'name="price"' in text_of(client.get(decide(line, "fuel")))
    assert 'name="price"' in text_of(client.get(decide(line, "cleaning")))
    AgreedTermsFactory(line=line, body=BODY | {"fuel_price": "1.985", "wash_clay_price": "110.00"})
    assert 'name="price"' not in text_of(client.get(decide(line, "fuel")))
    assert 'name="price"' not in text_of(client.get(decide(line, "cleaning")))


def test_the_estimate_of_fuel_starts_with_the_tank_on_record(people, hand, sign_in):
    at = timezone.now() - timedelta(days=9)
    cart = CartFactory(fleet_number="RG07", tyres=True, fuel_tank_l=300)
    line = returned_line(hand=hand, at=at, cart=cart, fuel_eighths=8)
    AgreedTermsFactory(line=line, body=BODY | {"fuel_price": "2.10"})
    client = sign_in(people["hire_desk"])
    page = text_of(client.get(decide(line, "fuel")))
    assert re.search(r'name="tank_l" value="300"', page)
    assert "1 of 8 × 300 L = 37.5 L × 2.10 = 78.75." in page
    answer = client.post(decide(line, "fuel"), {"outcome": "charged", "tank_l": "280"}, follow=True)
    assert "Fuel, by the gauge is charged: 73.50." in text_of(answer)


def test_kit_is_counted_thing_by_thing(people, sign_in):
    line, _ = back_line(at=timezone.now())
    client, address = sign_in(people["yard_hand"]), reverse("hire:kit_count", args=[line.pk])
    some = {"state_1": "missing", "words_1": "Left at the main", "state_2": "back"}
    answer = client.post(address, some)
    assert answer.status_code == 422
    assert "Say how it came back: 20 m hose." in text_of(answer)
    assert 'value="Left at the main"' in text_of(answer)
    page = text_of(client.post(address, some | {"state_3": "back"}, follow=True))
    assert "The kit is counted." in page
    assert "<dt>Standpipe SP-14</dt><dd>Missing" in page


def test_the_comparison_as_a_file(people, hand, sign_in):
    line = returned_line(
        hand=hand, at=timezone.now() - timedelta(days=9), found={REAR: wrong("Side board bent in")}
    )
    rows = {row["Check"]: row for row in saved(sign_in(people["hire_desk"]), page_of(line))}
    dent = rows["As it came back"]
    assert (dent["Station"], dent["As it came back"], dent["New"]) == ("Rear", "Something’s wrong", "yes")
    assert (rows["Fuel"]["Value out"], rows["Fuel"]["Value back"]) == ("7 of 8", "7 of 8")


def test_the_page_costs_the_same_however_much_was_found(people, sign_in):
    line, _ = back_line(at=timezone.now())
    client = sign_in(people["hire_desk"])
    few = queries_of(client, page_of(line))
    for n in range(12):
        dent = DefectFactory(
            cart=line.cart,
            grade="watch",
            station="rear",
            place="",
            told_at=timezone.now() - timedelta(hours=30 + n),
        )
        dent.photos.add(PhotoFactory())
    charge_found(
        line=line,
        key=f"defect-{dent.pk}",
        typed=Typed(amount=Decimal(5)),
        by=people["hire_desk"],
        at=timezone.now(),
    )
    assert queries_of(client, page_of(line)) == few
