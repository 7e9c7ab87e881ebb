"""The best carts for all open bookings at once, with what each has and lacks, and what would free one where there is none.

Reads only: hire.matching says which, a person accepts it, and the gate still decides whether a cart goes. Queries do not grow
with the bookings or the carts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from fleet.gear import GEAR
from fleet.models.carts import Cart
from fleet.readiness import Readiness, Window, readiness_each
from fleet.sentences import readiness_sentence
from hire import matching, suiting
from hire.availability import ASKED_GEAR
from hire.booking_fitness import Fitness, fitness_for
from hire.booking_sites import Sites, sites_for, stops_for_good
from hire.booking_yard import Moved, Yard, yard_for
from hire.models.bookings import Booking
from hire.site_rules import Lacking
from hire.suiting import Enquiry, Lack
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
# Of one cart, the readiness of so many bookings is forecast, the earliest first.
FORECASTS = 3
MOST_WAYS = 3
PASSED = "Its time has passed. Cancel it, and say why."
OFFERED = frozenset(ASKED_GEAR)


@dataclass(frozen=True)
class Choice:
    """One booking. cart None: there is none for it, and `ways` says what would free one. more: what the cart has beyond what is
    asked; lacks: what it is near in; site: what it lacks of what the site asks. answer: its readiness, None where the booking is
    too far down the cart's list."""

    booking: Booking
    asked: str
    cart: Cart | None
    more: str = ""
    lacks: tuple[str, ...] = ()
    site: tuple[Lacking, ...] = ()
    answer: Readiness | None = None
    ways: tuple[str, ...] = ()

    @property
    def pair(self) -> str:
        """As the page sends it back."""
        return f"{self.booking.pk}.{self.cart.pk}" if self.cart else ""

    @property
    def sentence(self) -> str:
        return readiness_sentence(self.answer) if self.answer else ""

    @property
    def state(self) -> str:
        return self.answer.state if self.answer else ""


@dataclass(frozen=True)
class Proposal:
    """choices: by when they leave. is_best: False where time ran out before it was proved that no choice is better. left_out:
    how many later bookings were not looked at."""

    choices: tuple[Choice, ...]
    is_best: bool
    left_out: int

    @property
    def chosen(self) -> int:
        return sum(choice.cart is not None for choice in self.choices)


@dataclass(frozen=True)
class _Assigned:
    """The open bookings looked at, what each asks, and which cart each would have. requests: those not over yet, by place in
    the list."""

    bookings: Sequence[Booking]
    enquiries: Sequence[Enquiry]
    requests: Sequence[matching.Request]
    yard: Yard
    sites: Sites
    fleet: Sequence[matching.Cart]
    costs: Mapping[tuple[int, str], float]
    found: matching.Assignment


def propose(*, at: datetime) -> Proposal:
    """The carts proposed for the open bookings, known at an instant (aware)."""
    done = _assigned(at=at)
    if done is None:
        return Proposal((), is_best=True, left_out=0)
    found = done.found
    answers = _answers(
        {n: done.yard.carts[number] for n, number in found.chosen.items()}, done.enquiries, at=at
    )
    ways = {
        one.key: matching.what_would_free(
            one, requests=done.requests, carts=done.fleet, cost=done.costs, chosen=found.chosen
        )
        for one in done.requests
        if one.key in found.unmet
    }
    choices = []
    for n, (booking, enquiry) in enumerate(zip(done.bookings, done.enquiries, strict=True)):
        if number := found.chosen.get(n):
            choices.append(_choice(n, done, done.yard.carts[number], answers.get(n)))
        else:
            words = _ways(n, ways[n], done, at=at) if n in ways else [PASSED]
            choices.append(Choice(booking, _asked(enquiry), None, ways=tuple(words)))
    left_out = max(0, Booking.objects.open().count() - MOST)
    return Proposal(tuple(choices), is_best=found.is_best, left_out=left_out)


def without_cart(*, at: datetime, moved: Moved | None = None) -> dict[UUID, Booking]:
    """The open bookings no cart can be had for, by their key; moved: as if that hire had that period."""
    done = _assigned(at=at, moved=moved)
    if done is None:
        return {}
    left = [done.bookings[one.key] for one in done.requests if one.key in done.found.unmet]
    return {booking.pk: booking for booking in left}


def _assigned(*, at: datetime, moved: Moved | None = None) -> _Assigned | None:
    """The best carts for the open bookings; None where there are none."""
    bookings = list(Booking.objects.open().for_list()[:MOST])
    if not bookings:
        return None
    enquiries = [booking.enquiry() for booking in bookings]
    # What is over already asks for nothing but to be cancelled.
    requests = [
        matching.Request(n, one.start, one.end, is_potable=one.is_potable)
        for n, one in enumerate(enquiries)
        if one.end > at
    ]
    yard = yard_for(enquiries, at=at, moved=moved)
    sites = sites_for(bookings, list(yard.carts.values()), at=at, moved=moved)
    fitness = fitness_for([enquiries[one.key] for one in requests], list(yard.carts.values()), at=at)
    fleet, costs = yard.fleet(), dict(_costs(requests, enquiries, yard, sites, fitness))
    found = matching.assign(requests, fleet, costs, patience_s=PATIENCE_S)
    return _Assigned(bookings, enquiries, requests, yard, sites, fleet, costs, found)


