"""The workshop's queue, put in order by the database.

When a cart is next wanted is known by an app above this one, so one call answers for all the carts with open defects and
its answer goes into the query as one value; so does how long each check's repairs take here.
The order is the rule of servicing/queue.py; only a page of rows is loaded.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, NamedTuple
from uuid import UUID

from django.db.models import (
    Case,
    CharField,
    Count,
    DateField,
    DateTimeField,
    DurationField,
    Expression,
    F,
    Field,
    Func,
    IntegerField,
    Q,
    QuerySet,
    Value,
    When,
)
from django.db.models.functions import Coalesce, Concat, Greatest

from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.needs import Need, next_need
from fleet.querysets import DefectQuerySet
from fleet.sentences import moment_words
from servicing.models.jobs import RepairTime
from servicing.queue import RANK, REPAIR_PRIOR
from servicing.returning import with_return


class _MomentOf(Func):
    """The moment kept for a row's cart; null when none is."""

    template = "(%(expressions)s)::timestamptz"
    arg_joiner = "::jsonb ->> "
    output_field = DateTimeField()

    def __init__(self, moments: Mapping[UUID, datetime]) -> None:
        kept = {str(cart_id): moment.isoformat() for cart_id, moment in moments.items()}
        super().__init__(Value(json.dumps(kept)), Func(F("cart_id"), template="%(expressions)s::text"))


class Own(NamedTuple):
    """How long repairs of a check at a grade take here: a row of RepairTime, read light, for there are many."""

    expected_minutes: int
    repairs: int
    low_minutes: int | None
    high_minutes: int | None


def repair_times(**narrow: Any) -> dict[tuple[str, str], Own]:
    """Give the fleet's own repair times by grade and check, in one query."""
    rows = RepairTime.objects.filter(**narrow).order_by().values_list("grade", "check_key", *Own._fields)
    return {(grade, key): Own(*rest) for grade, key, *rest in rows}


class _RepairOf(Func):
    """What a row's repair is expected to take by the fleet's own history of its check; null where it has none."""

    template = "(%(expressions)s)::interval"
    arg_joiner = "::jsonb ->> "
    output_field = DurationField()

    def __init__(self, times: Mapping[tuple[str, str], Own]) -> None:
        kept = {f"{grade} {key}": f"{one.expected_minutes} min" for (grade, key), one in times.items()}
        key = Concat("grade", Value(" "), "check_key", output_field=CharField())
        super().__init__(Value(json.dumps(kept)), key)


@dataclass(frozen=True)
class Queue:
    """The queue's places, most urgent first: each a defect's id and when its cart is missed, None when nobody waits for it.

    A page is found by its places alone and loaded after: sorting whole rows takes twice as long.
    """

    places: QuerySet[Defect, tuple[UUID, datetime | None]]
    needs: Mapping[UUID, Need]
    times: Mapping[tuple[str, str], Own]
    at: datetime

    def counts(self, part: Q) -> tuple[int, int]:
        """How many there are, and how many of them are of that part."""
        found = self.places.order_by().aggregate(whole=Count("pk"), part=Count("pk", filter=part))
        return found["whole"], found["part"]

    def load(self, places: Iterable[tuple[UUID, datetime | None]]) -> list[tuple[Defect, timedelta | None]]:
        """The defects at these places with the time left until each cart is missed, negative when it has passed."""
        moments = dict(places)
        rows = with_return(Defect.objects.for_list()).in_bulk(list(moments))
        return [
            (rows[pk], moment - self.at if moment else None) for pk, moment in moments.items() if pk in rows
        ]

    def repair_of(self, defect: Defect) -> timedelta:
        """What its repair is expected to take: the fleet's own where it has repaired this check, else what is usual."""
        own = self.times.get((defect.grade, defect.check_key))
        return timedelta(minutes=own.expected_minutes) if own else REPAIR_PRIOR[defect.grade]

    def out_words(self, defect: Defect) -> str:
        """Where the cart is when it works on with this defect."""
        need = self.needs.get(defect.cart_id)
        if need is None or not need.is_out or defect.grade == "do_not_use":
            return ""
        return f"At work, expected back {moment_words(need.window.end, at=self.at)}"


def _by_grade(values: Mapping[str, object], field: Field[Any, Any]) -> Case:
    return Case(
        *(When(grade=grade, then=Value(value)) for grade, value in values.items()), output_field=field
    )


def queue_of(defects: DefectQuerySet, *, at: datetime) -> Queue:
    """The defects of the query in the queue's order, in one query however many there are; none is loaded yet."""
    times = repair_times()
    repair: Expression = _by_grade(REPAIR_PRIOR, DurationField())
    if times:
        repair = Coalesce(_RepairOf(times), repair)
    needs = next_need(Cart.objects.with_open_defects(), at=at)
    in_yard = {cart_id: need.window.start for cart_id, need in needs.items() if not need.is_out}
    out = {cart_id: need.window.start for cart_id, need in needs.items() if need.is_out}
    stopped_out = When(Q(grade="do_not_use", out_from__isnull=False), then=Greatest("told_at", "out_from"))
    ordered = (
        defects.alias(out_from=_MomentOf(out))
        .annotate(missed_at=Coalesce(_MomentOf(in_yard), Case(stopped_out, output_field=DateTimeField())))
        .order_by(
            _by_grade(RANK, IntegerField()),
            (F("missed_at") - repair).asc(nulls_last=True),
            Coalesce("due_on", Value(date.min, DateField())),
            "told_at",
            "pk",
        )
    )
    return Queue(ordered.values_list("pk", "missed_at"), needs, times, at)
