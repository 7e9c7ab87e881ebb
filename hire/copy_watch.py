"""What hire watches of pre-starts that are not kept with us: the weekly copy that has not come."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from fleet.alerts.rules import Condition
from hire.copies import copied_lines, copy_weeks
from people.roles import Role


def copies_late(at: datetime) -> Iterator[Condition]:
    """Hires with a book of their own whose copy of a week is late. One a hire, told once however many weeks; thirteen queries."""
    lines = list(copied_lines(at=at))
    weeks = copy_weeks(lines, at=at)
    for line in lines:
        late = sorted((week for week in weeks[line.pk] if week.state == "late"), key=lambda week: week.on)
        if not late:
            continue
        named = ", ".join(f"{week.on:%-d %B}" for week in late)
        about = line.agreement
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="soon",
            for_role=Role.HIRE_DESK,
            what=f"No copy of the pre-starts of {line.cart.fleet_number} at {about.place_of_work} came for the "
            f"{'week' if len(late) == 1 else 'weeks'} of {named}.",
            how_we_know="They are kept in a book or system of the customer’s, and the yard has no photo of the page.",
            if_not=f"Nobody here can show that {about.customer.name} walked round it.",
            due_at=late[0].late_at,
            act="Ask for the page",
        )
