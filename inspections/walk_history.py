"""Reading what the rules of truthfulness are handed: some walk-rounds and what went before each, in as many queries for a
page of them as for one."""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from functools import cache
from uuid import UUID

from django.db.models import BooleanField, Exists, ExpressionWrapper, F, OuterRef, Q, prefetch_related_objects

from fleet.lap.stations import STATIONS
from fleet.models.carts import MeterReading
from fleet.models.defects import Defect
from fleet.photos.alike import photos_alike
from inspections.check import Check
from inspections.derived import meter_of
from inspections.editions import checks_of_edition
from inspections.models import PURPOSES, Answer, AnswerPhoto, WalkRound
from inspections.photo_lots import picked_looks
from inspections.sign_rules import Rules
from inspections.walk_facts import EarlierShot, EarlierWalk, History, Look, MeterPoint, Reading, Shot, Walk
from inspections.wording import where_words
from people.templatetags.screen import day_year

# Of readings it is enough to see a fair number: the person's latest walk-rounds, and others' of the same carts.
OWN_ROUNDS = 30
OTHERS_ROUNDS = 60
METERS_THAT_MOVE = ("km", "engine_hours")
STATION_WORDS = {station.key: station.label for station in STATIONS}
PURPOSE_WORDS = dict(PURPOSES)
# As WalkRound.is_name_confirmed says of one row; a customer's person has no name of the yard's to confirm.
NAME_STANDS = ExpressionWrapper(
    Q(author=None) | Q(author=F("sent_by"), is_by_name=False) | Q(name_confirmation__isnull=False),
    output_field=BooleanField(),
)
Order = tuple[datetime, UUID]
Taken = tuple[UUID, Shot]


@dataclass(frozen=True, slots=True)
class Head:
    """A walk-round without its answers. order: when by the yard's clock; of two at once the id decides. is_sure: the name
    under it stands; until it is confirmed it counts for nobody's habits."""

    pk: UUID
    cart: UUID
    author: UUID | None
    order: Order
    is_sure: bool
    facts: EarlierWalk


def days_before(at: datetime, days: int) -> datetime:
    """So many days earlier; a tablet's clock may have put a walk-round at the beginning of time."""
    try:
        return at - timedelta(days=days)
    except OverflowError:
        return datetime.min.replace(tzinfo=UTC)


def walks_with_history(
    walks: Sequence[WalkRound], *, with_habits: Collection[UUID], rules: Rules
) -> dict[UUID, tuple[Walk, History]]:
    """Each walk-round (cart and author selected) as facts, with what went before it.

    with_habits: those whose author's habits are read too. Eleven queries at the most, however many walk-rounds.
    """
    prefetch_related_objects(list(walks), "edition")
    checks = {check.key: check for walk in walks for check in checks_of_edition(walk.edition)}
    heads = _Heads(walks, rules)
    chosen = {
        walk.pk: heads.rounds_before(walk) + (heads.habit_rounds(walk) if walk.pk in with_habits else [])
        for walk in walks
    }
    readings = _readings({head.pk: head for rounds in chosen.values() for head in rounds}, checks)
    looks, shots, meters = _looks(walks, checks), _shots(walks), _meters(walks, rules)
    lots = picked_looks(walks)
    uses = _Uses((one for taken in shots.values() for one in taken), rules)
    return {
        walk.pk: (
            replace(_facts(walk, heads, looks[walk.pk], shots[walk.pk]), lot=lots.get(walk.pk)),
            History(
                walks=tuple(heads.earlier_walks(walk)) if walk.pk in with_habits else (),
                readings=tuple(one for pk in _ids(chosen[walk.pk]) for one in readings[pk]),
                meters=tuple(meters[walk.cart_id]),
                shots=tuple(uses.before(walk, shots[walk.pk])),
            ),
        )
        for walk in walks
    }


def _ids(heads: Iterable[Head]) -> list[UUID]:
    return list(dict.fromkeys(head.pk for head in heads))


def _id(pk: UUID | None) -> str:
    return "" if pk is None else str(pk)