def _asked(enquiry: Enquiry) -> str:
    return suiting.asked_words(enquiry, names=GEAR)


def _choice(n: int, done: _Assigned, cart: Cart, answer: Readiness | None) -> Choice:
    enquiry, build = done.enquiries[n], done.yard.builds[cart.pk]
    others = [m for m, number in done.found.chosen.items() if number == cart.fleet_number and m != n]
    return Choice(
        done.bookings[n],
        _asked(enquiry),
        cart,
        more=suiting.more_words(enquiry, build, offered=OFFERED, names=GEAR),
        lacks=tuple(one.what for one in suiting.lacks(enquiry, build, names=GEAR)),
        site=done.sites.lacking(n, cart, others=others),
        answer=answer,
    )


def _near(enquiry: Enquiry, yard: Yard, cart: Cart) -> list[Lack] | None:
    """What a cart is near in of what is asked; None where it does not suit, or an agreement would be refused."""
    if cart.retired_on and cart.retired_on <= yard_day(enquiry.end):
        return None
    if enquiry.is_potable and cart.pk in yard.never:
        return None
    lacking = suiting.lacks(enquiry, yard.builds[cart.pk], names=GEAR)
    # A road fill is the law's figure: near is not enough where nobody is asked again before the promise.
    return lacking if all(one.is_near and one.kind != "road_litres" for one in lacking) else None


def _costs(
    requests: Sequence[matching.Request],
    enquiries: Sequence[Enquiry],
    yard: Yard,
    sites: Sites,
    fitness: Fitness,
) -> Iterator[tuple[tuple[int, str], float]]:
    """What each cart costs that has what is asked, or nearly, and that the site has, or could have once it is worked on."""
    for request in requests:
        enquiry = enquiries[request.key]
        for number, cart in yard.carts.items():
            near = _near(enquiry, yard, cart)
            if near is None or stops_for_good(site := sites.lacking(request.key, cart)):
                continue
            over = suiting.excess(enquiry, yard.builds[cart.pk], offered=OFFERED, falls_due=0)
            musts, wear = sum(one.is_must for one in site), yard.wear.get(cart.pk, 0.0)
            fit = fitness.cost(enquiry, cart)
            yield (request.key, number), over + fit + WEAR_COST * wear + NEAR_COST * (len(near) + musts)


def _answers(
    chosen: Mapping[int, Cart], enquiries: Sequence[Enquiry], *, at: datetime
) -> dict[int, Readiness]:
    """Readiness for each booking's own period. One asks for a cart once, so a cart's second booking is asked in a second round."""
    rounds: list[dict[UUID, int]] = [{} for _ in range(FORECASTS)]
    seen: Counter[UUID] = Counter()
    for n in sorted(chosen):
        if seen[chosen[n].pk] < FORECASTS:
            rounds[seen[chosen[n].pk]][chosen[n].pk] = n
        seen[chosen[n].pk] += 1
    found: dict[int, Readiness] = {}
    for asked in rounds:
        windows = {cart_id: _window(enquiries[n], at=at) for cart_id, n in asked.items()}
        answers = readiness_each([chosen[n] for n in asked.values()], windows=windows, at=at)
        found |= {asked[cart_id]: answer for cart_id, answer in answers.items()}
    return found


def _window(enquiry: Enquiry, *, at: datetime) -> Window:
    # It is not handed over before now, whenever it was to leave.
    start = max(enquiry.start, at)
    return Window(
        start, max(enquiry.end, start + timedelta(minutes=1)),
        leaves_by=enquiry.leaves_by, works_on=enquiry.works_on, is_potable=enquiry.is_potable,
    )  # fmt: skip


def _ways(n: int, freed: Sequence[matching.InTheWay], done: _Assigned, *, at: datetime) -> Iterator[str]:
    """What would free a cart, the easiest first: "WC-05 if H2026-00010 (Mallee Ridge Wind) moved"; then what stops carts at the
    site that have what is asked."""
    yard, bookings = done.yard, done.bookings
    suit = [cart for cart in yard.carts.values() if _near(done.enquiries[n], yard, cart) is not None]
    stopped = [words for cart in suit if (words := done.sites.stop_words(n, cart))]
    if not freed and not stopped:
        yield "No cart of the fleet has what is asked. Ask for less, or hire one in."
    for way in freed[:MOST_WAYS]:
        cart = yard.carts[way.cart]
        named = [*yard.taken.get(cart.pk, ()), *yard.workshop.get(cart.pk, ())]
        needs = [one.way(done.enquiries[n]) for one in named if one.period in way.periods]
        needs += [f"the booking of {bookings[n].words(at=at)}, had another cart" for n in way.requests]
        yield f"{way.cart} if {' and '.join(needs)}" if needs else f"{way.cart} is free"
    yield from stopped[:MOST_WAYS]
