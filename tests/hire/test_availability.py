"""What the yard answers a caller: who is free and suits, who is taken and by whom, with time kept between two hires."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from hire.availability import answer
from hire.public_holidays import yard_holidays
from hire.suiting import Enquiry
from people.yard import yard_policy
from tests.factories.fleet import CartFactory, DefectFactory, HoldFactory
from tests.factories.hire import AT, LineFactory, PencilFactory
from tests.factories.money import BODY, RateCardFactory
from tests.factories.water import potable_cart
from tests.pages import saved, text_of

pytestmark = pytest.mark.django_db

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
START = AT + 3 * DAY
TURN = yard_policy().turn_round


def asked(**kwargs):
    return answer(Enquiry(START, START + 7 * DAY, **kwargs), at=AT)


def numbers(offers):
    return [one.cart.fleet_number for one in offers]


def test_a_free_cart_that_suits_is_offered_and_one_too_small_is_counted():
    CartFactory(fleet_number="BIG", tank_capacity_l=18_000)
    CartFactory(fleet_number="SMALL", tank_capacity_l=9_000)
    found = asked(litres=15_000)
    assert (
        numbers(found.suiting),
        numbers(found.taken),
        [cart.fleet_number for cart, _ in found.unsuited],
    ) == (["BIG"], [], ["SMALL"])


def test_carts_are_offered_least_first_and_near_ones_last():
    for number, litres in (("NEAR", 14_000), ("EXACT", 15_000), ("LARGE", 22_000)):
        CartFactory(fleet_number=number, tank_capacity_l=litres)
    assert numbers(asked(litres=15_000).suiting) == ["EXACT", "LARGE", "NEAR"]


def test_a_cart_that_something_stops_is_shown_with_what_and_who_clears_it():
    cart = CartFactory()
    HoldFactory(cart=cart, reason="Gearbox noise")
    [offer] = asked().stopped
    assert offer.cart == cart
    assert "Gearbox noise" in offer.answer.blockers[0].sentence
    assert not asked().suiting


@pytest.mark.parametrize(
    ("starts", "ends", "is_taken"),
    [
        # (hours from the caller's start, hours): before, within and after, at and beside the time kept between.
        (-48 * HOUR, -TURN, False),
        (-48 * HOUR, -TURN + HOUR / 60, True),
        (HOUR, 3 * HOUR, True),
        (7 * DAY + TURN, 9 * DAY, False),
        (7 * DAY + TURN - HOUR / 60, 9 * DAY, True),
    ],
)
def test_a_promise_takes_it_with_the_time_between_two_hires(starts, ends, is_taken):
    line = LineFactory(starts_at=START + starts, ends_at=START + ends)
    found = asked()
    assert numbers(found.taken) == ([line.cart.fleet_number] if is_taken else [])
    assert len(found.suiting) == (0 if is_taken else 1)


def test_it_says_who_has_it_and_from_when_it_is_free():
    line = LineFactory(starts_at=START - DAY, ends_at=START + 2 * DAY)
    [offer] = asked().taken
    assert line.agreement.customer.name in offer.taken.words
    assert line.agreement.number in offer.taken.words
    assert "free from" in offer.taken.words


def test_a_hire_that_ends_too_shortly_before_says_so():
    LineFactory(starts_at=START - 3 * DAY, ends_at=START - HOUR)
    assert "too short to wash and check it" in asked().taken[0].taken.words


def test_what_is_free_soonest_comes_first_and_what_nobody_can_say_last():
    LineFactory(cart__fleet_number="LATER", starts_at=START, ends_at=START + 5 * DAY)
    LineFactory(cart__fleet_number="LOST", starts_at=AT - 9 * DAY, ends_at=AT - HOUR, out_at=AT - 9 * DAY)
    LineFactory(cart__fleet_number="SOON", starts_at=START, ends_at=START + 2 * DAY)
    assert numbers(asked().taken) == ["SOON", "LATER", "LOST"]


def test_a_cancelled_promise_takes_nothing():
    LineFactory(starts_at=START, cancelled_at=AT)
    assert len(asked().suiting) == 1


def test_a_cart_out_past_its_day_is_taken_whatever_was_promised():
    LineFactory(starts_at=AT - 9 * DAY, ends_at=AT - HOUR, out_at=AT - 9 * DAY)
    [offer] = asked().taken
    assert offer.taken.words.startswith("Still out with")


def test_a_pencil_takes_it_until_it_lapses():
    PencilFactory(
        made_at=AT - HOUR, period=(START, START + DAY), expires_at=AT + HOUR, caller_words="Ada Kell"
    )
    [offer] = asked().taken
    assert offer.taken.words.startswith("Pencilled for Ada Kell until")
    assert len(answer(Enquiry(START, START + DAY), at=AT + HOUR).suiting) == 1


def test_what_falls_due_while_it_is_out_puts_a_cart_behind_its_like():
    first, second = CartFactory(fleet_number="A"), CartFactory(fleet_number="B")
    DefectFactory(cart=first, grade="by_date", state="assessed", due_on=(START + 2 * DAY).date())
    found = asked().suiting
    assert numbers(found) == ["B", "A"]
    assert found[1].answer.cautions
    assert second.fleet_number == "B"


def test_the_answer_costs_the_same_for_three_carts_and_thirty():
    def cost():
        with CaptureQueriesContext(connection) as queries:
            asked()
        return len(queries)

    for _ in range(3):
        LineFactory(starts_at=START)
        CartFactory()
    first = cost()
    for _ in range(27):
        LineFactory(starts_at=START)
        CartFactory()
    assert cost() == first


class TestManyCarts:
    @pytest.fixture(autouse=True)
    def few(self, monkeypatch):
        monkeypatch.setattr("hire.availability.JUDGED_FIRST", 3)
        monkeypatch.setattr("hire.availability.ENOUGH", 2)

    def carts(self):
        return [CartFactory(fleet_number=f"C{n}", tank_capacity_l=15_000 + n * 1000) for n in range(6)]

    def test_the_first_are_judged_and_the_rest_counted(self):
        self.carts()
        found = asked(litres=15_000)
        assert (numbers(found.suiting), found.further) == (["C0", "C1", "C2"], 3)

    def test_where_too_few_of_them_may_go_all_are_judged(self):
        for cart in self.carts()[:2]:
            HoldFactory(cart=cart)
        found = asked(litres=15_000)
        assert (numbers(found.suiting), found.further) == (["C2", "C3", "C4", "C5"], 0)
        assert numbers(found.stopped) == ["C0", "C1"]

    def test_all_are_judged_for_who_asks(self):
        self.carts()
        found = answer(Enquiry(START, START + DAY), at=AT, whole=True)
        assert (len(found.suiting), found.further) == (6, 0)

    def test_the_page_says_how_many_more_and_the_file_has_them(self, client, desk):
        client.force_login(desk)
        self.carts()
        typed = {
            "starts_at": "2099-01-05T06:00", "ends_at": "2099-01-09T06:00", "leaves_by": "road", "works_on": "road",
            "drive_axles": "0", "water": "any",
        }  # fmt: skip
        page = reverse("hire:enquiry")
        assert "3 more carts suit and are free" in text_of(client.get(page, typed))
        assert "more carts" not in text_of(client.get(page, typed | {"whole": "1"}))
        assert "C5" in client.get(page, typed | {"as": "csv"}).content.decode()

    def test_the_page_and_the_file_say_what_each_of_the_rest_lacks(self, client, desk):
        client.force_login(desk)
        CartFactory(fleet_number="SMALL", tank_capacity_l=9_000)
        typed = {
            "starts_at": "2099-01-05T06:00", "ends_at": "2099-01-09T06:00", "leaves_by": "road", "works_on": "road",
            "drive_axles": "0", "water": "any", "litres": "15000",
        }  # fmt: skip
        page = text_of(client.get(reverse("hire:enquiry"), typed))
        assert "1 cart of the fleet does not suit" in page
        assert "6,000 L less than asked." in page
        [row] = saved(client, reverse("hire:enquiry"), **typed)
        assert (row["Part"], row["Cart"], row["Lacks"]) == (
            "Does not suit",
            "SMALL",
            "6,000 L less than asked",
        )
        assert "Every cart of the fleet suits." in text_of(
            client.get(reverse("hire:enquiry"), typed | {"litres": "9000"})
        )


def test_a_tank_that_may_not_carry_drinking_water_is_no_answer_to_who_asks_for_it():
    clean, other = potable_cart(), CartFactory()
    found = asked(is_potable=True)
    assert numbers(found.suiting) == [clean.fleet_number]
    assert numbers(found.stopped) == [other.fleet_number]
    assert found.stopped[0].answer.blockers[0].code == "water.potable"


def test_a_card_says_what_it_costs():
    """22 days: 3 x 1,450 + 290, docs/charges.md."""
    CartFactory()
    assert asked().suiting[0].price is None
    RateCardFactory()
    found = answer(Enquiry(START, START + 21 * DAY, litres=0), at=AT).suiting[0].price
    assert (found.total, found.days, len(found.sums)) == (Decimal(4640), 22, 1)


def test_a_minimum_hire_and_free_holidays_are_in_the_price(client, desk):
    """A week's minimum is a week's 1,450; Christmas and the days about it are free in South Australia (docs/charges.md)."""
    CartFactory()
    RateCardFactory(body=BODY | {"minimum_days": "7", "holidays": "free", "holiday_region": "SA"})
    two = answer(Enquiry(START, START + DAY, litres=0), at=AT).suiting[0].price
    assert (two.total, two.days) == (Decimal(1450), 7)
    assert two.sums[0].startswith("minimum hire, ")
    begins = datetime(2026, 12, 21, 0, tzinfo=UTC)
    over = answer(Enquiry(begins, begins + 13 * DAY, litres=0), at=AT).suiting[0].price
    assert (
        over.days
        == 14 - len(yard_holidays(first=date(2026, 12, 21), last=date(2027, 1, 3), region="SA"))
        == 10
    )
    client.force_login(desk)
    typed = {
        "starts_at": "2099-01-05T06:00", "ends_at": "2099-01-06T06:00", "leaves_by": "road", "works_on": "road",
        "drive_axles": "0", "water": "any",
    }  # fmt: skip
    page = text_of(client.get(reverse("hire:enquiry"), typed))
    assert "Show the working of the price" in page
    assert "Delivery, a waiver, fuel and hours over come beside it; a quote names and prices them" in page
