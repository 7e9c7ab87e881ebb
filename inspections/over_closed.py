"""A pre-hire check over days the yard is closed: until when it is good then, and what it rests on (docs/good-until.md)."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db.models import Q

from fleet.closed_days import closed_days
from fleet.models.carts import Meter, MeterReading
from fleet.models.defects import Defect
from fleet.models.standing import PutAway
from fleet.readiness import stood_at
from fleet.sentences import moment_words
from inspections.good_until import days_closed, good_until
from inspections.models import WalkRound
from people.yard import yard_day, yard_policy

METERS = {"engine_hours": "engine hours", "km": "odometer"}
UNITS = {"engine_hours": "h", "km": "km"}


@dataclass(frozen=True)
class Longer:
    """A check past its usual hours. until: the last moment it may be good by the days the yard is closed; days: how many of them
    count; lacks: what it would rest on and does not, a clause each; unread: the meters the gate-out check has still to read."""

    until: datetime
    days: int
    lacks: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    def holds(self, starts_at: datetime, *, at: datetime) -> bool:
        """Whether the check holds at `starts_at`; before that the gate-out check has still time to read the meters."""
        return starts_at < self.until and not self.lacks and not (self.unread and starts_at <= at)

    def waits(self, starts_at: datetime) -> bool:
        """Whether nothing but the meters is wanting."""
        return starts_at < self.until and not self.lacks and bool(self.unread)


def rests_on_words() -> str:
    """What a check past its usual hours rests on, as it is said after "only"."""
    hours, km = yard_policy().unmoved_hours.normalize(), yard_policy().unmoved_km.normalize()
    return (
        "where the cart was put away locked with its keys in, nothing new was told of it, and the gate-out check reads no more "
        f"than {hours:f} h and {km:f} km over this check"
    )


def last_moments(walks: Iterable[WalkRound]) -> dict[UUID, Longer]:
    """Until when each check may be good, by walk-round id, as far as the days alone say. One query, none without walks."""
    walks, policy = list(walks), yard_policy()
    if not walks:
        return {}
    signed = [walk.signed_at for walk in walks]
    most = max(policy.pre_hire_good, policy.pre_hire_good_closed)
    is_closed = closed_days(yard_day(min(signed)), yard_day(max(signed) + most))
    answers = {}
    for walk in walks:
        until = good_until(
            walk.signed_at,
            good=policy.pre_hire_good,
            most=policy.pre_hire_good_closed,
            zone=policy.zone,
            is_closed=is_closed,
        )
        closed = days_closed(walk.signed_at, until, zone=policy.zone, is_closed=is_closed)
        answers[walk.pk] = Longer(until, len(closed))
    return answers


def longer_of(
    walks: Iterable[WalkRound], *, starts: Mapping[UUID, datetime], at: datetime
) -> dict[UUID, Longer]:
    """Of the pre-hire checks that are past the yard's usual hours at their start (starts, by walk-round id): what they rest on over
    days the yard is closed, by walk-round id, as on record at `at`. Five queries however many; none where no check is past them."""
    policy = yard_policy()
    past = [walk for walk in walks if walk.signed_at + policy.pre_hire_good <= starts[walk.pk]]
    most = policy.pre_hire_good_closed
    moments = last_moments(walk for walk in past if starts[walk.pk] < walk.signed_at + most)
    walks = [walk for walk in past if walk.pk in moments and starts[walk.pk] < moments[walk.pk].until]
    if not walks:
        return moments
    said, told, meters = _put_away(walks, at=at), _told(walks, at=at), _Meters(walks, at=at)
    for walk in walks:
        found, start = moments[walk.pk], starts[walk.pk]
        lacks = (
            *_not_put_away(walk, said.get(walk.cart_id, ()), at=at),
            *_new_defects(walk, told.get(walk.cart_id, ())),
            *meters.lacking(walk),
        )
        moments[walk.pk] = Longer(found.until, found.days, lacks, meters.unread(walk, start=start))
    return moments


def _put_away(walks: Sequence[WalkRound], *, at: datetime) -> dict[UUID, list[datetime]]:
    said = defaultdict(list)
    first = min(walk.signed_at for walk in walks)
    stands = PutAway.objects.filter(
        stood_at("said_at", "ended_at", at=at), cart__in=[walk.cart_id for walk in walks], said_at__gte=first
    )
    for cart_id, moment in stands.values_list("cart", "said_at"):
        said[cart_id].append(moment)
    return said


def _not_put_away(walk: WalkRound, said: Iterable[datetime], *, at: datetime) -> Iterator[str]:
    by = walk.signed_at + yard_policy().pre_hire_good
    if any(walk.signed_at <= moment < by for moment in said):
        return
    if at < by:
        yield f"nobody has said yet that it is put away locked, its keys in (on its page, by {moment_words(by, at=at)})"
    else:
        yield "nobody said in that time that it was put away locked, its keys in"


def _told(walks: Sequence[WalkRound], *, at: datetime) -> dict[UUID, list[Defect]]:
    told = defaultdict(list)
    first = min(walk.signed_at for walk in walks)
    since = Defect.objects.filter(
        cart__in=[walk.cart_id for walk in walks], told_at__gt=first, told_at__lte=at
    )
    for defect in since.only("cart_id", "told_at", "source_kind", "source_id"):
        told[defect.cart_id].append(defect)
    return told


def _new_defects(walk: WalkRound, told: Iterable[Defect]) -> Iterator[str]:
    new = [one for one in told if one.told_at > walk.signed_at and one.source_id != walk.pk]
    if new:
        yield "a defect was told since" if len(new) == 1 else f"{len(new)} defects were told since"


class _Meters:
    """The engine hours and odometers of the carts: what the check read, and what was read since. Two queries."""

    def __init__(self, walks: Sequence[WalkRound], *, at: datetime) -> None:
        first = min(walk.signed_at for walk in walks)
        fitted = Meter.objects.filter(
            Q(removed_at=None) | Q(removed_at__gt=at),
            cart__in=[walk.cart_id for walk in walks],
            kind__in=METERS,
            fitted_at__lte=at,
        )
        read = MeterReading.objects.filter(
            Q(read_at__gte=first) | Q(source_id__in=[walk.pk for walk in walks]),
            meter__cart__in=[walk.cart_id for walk in walks],
            meter__kind__in=METERS,
            read_at__lte=at,
        )
        self._readings: dict[UUID, list[MeterReading]] = defaultdict(list)
        for reading in read.order_by("read_at", "value"):
            self._readings[reading.meter_id].append(reading)
        self._of: dict[UUID, list[Meter]] = defaultdict(list)
        for meter in fitted.order_by("kind"):
            self._of[meter.cart_id].append(meter)

    def _pairs(self, walk: WalkRound) -> Iterator[tuple[str, MeterReading | None, MeterReading | None]]:
        """Of each meter: its kind, the check's own reading, the newest one since."""
        for meter in self._of[walk.cart_id]:
            readings = self._readings[meter.pk]
            own = next((one for one in readings if one.source_id == walk.pk), None)
            since = [one for one in readings if one.source_id != walk.pk and one.read_at > walk.signed_at]
            yield meter.kind, own, since[-1] if since else None

    def lacking(self, walk: WalkRound) -> Iterator[str]:
        if not self._of[walk.cart_id]:
            yield "none of its meters is on record"
        for kind, own, last in self._pairs(walk):
            if own is None:
                yield f"that check tells no {METERS[kind]}"
            elif last is not None and last.value - own.value > _unmoved(kind):
                yield f"its {METERS[kind]} rose by {(last.value - own.value).normalize():f} {UNITS[kind]}"

    def unread(self, walk: WalkRound, *, start: datetime) -> tuple[str, ...]:
        """Which have no reading from the hours in which a gate-out check counts."""
        since = start - yard_policy().gate_out_good
        return tuple(
            METERS[kind] for kind, _, last in self._pairs(walk) if last is None or last.read_at <= since
        )


def _unmoved(kind: str) -> Decimal:
    return yard_policy().unmoved_km if kind == "km" else yard_policy().unmoved_hours
