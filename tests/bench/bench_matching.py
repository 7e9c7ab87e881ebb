"""The best assignment of 200 bookings to 200 carts against the desk's own way: earliest start first, cheapest free cart.

    python -m tests.bench.bench_matching [--bookings 200] [--carts 200] [--rounds 3]

Three yards of one size: the hires spread over a quarter, over a month, and over a month with a fifth of the carts. Cost is
litres over what was asked, how far a cart has worked ahead of its like, and the way to the site. Both keep the turn-round.
Read the ratios; the milliseconds are this machine's.
"""

import argparse
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np

from hire.matching import Cart, Request, assign, wear_cost
from tests.bench.timing import medians_ms

MONDAY = datetime(2026, 6, 1, 6, tzinfo=UTC)
TURN_ROUND = timedelta(hours=6)
LITRES = (8_000, 10_000, 12_000, 15_000, 18_000, 22_000, 25_000, 30_000)


@dataclass(frozen=True)
class Yard:
    requests: list[Request]
    carts: list[Cart]
    costs: dict[tuple[str, str], float]


def yard_of(bookings: int, carts: int, days: int) -> Yard:
    """Bookings of one to 28 days, of which each suits the half of the carts that are large enough."""
    chance = np.random.default_rng(47)
    starts = chance.uniform(0, days, bookings)
    ends = starts + chance.uniform(1, 28, bookings)
    litres, asked = chance.choice(LITRES, carts), chance.choice(LITRES, bookings) - 2_000
    hours = chance.uniform(50, 400, carts)
    suits = (litres >= asked[:, None]) & (chance.random((bookings, carts)) < 0.5)
    way = chance.uniform(0, 1, (bookings, carts))
    wear = [wear_cost(hours_this_quarter=float(one), fleet_mean=float(hours.mean())) for one in hours]
    costs = (litres - asked[:, None]) / 2_000 + np.array(wear) + way
    return Yard(
        [
            Request(f"B{n:03}", MONDAY + timedelta(days=float(start)), MONDAY + timedelta(days=float(end)))
            for n, (start, end) in enumerate(zip(starts, ends, strict=True))
        ],
        [Cart(f"WC-{n:03}", turn_round=TURN_ROUND) for n in range(carts)],
        {(f"B{b:03}", f"WC-{c:03}"): float(costs[b, c]) for b, c in np.argwhere(suits)},
    )


def in_turn(yard: Yard) -> dict[str, str]:
    """Earliest start first, cheapest free cart."""
    free_from = {cart.key: MONDAY for cart in yard.carts}
    ways: dict[str, list[tuple[float, str]]] = {one.key: [] for one in yard.requests}
    for (request, cart), cost in yard.costs.items():
        ways[request].append((cost, cart))
    chosen = {}
    for one in sorted(yard.requests, key=lambda one: one.start):
        free = [way for way in ways[one.key] if free_from[way[1]] <= one.start]
        if free:
            chosen[one.key] = min(free)[1]
            free_from[chosen[one.key]] = one.end + TURN_ROUND
    return chosen


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--bookings", type=int, default=200)
    parser.add_argument("--carts", type=int, default=200)
    parser.add_argument("--rounds", type=int, default=3)
    options = parser.parse_args()
    for name, carts, days in (
        ("over a quarter", options.carts, 90),
        ("over a month", options.carts, 30),
        ("over a month, short of carts", options.carts // 5, 30),
    ):
        yard = yard_of(options.bookings, carts, days)
        best, plain = assign(yard.requests, yard.carts, yard.costs), in_turn(yard)
        assert len(best.chosen) >= len(plain), "The desk's own way met more."
        plain_cost = sum(yard.costs[pair] for pair in plain.items())
        mine, theirs = medians_ms(
            options.rounds,
            lambda yard=yard: assign(yard.requests, yard.carts, yard.costs),
            lambda yard=yard: in_turn(yard),
        )
        print(f"{options.bookings} bookings {name}, {carts} carts, {len(yard.costs)} pairs that suit")
        print(
            f"  met {len(best.chosen)}, in turn {len(plain)}; cost {best.cost:.0f}, in turn {plain_cost:.0f}:"
            f" ratio {best.cost / plain_cost:.2f}; {'proved best' if best.is_best else 'not proved'}"
        )
        print(f"  {mine:.0f} ms, in turn {theirs:.0f} ms: {mine / theirs:.0f} x", flush=True)


if __name__ == "__main__":
    main()
