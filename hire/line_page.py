"""What the page of one hire shows of its site: what that asks and whether it turned the cart away."""

from __future__ import annotations

from datetime import datetime

from hire.models.agreements import Line
from hire.site_facts import set_of


def site_context(line: Line, *, at: datetime) -> dict[str, object]:
    found = set_of(line)
    return {
        "site_set": found,
        "asked": found.asked() if found else None,
        "turned_away": line.turned_away.all()[:10],
    }
