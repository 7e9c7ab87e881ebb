"""The promised hires that would have another cart, so that more bookings can have one: from which cart to which, why, and what has
to be done again for each. Reads only; queries do not grow with the hires."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from fleet.gear import GEAR
from fleet.models.carts import Cart
from fleet.readiness import Readiness
from fleet.sentences import day_words, readiness_sentence
from hire import suiting
from hire.availability import with_road_fill
from hire.booking_assigned import Assigned
from hire.models.agreements import Line
from hire.models.job_plans import JobPlan
from hire.models.operators import WetHire
from hire.models.packs import SitePack
from hire.models.runs import RunNote
from hire.packs_due import pack_wanted_by
from hire.site_rules import Lacking
from hire.suiting import Build
from people.yard import day_bounds


@dataclass(frozen=True)
class Move:
    """A hire that would go with another cart. why: what its present cart is wanted for. bookings: the ids of those that can't have
    theirs without it; of hires moved for it, in turn, as of itself. again: what has to be done anew, a sentence each. answer: the
    readiness of the new cart, None where the hire is too far down its list."""

    line: Line
    cart: Cart
    asked: str
    why: str
    bookings: frozenset[UUID]
    again: tuple[str, ...]
    site: tuple[Lacking, ...] = ()
    answer: Readiness | None = None

    @property
    def triple(self) -> str:
        """As the page sends it back: the hire, its new cart, and the one it was seen with."""
        return f"{self.line.pk}.{self.cart.pk}.{self.line.cart_id}"

    @property
    def sentence(self) -> str:
        return readiness_sentence(self.answer) if self.answer else ""

    @property
    def state(self) -> str:
        return self.answer.state if self.answer else ""


def held_with(held: Collection[str], moves: Sequence[Move]) -> set[str]:
    """The ids of what is not to be done where some bookings are not, or some moves' carts are held: a move without each booking it
    makes room for, a booking without each move that makes room for it, and so on."""
    found = set(held) | {str(one.line.pk) for one in moves if one.state == "held"}
    before = -1
    while len(found) > before:
        before = len(found)
        for one in moves:
            together = {str(one.line.pk), *map(str, one.bookings)}
            if together & found:
                found |= together
    return found


def moves_of(done: Assigned, answers: Mapping[int, Readiness], *, at: datetime) -> Iterator[Move]:
    """The moves of an assignment, the earliest hire first."""
    moved = done.moved
    again = _Again.of(done, [(line, cart) for _, line, cart in moved], at=at)
    for n, line, cart in moved:
        yield Move(
            line,
            cart,
            suiting.asked_words(done.wanted[n].enquiry, names=GEAR),
            why=_why(n, line, done, at=at),
            bookings=frozenset(done.bookings[m].pk for m in _for_whom(n, done)),
            again=tuple(again.sentences(n, line, cart, done, at=at)),
            site=done.site_lacks(n, cart),
            answer=answers.get(n),
        )


def _for_whom(n: int, done: Assigned) -> set[int]:
    """The bookings a move makes room for, through those of other hires where it has to."""
    seen, ahead = set(), [n]
    while ahead:
        one = ahead.pop()
        if one not in seen:
            seen.add(one)
            ahead += [m for m in done.takes(one) if m in done.found.moves]
    return {m for one in seen for m in done.takes(one) if m < len(done.bookings)}


def _why(n: int, line: Line, done: Assigned, *, at: datetime) -> str:
    takes = done.takes(n)
    who = [f"the booking of {done.bookings[m].words(at=at)}" for m in takes if m < len(done.bookings)]
    who += [f"{other.agreement.number}" for m in takes if (other := done.wanted[m].line)]
    words = f"{line.cart.fleet_number} is then free for {' and '.join(who)}"
    return (
        f"{words}." if any(m < len(done.bookings) for m in takes) else f"{words}, which makes room in turn."
    )


@dataclass(frozen=True)
class _Again:
    """What is on record of hires that was made for the cart they have."""

    plans: frozenset[UUID]
    packs: Mapping[UUID, str]
    runs: frozenset[UUID]
    wet: frozenset[UUID]
    builds: Mapping[UUID, Build]

    @classmethod
    def of(cls, done: Assigned, moved: Sequence[tuple[Line, Cart]], *, at: datetime) -> _Again:
        """Four queries and those of a road fill."""
        lines = [line for line, _ in moved]
        carts = {one.pk: one for line, cart in moved for one in (line.cart, cart)}
        packs = SitePack.objects.filter(line__in=lines).of_what_goes().order_by("made_at")
        return cls(
            frozenset(JobPlan.objects.filter(line__in=lines).values_list("line", flat=True)),
            dict(packs.values_list("line", "number")),
            frozenset(RunNote.objects.filter(line__in=lines, leg="out").values_list("line", flat=True)),
            frozenset(WetHire.objects.filter(line__in=lines).values_list("line", flat=True)),
            with_road_fill(dict(done.yard.builds), list(carts.values()), at=at),
        )

    def sentences(self, n: int, line: Line, cart: Cart, done: Assigned, *, at: datetime) -> Iterator[str]:
        old, new = line.cart.fleet_number, cart.fleet_number
        yield f"Walk {new} before it leaves; its certificate is issued then."
        site = done.sites.placed.get(n)
        if pack := self.packs.get(line.pk):
            yield f"{pack} has the papers of {old}: make a site pack of {new} and send that."
        elif site and site.asked.papers:
            by = day_words(day_bounds(pack_wanted_by(line))[0], at=at)
            yield f"{site.place} wants the papers of {new} by {by}."
        if line.pk in self.plans:
            yield f"The driver’s plan is worked out for {new} from now on: look at it again."
        if "road" in (line.agreement.leaves_by, line.agreement.works_on):
            yield self._road_fill(line.cart, cart)
        if line.pk in self.runs:
            yield f"Its run is written down with {old} in mind: read it again."
        if line.pk in self.wet:
            yield f"It goes with an operator of ours: see that the licence is for {new} too."
        who = line.agreement.customer
        yield f"Tell {who.name} that {new} comes: {who.contact_name}, {who.phone}."

    def _road_fill(self, before: Cart, cart: Cart) -> str:
        was, now = (self.builds[one.pk].road_litres for one in (before, cart))
        old = (
            f"{before.fleet_number} {was:,} L"
            if was is not None
            else f"{before.fleet_number} has none on record"
        )
        if now is None:
            return f"Work out the road fill of {cart.fleet_number}: there is none on record."
        return f"The road fill of {cart.fleet_number} is {now:,} L; {old}."
