"""A hire for potable water: only a tank that may carry it is promised, gets its paper and leaves; nobody passes it."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.actions.passes import NeverPassed, give_pass
from fleet.actions.water import record_water, strike_water
from fleet.models.carts import Fitment
from fleet.readiness import Window, readiness, readiness_of
from fleet.screens import stops_of
from hire.actions.agreements import NotForDrinkingWater, add_line, make_agreement
from hire.actions.gate import (
    NotFit,
    StoppedAtGate,
    gate_readiness,
    hand_over,
    issue_certificate,
    valid_certificate,
)
from hire.models.agreements import Agreement, Line
from hire.promises import next_needs, window_of
from inspections.certificates.actions import paper_of
from people.roles import Role
from people.yard import yard_policy
from tests.factories.fleet import JOINED_AT, CartFactory
from tests.factories.hire import (
    AgreementFactory,
    CustomerFactory,
    LineFactory,
    given,
    ready_line,
    walked_line,
)
from tests.factories.water import SanitisingFactory, WaterCarriedFactory, potable_cart
from tests.factories.yard_of_carts import many_carts
from tests.pages import text_of

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
CODE = "water.potable"


@pytest.fixture
def after_bore(monkeypatch):
    """A yard where bore and dam water are made good by a sanitise and a test."""
    from dataclasses import replace  # noqa: PLC0415 - beside its one use

    policy = replace(yard_policy(), potable_after_bore=True)
    monkeypatch.setattr("fleet.water_standing.yard_policy", lambda: policy)


def spoilt(source):
    return WaterCarriedFactory(cart=potable_cart(), source=source, filled_at=JOINED_AT + 60 * DAY).cart


def promise(cart, desk, at, **changes):
    return make_agreement(
        **{
            "customer": CustomerFactory(), "place_of_work": "x", "leaves_by": "road", "works_on": "road",
            "pre_start_book": "ours", "order_number": "", "cart": cart, "starts_at": at + DAY, "ends_at": at + 2 * DAY,
            "water": "potable", "by": desk, "at": at,
        }
        | changes
    )  # fmt: skip


def stopped_by(line, at):
    line = Line.objects.for_list().get(pk=line.pk)
    return [
        one.sentence
        for one in readiness(line.cart, window=window_of(line), at=at).blockers
        if one.code == CODE
    ]


def test_the_window_of_a_line_says_what_water_it_carries(at):
    potable, other = LineFactory(agreement__water="potable"), LineFactory()
    assert [window_of(line).is_potable for line in (potable, other)] == [True, False]
    needs = next_needs([potable.cart, other.cart], at=at)
    assert [needs[line.cart_id].window.is_potable for line in (potable, other)] == [True, False]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (CartFactory, "No potable tank is fitted."),
        (lambda: CartFactory(gear=("potable_tank",)), "No water history on record."),
        (lambda: spoilt("dam"), "The tank carried dam water"),
        (lambda: spoilt("effluent"), "it never carries drinking water again"),
    ],
)
def test_a_tank_that_may_not_is_not_promised_and_says_why(desk, at, make, words):
    cart = make()
    with pytest.raises(NotForDrinkingWater, match=words) as refused:
        promise(cart, desk, at)
    assert refused.value.field == "cart"
    assert not Line.objects.exists()
    assert promise(cart, desk, at, water="any").cart == cart


def test_one_more_cart_on_a_potable_agreement_is_asked_the_same(desk, at):
    agreement = AgreementFactory(water="potable")
    period = {"starts_at": at + DAY, "ends_at": at + 2 * DAY, "by": desk, "at": at}
    assert add_line(agreement=agreement, cart=potable_cart(), **period).agreement == agreement
    with pytest.raises(NotForDrinkingWater):
        add_line(agreement=agreement, cart=CartFactory(), **period)


def test_a_tank_that_only_wants_sanitising_is_promised_and_held_until_it_is_done(desk, at):
    cart = CartFactory(gear=("potable_tank",))
    WaterCarriedFactory(cart=cart)
    line = promise(cart, desk, at)
    assert stopped_by(line, at) == [
        "Hired for potable water, not yet for drinking water: no sanitising of the tank is on record."
    ]
    SanitisingFactory(cart=cart)
    assert "no test of its water is on record" in stopped_by(line, at)[0]
    SanitisingFactory(cart=cart, passed=False, done_at=at - 3 * DAY)
    assert "the test of its water failed" in stopped_by(line, at)[0]
    SanitisingFactory(cart=cart, passed=True, done_at=at - 2 * DAY)
    assert stopped_by(line, at) == []


def test_a_fill_after_the_promise_stops_it_and_striking_it_out_clears_it(people, desk, at):
    line = promise(potable_cart(), desk, at)
    assert stopped_by(line, at) == []
    row = record_water(
        cart=line.cart, source="dam", filled_at=at - HOUR, place_words="Dam", by=people[Role.FITTER], at=at
    )
    assert "The tank carried dam water".lower() in stopped_by(line, at)[0].lower()
    strike_water(row=row, words="Other cart", by=people[Role.WORKSHOP_MANAGER], at=at)
    assert stopped_by(line, at) == []


def test_in_a_yard_that_allows_it_a_dam_fill_wants_a_sanitise_after_it(after_bore, desk, at):
    cart = potable_cart()
    WaterCarriedFactory(cart=cart, source="dam", filled_at=at - 9 * DAY)
    line = promise(cart, desk, at)
    assert "has not been sanitised since" in stopped_by(line, at)[0]
    SanitisingFactory(cart=cart, passed=True, done_at=at - 8 * DAY)
    assert stopped_by(line, at) == []


def test_the_tank_taken_off_stops_it(desk, at):
    line = promise(potable_cart(), desk, at)
    Fitment.objects.filter(cart=line.cart, kind="potable_tank").update(removed_on=date(2026, 11, 30))
    assert stopped_by(line, at) == [
        "Hired for potable water, may not carry drinking water: no potable tank is fitted."
    ]


def test_a_spoilt_tank_gets_no_paper_and_does_not_leave(hand, desk, at):
    cart = potable_cart(fleet_number="RG07", tyres=True)
    line = ready_line(hand=hand, at=at, cart=cart, agreement__water="potable")
    assert gate_readiness(Line.objects.for_list().get(pk=line.pk), at=at).may_go
    WaterCarriedFactory(cart=cart, source="dam", filled_at=at - HOUR)
    with pytest.raises(StoppedAtGate, match="RG07 may not leave: "):
        hand_over(line=Line.objects.for_list().get(pk=line.pk), given=given(), by=desk, at=at)
    other = walked_line(hand=hand, at=at, agreement__water="potable", cart=CartFactory(tyres=True))
    with pytest.raises(NotFit, match="no potable tank is fitted"):
        issue_certificate(line=other, by=desk, at=at)


def test_the_paper_of_a_potable_hire_says_how_the_tank_was_last_sanitised(hand, at):
    def tank(water):
        line = ready_line(hand=hand, at=at, cart=potable_cart(tyres=True), agreement__water=water)
        gear = paper_of(valid_certificate(line)).cart.gear
        return next(item.detail for item in gear if item.name == "Potable tank")

    assert (
        tank("potable")
        == "Last sanitised 26 Jan 2026 by Wes Tonkin; nothing but potable water on record since."
    )
    assert tank("any") == ""


def test_nobody_passes_it_and_the_way_on_leads_to_the_water(people, at):
    cart = CartFactory()
    answer = readiness(cart, window=Window(at, at + DAY, is_potable=True, asks_gate=False), at=at)
    [stop] = [
        one for one in stops_of(cart, answer, person=people[Role.FLEET_MANAGER]) if "potable" in one.what
    ]
    assert stop.pass_url == ""
    assert stop.way.url.endswith("#water")
    [blocker] = [one for one in answer.blockers if one.code == CODE]
    with pytest.raises(NeverPassed):
        give_pass(
            cart=cart, code=CODE, record=blocker.record, reason="no_part", words="x", condition_words="x", done_instead="x",
            told_words="x", ends_at=at + DAY, window=answer.window, by=people[Role.FLEET_MANAGER], at=at,
        )  # fmt: skip


def test_asking_costs_three_queries_more_for_ten_and_for_three_hundred_and_none_unasked(at):
    carts = many_carts(300, at=at)
    for cart in carts[:40]:
        WaterCarriedFactory(cart=cart, filled_at=at - DAY)
        WaterCarriedFactory(cart=cart, source="dam", filled_at=at - 2 * DAY)
        SanitisingFactory(cart=cart, done_at=at - DAY)

    def queries(number, *, is_potable):
        with CaptureQueriesContext(connection) as seen:
            answers = readiness_of(carts[:number], window=Window(at, at + DAY, is_potable=is_potable), at=at)
        assert any(one.code == CODE for one in answers[carts[0].pk].blockers) == is_potable
        return len(seen), "fleet_watercarried" in str(seen.captured_queries)

    plain = queries(300, is_potable=False)
    assert not plain[1]
    assert queries(10, is_potable=True) == queries(300, is_potable=True) == (plain[0] + 3, True)


def test_the_form_asks_what_water_and_comes_back_at_the_cart(client, desk):
    client.force_login(desk)
    typed = {
        "customer": CustomerFactory().pk, "cart": CartFactory().pk, "place_of_work": "x", "order_number": "", "leaves_by": "road",
        "works_on": "site", "pre_start_book": "ours", "shift": "day", "water": "potable",
        "starts_at": "2027-02-01T05:30", "ends_at": "2027-02-08T17:00",
    }  # fmt: skip
    answer = client.post(reverse("hire:line_add"), typed)
    assert answer.status_code == 422
    assert "is not for potable water: No potable tank is fitted." in str(
        answer.context["form"].errors["cart"]
    )
    assert answer.context["form"]["water"].value() == "potable"
    done = client.post(reverse("hire:line_add"), typed | {"cart": potable_cart().pk})
    assert done.status_code == 302
    assert "Potable only" in text_of(client.get(done.url))


def test_the_database_knows_two_waters(at):
    agreement = AgreementFactory()
    with pytest.raises(IntegrityError, match="hire_agreement_water_known"), transaction.atomic():
        Agreement.objects.filter(pk=agreement.pk).update(water="wine")
