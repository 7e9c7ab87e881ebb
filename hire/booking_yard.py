"""The fleet as the open bookings meet it: what each cart is, and who has it when. Reads only; queries do not grow with the carts
or the hires."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import fmean
from uuid import UUID

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.db.models import Q

from fleet.models.carts import Cart, Fitment
from fleet.sentences import day_words
from fleet.water.history import NEVER
from fleet.water_standing import standings
from hire import matching
from hire.availability import FAR, builds, with_road_fill
from hire.figures import BAND_L
from hire.figures_inputs import engine_hours_of
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from hire.querysets import in_the_way
from hire.suiting import Build, Enquiry
from people.yard import day_bounds, yard_day, yard_policy
from servicing.models.plans import Visit

QUARTER = timedelta(days=92)
Period = tuple[datetime, datetime]
# A hire as if it had another period.
Moved = tuple[Line, Period]


@dataclass(frozen=True)
class Taken:
    """When a cart is not to be had, and what would change that. water: what a hire carries, "any" or "potable"; "" for what is no
    hire. water_words: what would change it where the water alone is in the way."""

    period: Period
    words: str
    water: str = ""
    water_words: str = ""

    def way(self, enquiry: Enquiry) -> str:
        """What would change that it is in the way of an enquiry."""
        turn, (start, end) = yard_policy().turn_round, self.period
        is_near = start < enquiry.end + turn and enquiry.start - turn < end
        return self.words if is_near or not self.water else self.water_words


@dataclass(frozen=True)
class Yard:
    """The carts by fleet number, what each is, which may never carry drinking water, who has each when, in words, and how far each
    has worked ahead of its like this quarter (matching.wear_cost); nothing of a cart whose clock does not tell."""

    carts: Mapping[str, Cart]
    builds: Mapping[UUID, Build]
    never: frozenset[UUID]
    taken: Mapping[UUID, Sequence[Taken]]
    workshop: Mapping[UUID, Sequence[Taken]]
    wear: Mapping[UUID, float]

    def fleet(self) -> list[matching.Cart]:
        policy = yard_policy()

        def periods(pile: Mapping[UUID, Sequence[Taken]], cart: Cart, water: str = "") -> tuple[Period, ...]:
            return tuple(one.period for one in pile.get(cart.pk, ()) if not water or one.water == water)

        return [
            matching.Cart(
                number,
                busy=periods(self.taken, cart),
                workshop=periods(self.workshop, cart),
                turn_round=policy.turn_round,
                any_water=periods(self.taken, cart, "any"),
                potable=periods(self.taken, cart, "potable"),
                # A tank kept for drinking water alone is no more fit for it after a hire that may fill it with any.
                sanitised_in=policy.sanitise_for if policy.potable_after_bore else None,
            )
            for number, cart in self.carts.items()
        ]


def yard_for(
    enquiries: Sequence[Enquiry], *, at: datetime, moved: Moved | None = None, but: Collection[UUID] = ()
) -> Yard:
    """moved: as if that hire had that period; but: hires that are asked about themselves, and keep no cart busy."""
    carts = list(Cart.objects.in_fleet(on=yard_day(at)).order_by("fleet_number"))
    turn = yard_policy().turn_round
    start, end = min(one.start for one in enquiries) - turn, max(one.end for one in enquiries) + turn
    taken: defaultdict[UUID, list[Taken]] = defaultdict(list)
    workshop: defaultdict[UUID, list[Taken]] = defaultdict(list)
    for cart_id, one in _taken(carts, DateTimeTZRange(start, end), at=at, moved=moved, but=but):
        taken[cart_id].append(one)
    visits = Visit.objects.filter(
        cart__in=carts, cancelled_at=None, where="yard", on__range=(yard_day(start), yard_day(end))
    )
    for visit in visits:
        period = day_bounds(visit.on)
        words = f"its workshop day on {day_words(period[0], at=at)} was moved"
        workshop[visit.cart_id].append(Taken(period, words))
    potable = standings(carts) if any(one.is_potable for one in enquiries) else {}
    never = frozenset(cart_id for cart_id, one in potable.items() if one.verdict == NEVER)
    by_number, kinds = {cart.fleet_number: cart for cart in carts}, builds(carts)
    if any(one.road_litres for one in enquiries):
        kinds |= with_road_fill(kinds, carts, at=at)
    return Yard(by_number, kinds, never, taken, workshop, _wear(carts, at=at))


def _wear(carts: Sequence[Cart], *, at: datetime) -> dict[UUID, float]:
    """Its like: the carts with a tank of its size."""
    worked = engine_hours_of(start=at - QUARTER, end=at)
    alike: defaultdict[int, dict[UUID, float]] = defaultdict(dict)
    for cart in carts:
        if cart.pk in worked:
            alike[cart.tank_capacity_l // BAND_L][cart.pk] = worked[cart.pk]
    return {
        cart_id: matching.wear_cost(hours_this_quarter=hours, fleet_mean=fmean(like.values()))
        for like in alike.values()
        for cart_id, hours in like.items()
    }


def _taken(
    carts: Sequence[Cart], span: DateTimeTZRange, *, at: datetime, moved: Moved | None, but: Collection[UUID]
) -> Iterator[tuple[UUID, Taken]]:
    """What the cart is promised for, out on or pencilled for, and what it carries before and after that. When one out past its day
    is back nobody can say."""
    spoils = Q(agreement__water="any", promised__startswith__lt=span.upper)
    is_spoilt = Q(agreement__water="potable", promised__startswith__gt=span.lower)
    there = in_the_way(span.lower, span.upper, at=at) | is_spoilt
    potable = Fitment.objects.filter(kind="potable_tank", removed_on=None).values("cart")
    there |= spoils & Q(cart__in=potable)
    lines = Line.objects.unfinished().filter(there, cart__in=carts).exclude(pk__in=but).for_list()
    if moved:
        lines = lines.exclude(pk=moved[0].pk)
        yield moved[0].cart_id, taken_by(moved[0], moved[1], f"{moved[0].agreement.number} moved")
    for line in lines:
        start, end = line.promised.lower, line.expected_back
        is_late = line.is_overdue(at=at)
        does = "was back" if is_late else "was back sooner" if line.is_out else "moved"
        words = f"{line.agreement.number} ({line.agreement.customer.name}) {does}"
        yield line.cart_id, taken_by(line, (start, FAR if is_late else end), words)
    for one in Pencil.objects.standing(at=at).filter(cart__in=carts, period__overlap=span):
        period = (one.period.lower, one.period.upper)
        yield one.cart_id, Taken(period, f"the pencil for {one.caller_words} was let go")


def taken_by(line: Line, period: Period, words: str) -> Taken:
    about = line.agreement
    does = "had another cart" if about.water == "potable" else "carried drinking water alone"
    return Taken(period, words, about.water, f"{about.number} ({about.customer.name}) {does}")
