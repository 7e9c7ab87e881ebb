"""The carts proposed for the open bookings: which, with what more and what less, and what would free one."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from hire import booking_carts, matching
from hire.actions.water import tell_water
from hire.booking_carts import propose
from hire.models.bookings import Booking
from people.yard import at_local, yard_day, yard_policy
from tests.factories.fleet import CartFactory, DocumentFactory, HoldFactory, MeterReadingFactory
from tests.factories.hire import AT, BookingFactory, LineFactory, PencilFactory
from tests.factories.services import VisitFactory
from tests.factories.water import potable_cart

pytestmark = pytest.mark.django_db

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
START = AT + 3 * DAY
TURN = yard_policy().turn_round


def waiting(**changed):
    return BookingFactory(**{"made_at": AT - DAY, "starts_at": START} | changed)


def bare(number, litres=15_000, **kwargs):
    return CartFactory(fleet_number=number, tank_capacity_l=litres, gear=(), **kwargs)


def numbers(found=None):
    found = found or propose(at=AT)
    return [one.cart.fleet_number if one.cart else None for one in found.choices]


def test_nothing_waits_and_nothing_is_proposed():
    CartFactory()
    assert propose(at=AT).choices == ()


def test_all_are_met_where_one_by_one_would_leave_one_out():
    bare("LARGE", 22_000)
    bare("SMALL", 12_000)
    waiting(litres=10_000)
    waiting(litres=20_000, starts_at=START + HOUR)
    found = propose(at=AT)
    assert numbers(found) == ["SMALL", "LARGE"]
    assert (found.chosen, found.is_best, found.left_out) == (2, True, 0)


def test_it_says_what_the_cart_has_more_and_what_it_lacks():
    CartFactory(fleet_number="ONLY", tank_capacity_l=14_500, gear=("cannon",))
    waiting(litres=15_000)
    [near] = propose(at=AT).choices
    assert (near.asked, near.lacks, near.more) == ("15,000 L", ("500 L less than asked",), "cannon")
    assert near.answer.window.start == START


def test_a_near_cart_is_only_for_who_can_have_no_other():
    bare("NEAR", 14_500)
    bare("FULL", 30_000)
    waiting(litres=15_000)
    assert numbers() == ["FULL"]
    waiting(litres=15_000, starts_at=START + HOUR)
    assert sorted(numbers()) == ["FULL", "NEAR"]


@pytest.mark.parametrize(("first", "second", "goes"), [(0, 0, "A"), (400, 100, "B"), (100, 400, "A")])
def test_of_two_alike_the_one_that_worked_less_this_quarter_goes(first, second, goes):
    for number, hours in (("A", first), ("B", second)):
        cart = bare(number)
        MeterReadingFactory(cart=cart, value=1000, read_at=AT - 90 * DAY)
        MeterReadingFactory(cart=cart, value=1000 + hours, read_at=AT - DAY)
    waiting(litres=15_000)
    assert numbers() == [goes]


def test_a_ready_cart_is_proposed_before_a_held_one_and_a_held_one_before_none():
    HoldFactory(cart=bare("A"))
    waiting(litres=15_000)
    assert numbers() == ["A"]
    bare("B", 20_000)
    assert numbers() == ["B"]
    waiting(litres=15_000, starts_at=START + HOUR)
    assert sorted(numbers()) == ["A", "B"]


def test_a_cart_that_is_out_meanwhile_is_not_held_by_that():
    LineFactory(cart=(out := bare("A")), starts_at=AT - DAY, ends_at=AT + DAY, out_at=AT - DAY)
    bare("B")
    waiting(litres=15_000)
    assert out.fleet_number in numbers()


def test_a_cart_with_a_paper_that_lapses_meanwhile_goes_after_one_without():
    for number, left in (("A", 5), ("B", 300)):
        DocumentFactory(
            cart=bare(number), issued_on=yard_day(AT) - 60 * DAY, expires_on=yard_day(AT) + left * DAY
        )
    waiting(litres=15_000)
    assert numbers() == ["B"]
    # Off every road no registration is asked for.
    Booking.objects.update(leaves_by="float", works_on="site")
    assert numbers() == ["A"]


def test_two_follow_each_other_on_one_cart_with_the_time_to_wash_it():
    bare("ONE")
    waiting(ends_at=START + DAY)
    waiting(starts_at=START + DAY + TURN, ends_at=START + 3 * DAY)
    assert numbers() == ["ONE", "ONE"]
    bare("TWO")
    waiting(starts_at=START + 3 * DAY + TURN - HOUR / 60)
    assert sorted(numbers()) == ["ONE", "ONE", "TWO"]


@pytest.mark.parametrize(
    ("values", "does"),
    [
        ({"starts_at": START + DAY}, "moved"),
        ({"starts_at": START - 3 * DAY, "ends_at": START - TURN + HOUR / 60}, "moved"),
        ({"starts_at": AT - DAY, "ends_at": START + DAY, "out_at": AT - DAY}, "was back sooner"),
    ],
)
def test_where_a_hire_has_the_cart_it_says_whose(values, does):
    cart, who = (
        bare("ONE"),
        {"agreement__number": "H2025-00077", "agreement__customer__name": "Mallee Ridge Wind"},
    )
    LineFactory(cart=cart, **who, **values)
    waiting()
    [choice] = propose(at=AT).choices
    words = f"ONE if H2025-00077 (Mallee Ridge Wind) {does}"
    assert (choice.cart, choice.ways, choice.pair) == (None, (words,), "")


def test_a_cart_out_past_its_day_is_nobodys_until_it_is_back():
    who = {"agreement__number": "H2025-00077", "agreement__customer__name": "Mallee Ridge Wind"}
    line = LineFactory(cart=bare("ONE"), starts_at=AT - 9 * DAY, ends_at=AT, out_at=AT - 9 * DAY, **who)
    waiting(starts_at=AT + 90 * DAY)
    assert propose(at=AT).choices[0].ways == ("ONE if H2025-00077 (Mallee Ridge Wind) was back",)
    line.back_at = AT
    line.save()
    assert numbers() == ["ONE"]


def test_a_pencil_and_a_workshop_day_are_in_the_way():
    pencilled, booked_in = bare("P"), bare("W")
    PencilFactory(cart=pencilled, made_at=AT - HOUR, period=(START, START + DAY), caller_words="Ada Kell")
    VisitFactory(cart=booked_in, on=yard_day(START + DAY), booked_at=AT - DAY)
    waiting()
    [choice] = propose(at=AT).choices
    assert choice.cart is None
    assert choice.ways[0] == "P if the pencil for Ada Kell was let go"
    assert choice.ways[1].startswith("W if its workshop day on ")
    assert choice.ways[1].endswith(" was moved")


def test_a_fitter_who_goes_out_and_a_day_called_off_are_in_nobodys_way():
    cart = bare("W")
    VisitFactory(cart=cart, on=yard_day(START + DAY), where="site", booked_at=AT - DAY)
    VisitFactory(
        cart=cart, on=yard_day(START + 2 * DAY), booked_at=AT - DAY, cancelled_at=AT, cancelled_by=LineFactory().agreement.made_by
    )  # fmt: skip
    waiting(ends_at=at_local(yard_day(START + 2 * DAY), START.time()) + DAY)
    assert numbers() == ["W"]


def test_of_two_for_one_cart_the_other_hears_whose_booking_it_is():
    bare("ONE")
    waiting(customer__name="Merrin Civil", place_of_work="Pit 4")
    waiting(customer__name="Ochre Roads", place_of_work="Pit 5")
    left = next(one for one in propose(at=AT).choices if one.cart is None)
    other = {"Merrin Civil": "Ochre Roads, Pit 5", "Ochre Roads": "Merrin Civil, Pit 4"}[
        left.booking.customer.name
    ]
    assert left.ways[0].startswith(f"ONE if the booking of {other}, from ")


def test_where_no_cart_suits_it_says_so():
    bare("SMALL", 9_000)
    waiting(litres=20_000)
    assert propose(at=AT).choices[0].ways == (
        "No cart of the fleet has what is asked. Ask for less, or hire one in.",
    )


def test_a_cart_that_leaves_the_fleet_or_may_never_carry_drinking_water_is_not_proposed():
    bare("GOING", retired_on=yard_day(START + DAY))
    bare("DIRTY")
    clean = potable_cart()
    waiting(water="potable")
    assert numbers() == [clean.fleet_number]


@pytest.fixture
def after_bore(monkeypatch):
    """A yard where bore and dam water are made good by a sanitise and a test."""
    policy = replace(yard_policy(), potable_after_bore=True)
    monkeypatch.setattr("fleet.water_standing.yard_policy", lambda: policy)
    monkeypatch.setattr("hire.booking_yard.yard_policy", lambda: policy)


def two_waters(gap):
    """A booking of any water for which the drinking-water cart is the nearest in size, then one that can have no other."""
    potable_cart(fleet_number="CLEAN", tank_capacity_l=12_000)
    waiting(litres=10_000, ends_at=START + DAY, customer__name="Merrin Civil", place_of_work="Pit 4")
    waiting(water="potable", starts_at=START + DAY + gap, customer__name="Ochre Roads")


def test_no_drinking_water_is_proposed_for_a_tank_after_any_water_however_much_later():
    two_waters(60 * DAY)
    [first, then] = propose(at=AT).choices
    assert [one.cart and one.cart.fleet_number for one in (first, then)] in (["CLEAN", None], [None, "CLEAN"])
    left = first if first.cart is None else then
    assert left.ways[0].startswith("CLEAN if the booking of ")
    assert left.ways[0].endswith(", had another cart")
    bare("BIG", 30_000)
    assert numbers() == ["BIG", "CLEAN"]


@pytest.mark.parametrize(("hours", "first"), [(72, "CLEAN"), (71, "BIG")])
def test_where_bore_is_made_good_the_time_to_sanitise_and_test_is_kept(after_bore, hours, first):
    two_waters(hours * HOUR)
    bare("BIG", 30_000)
    assert numbers() == [first, "CLEAN"]


@pytest.mark.parametrize(
    ("hired", "wanted", "way"),
    [
        ({"starts_at": START - 2 * DAY, "ends_at": START - DAY}, "potable", "carried drinking water alone"),
        (
            {"starts_at": AT - 9 * DAY, "ends_at": AT + DAY, "out_at": AT - 9 * DAY}, "potable",
            "carried drinking water alone",
        ),
        ({"starts_at": START + DAY}, "potable", "moved"),
        ({"starts_at": START + 90 * DAY, "agreement__water": "potable"}, "any", "had another cart"),
        ({"starts_at": START - 2 * DAY, "ends_at": START - DAY, "agreement__water": "potable"}, "potable", ""),
        ({"starts_at": START - 2 * DAY, "ends_at": START - DAY, "agreement__water": "potable"}, "any", ""),
        ({"starts_at": START + 90 * DAY}, "potable", ""),
    ],
)  # fmt: skip
def test_the_water_of_a_hire_that_is_promised_or_out_counts_too(hired, wanted, way):
    who = {"agreement__number": "H2025-00077", "agreement__customer__name": "Mallee Ridge Wind"}
    cart = potable_cart(fleet_number="CLEAN")
    LineFactory(cart=cart, **who, **hired)
    waiting(water=wanted)
    [choice] = propose(at=AT).choices
    assert choice.ways == ((f"CLEAN if H2025-00077 (Mallee Ridge Wind) {way}",) if way else ())
    assert choice.cart == (None if way else cart)


def test_once_a_cart_is_back_what_was_told_of_its_water_decides(hand):
    line = LineFactory(
        cart=potable_cart(fleet_number="CLEAN"),
        starts_at=AT - 9 * DAY,
        out_at=AT - 9 * DAY,
        came_back_at=AT - DAY,
    )
    waiting(water="potable")
    # Nobody told: no drinking water for a tank that any water may have been in.
    assert numbers() == [None]
    tell_water(line=line, source="potable", by=hand, at=AT)
    assert numbers() == ["CLEAN"]


def test_a_pencil_says_nothing_of_water():
    cart = potable_cart()
    PencilFactory(cart=cart, made_at=AT - HOUR, period=(START - 2 * DAY, START - DAY))
    waiting(water="potable")
    assert propose(at=AT).choices[0].cart == cart


def test_what_stops_the_cart_stands_beside_it():
    cart = bare("HELD")
    HoldFactory(cart=cart, reason="Gearbox noise")
    waiting()
    [choice] = propose(at=AT).choices
    assert (choice.cart, choice.state) == (cart, "held")
    assert "Gearbox noise" in choice.sentence


def test_what_is_over_asks_only_to_be_cancelled():
    bare("ONE")
    waiting(made_at=AT - 20 * DAY, starts_at=AT - 8 * DAY, ends_at=AT)
    [choice] = propose(at=AT).choices
    assert (choice.cart, choice.ways) == (None, (booking_carts.PASSED,))


def test_what_is_not_proved_says_so(monkeypatch):
    bare("ONE")
    waiting()
    monkeypatch.setattr(
        matching, "assign", lambda *_, **__: matching.Assignment({}, (0,), 0.0, (), is_best=False)
    )
    found = propose(at=AT)
    assert not found.is_best
    assert found.choices[0].ways == ("ONE is free",)


def test_so_many_are_looked_at_and_the_later_ones_are_counted(monkeypatch):
    monkeypatch.setattr("hire.booking_assigned.MOST", 2)
    bare("ONE")
    for number in range(3):
        waiting(starts_at=START + number * 30 * DAY)
    found = propose(at=AT)
    assert (len(found.choices), found.left_out) == (2, 1)


def test_the_fourth_booking_of_a_cart_is_not_forecast():
    bare("ONE")
    for number in range(4):
        waiting(starts_at=START + number * 30 * DAY)
    assert [one.answer is not None for one in propose(at=AT).choices] == [True, True, True, False]


def test_the_proposal_costs_the_same_for_three_bookings_and_thirty():
    def cost():
        with CaptureQueriesContext(connection) as queries:
            propose(at=AT)
        return len(queries)

    def add(count):
        for _ in range(count):
            LineFactory(starts_at=START)
            CartFactory()
            waiting()
            waiting(water="potable")

    add(3)
    first = cost()
    add(27)
    assert cost() == first
