"""What the fleet manager is told of carts whose handover was entered late."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.db.models import Q

from fleet.alerts.rules import Condition
from fleet.sentences import past_words
from hire.models.gate import Handover
from people.roles import Role


def left_although(at: datetime) -> Iterator[Condition]:
    """Late entries of carts that something stopped, then or as they were entered, until the fleet manager has looked. One query."""
    asking = Handover.objects.filter(~Q(left_although="") | ~Q(stopped_since=""), look=None)
    for one in asking.select_related("line__cart", "line__agreement__customer", "by").order_by("at"):
        line, entered = one.line, one.line.left_entered_at or one.at
        cart, when = line.cart.fleet_number, past_words(one.at, at=at)
        then = (
            f"Stopped then: {' '.join(one.although)} Why: {one.although_words.rstrip('.')}. "
            if one.although
            else ""
        )
        since = f"Stopped since: {' '.join(one.since)} " if one.since else ""
        said = "although something stopped it" if one.although else "and something has come to stop it since"
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.FLEET_MANAGER,
            what=f"{cart} is entered as handed over {when}, {said}.",
            how_we_know=f"{one.by.full_name} entered it {past_words(entered, at=at)}. {then}{since}".rstrip(),
            if_not=f"{line.agreement.customer.name} works with a cart the gate would have kept, or the time is not the true one.",
            due_at=entered,
            act="Look into it, ring them if need be, and say so on the hire’s page",
            evidence_at=one.at,
        )
