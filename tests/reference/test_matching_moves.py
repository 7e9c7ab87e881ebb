"""Every assignment there is on small cases where some carts are promised already: no promise is left without one, as many bookings
are met as can be, by the fewest moves, and of those ways by the one of least cost."""

import itertools
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hire import matching_solver, matching_ways
from hire.matching import Cart, Request, assign, outweighs
from tests import worked
from tests.reference.test_matching import can_be, near, price, small_yards, spoilt

DAY = timedelta(days=1)
MONDAY = datetime(2026, 6, 1, tzinfo=UTC)


def cart_of(one):
    return one.fixed_cart or (one.present_cart if one.is_promised else None)


def promised(requests, chosen):
    """Those of them that have a cart, promised it: never two at once on one cart."""
    found = []
    for one, is_chosen in zip(requests, chosen, strict=True):
        there = [
            each for each in [*found, *requests] if each.key != one.key and cart_of(each) == one.present_cart
        ]
        clashes = any(near((one.start, one.end), (each.start, each.end), timedelta(0)) for each in there)
        is_promised = is_chosen and one.present_cart is not None and one.fixed_cart is None and not clashes
        found.append(replace(one, is_promised=is_promised))
    return found


def stays(one, requests, carts) -> bool:
    """Whether a promise stands too close to something on its cart, and so is not moved."""
    if not one.is_promised or one.fixed_cart is not None:
        return False
    [cart] = [cart for cart in carts if cart.key == one.present_cart]
    period, hire = (one.start, one.end), ((one.start, one.end), one.is_potable)
    there = [each for each in requests if each.key != one.key and cart_of(each) == cart.key]
    return (
        any(near(period, other, cart.turn_round) for other in cart.busy)
        or any(near(period, other, timedelta(0)) for other in cart.workshop)
        or any(spoilt(hire, (other, False), cart) for other in cart.any_water)
        or any(spoilt(hire, (other, True), cart) for other in cart.potable)
        or any(
            near(period, (each.start, each.end), cart.turn_round)
            or spoilt(hire, ((each.start, each.end), each.is_potable), cart)
            for each in there
        )
    )


def every_way(requests, carts, costs):
    """All that can be, each promised one with a cart."""
    place = {cart.key: n for n, cart in enumerate(carts)}
    choices = [
        [place[one.fixed_cart]]
        if one.fixed_cart is not None
        else [*range(len(carts))]
        if one.is_promised
        else [None, *range(len(carts))]
        for one in requests
    ]
    return [ways for ways in itertools.product(*choices) if can_be(requests, carts, costs, ways)]


def moved(requests, carts, ways) -> int:
    return sum(
        one.present_cart is not None and (way is None or carts[way].key != one.present_cart)
        for one, way in zip(requests, ways, strict=True)
    )


def the_best_is_found(requests, carts, costs) -> None:
    costs = costs | {
        (one.key, one.present_cart): costs[one.key, one.present_cart] or 0.0
        for one in requests
        if one.is_promised
    }
    weighs = outweighs(requests, carts, costs)
    found = assign(requests, carts, costs, per_move=weighs)
    held = [
        replace(one, fixed_cart=one.present_cart) if stays(one, requests, carts) else one for one in requests
    ]
    every = every_way(held, carts, costs)
    ranked = [
        (
            -sum(way is not None for way in ways),
            moved(requests, carts, ways),
            price(requests, carts, costs, 0.0, ways),
        )
        for ways in every
    ]
    most, fewest, _ = min(ranked)
    least = min(cost for met, moves, cost in ranked if (met, moves) == (most, fewest))
    place = {cart.key: n for n, cart in enumerate(carts)}
    assert tuple(place.get(found.chosen.get(one.key)) for one in requests) in every
    assert {one.key for one in requests if one.is_promised} <= found.chosen.keys()
    assert (-len(found.chosen), len(found.moves)) == (most, fewest)
    assert found.cost - weighs * len(found.moves) == pytest.approx(least, abs=1e-6)
    assert found.is_best


@given(small_yards(), st.lists(st.booleans(), min_size=5, max_size=5))
def test_no_answer_there_is_meets_more_moves_fewer_or_costs_less(yard, chosen) -> None:
    requests, carts, costs, _ = yard
    the_best_is_found(promised(requests, chosen[: len(requests)]), carts, costs)


@pytest.mark.parametrize("seed", range(60))
def test_nor_in_a_yard_full_of_promises(seed: int) -> None:
    """Three carts, three promises with little room between, and bookings that two of the three suit."""
    chance = np.random.default_rng(seed)
    carts = [Cart(n, turn_round=DAY / 2) for n in range(3)]
    requests = []
    for n in range(6):
        start = MONDAY + int(chance.integers(0, 7)) * DAY
        end = start + int(chance.integers(1, 5)) * DAY
        requests.append(Request(n, start, end, present_cart=n if n < 3 else None, is_promised=n < 3))
    costs = {
        (one.key, cart.key): None if chance.random() < 0.3 else float(chance.integers(9))
        for one in requests
        for cart in carts
    }
    the_best_is_found(requests, carts, costs)


