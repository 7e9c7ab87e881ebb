"""Which carts a caller may have: free and suiting ones in order, each with its readiness for the period, and what is in the way
of the others. Reads only; queries do not grow with the carts or the hires."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from decimal import Decimal
from uuid import UUID

from django.contrib.postgres.aggregates import ArrayAgg
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.db.models import F, Q, Sum

from fleet.gear import GEAR
from fleet.models.carts import AxleGroup, Cart, Fitment
from fleet.models.standing import Limit
from fleet.readiness import Readiness, Window, readiness_each
from fleet.road_fill import road_fill_of
from fleet.sentences import moment_words, readiness_sentence
from fleet.water.road import RoadFill
from hire import suiting
from hire.charge_facts import card_for, cards_in_force, estimate, hire_days
from hire.models.agreements import Line
from hire.models.money import RateCard
from hire.models.pencils import Pencil
from hire.querysets import LineQuerySet
from hire.suiting import Build, Enquiry, Lack
from people.yard import yard_day, yard_policy

# What callers ask for by name; the rest is how a cart is built.
ASKED_GEAR = (
    "rops", "cannon", "rear_heads", "side_heads", "front_heads", "batter_heads", "dribble_bar", "drop_bar", "hose_reel",
    "high_pressure_outlet", "hydrant_fill", "suction_fill", "air_gap_fill", "backflow_device", "potable_tank", "additive_tank",
    "fire_suppression", "two_way_radio", "camera", "flag", "battery_isolator", "transmission_automatic", "travelling_kit",
)  # fmt: skip
MOST_IN_THE_WAY = 30
FAR = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Taken:
    """Who has a cart, in words, and from when it is free; None: nobody can say."""

    words: str
    free_at: datetime | None


@dataclass(frozen=True)
class Price:
    """What the period costs at the best rate of a card, the hire alone, before tax."""

    total: Decimal
    days: int
    card: str


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

    @property
    def sentence(self) -> str:
        return readiness_sentence(self.answer) if self.answer else ""

    @property
    def state(self) -> str:
        return self.answer.state if self.answer else ""


@dataclass(frozen=True)
class Answer:
    """suiting: free carts that have what was asked, or nearly, best first. stopped: they would suit and are free, but something
    stops them. taken: they would suit, but are promised, out or pencilled then. others: how many do not suit."""

    suiting: tuple[Offer, ...]
    stopped: tuple[Offer, ...]
    taken: tuple[Offer, ...]
    others: int


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
    span = DateTimeTZRange(start - turn, end + turn)
    late = Q(handed_over_at__isnull=False, promised__endswith__lte=at)
    return Line.objects.unfinished().filter(Q(promised__overlap=span) | late, cart__in=carts)


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
    who, until = f"{line.agreement.customer.name}, {line.agreement.number}", line.promised.upper
    if line.is_out and until <= at:
        return Taken(f"Still out with {who}; it was expected back {moment_words(until, at=at)}.", None)
    has, free_at = "Out with" if line.is_out else "Promised to", until + yard_policy().turn_round
    if until <= start:
        return Taken(
            f"{has} {who} until {moment_words(until, at=at)}: too short to wash and check it.", free_at
        )
    span = f"{moment_words(line.promised.lower, at=at)} to {moment_words(until, at=at)}"
    return Taken(f"{has} {who}, {span}; free from {moment_words(free_at, at=at)}.", free_at)


def answer(enquiry: Enquiry, *, at: datetime) -> Answer:
    """What the yard can say to a caller, known at an instant (aware)."""
    carts = list(Cart.objects.in_fleet(on=yard_day(enquiry.end)).order_by("fleet_number"))
    kinds = builds(carts)
    if enquiry.road_litres:
        kinds |= _with_road_fill(kinds, carts, at=at)
    lacking = {cart.pk: suiting.lacks(enquiry, kinds[cart.pk], names=GEAR) for cart in carts}
    suits = [cart for cart in carts if all(one.is_near for one in lacking[cart.pk])]
    if not enquiry.road_litres:
        kinds |= _with_road_fill(kinds, suits, at=at)
    busy = taken(suits, start=enquiry.start, end=enquiry.end, at=at)
    answers = readiness_each(
        [cart for cart in suits if cart.pk not in busy], windows=_windows(enquiry, suits), at=at
    )
    cards = list(cards_in_force(on=yard_day(enquiry.start)))
    offers = [
        _offer(
            enquiry, cart, kinds[cart.pk], lacks=lacking[cart.pk], found=answers.get(cart.pk), away=busy.get(cart.pk),
            price=_price(enquiry, cart, cards),
        )
        for cart in suits
    ]  # fmt: skip
    offers.sort(key=_order)
    away = sorted((one for one in offers if one.taken), key=_free_first)
    return Answer(
        suiting=tuple(one for one in offers if one.answer and one.answer.may_go),
        stopped=tuple(one for one in offers if one.answer and not one.answer.may_go)[:MOST_IN_THE_WAY],
        taken=tuple(away[:MOST_IN_THE_WAY]),
        others=len(carts) - len(suits),
    )


def _with_road_fill(kinds: dict[UUID, Build], carts: Sequence[Cart], *, at: datetime) -> dict[UUID, Build]:
    return {
        pk: replace(kinds[pk], road_litres=fill.litres if isinstance(fill, RoadFill) else None)
        for pk, fill in road_fill_of(carts, on=yard_day(at)).items()
    }


def _windows(enquiry: Enquiry, carts: Sequence[Cart]) -> dict[UUID, Window]:
    window = Window(
        enquiry.start,
        enquiry.end,
        leaves_by=enquiry.leaves_by,
        works_on=enquiry.works_on,
        is_potable=enquiry.is_potable,
    )
    return {cart.pk: window for cart in carts}


def _offer(
    enquiry: Enquiry, cart: Cart, build: Build, *, lacks: Sequence[Lack], found: Readiness | None, away: Taken | None,
    price: Price | None,
) -> Offer:  # fmt: skip
    due = [one for one in found.cautions if one.due_at and one.due_at >= enquiry.start] if found else []
    over = suiting.excess(enquiry, build, offered=frozenset(ASKED_GEAR), falls_due=len(due))
    return Offer(cart, build, tuple(lacks), found, away, over, price)


def _price(enquiry: Enquiry, cart: Cart, cards: Sequence[RateCard]) -> Price | None:
    card = card_for(cart.pk, cart.tank_capacity_l, cards)
    if card is None:
        return None
    days = hire_days(
        enquiry.start, enquiry.end, zone=yard_policy().zone, in_week=card.terms("best rate").days_in_week
    )
    return Price(estimate(days, card.body), days, card.name)


def _order(offer: Offer) -> tuple[bool, bool, float, str]:
    return (bool(offer.lacks), offer.state != "ready", offer.excess, offer.cart.fleet_number)


def _free_first(offer: Offer) -> tuple[bool, datetime]:
    free_at = offer.taken.free_at if offer.taken else None
    return free_at is None, free_at or FAR
