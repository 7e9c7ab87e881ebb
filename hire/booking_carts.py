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
from hire.booking_yard import Moved, Yard, yard_for
from hire.models.bookings import Booking
from hire.suiting import Enquiry
from people.yard import yard_day

# So many bookings are looked at together, the earliest first: what a solver answers while somebody waits.
MOST = 200
PATIENCE_S = 4.0
# What a near cart costs for each thing it lacks: more than any excess, so that it is only proposed where none has all.
NEAR_COST = 100.0
# Of one cart, the readiness of so many bookings is forecast, the earliest first.
FORECASTS = 3
MOST_WAYS = 3
PASSED = "Its time has passed. Cancel it, and say why."
OFFERED = frozenset(ASKED_GEAR)


@dataclass(frozen=True)
class Choice:
    """One booking. cart None: there is none for it, and `ways` says what would free one. more: what the cart has beyond what is
    asked; lacks: what it is near in. answer: its readiness, None where the booking is too far down the cart's list."""

    booking: Booking
    asked: str
    cart: Cart | None
    more: str = ""
    lacks: tuple[str, ...] = ()
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
    fleet: Sequence[matching.Cart]
    costs: Mapping[tuple[int, str], float]
    found: matching.Assignment


def propose(*, at: datetime) -> Proposal:
    """The carts proposed for the open bookings, known at an instant (aware)."""
    done = _assigned(at=at)
    if done is None:
        return Proposal((), is_best=True, left_out=0)
    yard, found = done.yard, done.found
    answers = _answers({n: yard.carts[number] for n, number in found.chosen.items()}, done.enquiries, at=at)
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
            choices.append(_choice(booking, enquiry, yard, yard.carts[number], answers.get(n)))
        else:
            words = _ways(ways[n], done.bookings, yard, at=at) if n in ways else [PASSED]
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
    requests = [matching.Request(n, one.start, one.end) for n, one in enumerate(enquiries) if one.end > at]
    yard = yard_for(enquiries, at=at, moved=moved)
    fleet, costs = yard.fleet(), dict(_costs(requests, enquiries, yard))
    found = matching.assign(requests, fleet, costs, patience_s=PATIENCE_S)
    return _Assigned(bookings, enquiries, requests, yard, fleet, costs, found)


def _asked(enquiry: Enquiry) -> str:
    return suiting.asked_words(enquiry, names=GEAR)


def _choice(booking: Booking, enquiry: Enquiry, yard: Yard, cart: Cart, answer: Readiness | None) -> Choice:
    build = yard.builds[cart.pk]
    return Choice(
        booking,
        _asked(enquiry),
        cart,
        more=suiting.more_words(enquiry, build, offered=OFFERED, names=GEAR),
        lacks=tuple(one.what for one in suiting.lacks(enquiry, build, names=GEAR)),
        answer=answer,
    )


def _costs(
    requests: Sequence[matching.Request], enquiries: Sequence[Enquiry], yard: Yard
) -> Iterator[tuple[tuple[int, str], float]]:
    """What each cart costs that has what is asked, or nearly. What agreements would refuse has no cost at all."""
    for request in requests:
        enquiry, last = enquiries[request.key], yard_day(request.end)
        for number, cart in yard.carts.items():
            if (cart.retired_on and cart.retired_on <= last) or (
                enquiry.is_potable and cart.pk in yard.never
            ):
                continue
            build = yard.builds[cart.pk]
            lacking = suiting.lacks(enquiry, build, names=GEAR)
            if all(one.is_near for one in lacking):
                over = suiting.excess(enquiry, build, offered=OFFERED, falls_due=0)
                yield (request.key, number), over + NEAR_COST * len(lacking)


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


def _ways(
    freed: Sequence[matching.InTheWay], bookings: Sequence[Booking], yard: Yard, *, at: datetime
) -> Iterator[str]:
    """What would free a cart, the easiest first: "WC-05 if H2026-00010 (Mallee Ridge Wind) moved"."""
    if not freed:
        yield "No cart of the fleet has what is asked. Ask for less, or hire one in."
    for way in freed[:MOST_WAYS]:
        cart = yard.carts[way.cart]
        named = [*yard.taken.get(cart.pk, ()), *yard.workshop.get(cart.pk, ())]
        needs = [words for period, words in named if period in way.periods]
        needs += [f"the booking of {bookings[n].words(at=at)}, had another cart" for n in way.requests]
        yield f"{way.cart} if {' and '.join(needs)}" if needs else f"{way.cart} is free"