def test_two_bookings_are_worth_no_promise() -> None:
    """One cart: a hire promised for four days, and two bookings that would fit in its time."""
    whole = Request("H", MONDAY, MONDAY + 4 * DAY, present_cart="C", is_promised=True)
    parts = [Request(f"B{n}", MONDAY + n * DAY, MONDAY + (n + 1) * DAY) for n in (0, 2)]
    found = assign([whole, *parts], [Cart("C")], lambda *_: 1.0)
    assert (found.chosen, found.unmet, found.moves) == ({"H": "C"}, ("B0", "B2"), ())


def test_two_change_carts_where_only_that_makes_room() -> None:
    """On A four days are promised and on B the first two; the booking of days 4 to 6 suits A alone, free once they change carts."""

    def hire(key, days, cart):
        return Request(key, MONDAY, MONDAY + days * DAY, present_cart=cart, is_promised=True)

    requests = [hire("H1", 4, "A"), hire("H2", 2, "B"), Request("B", MONDAY + 3 * DAY, MONDAY + 6 * DAY)]
    costs = {("H1", "A"): 0.0, ("H1", "B"): 0.0, ("H2", "A"): 0.0, ("H2", "B"): 0.0, ("B", "A"): 0.0}
    found = assign(requests, [Cart("A"), Cart("B")], costs, per_move=9.0)
    assert found.chosen == {"H1": "B", "H2": "A", "B": "A"}
    assert found.moves == ("H1", "H2")


def test_out_of_patience_every_promise_is_kept() -> None:
    chance = np.random.default_rng(3)
    requests = []
    for n in range(60):
        start = MONDAY + float(chance.uniform(0, 30)) * DAY
        more = {"present_cart": n, "is_promised": True} if n < 8 else {}
        requests.append(Request(n, start, start + float(chance.uniform(3, 12)) * DAY, **more))
    carts = [Cart(n) for n in range(8)]
    costs = {(one.key, cart.key): float(chance.random()) for one in requests for cart in carts}
    for patience_s in (1e-9, 5.0):
        found = assign(requests, carts, costs, per_move=100.0, patience_s=patience_s)
        assert set(range(8)) <= found.chosen.keys()
    assert found.is_best


def test_whatever_the_search_gives_a_promise_is_not_broken(monkeypatch) -> None:
    hire = Request("H", MONDAY, MONDAY + 4 * DAY, present_cart="C", is_promised=True)
    booking = Request("B", MONDAY, MONDAY + DAY)
    monkeypatch.setattr(
        matching_ways, "best_ways", lambda asked, *_, **__: ({"B": "C"} if asked.kept else {}, True)
    )
    found = assign([hire, booking], [Cart("C")], lambda *_: 1.0)
    assert (found.chosen, found.unmet, found.is_best) == ({"H": "C"}, ("B",), False)


@pytest.mark.parametrize("cart", [None, "D"])
def test_a_promise_is_of_a_cart_that_is_given(cart) -> None:
    hire = Request("H", MONDAY, MONDAY + DAY, present_cart=cart, is_promised=True)
    with pytest.raises(ValueError, match="Booking H is promised a cart which is not among"):
        assign([hire], [Cart("C")], lambda *_: 1.0)


def test_the_solver_itself_leaves_no_kept_owner_out_when_time_runs_out() -> None:
    """Owner 0 has one choice, dear and shut out by each of the two cheap ones of the others."""
    weights, owners = np.array([9.0, 0.0, 0.0]), np.array([0, 1, 2])
    groups = [np.array([0, 1]), np.array([0, 2])]
    taken, is_best = matching_solver.choose(weights, owners, groups, patience_s=1e-12, kept=np.array([0]))
    assert (taken.tolist(), is_best) == ([0], False)
    taken, is_best = matching_solver.choose(weights, owners, groups, patience_s=5.0, kept=np.array([0]))
    assert (taken.tolist(), is_best) == ([0], True)


def days(words: str) -> tuple[datetime, datetime]:
    first, last = (MONDAY + (int(day) - 1) * DAY for day in words.split(" to "))
    return first, last


def test_the_worked_case_comes_out_as_printed() -> None:
    _, hires, answers = worked.tables("matching.md", "Promised hires that may move")
    carts = [Cart(f"WC-0{n}") for n in (1, 2, 3)]
    costs = {
        (row[0], cart.key): float(cost)
        for row in hires
        for cart, cost in zip(carts, row[3:], strict=True)
        if cost != "-"
    }
    for they, chosen, unmet, moves, cost in answers:
        requests = []
        for key, when, has_now, *_ in hires:
            cart = None if has_now == "none" else has_now
            stay = cart if they == "keep their carts" or they.endswith(f"but {key}") else None
            requests.append(Request(key, *days(when), stay, cart, is_promised=cart is not None))
        weighs = outweighs(requests, carts, costs)
        found = assign(requests, carts, costs, per_move=weighs)
        assert "; ".join(f"{one} {cart}" for one, cart in found.chosen.items()) == chosen
        assert (", ".join(found.unmet) or "none", ", ".join(found.moves) or "none") == (unmet, moves)
        assert f"{found.cost - weighs * len(found.moves):g}" == cost
        assert found.is_best
