"""Floated carts at work that nobody has looked at since they were unloaded."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef

from fleet.alerts.rules import Condition
from fleet.sentences import past_words
from hire.models.agreements import Line
from hire.models.float_looks import FloatLook
from people.roles import Role

# After so long nobody can tell any more what came of the float. Common practice, no source.
LOOK_WITHIN = timedelta(days=7)


def unloading_unlooked(at: datetime) -> Iterator[Condition]:
    """Carts that left on a float within the week and whose hire has begun, until somebody has looked at them as unloaded, or they
    are back. One query."""
    looked = FloatLook.objects.filter(line=OuterRef("pk"), kind="unloading")
    lines = (
        Line.objects.out_now()
        .filter(
            ~Exists(looked),
            agreement__leaves_by="float",
            handed_over_at__gt=at - LOOK_WITHIN,
            promised__startswith__lte=at,
        )
        .for_list()
    )
    for line in lines:
        about = line.agreement
        assert line.handed_over_at is not None
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{line.cart.fleet_number} at {about.place_of_work[:80]} is not looked at since it was unloaded.",
            how_we_know=f"It left on a float {past_words(line.handed_over_at, at=at)}, its hire has begun, and no look at "
            "unloading is written down.",
            if_not=f"Nobody can tell later whether a mark is of the float or of the hire. {about.customer.name[:80]}: "
            f"{about.customer.phone}.",
            due_at=line.promised.lower,
            act="Ring whoever unloaded it",
        )
