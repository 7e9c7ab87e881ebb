"""Which carts a caller may have: free and suiting ones in order, each with its readiness for the period, and what is in the way
of the others. Reads only; queries do not grow with the carts or the hires."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from uuid import UUID

from django.contrib.postgres.aggregates import ArrayAgg
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.db.models import F, Sum

from fleet.gear import GEAR
from fleet.models.carts import AxleGroup, Cart, Fitment
from fleet.models.standing import Limit
from fleet.readiness import Readiness, Window, readiness_each
from fleet.road_fill import road_fill_of
from fleet.sentences import moment_words, readiness_sentence
from fleet.water.road import RoadFill
from fleet.yards import Yards
from hire import suiting
from hire.enquiry_prices import prices
from hire.models.agreements import Line
from hire.models.pencils import Pencil
from hire.period_price import Price
from hire.querysets import LineQuerySet, in_the_way
from hire.site_rules import Lacking
from hire.suiting import Build, Enquiry, Lack
from hire.tank_order import Met, met_by
from people.yard import yard_day, yard_policy

# What callers ask for by name; the rest is how a cart is built.
ASKED_GEAR = (
    "rops", "cannon", "rear_heads", "side_heads", "front_heads", "batter_heads", "dribble_bar", "drop_bar", "hose_reel",
    "high_pressure_outlet", "hydrant_fill", "suction_fill", "air_gap_fill", "backflow_device", "potable_tank", "additive_tank",
    "fire_suppression", "two_way_radio", "camera", "flag", "battery_isolator", "transmission_automatic", "travelling_kit",
)  # fmt: skip
MOST_IN_THE_WAY, MOST_UNSUITED = 30, 100
# So many of the carts that are free and suit are judged, those with least above what was asked; all of them where fewer than
# ENOUGH of those may go.
JUDGED_FIRST, ENOUGH = 60, 10
FAR = datetime.max.replace(tzinfo=UTC)
EVERY_YARD = Yards()


@dataclass(frozen=True)
class Taken:
    """Who has a cart, in words, and from when it is free; None: nobody can say."""

    words: str
    free_at: datetime | None


@dataclass(frozen=True)
class Operators:
    """Who of the yard's operators could go with a cart, in words; reasons: where nobody could, why not."""

    words: str
    is_free: bool
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True)
class Offer:
    """One cart for one enquiry. answer: its readiness for the period, None where another hire or caller has it then."""

    cart: Cart
    build: Build
    lacks: tuple[Lack, ...]
    answer: Readiness | None
    taken: Taken | None
    excess: float
    price: Price | None
    # What it lacks of what the caller's site asks.
    site: tuple[Lacking, ...] = ()
    # None: no operator is asked for.
    operators: Operators | None = None
    # What has to be done to its tank between another hire and this one, in words.
    tank: str = ""

    @property
    def sentence(self) -> str:
        return readiness_sentence(self.answer) if self.answer else ""

    @property
    def state(self) -> str:
        return self.answer.state if self.answer else ""


@dataclass(frozen=True)
class Answer:
    """suiting: free carts that have what was asked, or nearly, best first. stopped: they would suit and are free, but something
    stops them. taken: they would suit, but are promised, out or pencilled then. further: how many more suit and are free, but
    were not judged. unsuited: the rest of the fleet, each with what it lacks."""

    suiting: tuple[Offer, ...]
    stopped: tuple[Offer, ...]
    taken: tuple[Offer, ...]
    further: int
    unsuited: tuple[tuple[Cart, tuple[Lack, ...]], ...]

    @property
    def first_unsuited(self) -> tuple[tuple[Cart, tuple[Lack, ...]], ...]:
        return self.unsuited[:MOST_UNSUITED]


