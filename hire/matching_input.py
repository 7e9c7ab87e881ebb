"""What the matching is asked with, checked, and put in whole microseconds, so that a clock change shifts no comparison."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

# A fleet number, the id of a line: what can be looked up and put in order.
Key = Any
Period = tuple[datetime, datetime]
Cost = Mapping[tuple[Key, Key], float | None] | Callable[[Key, Key], float | None]
Span = tuple[int, int]

EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
MICROSECOND = timedelta(microseconds=1)


@dataclass(frozen=True, slots=True)
class Request:
    """A booking that wants a cart. fixed_cart: it has that one and may not be moved; present_cart: it has that one so far.
    is_promised: its present cart is promised, so it may have another and is never left without one.
    is_potable: it carries drinking water alone; what any other fills the tank with nobody knows beforehand."""

    key: Key
    start: datetime
    end: datetime
    fixed_cart: Key | None = None
    present_cart: Key | None = None
    is_potable: bool = False
    is_promised: bool = False


@dataclass(frozen=True, slots=True)
class Cart:
    """busy: hires and pencilled hires not among the requests; turn_round is kept from them as between any two hires.
    workshop: when it is not to be had and no turn-round is wanted; a hire may begin as the workshop is done.
    any_water, potable: those of the hires in `busy` that carry any water, and drinking water alone; one may be neither.
    sanitised_in: how long after any water it may carry drinking water; None: never again."""

    key: Key
    busy: tuple[Period, ...] = ()
    workshop: tuple[Period, ...] = ()
    turn_round: timedelta = timedelta(0)
    any_water: tuple[Period, ...] = ()
    potable: tuple[Period, ...] = ()
    sanitised_in: timedelta | None = timedelta(0)

    @property
    def apart(self) -> int:
        return self.turn_round // MICROSECOND

    def spoils(self, first: Span, then: Span) -> bool:
        """Whether any water carried in the first span leaves its tank unfit for drinking water in the second."""
        if self.sanitised_in is None:
            return first[0] <= then[0]
        return first[0] <= then[0] < first[1] + self.sanitised_in // MICROSECOND


@dataclass(frozen=True, slots=True)
class Asked:
    """Requests and carts in the order of their keys, with the span of every request and which carry drinking water alone."""

    requests: tuple[Request, ...]
    carts: tuple[Cart, ...]
    spans: Mapping[Key, Span]
    potable: frozenset[Key]

    @property
    def fixed(self) -> dict[Key, Key]:
        return {one.key: one.fixed_cart for one in self.requests if one.fixed_cart is not None}

    @property
    def kept(self) -> dict[Key, Key]:
        """Of those promised that may be moved, the cart they have: each of them can keep it."""
        return {
            one.key: one.present_cart for one in self.requests if one.is_promised and one.fixed_cart is None
        }

    def shut_out(self, one: Key, other: Key, cart: Cart) -> bool:
        """Whether two requests can't both have a cart: they clash, or the water of one spoils its tank for the other."""
        if clash(self.spans[one], self.spans[other], cart.apart):
            return True
        if (one in self.potable) == (other in self.potable):
            return False
        first, then = (other, one) if one in self.potable else (one, other)
        return cart.spoils(self.spans[first], self.spans[then])


def checked(requests: Iterable[Request], carts: Iterable[Cart]) -> Asked:
    """The same in the order of keys. ValueError as hire.matching.assign says."""
    wanted = tuple(sorted(requests, key=lambda one: one.key))
    fleet = tuple(sorted(carts, key=lambda one: one.key))
    _once("Booking", [one.key for one in wanted])
    _once("Cart", [one.key for one in fleet])
    for cart in fleet:
        if cart.turn_round < timedelta(0):
            raise ValueError(f"The turn-round of cart {cart.key} can't be below zero.")
        if cart.sanitised_in is not None and cart.sanitised_in < timedelta(0):
            raise ValueError(f"The time to sanitise cart {cart.key} can't be below zero.")
        for period in (*cart.busy, *cart.workshop, *cart.any_water, *cart.potable):
            span_of(period, f"A period of cart {cart.key}")
    asked = Asked(
        wanted,
        fleet,
        {one.key: span_of((one.start, one.end), f"Booking {one.key}") for one in wanted},
        frozenset(one.key for one in wanted if one.is_potable),
    )
    asked = _with_those_that_stay(asked)
    _fixed_can_be(asked)
    return asked


@dataclass(frozen=True, slots=True)
class Way:
    """A period of a cart, and why it may stand in a booking's way: "busy", "workshop", or the "any water" or "potable" carried."""

    period: Period
    span: Span
    why: str


