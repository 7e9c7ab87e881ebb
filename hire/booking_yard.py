"""The fleet as the open bookings meet it: what each cart is, and who has it when. Reads only; queries do not grow with the carts
or the hires."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from statistics import fmean
from uuid import UUID

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.db.models import Q

from fleet.models.carts import Cart
from fleet.sentences import day_words
from fleet.water.history import NEVER
from fleet.water_standing import standings
from hire import matching
from hire.availability import FAR, builds, with_road_fill
from hire.figures import BAND_L
from hire.figures_inputs import engine_hours_of
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from hire.suiting import Build, Enquiry
from people.yard import day_bounds, yard_day, yard_policy
from servicing.models.plans import Visit

QUARTER = timedelta(days=92)
Period = tuple[datetime, datetime]
# When a cart is not to be had, and what would change that.
Taken = tuple[Period, str]
# A hire as if it had another period.
Moved = tuple[Line, Period]


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
        turn = yard_policy().turn_round
        return [
            matching.Cart(
                number,
                busy=tuple(period for period, _ in self.taken.get(cart.pk, ())),
                workshop=tuple(period for period, _ in self.workshop.get(cart.pk, ())),
                turn_round=turn,
            )
            for number, cart in self.carts.items()
        ]


def yard_for(enquiries: Sequence[Enquiry], *, at: datetime, moved: Moved | None = None) -> Yard:
    carts = list(Cart.objects.in_fleet(on=yard_day(at)).order_by("fleet_number"))
    turn = yard_policy().turn_round
    start, end = min(one.start for one in enquiries) - turn, max(one.end for one in enquiries) + turn
    taken: defaultdict[UUID, list[Taken]] = defaultdict(list)
    workshop: defaultdict[UUID, list[Taken]] = defaultdict(list)
    for cart_id, period, words in _taken(carts, DateTimeTZRange(start, end), at=at, moved=moved):
        taken[cart_id].append((period, words))
    visits = Visit.objects.filter(
        cart__in=carts, cancelled_at=None, where="yard", on__range=(yard_day(start), yard_day(end))
    )
    for visit in visits:
        period = day_bounds(visit.on)
        workshop[visit.cart_id].append(
            (period, f"its workshop day on {day_words(period[0], at=at)} was moved")
        )
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
    carts: Sequence[Cart], span: DateTimeTZRange, *, at: datetime, moved: Moved | None = None
) -> Iterator[tuple[UUID, Period, str]]:
    """What the cart is promised for, out on or pencilled for. When one out past its day is back nobody can say."""
    late = Q(handed_over_at__isnull=False, promised__endswith__lte=at)
    lines = Line.objects.unfinished().filter(Q(promised__overlap=span) | late, cart__in=carts).for_list()
    if moved:
        lines = lines.exclude(pk=moved[0].pk)
        yield moved[0].cart_id, moved[1], f"{moved[0].agreement.number} moved"
    for line in lines:
        start, end = line.promised.lower, line.promised.upper
        is_late = line.is_out and end <= at
        does = "was back" if is_late else "was back sooner" if line.is_out else "moved"
        period = (start, FAR if is_late else end)
        yield line.cart_id, period, f"{line.agreement.number} ({line.agreement.customer.name}) {does}"
    for one in Pencil.objects.standing(at=at).filter(cart__in=carts, period__overlap=span):
        period = (one.period.lower, one.period.upper)
        yield one.cart_id, period, f"the pencil for {one.caller_words} was let go"
