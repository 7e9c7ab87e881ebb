"""Who may pass what, how often, with whose second name, and how long a word by phone counts: the rules of passing by
authority that need no database."""

from __future__ import annotations

from datetime import datetime, timedelta

from fleet.readiness import Blocker
from people.roles import FLEET_ONLY, MANAGERS, Role

NO_SECOND_LOOK = "No second person to look at the repair"
# Picked, not typed, so that passes can be counted by reason.
PASS_REASONS = (
    NO_SECOND_LOOK,
    "Part or spare is ordered and on its way",
    "Swap after hours, no cart that is free of it",
    "Service is booked for a named day",
    "Works where this is not needed",
)
# Common practice, no source; for an extinguisher the yard's own limit.
LONGEST = timedelta(days=14)
MOST_TURNS = 2
# A word by phone is entered while it is fresh; afterwards the manager signs the pass. Common practice, no source.
SPOKEN_WITHIN = timedelta(hours=6)
# What a second named person stands for too: a tyre under the yard's own depth, an extinguisher past its service, a repair
# nobody else has looked at. Common practice, no source.
SECOND_NAME_RULES = frozenset({"tyre.change_out", "extinguisher.due"})
SECOND_NAME_REASONS = frozenset({NO_SECOND_LOOK})
RULE_WORDS = {
    "defect.late": "Defect past its date",
    "extinguisher.due": "Extinguisher past its service",
    "service.overdue": "Service past its tolerance",
    "tyre.change_out": "Tyre at the yard’s change-out depth",
}


def may_pass(blocker: Blocker, *, turn: int) -> frozenset[Role]:
    """Roles that may pass a blocker for the turn-th time: those its rule names the first time, the fleet manager the
    second, nobody after that. Never the fitter and never the hire desk, whatever a rule says."""
    if not blocker.passed_by or turn > MOST_TURNS:
        return frozenset()
    return blocker.passed_by & MANAGERS if turn == 1 else FLEET_ONLY


def asks_second_name(rule: str, reason: str) -> bool:
    """Whether a second named person stands beside the giver: by the rule passed, or by why it is passed."""
    return rule in SECOND_NAME_RULES or reason in SECOND_NAME_REASONS


def rule_words(rule: str) -> str:
    """What a rule is called where passes are counted by it."""
    return RULE_WORDS.get(rule) or rule.replace(".", ", ").replace("_", " ").capitalize()


def confirm_by(spoken_at: datetime, *, good_for: timedelta) -> datetime:
    """Until when a pass spoken then counts without its giver's own sign-in; the instant itself is outside."""
    return spoken_at + good_for


def spoken_fault(spoken_at: datetime, *, found_at: datetime | None, good_for: timedelta, at: datetime) -> str:
    """Why a pass entered at `at` cannot have been spoken then, as a sentence; "" where it can.

    Never later than it is entered, never before what it passes was found (None: a date or a figure on record says it), and
    at most 6 h back, or less where the yard wants its passes confirmed sooner. Common practice, no source.
    Times are typed to the minute: what was found within that minute was found before.
    """
    if spoken_at > at:
        return "That is still to come. When was it spoken?"
    if found_at is not None and spoken_at < found_at.replace(second=0, microsecond=0):
        return "That is before it was found: nobody passes what nobody knows yet."
    if spoken_at + min(SPOKEN_WITHIN, good_for) <= at:
        hours = min(SPOKEN_WITHIN, good_for) // timedelta(hours=1)
        return f"That is {hours} hours ago or more. Ask the manager to sign the pass themselves."
    return ""