def periods_of(cart: Cart) -> list[Way]:
    piles = {
        "busy": cart.busy,
        "any water": cart.any_water,
        "potable": cart.potable,
        "workshop": cart.workshop,
    }
    return [Way(one, span_of(one, ""), why) for why, periods in piles.items() for one in periods]


def hinders(way: Way, asked: Asked, request: Request, cart: Cart) -> bool:
    span = asked.spans[request.key]
    if way.why == "any water":
        return request.is_potable and cart.spoils(way.span, span)
    if way.why == "potable":
        return not request.is_potable and cart.spoils(span, way.span)
    return clash(span, way.span, cart.apart if way.why == "busy" else 0)


def _with_those_that_stay(asked: Asked) -> Asked:
    """What was promised too close to something else on its cart was promised so, and stays: then every other promise can be kept as
    it is, all of them at once. ValueError for a promise of no cart, or of one not given."""
    fleet = {cart.key: cart for cart in asked.carts}
    there: dict[Key, list[Key]] = {}
    for one in asked.requests:
        if one.is_promised and one.present_cart not in fleet:
            raise ValueError(f"Booking {one.key} is promised a cart which is not among the carts given.")
        cart = one.fixed_cart if one.fixed_cart is not None else one.present_cart if one.is_promised else None
        if cart is not None:
            there.setdefault(cart, []).append(one.key)

    def stays(one: Request) -> bool:
        if not one.is_promised or one.fixed_cart is not None:
            return False
        cart = fleet[one.present_cart]
        if any(hinders(way, asked, one, cart) for way in periods_of(cart)):
            return True
        return any(
            asked.shut_out(one.key, other, cart) for other in there[one.present_cart] if other != one.key
        )

    requests = tuple(
        replace(one, fixed_cart=one.present_cart) if stays(one) else one for one in asked.requests
    )
    return replace(asked, requests=requests)


def costs_of(asked: Asked, cost: Cost) -> dict[tuple[Key, Key], float]:
    """What each suiting pair costs; of a fixed request its own cart alone. The cart a request is promised costs nothing where it
    does not suit: it may keep it. ValueError for what is no number."""
    found = {}
    for request in asked.requests:
        carts = [cart.key for cart in asked.carts] if request.fixed_cart is None else [request.fixed_cart]
        for cart in carts:
            value = cost.get((request.key, cart)) if isinstance(cost, Mapping) else cost(request.key, cart)
            if value is None and request.is_promised and cart == request.present_cart:
                value = 0.0
            if value is None:
                continue
            if not math.isfinite(value):
                raise ValueError(
                    f"The cost of cart {cart} for booking {request.key} has to be a number or None."
                )
            found[request.key, cart] = float(value)
    return found


def span_of(period: Period, what: str) -> Span:
    """A period in microseconds. ValueError where it does not end after it begins, or an instant has no zone."""
    if any(at.utcoffset() is None for at in period):
        raise ValueError(f"{what} needs its times with a zone.")
    # Instants of one zone are subtracted by the clock on the wall, unless they are put in UTC first.
    start, end = ((at.astimezone(UTC) - EPOCH) // MICROSECOND for at in period)
    if end <= start:
        raise ValueError(f"{what} has to end after it begins.")
    return start, end


def clash(one: Span, other: Span, apart: int) -> bool:
    """Whether two half-open spans overlap or stand nearer than `apart`."""
    return one[0] < other[1] + apart and other[0] < one[1] + apart


def _once(what: str, keys: list[Key]) -> None:
    for key, following in pairwise(keys):
        if key == following:
            raise ValueError(f"{what} {key} is given twice.")


def _fixed_can_be(asked: Asked) -> None:
    """Turn-round is left out here: two hires promised too close together are promised all the same."""
    known = {cart.key for cart in asked.carts}
    latest: dict[Key, Key] = {}
    fixed = [one for one in asked.requests if one.fixed_cart is not None]
    for one in sorted(fixed, key=lambda one: asked.spans[one.key]):
        if one.fixed_cart not in known:
            raise ValueError(
                f"Booking {one.key} is fixed to cart {one.fixed_cart}, which is not among the carts given."
            )
        before = latest.get(one.fixed_cart)
        if before is not None and clash(asked.spans[before], asked.spans[one.key], 0):
            raise ValueError(
                f"Bookings {before} and {one.key} are both fixed to cart {one.fixed_cart} and overlap:"
                " move one of them first."
            )
        latest[one.fixed_cart] = one.key
