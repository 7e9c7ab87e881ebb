"""Who may pass what, and how often: the rules of passing by authority that need no database."""

from __future__ import annotations

from datetime import timedelta

from fleet.readiness import Blocker
from people.roles import FLEET_ONLY, MANAGERS, Role

# Picked, not typed, so that passes can be counted by reason.
PASS_REASONS = (
    "No second person to look at the repair",
    "Part or spare is ordered and on its way",
    "Swap after hours, no cart that is free of it",
    "Service is booked for a named day",
    "Works where this is not needed",
)
# Common practice, no source; for an extinguisher the yard's own limit.
LONGEST = timedelta(days=14)
MOST_TURNS = 2


def may_pass(blocker: Blocker, *, turn: int) -> frozenset[Role]:
    """Roles that may pass a blocker for the turn-th time: those its rule names the first time, the fleet manager the
    second, nobody after that. Never the fitter and never the hire desk, whatever a rule says."""
    if not blocker.passed_by or turn > MOST_TURNS:
        return frozenset()
    return blocker.passed_by & MANAGERS if turn == 1 else FLEET_ONLY
