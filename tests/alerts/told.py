"""What the tests of notices share: rules that say what the test says, and the clock moved on."""

import uuid
from datetime import timedelta

from fleet.alerts.actions import sweep
from fleet.alerts.models import Notice
from fleet.alerts.notices import put_together
from fleet.alerts.rules import Condition
from people.roles import Role


def condition(number=7, **changes):
    return Condition(
        **{
            "subject_kind": "thing",
            "subject_id": uuid.UUID(int=number),
            "cart_id": None,
            "rank": "today",
            "for_role": Role.WORKSHOP_MANAGER,
            "what": f"Tag {number} is near its end.",
            "how_we_know": "It says so.",
            "if_not": "It lapses.",
        }
        | changes
    )


def watch(monkeypatch):
    """found["name"] = conditions now true, or an exception: the only rules there are."""
    found = {}

    def rule(name):
        def find(_at):
            if isinstance(found[name], Exception):
                raise found[name]
            return list(found[name])

        return find

    monkeypatch.setattr("fleet.alerts.actions.rules", lambda: {name: rule(name) for name in found})
    return found


def told():
    """(full name, rank, subject) of every notice, oldest first."""
    return [
        (notice.person.full_name, notice.rank, notice.subject)
        for notice in Notice.objects.select_related("person").order_by("made_at", "rank", "subject")
    ]


def by_the_minute(start, minutes, *, every=15):
    """Sweep and put together every so many minutes; the notices made, with the minute of each."""
    made = []
    for minute in range(0, minutes + 1, every):
        at = start + timedelta(minutes=minute)
        sweep(at=at)
        made += [(minute, notice) for notice in put_together(at=at)]
    return made