def builds(carts: Sequence[Cart]) -> dict[UUID, Build]:
    """What each cart is. Three queries."""
    gear: dict[UUID, list[str]] = dict(
        Fitment.objects.filter(cart__in=carts, removed_on=None)
        .values("cart").annotate(kinds=ArrayAgg("kind")).values_list("cart", "kinds")
    )  # fmt: skip
    drive: dict[UUID, int] = dict(
        AxleGroup.objects.filter(cart__in=carts, kind="drive")
        .values("cart").annotate(driven=Sum("axles")).values_list("cart", "driven")
    )  # fmt: skip
    isolated: defaultdict[UUID, set[str]] = defaultdict(set)
    limits = Limit.objects.filter(cart__in=carts, lifted_at=None).exclude(gear="")
    for cart_id, kind in limits.values_list("cart", "gear"):
        isolated[cart_id].add(kind)
    return {
        cart.pk: Build(
            cart.tank_capacity_l, drive.get(cart.pk, 0), frozenset(gear.get(cart.pk, ())), frozenset(isolated[cart.pk])
        )
        for cart in carts
    }  # fmt: skip


def lines_in_the_way(carts: Sequence[Cart], *, start: datetime, end: datetime, at: datetime) -> LineQuerySet:
    """Hires that have one of these carts in a period, the turn-round on both sides, or are out past their day."""
    turn = yard_policy().turn_round
    return Line.objects.unfinished().filter(in_the_way(start - turn, end + turn, at=at), cart__in=carts)


def taken(carts: Sequence[Cart], *, start: datetime, end: datetime, at: datetime) -> dict[UUID, Taken]:
    """Who has each of these carts in a period, by cart id. Two queries by the range index."""
    turn = yard_policy().turn_round
    span = DateTimeTZRange(start - turn, end + turn)
    lines = lines_in_the_way(carts, start=start, end=end, at=at).for_list().order_by(F("promised").desc())
    pencils = Pencil.objects.standing(at=at).filter(cart__in=carts, period__overlap=span)
    found = {
        one.cart_id: Taken(
            f"Pencilled for {one.caller_words} until {moment_words(one.expires_at, at=at)}, by {one.made_by.full_name}.",
            one.expires_at,
        )
        for one in pencils.for_list()
    }
    return found | {line.cart_id: _taken(line, start, at=at) for line in lines}


def _taken(line: Line, start: datetime, *, at: datetime) -> Taken:
    who, until = f"{line.agreement.customer.name}, {line.agreement.number}", line.expected_back
    if line.is_overdue(at=at):
        return Taken(f"Still out with {who}; it was expected back {moment_words(until, at=at)}.", None)
    has = "Off hire from" if line.kept_until else "Out with" if line.is_out else "Promised to"
    free_at = until + yard_policy().turn_round
    if until <= start:
        return Taken(
            f"{has} {who} until {moment_words(until, at=at)}: too short to wash and check it.", free_at
        )
    span = f"{moment_words(line.promised.lower, at=at)} to {moment_words(until, at=at)}"
    return Taken(f"{has} {who}, {span}; free from {moment_words(free_at, at=at)}.", free_at)


def _spoilt(met: Met, *, at: datetime) -> Taken:
    return Taken(met.taken_words(at=at), met.free_at)