def _facts(walk: WalkRound, heads: _Heads, looks: Sequence[Look], shots: Sequence[Taken]) -> Walk:
    return Walk(
        id=str(walk.pk),
        cart=str(walk.cart_id),
        purpose=walk.purpose,
        author=heads.author(walk),
        author_name=walk.author_name,
        started_at=walk.started_at,
        ended_at=walk.device_signed_at,
        signed_at=walk.signed_at,
        told=heads.told(walk),
        looks=tuple(looks),
        shots=tuple(shot for _, shot in shots),
    )


class _Heads:
    """The fleet's walk-rounds of the time looked back on, oldest first. One query."""

    def __init__(self, walks: Sequence[WalkRound], rules: Rules) -> None:
        self.rules = rules
        times = [walk.signed_at for walk in walks]
        tells = Defect.objects.filter(source_kind="walk_round", source_id=OuterRef("pk"))
        rows = (
            WalkRound.objects.filter(
                signed_at__gte=days_before(min(times), rules.window_days), signed_at__lte=max(times)
            )
            .annotate(has_told=Exists(tells), is_sure=NAME_STANDS)
            .order_by("signed_at", "pk")
            .values_list("pk", "cart_id", "purpose", "author_id", "signed_at", "has_told", "is_sure")
        )
        spelt = cache(_id)
        self._all = [
            Head(pk, cart, author, (at, pk), is_sure, EarlierWalk(spelt(cart), purpose, spelt(author), told))
            for pk, cart, purpose, author, at, told, is_sure in rows
        ]
        self._orders = [head.order for head in self._all]
        self._told = {head.pk for head in self._all if head.facts.told}
        self._unsure = {head.pk for head in self._all if not head.is_sure}
        self._of_cart: defaultdict[UUID, list[Head]] = defaultdict(list)
        for head in self._all:
            self._of_cart[head.cart].append(head)

    def told(self, walk: WalkRound) -> bool:
        return walk.pk in self._told

    def author(self, walk: WalkRound) -> str:
        """Whose habits it counts for; "" for nobody's."""
        return "" if walk.pk in self._unsure else _id(walk.author_id)

    def _window(self, walk: WalkRound) -> Sequence[Head]:
        """What may be set beside it: what was signed before it, by whom is sure."""
        if not self.author(walk):
            return []
        start = days_before(walk.signed_at, self.rules.window_days)
        first = bisect_left(self._orders, (start, UUID(int=0)))
        until = bisect_left(self._orders, (walk.signed_at, walk.pk))
        return [head for head in self._all[first:until] if head.is_sure]

    def rounds_before(self, walk: WalkRound) -> list[Head]:
        """The cart's last rounds on each sheet: whatever check one asks for, its last readings are among them."""
        taken: Counter[str] = Counter()
        rounds = []
        for head in reversed(self._of_cart[walk.cart_id]):
            if (
                head.order < (walk.signed_at, walk.pk)
                and taken[head.facts.purpose] < self.rules.still_walks - 1
            ):
                taken[head.facts.purpose] += 1
                rounds.append(head)
        return rounds

    def habit_rounds(self, walk: WalkRound) -> list[Head]:
        """The author's latest rounds, and the others' latest of the same carts."""
        latest_first = list(reversed(self._window(walk)))
        own = [head for head in latest_first if head.author == walk.author_id][:OWN_ROUNDS]
        carts = {walk.cart_id, *(head.cart for head in own)}
        others = (head for head in latest_first if head.author != walk.author_id and head.cart in carts)
        return [*own, *(head for head, _ in zip(others, range(OTHERS_ROUNDS), strict=False))]

    def earlier_walks(self, walk: WalkRound) -> list[EarlierWalk]:
        """All rounds of the carts the author walked; of other carts nothing can be compared."""
        window = self._window(walk)
        carts = {walk.cart_id, *(head.cart for head in window if head.author == walk.author_id)}
        return [head.facts for head in window if head.cart in carts]


def _looks(walks: Sequence[WalkRound], checks: Mapping[str, Check]) -> defaultdict[UUID, list[Look]]:
    rows = Answer.objects.filter(walk_round__in=[walk.pk for walk in walks]).order_by("walk_round", "number")
    looks: defaultdict[UUID, list[Look]] = defaultdict(list)
    for row in rows.defer("words", "limit"):
        check = checks.get(row.check_key)
        looks[row.walk_round_id].append(
            Look(
                number=row.number,
                check=row.check_key,
                title=row.title,
                walk_pass=check.walk_pass if check else 0,
                station=STATION_WORDS.get(row.station, row.station),
                place=where_words(row.place) if row.place else "",
                answer=row.answer,
                value=row.value,
                unit=row.unit,
                minutes=check.minutes if check else Decimal(0),
                answered_at=row.answered_at,
                meter=meter_of(check) if check else "",
            )
        )
    return looks


