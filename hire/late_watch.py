"""What the fleet manager is told of carts whose handover was entered late."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.db.models import Q

from fleet.alerts.rules import Condition
from fleet.sentences import past_words
from hire.models.gate import Handover
from people.roles import Role

# So much of what stopped it, and of why, stands in an alert; the hire's page has all of it.
SHORT, SHORTER = 90, 60


def _cut(words: str, most: int) -> str:
    return words if len(words) <= most else f"{words[: most - 1].rstrip()}…"


def _known(one: Handover, entered: datetime, *, at: datetime) -> str:
    """Who entered it and when, the worst of what stopped it, and how many more there are."""
    stops, when = (one.although, "then") if one.although else (one.since, "since")
    more = f" And {len(stops) - 1} more." if len(stops) > 1 else ""
    why = f" Why: {_cut(one.although_words.rstrip('.'), SHORTER)}." if one.although else ""
    who = f"{_cut(one.who, 30)} entered it {past_words(entered, at=at)}."
    return f"{who} Stopped {when}: {_cut(stops[0], SHORT)}{more}{why}"


def left_although(at: datetime) -> Iterator[Condition]:
    """Late entries of carts that something stopped, then or as they were entered, until the fleet manager has looked. One query."""
    asking = Handover.objects.filter(~Q(left_although="") | ~Q(stopped_since=""), look=None)
    for one in asking.select_related("line__cart", "line__agreement__customer", "by").order_by("at"):
        line, entered = one.line, one.line.left_entered_at or one.at
        said = "although something stopped it" if one.although else "and something has come to stop it since"
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.FLEET_MANAGER,
            what=f"{line.cart.fleet_number} is entered as handed over {past_words(one.at, at=at)}, {said}.",
            how_we_know=_known(one, entered, at=at),
            if_not=f"{_cut(line.agreement.customer.name, SHORT)} works with a cart the gate would have kept, or the time is not "
            "the true one.",
            due_at=entered,
            act="Ring them, and say what came of it",
            evidence_at=one.at,
        )