def answer(enquiry: Enquiry, *, at: datetime, whole: bool = False, yards: Yards = EVERY_YARD) -> Answer:
    """What the yard can say to a caller, known at an instant (aware). whole: judge every free cart, not only the first;
    yards: of which yard."""
    carts = list(yards.narrow(Cart.objects.in_fleet(on=yard_day(enquiry.end)).order_by("fleet_number")))
    kinds = builds(carts)
    if enquiry.road_litres:
        kinds |= with_road_fill(kinds, carts, at=at)
    lacking = {cart.pk: tuple(suiting.lacks(enquiry, kinds[cart.pk], names=GEAR)) for cart in carts}
    suits = [cart for cart in carts if all(one.is_near for one in lacking[cart.pk])]
    suits.sort(key=lambda cart: (bool(lacking[cart.pk]), _excess(enquiry, kinds[cart.pk]), cart.fleet_number))
    busy = taken(suits, start=enquiry.start, end=enquiry.end, at=at)
    water = "potable" if enquiry.is_potable else "any"
    met = met_by(suits, water, enquiry.start, enquiry.end, at=at)
    busy = {pk: _spoilt(ones[0], at=at) for pk, ones in met.items() if not ones[0].is_apart} | busy
    free = [cart for cart in suits if cart.pk not in busy]
    answers = _judged(enquiry, free, at=at, whole=whole)
    away = sorted((cart for cart in suits if cart.pk in busy), key=lambda cart: _free_first(busy[cart.pk]))
    shown = [*(cart for cart in free if cart.pk in answers), *away[:MOST_IN_THE_WAY]]
    if not enquiry.road_litres:
        kinds |= with_road_fill(kinds, shown, at=at)
    costs = prices(enquiry, shown)
    offers = [
        _offer(
            enquiry, cart, kinds[cart.pk], lacks=lacking[cart.pk], found=answers.get(cart.pk), away=busy.get(cart.pk),
            price=costs.get(cart.pk), tank=met[cart.pk][0].caution(at=at) if cart.pk in met and cart.pk not in busy else "",
        )
        for cart in shown
    ]  # fmt: skip
    judged = sorted((one for one in offers if one.answer), key=_order)
    return Answer(
        suiting=tuple(one for one in judged if one.answer and one.answer.may_go),
        stopped=tuple(one for one in judged if one.answer and not one.answer.may_go)[:MOST_IN_THE_WAY],
        taken=tuple(one for one in offers if one.taken),
        further=len(free) - len(answers),
        unsuited=tuple(
            (cart, lacking[cart.pk]) for cart in carts if not all(one.is_near for one in lacking[cart.pk])
        ),
    )


def with_road_fill(
    kinds: dict[UUID, Build], carts: Sequence[Cart], *, at: datetime, rule_set: str = ""
) -> dict[UUID, Build]:
    """These carts as they are, with the road fill each has on record; rule_set: as road_fill_of has it."""
    return {
        pk: replace(kinds[pk], road_litres=fill.litres if isinstance(fill, RoadFill) else None)
        for pk, fill in road_fill_of(carts, on=yard_day(at), rule_set=rule_set).items()
    }


def _judged(enquiry: Enquiry, free: Sequence[Cart], *, at: datetime, whole: bool) -> dict[UUID, Readiness]:
    """The readiness of the first carts; of all where too few of those may go. Twice the queries of one look at most."""
    window = Window(
        enquiry.start,
        enquiry.end,
        leaves_by=enquiry.leaves_by,
        works_on=enquiry.works_on,
        is_potable=enquiry.is_potable,
    )

    def look(carts: Sequence[Cart]) -> dict[UUID, Readiness]:
        return readiness_each(carts, windows={cart.pk: window for cart in carts}, at=at)

    answers = look(free if whole else free[:JUDGED_FIRST])
    if len(answers) < len(free) and sum(one.may_go for one in answers.values()) < ENOUGH:
        answers |= look(free[JUDGED_FIRST:])
    return answers


def _offer(
    enquiry: Enquiry, cart: Cart, build: Build, *, lacks: Sequence[Lack], found: Readiness | None, away: Taken | None,
    price: Price | None, tank: str,
) -> Offer:  # fmt: skip
    due = [one for one in found.cautions if one.due_at and one.due_at >= enquiry.start] if found else []
    over = _excess(enquiry, build, falls_due=len(due))
    return Offer(cart, build, tuple(lacks), found, away, over, price, tank=tank)


def _excess(enquiry: Enquiry, build: Build, *, falls_due: int = 0) -> float:
    return suiting.excess(enquiry, build, offered=frozenset(ASKED_GEAR), falls_due=falls_due)


def _order(offer: Offer) -> tuple[bool, bool, float, str]:
    return (bool(offer.lacks), offer.state != "ready", offer.excess, offer.cart.fleet_number)


def _free_first(taken: Taken) -> tuple[bool, datetime]:
    return taken.free_at is None, taken.free_at or FAR
