"""The best carts for all open bookings at once, with what each has and lacks, what would free one where there is none, and which
promised hires would have another cart for that, where they may.

Reads only: hire.matching says which, a person accepts it, and the gate still decides whether a cart goes. Queries do not grow
with the bookings or the carts.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID

from fleet.gear import GEAR
from fleet.models.carts import Cart
from fleet.readiness import Readiness, Window, readiness_each
from fleet.sentences import readiness_sentence
from hire import suiting
from hire.booking_assigned import Assigned, assigned, left_out, near
from hire.booking_moves import Move, held_with, moves_of
from hire.booking_wanted import OFFERED
from hire.booking_yard import Moved, taken_by
from hire.models.bookings import Booking
from hire.site_rules import Lacking
from hire.suiting import Enquiry

# Of one cart, the readiness of so many hires is forecast, the earliest first.
FORECASTS = 3
MOST_WAYS = 3
PASSED = "Its time has passed. Cancel it, and say why."


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
    how many later bookings were not looked at. moves: the promised hires that would have another cart, without which some of the
    choices can't be."""

    choices: tuple[Choice, ...]
    is_best: bool
    left_out: int
    moves: tuple[Move, ...] = ()

    @property
    def chosen(self) -> int:
        return sum(choice.cart is not None for choice in self.choices)

    @property
    def ticked(self) -> set[str]:
        """The ids of what is ticked at first: bookings and hires whose cart nothing stops, and none without those it goes with."""
        held = {str(one.booking.pk) for one in self.choices if one.state == "held"}
        every = {str(one.booking.pk) for one in self.choices} | {str(one.line.pk) for one in self.moves}
        return every - held_with(held, self.moves)


def propose(*, at: datetime, moves: bool = False) -> Proposal:
    """The carts proposed for the open bookings, known at an instant (aware). moves: whether promised hires may have another one."""
    done = assigned(at=at, moves=moves)
    if done is None:
        return Proposal((), is_best=True, left_out=0)
    chosen, gone = done.found.chosen, {line.pk for _, line, _ in done.moved}
    asking = [n for n in chosen if n < len(done.bookings) or n in done.found.moves]
    carts = {n: done.yard.carts[chosen[n]] for n in asking}
    answers = _answers(carts, [one.enquiry for one in done.wanted], gone, at=at)
    choices = []
    for n, booking in enumerate(done.bookings):
        enquiry = done.wanted[n].enquiry
        if number := chosen.get(n):
            choices.append(_choice(n, booking, done, done.yard.carts[number], answers.get(n)))
        else:
            words = _ways(n, done, at=at) if n in done.unmet else [PASSED]
            choices.append(Choice(booking, _asked(enquiry), None, ways=tuple(words)))
    moving = tuple(moves_of(done, answers, at=at)) if gone else ()
    return Proposal(tuple(choices), done.found.is_best, left_out(), moving)


def without_cart(*, at: datetime, moved: Moved | None = None) -> dict[UUID, Booking]:
    """The open bookings no cart can be had for, by their key; moved: as if that hire had that period."""
    done = assigned(at=at, moved=moved)
    return {done.bookings[n].pk: done.bookings[n] for n in done.unmet} if done else {}


def _asked(enquiry: Enquiry) -> str:
    return suiting.asked_words(enquiry, names=GEAR)


def _choice(n: int, booking: Booking, done: Assigned, cart: Cart, answer: Readiness | None) -> Choice:
    enquiry, build = done.wanted[n].enquiry, done.yard.builds[cart.pk]
    return Choice(
        booking,
        _asked(enquiry),
        cart,
        more=suiting.more_words(enquiry, build, offered=OFFERED, names=GEAR),
        lacks=tuple(one.what for one in suiting.lacks(enquiry, build, names=GEAR)),
        site=done.site_lacks(n, cart),
        answer=answer,
    )


def _answers(
    chosen: Mapping[int, Cart], enquiries: Sequence[Enquiry], gone: set[UUID], *, at: datetime
) -> dict[int, Readiness]:
    """Readiness for each hire's own period. One asks for a cart once, so a cart's second hire is asked in a second round. gone: the
    hires that leave their carts for it, which stop nobody."""
    rounds: list[dict[UUID, int]] = [{} for _ in range(FORECASTS)]
    seen: Counter[UUID] = Counter()
    for n in sorted(chosen, key=lambda n: enquiries[n].start):
        if seen[chosen[n].pk] < FORECASTS:
            rounds[seen[chosen[n].pk]][chosen[n].pk] = n
        seen[chosen[n].pk] += 1
    found: dict[int, Readiness] = {}
    for asked in rounds:
        windows = {cart_id: _window(enquiries[n], at=at) for cart_id, n in asked.items()}
        answers = readiness_each([chosen[n] for n in asked.values()], windows=windows, at=at)
        found |= {asked[cart_id]: _without(answer, gone) for cart_id, answer in answers.items()}
    return found


def _without(answer: Readiness, gone: set[UUID]) -> Readiness:
    return replace(answer, blockers=tuple(one for one in answer.blockers if one.record.id not in gone))


def _window(enquiry: Enquiry, *, at: datetime) -> Window:
    # It is not handed over before now, whenever it was to leave.
    start = max(enquiry.start, at)
    return Window(
        start, max(enquiry.end, start + timedelta(minutes=1)),
        leaves_by=enquiry.leaves_by, works_on=enquiry.works_on, is_potable=enquiry.is_potable,
    )  # fmt: skip


def _ways(n: int, done: Assigned, *, at: datetime) -> Iterator[str]:
    """What would free a cart, the easiest first: "WC-05 if H2026-00010 (Mallee Ridge Wind) moved"; then what stops carts at the
    site that have what is asked."""
    yard, enquiry, freed = done.yard, done.wanted[n].enquiry, done.in_the_way(n)
    suit = [cart for cart in yard.carts.values() if near(done.wanted[n], yard, cart) is not None]
    stopped = [words for cart in suit if (words := done.sites.stop_words(n, cart))]
    if not freed and not stopped:
        yield "No cart of the fleet has what is asked. Ask for less, or hire one in."
    for way in freed[:MOST_WAYS]:
        cart = yard.carts[way.cart]
        named = [*yard.taken.get(cart.pk, ()), *yard.workshop.get(cart.pk, ())]
        needs = [one.way(enquiry) for one in named if one.period in way.periods]
        needs += [_way(other, enquiry, done, at=at) for other in way.requests]
        yield f"{way.cart} if {' and '.join(needs)}" if needs else f"{way.cart} is free"
    yield from stopped[:MOST_WAYS]


def _way(other: int, enquiry: Enquiry, done: Assigned, *, at: datetime) -> str:
    """What would change that a booking, or a hire that may have another cart, is in the way."""
    if line := done.wanted[other].line:
        period = (line.promised.lower, line.promised.upper)
        return taken_by(line, period, f"{line.agreement.number} ({line.agreement.customer.name}) moved").way(
            enquiry
        )
    return f"the booking of {done.bookings[other].words(at=at)}, had another cart"