def _readings(heads: Mapping[UUID, Head], checks: Mapping[str, Check]) -> defaultdict[UUID, list[Reading]]:
    rows = Answer.objects.filter(walk_round__in=list(heads)).exclude(unit="").exclude(value="")
    readings: defaultdict[UUID, list[Reading]] = defaultdict(list)
    for pk, check_key, place, value, unit in rows.order_by("walk_round", "number").values_list(
        "walk_round_id", "check_key", "place", "value", "unit"
    ):
        head, check = heads[pk], checks.get(check_key)
        readings[pk].append(
            Reading(
                walk=str(pk),
                cart=head.facts.cart,
                author=head.facts.author,
                check=check_key,
                place=where_words(place) if place else "",
                value=value,
                unit=unit,
                meter=meter_of(check) if check else "",
                read_at=head.order[0],
            )
        )
    return readings


def _meters(walks: Sequence[WalkRound], rules: Rules) -> defaultdict[UUID, list[MeterPoint]]:
    times = [walk.signed_at for walk in walks]
    rows = MeterReading.objects.filter(
        meter__cart__in={walk.cart_id for walk in walks},
        meter__kind__in=METERS_THAT_MOVE,
        read_at__gte=days_before(min(times), rules.window_days),
        read_at__lte=max(times),
    ).values_list("meter__cart_id", "meter_id", "meter__kind", "value", "read_at")
    points: defaultdict[UUID, list[MeterPoint]] = defaultdict(list)
    for cart, meter, kind, value, at in rows:
        points[cart].append(MeterPoint(str(meter), kind, value, at))
    return points


def _shots(walks: Sequence[WalkRound]) -> defaultdict[UUID, list[Taken]]:
    """The photos of each walk-round with their ids, in the order of its looks."""
    rows = AnswerPhoto.objects.filter(answer__walk_round__in=[walk.pk for walk in walks])
    shots: defaultdict[UUID, list[Taken]] = defaultdict(list)
    for walk, photo, sha256, look_alike, title, station in rows.order_by(
        "answer__number", "number"
    ).values_list(
        "answer__walk_round_id",
        "photo_id",
        "photo__original_sha256",
        "photo__perceptual_hash",
        "answer__title",
        "answer__station",
    ):
        shots[walk].append((photo, Shot(sha256, look_alike, title, STATION_WORDS.get(station, station))))
    return shots


class _Uses:
    """Where the fleet's walk-rounds used photos like these, or these very files. Two queries."""

    def __init__(self, taken: Iterable[Taken], rules: Rules) -> None:
        taken = list(taken)
        near = photos_alike((shot.look_alike for _, shot in taken), points=rules.photo_points)
        self._like = {photo: {photo, *near[shot.look_alike]} for photo, shot in taken}
        self._uses: defaultdict[UUID, list[tuple[Order, EarlierShot]]] = defaultdict(list)
        rows = AnswerPhoto.objects.filter(photo__in=set().union(*self._like.values()))
        for photo, sha256, look_alike, walk, purpose, cart, at in rows.values_list(
            "photo_id",
            "photo__original_sha256",
            "photo__perceptual_hash",
            "answer__walk_round_id",
            "answer__walk_round__purpose",
            "answer__walk_round__cart__fleet_number",
            "answer__walk_round__signed_at",
        ):
            where = f"{PURPOSE_WORDS[purpose]} of {cart}, {day_year(at)}"
            self._uses[photo].append(((at, walk), EarlierShot(sha256, look_alike, where)))

    def before(self, walk: WalkRound, taken: Iterable[Taken]) -> Iterator[EarlierShot]:
        """Their uses on walk-rounds signed before this one, oldest first."""
        photos = set().union(*(self._like[photo] for photo, _ in taken))
        uses = [use for photo in photos for use in self._uses[photo] if use[0] < (walk.signed_at, walk.pk)]
        return (shot for _, shot in sorted(uses, key=lambda use: use[0]))
