"""The people an alert may be told to, loaded once for all that is due together."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from django.conf import settings

from fleet.alerts.models import OnCall
from fleet.alerts.models.notices import BACK_AGAIN
from fleet.alerts.owing import yard_hours
from fleet.alerts.timing import is_last_step, next_up
from people.models import Staff
from people.roles import Role


class Line:
    """Who is on call and who is there, at one instant. Two queries."""

    def __init__(self, *, at: datetime) -> None:
        staff = list(Staff.objects.filter(is_active=True).order_by("full_name", "pk"))
        self.people: dict[UUID, Staff] = {person.pk: person for person in staff}
        self.of_role: defaultdict[str, list[UUID]] = defaultdict(list)
        for person in staff:
            self.of_role[person.role].append(person.pk)
        self.on_call: list[UUID] = list(OnCall.objects.now(at=at).values_list("person_id", flat=True))

    def reachable(self, rank: str) -> set[UUID]:
        """Whom a mail, or for a stop a call-out, would reach."""
        return {pk for pk, person in self.people.items() if channels(person, rank)}

    def next_up(self, *, rank: str, role: str, step: int, told: Collection[UUID]) -> Staff | None:
        """The one person this step is for. A set-aside alert that asks again is for whoever its first step would be."""
        is_back = step >= BACK_AGAIN
        found = next_up(
            rank=rank,
            is_last=not is_back and is_last_step(rank, step, hours=yard_hours()),
            on_call=self.on_call,
            of_role=self.of_role[role],
            managers=self.of_role[Role.FLEET_MANAGER],
            reachable=self.reachable(rank),
            told=() if is_back else told,
        )
        return self.people[found] if found else None


def channels(person: Staff, rank: str) -> list[tuple[str, str]]:
    """How a person is reached outside the screen for something of this rank: channel and address. May be none."""
    found = []
    if settings.MAIL_IS_SET and person.email:
        found.append(("email", person.email))
    if rank == "stop" and settings.CALLOUT_URL and person.mobile:
        found.append(("callout", person.mobile))
    return found
