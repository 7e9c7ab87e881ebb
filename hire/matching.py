"""Which cart takes which booking: as many bookings met as can be, then at least cost, and nothing moved that may not be.

Instants are aware, periods half-open: a hire may begin as another ends where the cart wants no turn-round. It proposes only;
whether a cart may go is readiness's to say. The rule with its table is docs/matching.md.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from hire.matching_input import (
    Asked,
    Cart,
    Cost,
    Key,
    Period,
    Request,
    checked,
    costs_of,
    hinders,
    periods_of,
)

__all__ = ["Assignment", "Cart", "InTheWay", "Request", "assign", "outweighs", "wear_cost", "what_would_free"]


@dataclass(frozen=True, slots=True)
class Assignment:
    """chosen: request to cart, the fixed ones among them. moves: whose cart is another than its present one, those left
    without it included. cost: of all chosen, and per_move for each move. is_best: False when patience ran out before the
    proof; the answer then can be done, and may be bettered."""

    chosen: dict[Key, Key]
    unmet: tuple[Key, ...]
    cost: float
    moves: tuple[Key, ...]
    is_best: bool


@dataclass(frozen=True, slots=True)
class InTheWay:
    """What keeps a booking off one cart that suits it: the requests there, which of those are fixed, and the cart's other
    periods. Nothing at all: the cart is free."""

    cart: Key
    requests: tuple[Key, ...]
    fixed: tuple[Key, ...]
    periods: tuple[Period, ...]


def assign(
    requests: Iterable[Request],
    carts: Iterable[Cart],
    cost: Cost,
    *,
    per_move: float = 0.0,
    patience_s: float = 10.0,
) -> Assignment:
    """The assignment that meets most requests and, of those, costs least, a move weighing per_move.

    cost: by (request key, cart key), or asked of a function; None or nothing where the cart does not suit. A fixed request
    keeps its cart whatever it costs, None counting as 0 there. Of answers that cost the same, carts stay where they are and
    earlier keys take earlier carts, as far as changing one or two bookings leads. The order of the input changes nothing.
    patience_s: for each run of the solver. Who is promised a cart has one in every answer, its own where nothing else is found.

    ValueError: a period that does not end after it begins, an instant without a zone, a key given twice, two fixed requests
    that overlap on one cart, one fixed to a cart not given, a turn-round, a time to sanitise or per_move below zero, a cost that
    is no number.
    """
    if not 0 <= per_move < math.inf:
        raise ValueError("What a move weighs has to be a number, zero or more.")
    asked = checked(requests, carts)
    costs = costs_of(asked, cost)
    present = {one.key: one.present_cart for one in asked.requests if one.present_cart is not None}
    free = _free_pairs(asked, costs)
    # To stay is to be spared a move: so a booking left without its cart counts as one moved.
    weights = {pair: costs[pair] - per_move * (present.get(pair[0]) == pair[1]) for pair in free}
    # Imported here for its weight: the pages that only ask what stands in the way need no solver.
    from hire.matching_ways import best_ways  # noqa: PLC0415

    found, is_best = best_ways(asked, weights, patience_s=patience_s)
    if asked.kept.keys() - found.keys():
        # Whatever became of the search, a promise is not broken by it.
        held = [replace(one, fixed_cart=asked.kept.get(one.key, one.fixed_cart)) for one in asked.requests]
        answer = assign(held, asked.carts, cost, per_move=per_move, patience_s=patience_s)
        return replace(answer, is_best=False)
    return _assignment(asked, found | asked.fixed, costs, per_move, is_best=is_best)


def what_would_free(
    request: Request,
    *,
    requests: Iterable[Request],
    carts: Iterable[Cart],
    cost: Cost,
    chosen: Mapping[Key, Key],
) -> tuple[InTheWay, ...]:
    """What stands in the way of a request on each cart that suits it; nothing: no cart suits it, whatever is moved.

    First the carts that moving bookings would free, then those with a fixed booking or another period in the way; in each
    the fewest in the way first, then by key. chosen: an Assignment's. ValueError as assign.
    """
    asked = checked(requests, carts)
    if request.key not in asked.spans:
        raise ValueError(f"Booking {request.key} is not among the bookings given.")
    costs = costs_of(replace(asked, requests=(request,)), cost)
    at = dict(chosen) | asked.fixed
    found = [
        _in_the_way(asked, request, cart, at) for cart in asked.carts if (request.key, cart.key) in costs
    ]
    return tuple(sorted(found, key=_hard_to_free))


def outweighs(requests: Iterable[Request], carts: Iterable[Cart], cost: Cost) -> float:
    """What a move has to weigh so that no saving is worth one: more than two answers that meet as many can differ in cost."""
    asked = checked(requests, carts)
    costs: dict[Key, list[float]] = {}
    for (request, _), value in costs_of(asked, cost).items():
        costs.setdefault(request, [0.0]).append(value)
    return 1.0 + math.fsum(max(each) - min(each) for each in costs.values())


def wear_cost(*, hours_this_quarter: float, fleet_mean: float) -> float:
    """How far a cart has worked ahead of its like this quarter, as a share of their mean: 0.2 is a fifth more, below zero
    is less. All of them at 0 h: 0. The yard weighs it against litres and moves. Common practice, no source.

    ValueError for hours below zero or no number, or a mean of 0 for a cart that has worked.
    """
    if not (0 <= hours_this_quarter < math.inf and 0 <= fleet_mean < math.inf):
        raise ValueError("Hours have to be a number, zero or more.")
    if fleet_mean == 0:
        if hours_this_quarter:
            raise ValueError("A fleet whose mean is 0 h has no cart that worked.")
        return 0.0
    return hours_this_quarter / fleet_mean - 1


def _assignment(
    asked: Asked,
    found: Mapping[Key, Key],
    costs: Mapping[tuple[Key, Key], float],
    per_move: float,
    *,
    is_best: bool,
) -> Assignment:
    chosen = {one.key: found[one.key] for one in asked.requests if one.key in found}
    moves = tuple(
        one.key
        for one in asked.requests
        if one.present_cart is not None and (one.key not in chosen or chosen[one.key] != one.present_cart)
    )
    return Assignment(
        chosen=chosen,
        unmet=tuple(one.key for one in asked.requests if one.key not in chosen),
        cost=math.fsum(costs.get(pair, 0.0) for pair in chosen.items()) + per_move * len(moves),
        moves=moves,
        is_best=is_best,
    )


def _free_pairs(asked: Asked, costs: Mapping[tuple[Key, Key], float]) -> Iterator[tuple[Key, Key]]:
    """The pairs that suit, of requests that may be given a cart, where nothing fixed is in the way."""
    held: dict[Key, list[Key]] = {}
    for request, cart in asked.fixed.items():
        held.setdefault(cart, []).append(request)
    for cart in asked.carts:
        fixed, shut = held.get(cart.key, ()), periods_of(cart)
        for one in asked.requests:
            if one.fixed_cart is None and (one.key, cart.key) in costs:
                if any(asked.shut_out(one.key, other, cart) for other in fixed):
                    continue
                if not any(hinders(way, asked, one, cart) for way in shut):
                    yield one.key, cart.key


def _in_the_way(asked: Asked, request: Request, cart: Cart, at: Mapping[Key, Key]) -> InTheWay:
    there = tuple(
        one.key
        for one in asked.requests
        if one.key != request.key
        and at.get(one.key) == cart.key
        and asked.shut_out(request.key, one.key, cart)
    )
    fixed = tuple(key for key in there if key in asked.fixed)
    # A hire that is near in time and in its water stands there once.
    periods = dict.fromkeys(way.period for way in periods_of(cart) if hinders(way, asked, request, cart))
    return InTheWay(cart.key, there, fixed, tuple(periods))


def _hard_to_free(way: InTheWay) -> tuple[bool, int, Key]:
    return bool(way.fixed or way.periods), len(way.requests) + len(way.periods), way.cart
