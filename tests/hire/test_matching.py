"""Which cart takes which booking: what may not be moved, what is kept between hires, ties, what stands in the way, bad input."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from hire.matching import Cart, InTheWay, Request, assign, wear_cost, what_would_free

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
MONDAY = datetime(2026, 6, 1, 10, tzinfo=UTC)


def booking(key, begins=0.0, days=1.0, **more):
    return Request(key, MONDAY + begins * DAY, MONDAY + (begins + days) * DAY, **more)


def period(begins, days=1.0):
    return MONDAY + begins * DAY, MONDAY + (begins + days) * DAY


def same(request, cart):
    return 1.0


@pytest.mark.parametrize(
    ("turn_round", "gap", "met"),
    [
        pytest.param(timedelta(0), timedelta(0), 2, id="one begins as the other ends"),
        pytest.param(timedelta(0), -timedelta(microseconds=1), 1, id="one begins before the other ends"),
        pytest.param(4 * HOUR, 4 * HOUR, 2, id="just the turn-round"),
        pytest.param(4 * HOUR, 4 * HOUR - timedelta(microseconds=1), 1, id="a moment under the turn-round"),
    ],
)
@pytest.mark.parametrize("first", ["open", "fixed", "busy"])
def test_turn_round_is_kept_and_periods_are_half_open(turn_round, gap, met, first):
    earlier = booking("B1", fixed_cart="WC-01" if first == "fixed" else None)
    later = Request("B2", earlier.end + gap, earlier.end + gap + DAY)
    busy = ((earlier.start, earlier.end),) if first == "busy" else ()
    requests = [later] if first == "busy" else [earlier, later]
    found = assign(requests, [Cart("WC-01", busy=busy, turn_round=turn_round)], same)
    assert len(found.chosen) + (first == "busy") == met
    assert found.is_best


def test_no_turn_round_is_wanted_beside_a_workshop_day_and_none_of_the_day_itself():
    cart = Cart("WC-01", workshop=(period(1),), turn_round=8 * HOUR)
    assert assign([booking("B1"), booking("B2", 2)], [cart], same).unmet == ()
    assert assign([booking("B1", 0.9), booking("B2", 1.9)], [cart], same).unmet == ("B1", "B2")


def test_instants_are_compared_as_instants_while_the_clock_goes_back():
    """On 5 April 2026 in Adelaide 02:30 comes twice: first at half past four after noon in UTC, then an hour later."""
    zone = ZoneInfo("Australia/Adelaide")
    again = datetime(2026, 4, 5, 2, 30, fold=1, tzinfo=zone)
    first = Request("B1", again - DAY, datetime(2026, 4, 5, 2, 45, tzinfo=zone))
    second = Request("B2", again, again + DAY)
    assert assign([first, second], [Cart("WC-01")], same).unmet == ()
    assert assign([first, second], [Cart("WC-01", turn_round=HOUR)], same).unmet == ("B2",)


def test_a_fixed_booking_keeps_its_cart_whatever_it_costs_and_whoever_else_wants_it():
    costs = {("B1", "WC-01"): 0.0, ("B1", "WC-02"): 9.0, ("B2", "WC-01"): 100.0, ("B2", "WC-02"): 0.0}
    found = assign([booking("B1"), booking("B2", fixed_cart="WC-01")], [Cart("WC-01"), Cart("WC-02")], costs)
    assert (found.chosen, found.cost) == ({"B1": "WC-02", "B2": "WC-01"}, 109.0)
    unsuited = assign([booking("B1", fixed_cart="WC-01")], [Cart("WC-01")], {})
    assert (unsuited.chosen, unsuited.cost, unsuited.unmet) == ({"B1": "WC-01"}, 0.0, ())


def test_two_fixed_bookings_too_close_together_are_promised_all_the_same():
    both = [booking("B1", fixed_cart="WC-01"), booking("B2", 1, fixed_cart="WC-01")]
    assert assign(both, [Cart("WC-01", turn_round=4 * HOUR)], same).chosen == {"B1": "WC-01", "B2": "WC-01"}


@pytest.mark.parametrize(
    ("per_move", "chosen", "moves"),
    [
        pytest.param(3.0, {"B1": "WC-01"}, (), id="a saving under what a move weighs"),
        pytest.param(1.0, {"B1": "WC-02"}, ("B1",), id="a saving over it"),
        pytest.param(2.0, {"B1": "WC-01"}, (), id="neither: it stays"),
    ],
)
def test_a_booking_is_moved_only_for_more_than_a_move_weighs(per_move, chosen, moves):
    costs = {("B1", "WC-01"): 5.0, ("B1", "WC-02"): 3.0}
    carts = [Cart("WC-01"), Cart("WC-02")]
    found = assign([booking("B1", present_cart="WC-01")], carts, costs, per_move=per_move)
    assert (found.chosen, found.moves) == (chosen, moves)
    assert found.cost == costs["B1", chosen["B1"]] + per_move * len(moves)


def test_who_is_left_out_is_the_one_who_has_no_cart_yet_and_losing_one_counts_as_a_move():
    late = booking("B2", present_cart="WC-01")
    assert assign([booking("B1"), late], [Cart("WC-01")], same, per_move=1).unmet == ("B1",)
    two_for_one = [booking("B1"), booking("B3", 1), replace(late, end=MONDAY + 2 * DAY)]
    found = assign(two_for_one, [Cart("WC-01")], same, per_move=1)
    assert (found.unmet, found.moves, found.cost) == (("B2",), ("B2",), 3.0)


def test_more_are_met_before_anything_is_saved():
    costs = {("B1", "WC-01"): 0.0, ("B1", "WC-02"): 1e6, ("B2", "WC-01"): 1e6}
    found = assign([booking("B1"), booking("B2")], [Cart("WC-01"), Cart("WC-02")], costs)
    assert found.chosen == {"B1": "WC-02", "B2": "WC-01"}


def test_equal_answers_go_by_key_and_the_order_of_the_input_changes_nothing():
    requests = [booking(f"B{n}", n % 3, 2) for n in range(8)]
    carts = [Cart(f"WC-{n}") for n in range(5)]
    first = assign(requests, carts, same)
    for alike in (("B0", "B3", "B6"), ("B1", "B4"), ("B2", "B5")):
        assert sorted(alike, key=first.chosen.__getitem__) == list(alike)
    assert first.unmet == ("B7",)
    for seed in range(5):
        dice = Random(seed)
        assert assign(dice.sample(requests, 8), dice.sample(carts, 5), same) == first
    stays = [replace(one, present_cart="WC-4") if one.key == "B6" else one for one in requests]
    assert assign(stays, carts, same).chosen["B6"] == "WC-4"


def test_a_function_of_costs_and_a_table_of_them_say_the_same():
    costs = {("B1", "WC-01"): 2.0, ("B1", "WC-02"): None}
    carts = [Cart("WC-01"), Cart("WC-02")]
    assert assign([booking("B1")], carts, costs) == assign([booking("B1")], carts, lambda *pair: costs[pair])


def test_nothing_to_do_is_done():
    assert assign([], [Cart("WC-01")], same).chosen == {}
    found = assign([booking("B1")], [], same)
    assert (found.chosen, found.unmet, found.is_best) == ({}, ("B1",), True)


def test_out_of_patience_an_answer_that_can_be_done_comes_back_and_says_it_is_unproved():
    dice = Random(7)
    requests = [booking(f"B{n:02}", dice.uniform(0, 30), dice.uniform(3, 12)) for n in range(60)]
    carts = [Cart(f"WC-{n:02}") for n in range(8)]
    costs = {(one.key, cart.key): dice.random() for one in requests for cart in carts}
    found = assign(requests, carts, costs, patience_s=1e-9)
    assert not found.is_best
    assert found.chosen
    of_cart = {}
    for one in sorted(requests, key=lambda one: one.start):
        if cart := found.chosen.get(one.key):
            assert one.start >= of_cart.get(cart, one.start)
            of_cart[cart] = one.end


def test_what_stands_in_the_way_is_told_cart_by_cart_the_fewest_first():
    requests = [
        booking("B1", 0, 3),
        booking("B2", 0),
        booking("B3", 1),
        booking("B4", 0, 3),
        booking("B5", 2, fixed_cart="WC-03"),
    ]
    carts = [Cart("WC-01"), Cart("WC-02"), Cart("WC-03"), Cart("WC-04", busy=(period(0),)), Cart("WC-05")]
    chosen = {"B2": "WC-01", "B3": "WC-01", "B4": "WC-02"}
    costs = {(one.key, cart.key): 1.0 for one in requests for cart in carts[:-1]}
    found = what_would_free(requests[0], requests=requests, carts=carts, cost=costs, chosen=chosen)
    assert found == (
        InTheWay("WC-02", ("B4",), (), ()),
        InTheWay("WC-01", ("B2", "B3"), (), ()),
        InTheWay("WC-03", ("B5",), ("B5",), ()),
        InTheWay("WC-04", (), (), (period(0),)),
    )


def test_a_booking_no_cart_suits_has_nothing_in_its_way_and_a_free_cart_says_so():
    one, carts = booking("B1"), [Cart("WC-01")]
    assert what_would_free(one, requests=[one], carts=carts, cost={}, chosen={}) == ()
    assert what_would_free(one, requests=[one], carts=carts, cost=same, chosen={}) == (
        InTheWay("WC-01", (), (), ()),
    )


def test_every_unmet_booking_has_something_in_its_way_on_every_cart_that_suits():
    requests = [booking(f"B{n}", n / 2, 2) for n in range(9)]
    carts = [Cart("WC-01", turn_round=4 * HOUR), Cart("WC-02", workshop=(period(1),))]
    found = assign(requests, carts, same)
    assert found.unmet
    for one in (one for one in requests if one.key in found.unmet):
        told = what_would_free(one, requests=requests, carts=carts, cost=same, chosen=found.chosen)
        assert [each.cart for each in sorted(told, key=lambda each: each.cart)] == ["WC-01", "WC-02"]
        assert all(each.requests or each.periods for each in told)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        pytest.param({"requests": [booking("B1", days=-1)]}, "Booking B1 has to end after", id="backwards"),
        pytest.param({"requests": [booking("B1", days=0)]}, "Booking B1 has to end after", id="no length"),
        pytest.param({"carts": [Cart("C", busy=(period(0, -1),))]}, "cart C has to end", id="busy backwards"),
        pytest.param(
            {"carts": [Cart("C", workshop=(period(0, 0),))]}, "cart C has to end", id="workshop of no length"
        ),
        pytest.param(
            {"requests": [Request("B1", datetime(2026, 6, 1), datetime(2026, 6, 2))]},  # noqa: DTZ001 - what is refused
            "with a zone",
            id="no zone",
        ),
        pytest.param(
            {"requests": [booking("B1"), booking("B1", 3)]}, "Booking B1 is given twice", id="twice"
        ),
        pytest.param({"carts": [Cart("C"), Cart("C")]}, "Cart C is given twice", id="a cart twice"),
        pytest.param(
            {"requests": [booking("B1", fixed_cart="D")]}, "cart D, which is not", id="no such cart"
        ),
        pytest.param(
            {"requests": [booking("B2", 0.5, fixed_cart="C"), booking("B1", fixed_cart="C")]},
            "Bookings B1 and B2 are both fixed to cart C",
            id="two fixed that overlap",
        ),
        pytest.param({"carts": [Cart("C", turn_round=-HOUR)]}, "turn-round of cart C", id="turn-round"),
        pytest.param({"cost": lambda *_: float("nan")}, "cart C for booking B1", id="a cost that is none"),
        pytest.param({"cost": lambda *_: float("inf")}, "cart C for booking B1", id="an endless cost"),
        pytest.param({"per_move": -1}, "What a move weighs", id="a move below zero"),
    ],
)
def test_what_cannot_be_is_refused_in_words(change, says):
    given = {"requests": [booking("B1")], "carts": [Cart("C")], "cost": same} | change
    with pytest.raises(ValueError, match=rf"{says}.*\.$"):
        assign(**given)


def test_whoever_asks_what_would_free_a_stranger_is_told():
    with pytest.raises(ValueError, match="Booking B9 is not among"):
        what_would_free(booking("B9"), requests=[], carts=[], cost=same, chosen={})


def test_wear_is_the_share_a_cart_is_ahead_of_its_like():
    assert wear_cost(hours_this_quarter=300, fleet_mean=250) == pytest.approx(0.2)
    assert wear_cost(hours_this_quarter=0, fleet_mean=250) == -1
    assert wear_cost(hours_this_quarter=0, fleet_mean=0) == 0


@pytest.mark.parametrize(("hours", "mean"), [(-1, 5), (1, -5), (float("nan"), 5), (1, float("inf")), (1, 0)])
def test_wear_of_no_hours_there_can_be_is_refused(hours, mean):
    with pytest.raises(ValueError, match=r"\.$"):
        wear_cost(hours_this_quarter=hours, fleet_mean=mean)
