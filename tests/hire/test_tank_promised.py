"""A hire for drinking water promised by hand on a tank that another hire's water will have spoilt by then, and the other way round:
refused, or said where the tank may be made good in between."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from hire.actions.agreements import add_line, cancel_line, make_agreement, move_line
from hire.actions.another_cart import send_another
from hire.actions.clashes import TankSpoilt
from hire.actions.swap import swap_cart
from hire.actions.work import change_work
from hire.availability import answer
from hire.beside import beside
from hire.models.agreements import Line
from hire.suiting import Enquiry
from hire.swap_carts import carts_for_the_rest, carts_instead
from hire.tank_order import met_by
from hire.work_words import said_of, stamp
from people.yard import yard_policy
from tests.factories.hire import AT, AgreementFactory, CustomerFactory, LineFactory
from tests.factories.water import potable_cart

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
START = AT + 10 * DAY
SANITISE = yard_policy().sanitise_for
INSTANT = timedelta(microseconds=1)


@pytest.fixture
def after_bore(monkeypatch):
    """A yard where bore and dam water are made good by a sanitise and a test."""
    policy = replace(yard_policy(), potable_after_bore=True)
    for module in ("fleet.water_standing", "hire.tank_order"):
        monkeypatch.setattr(f"{module}.yard_policy", lambda: policy)


@pytest.fixture
def clean():
    return potable_cart(fleet_number="CLEAN")


def hire(cart, water="any", starts=0 * DAY, days=2, **made):
    starts_at = START + starts
    return LineFactory(
        cart=cart, agreement__water=water, starts_at=starts_at, ends_at=starts_at + days * DAY, **made
    )


def promise(cart, desk, water="potable", starts=5 * DAY, days=2):
    return make_agreement(
        customer=CustomerFactory(), place_of_work="x", leaves_by="road", works_on="road", pre_start_book="ours", order_number="",
        cart=cart, starts_at=START + starts, ends_at=START + starts + days * DAY, water=water, by=desk, at=AT,
    )  # fmt: skip


def test_a_potable_hire_is_not_promised_behind_one_of_any_water_however_much_later(clean, desk):
    first = hire(clean)
    with pytest.raises(TankSpoilt) as refused:
        promise(clean, desk, starts=90 * DAY)
    about = first.agreement
    assert refused.value.sentence.startswith(
        f"CLEAN is promised to {about.customer.name} on {about.number}, "
    )
    assert "with any water: its tank may carry no drinking water after that." in refused.value.sentence
    assert refused.value.sentence.endswith("Choose another cart or change that hire to potable only.")
    assert refused.value.field == "cart"
    cancel_line(line=first, why="Rain", by=desk, at=AT)
    assert promise(clean, desk, starts=90 * DAY)


def test_nor_one_of_any_water_before_a_potable_hire(clean, desk):
    then = hire(clean, "potable", 5 * DAY)
    with pytest.raises(
        TankSpoilt, match="for potable water only: any water before that would leave its tank"
    ) as refused:
        promise(clean, desk, "any", 0 * DAY)
    assert then.agreement.number in refused.value.sentence
    assert refused.value.sentence.endswith("Choose another cart or send another cart on that hire first.")


@pytest.mark.parametrize(
    ("first", "then"), [("potable", "any"), ("potable", "potable"), ("any", "any")], ids="-".join
)
def test_any_other_order_of_two_waters_is_promised_and_nothing_said(clean, desk, first, then):
    hire(clean, first)
    line = promise(clean, desk, then)
    assert beside(line, at=AT) == []
    hire(clean, then, 20 * DAY)
    assert beside(line, at=AT) == []


def test_a_cart_that_is_out_with_any_water_counts_and_one_that_is_back_no_more(clean, desk):
    line = hire(clean, starts=-12 * DAY, days=11, out_at=AT - 2 * DAY)
    with pytest.raises(TankSpoilt, match="CLEAN is out with ") as refused:
        promise(clean, desk)
    assert refused.value.sentence.endswith("after that. Choose another cart.")
    # Once it is back what is told of its water decides, and that is not of this rule.
    Line.objects.filter(pk=line.pk).update(back_at=AT - HOUR)
    assert met_by([clean], "potable", START, START + DAY, at=AT) == {}


def test_a_promise_over_without_its_cart_having_left_fills_nothing(clean, desk):
    missed = hire(clean, starts=-12 * DAY, days=1)
    assert missed.promised.upper < AT
    assert promise(clean, desk)


@pytest.mark.usefixtures("after_bore")
@pytest.mark.parametrize("gap", [SANITISE - INSTANT, SANITISE])
@pytest.mark.parametrize("water", ["potable", "any"])
def test_where_it_may_be_made_good_the_time_for_it_decides(clean, desk, gap, water):
    if water == "potable":
        other, starts = hire(clean, "any", 0 * DAY, 2), 2 * DAY + gap
    else:
        other, starts = hire(clean, "potable", 2 * DAY + gap), 0 * DAY
    if gap < SANITISE:
        with pytest.raises(TankSpoilt, match=other.agreement.number) as refused:
            promise(clean, desk, water, starts)
        if water == "potable":
            assert "Choose another cart, a later start or change that hire" in refused.value.sentence
        return
    [said] = beside(promise(clean, desk, water, starts), at=AT)
    assert other.agreement.number in said
    assert said.endswith(": its tank has to be sanitised and its water tested in between.")


def test_a_cart_out_past_its_day_may_be_back_now_and_is_sanitised_from_now(after_bore, clean):
    hire(clean, starts=-14 * DAY, days=1, out_at=AT - 4 * DAY)
    for start, is_apart in ((AT + SANITISE - INSTANT, False), (AT + SANITISE, True)):
        [met] = met_by([clean], "potable", start, start + DAY, at=AT)[clean.pk]
        assert met.is_apart is is_apart


class TestEveryWayToAPromise:
    def test_one_more_cart(self, clean, desk):
        hire(clean)
        with pytest.raises(TankSpoilt):
            add_line(
                agreement=AgreementFactory(water="potable"), cart=clean, starts_at=START + 5 * DAY, ends_at=START + 6 * DAY,
                by=desk, at=AT,
            )  # fmt: skip

    def test_another_cart_and_it_is_not_offered(self, clean, desk):
        hire(clean)
        line = hire(potable_cart(), "potable", 5 * DAY)
        assert clean not in [cart for cart, _ in carts_instead(line, at=AT)]
        with pytest.raises(TankSpoilt):
            send_another(line=line, cart=clean, instead_of=line.cart, why="x", by=desk, at=AT)
        any_water = hire(potable_cart(), "any", 5 * DAY)
        assert clean in [cart for cart, _ in carts_instead(any_water, at=AT)]

    def test_a_swap_and_it_is_not_offered(self, clean, desk):
        hire(clean, "potable", 5 * DAY)
        line = hire(potable_cart(), "any", -12 * DAY, 13, out_at=AT - 2 * DAY)
        assert clean not in [cart for cart, _ in carts_for_the_rest(line, at=AT)]
        with pytest.raises(TankSpoilt):
            swap_cart(
                line=line, cart=clean, swapped_at=AT, called_by_words="x", why="x", pick_up=None, by=desk, at=AT
            )  # fmt: skip

    def test_a_changed_period(self, clean, desk):
        then, other = hire(clean, "potable", 5 * DAY), hire(clean, "any", 8 * DAY)
        with pytest.raises(TankSpoilt) as refused:
            move_line(line=other, starts_at=START, ends_at=START + DAY, by=desk, at=AT)
        assert refused.value.field == "ends_at"
        assert move_line(line=other, starts_at=then.promised.upper, ends_at=START + 9 * DAY, by=desk, at=AT)

    def test_a_longer_period_of_what_spoils_it_already(self, clean, desk):
        hire(clean, "potable", 8 * DAY)
        out = hire(clean, "any", -12 * DAY, 13, out_at=AT - 2 * DAY)
        assert move_line(
            line=out, starts_at=out.promised.lower, ends_at=out.promised.upper + DAY, by=desk, at=AT
        )

    def test_other_water_agreed(self, clean, desk):
        hire(clean)
        line = hire(clean, "any", 5 * DAY)
        with pytest.raises(TankSpoilt) as refused:
            change_work(
                line=line,
                work=replace(said_of(line), water="potable"),
                seen=stamp(line),
                why="x",
                by=desk,
                at=AT,
            )
        assert refused.value.field == "water"


class TestACallerIsTold:
    def ask(self, **needs):
        return answer(Enquiry(START + 5 * DAY, START + 7 * DAY, **needs), at=AT)

    def test_who_spoils_the_tank(self, clean):
        first = hire(clean)
        [offer] = self.ask(is_potable=True).taken
        assert first.agreement.number in offer.taken.words
        assert offer.taken.words.endswith("with any water: its tank may carry no drinking water after that.")
        assert offer.taken.free_at is None
        assert self.ask().suiting

    def test_whose_tank_it_would_spoil(self, clean):
        then = hire(clean, "potable", 20 * DAY)
        [offer] = self.ask().taken
        assert offer.taken.words.startswith(f"Promised to {then.agreement.customer.name}")
        assert "any water before that would leave its tank unfit for it" in offer.taken.words
        assert self.ask(is_potable=True).suiting

    def test_that_it_has_to_be_sanitised_in_between(self, after_bore, clean):
        hire(clean)
        offers = self.ask(is_potable=True)
        [offer] = (*offers.suiting, *offers.stopped)
        assert offer.tank.endswith("sanitised and its water tested in between.")

    def test_what_has_the_cart_then_comes_first(self, clean):
        hire(clean)
        hire(clean, "potable", 5 * DAY)
        [offer] = self.ask(is_potable=True).taken
        assert "free from" in offer.taken.words

    def test_queries_do_not_grow(self):
        def cost():
            with CaptureQueriesContext(connection) as seen:
                self.ask(is_potable=True)
            return len(seen)

        hire(potable_cart())
        first = cost()
        for _ in range(6):
            hire(potable_cart())
        assert cost() == first


def test_the_form_comes_back_at_the_cart_and_names_the_hire(client, clean, desk):
    first = hire(clean, starts=90 * DAY)
    client.force_login(desk)
    starts = first.promised.upper + 5 * DAY
    typed = {
        "customer": CustomerFactory().pk, "cart": clean.pk, "place_of_work": "x", "order_number": "", "leaves_by": "road",
        "works_on": "site", "pre_start_book": "ours", "shift": "day", "water": "potable",
        "starts_at": f"{starts:%Y-%m-%dT%H:%M}", "ends_at": f"{starts + DAY:%Y-%m-%dT%H:%M}",
    }  # fmt: skip
    page = client.post(reverse("hire:line_add"), typed)
    assert page.status_code == 422
    assert first.agreement.number in str(page.context["form"].errors["cart"])
