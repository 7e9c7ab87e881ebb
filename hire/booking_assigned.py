"""Which cart each open booking would have, and which a hire already promised would have instead of its own so that more bookings
can have one. Reads only; queries do not grow with the bookings, the hires or the carts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from fleet.gear import GEAR
from fleet.models.carts import Cart
from hire import matching, suiting
from hire.booking_fitness import Fitness, fitness_for
from hire.booking_sites import Sites, sites_for, stops_for_good
from hire.booking_wanted import OFFERED, Wanted, may_move
from hire.booking_yard import Moved, Yard, yard_for
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.site_rules import Lacking
from hire.suiting import Lack
from people.yard import yard_day

# So many bookings are looked at together, the earliest first: what a solver answers while somebody waits.
MOST = 200
PATIENCE_S = 4.0
# What a cart costs for each thing it is near in, and each the site must have that it could be given: more than any excess, so
# that it is only proposed where none has all.
NEAR_COST = 100.0
# What a cart costs that worked twice what its like did this quarter, beside one that worked as they did: as much as a piece of
# gear nobody asked for. Common practice, no source.
WEAR_COST = 0.5


@dataclass(frozen=True)
class Assigned:
    """wanted: the open bookings looked at, then the promised hires that may have another cart. requests: those not over yet, by
    place in that list."""

    bookings: Sequence[Booking]
    wanted: Sequence[Wanted]
    requests: Sequence[matching.Request]
    yard: Yard
    sites: Sites
    fleet: Sequence[matching.Cart]
    costs: Mapping[tuple[int, str], float]
    found: matching.Assignment

    @property
    def unmet(self) -> list[int]:
        """The bookings there is no cart for."""
        return [n for n in self.found.unmet if n < len(self.bookings)]

    @property
    def moved(self) -> list[tuple[int, Line, Cart]]:
        """The promised hires that would have another cart, each with that."""
        lines = [(n, self.wanted[n].line) for n in self.found.moves]
        return [(n, line, self.yard.carts[self.found.chosen[n]]) for n, line in lines if line]

    def takes(self, n: int) -> tuple[int, ...]:
        """Who has the cart instead that a moved hire has now, in its time or too close to it."""
        line = self.wanted[n].line
        assert line is not None
        ways = self.in_the_way(n)
        return next(way.requests for way in ways if way.cart == line.cart.fleet_number)

    def site_lacks(self, n: int, cart: Cart) -> tuple[Lacking, ...]:
        """What the cart proposed for a hire lacks of what its site asks, the other hires it is proposed for counted."""
        others = [m for m, number in self.found.chosen.items() if number == cart.fleet_number and m != n]
        return self.sites.lacking(n, cart, others=others)

    def in_the_way(self, n: int) -> tuple[matching.InTheWay, ...]:
        [request] = [one for one in self.requests if one.key == n]
        return matching.what_would_free(
            request, requests=self.requests, carts=self.fleet, cost=self.costs, chosen=self.found.chosen
        )


def assigned(*, at: datetime, moved: Moved | None = None, moves: bool = False) -> Assigned | None:
    """The best carts for the open bookings; None where there are none. moved: as if that hire had that period; moves: whether hires
    already promised may have another cart than they have."""
    bookings = list(Booking.objects.open().for_list()[:MOST])
    if not bookings:
        return None
    wanted = [Wanted.booked(booking) for booking in bookings]
    if moves:
        wanted += may_move(at=at)
    enquiries, lines = [one.enquiry for one in wanted], [one.line.pk for one in wanted if one.line]
    yard = yard_for(enquiries, at=at, moved=moved, but=lines)
    carts = list(yard.carts.values())
    sites = sites_for(wanted, carts, at=at, moved=moved)
    # What is over already asks for nothing but to be cancelled.
    requests = [_request(n, one) for n, one in enumerate(wanted) if one.enquiry.end > at]
    fitness = fitness_for([enquiries[one.key] for one in requests], carts, at=at)
    fleet, costs = yard.fleet(), dict(_costs(requests, wanted, yard, sites, fitness))
    found = _best(requests, fleet, costs)
    return Assigned(bookings, wanted, requests, yard, sites, fleet, costs, found)


def left_out() -> int:
    """How many later bookings are not looked at."""
    return max(0, Booking.objects.open().count() - MOST)


def _request(n: int, one: Wanted) -> matching.Request:
    enquiry, cart = one.enquiry, one.line.cart.fleet_number if one.line else None
    return matching.Request(
        n,
        enquiry.start,
        enquiry.end,
        present_cart=cart,
        is_potable=enquiry.is_potable,
        is_promised=bool(cart),
    )


def _best(
    requests: Sequence[matching.Request],
    fleet: Sequence[matching.Cart],
    costs: Mapping[tuple[int, str], float],
) -> matching.Assignment:
    """With every promised hire on the cart it has; moved only where more bookings have a cart by that."""
    held = [replace(one, fixed_cart=one.present_cart) if one.is_promised else one for one in requests]
    found = matching.assign(held, fleet, costs, patience_s=PATIENCE_S)
    if not found.unmet or held == requests:
        return found
    per_move = matching.outweighs(requests, fleet, costs)
    moving = matching.assign(requests, fleet, costs, per_move=per_move, patience_s=PATIENCE_S)
    return moving if len(moving.chosen) > len(found.chosen) else found


def near(one: Wanted, yard: Yard, cart: Cart) -> list[Lack] | None:
    """What a cart is near in of what is asked; None where it does not suit, or an agreement would be refused."""
    enquiry = one.enquiry
    if cart.retired_on and cart.retired_on <= yard_day(enquiry.end):
        return None
    if enquiry.is_potable and cart.pk in yard.never:
        return None
    lacking = suiting.lacks(enquiry, yard.builds[cart.pk], names=GEAR)
    if one.line:
        # Whoever is promised a cart that has all that was asked is given no less.
        return None if lacking else []
    # A road fill is the law's figure: near is not enough where nobody is asked again before the promise.
    return lacking if all(lack.is_near and lack.kind != "road_litres" for lack in lacking) else None


def _costs(
    requests: Sequence[matching.Request],
    wanted: Sequence[Wanted],
    yard: Yard,
    sites: Sites,
    fitness: Fitness,
) -> Iterator[tuple[tuple[int, str], float]]:
    """What each cart costs that has what is asked, or nearly, and that the site has, or could have once it is worked on."""
    for request in requests:
        one = wanted[request.key]
        for number, cart in yard.carts.items():
            lacking = near(one, yard, cart)
            if lacking is None or stops_for_good(site := sites.lacking(request.key, cart)):
                continue
            over = suiting.excess(one.enquiry, yard.builds[cart.pk], offered=OFFERED, falls_due=0)
            musts, wear = sum(lack.is_must for lack in site), yard.wear.get(cart.pk, 0.0)
            fit = fitness.cost(one.enquiry, cart)
            yield (request.key, number), over + fit + WEAR_COST * wear + NEAR_COST * (len(lacking) + musts)
