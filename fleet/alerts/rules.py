"""Alert rules: each app tells its own; a rule answers set-based which conditions are true now."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from people.roles import Role


@dataclass(frozen=True)
class Condition:
    """One thing that is now true and wants an act. `rank` is stop, today or soon; `for_role` is who can act.

    what: the fact; how_we_know: its evidence and its age; if_not: what happens when nobody acts. Full sentences.
    act: the one thing to do, as a button says it. evidence_at: how old the evidence is; None: a date on record, as good
    today as ever. only_keeps: too little to raise an alert, enough to keep an open one, so that nothing chatters about
    one line.
    """

    subject_kind: str
    subject_id: UUID
    cart_id: UUID | None
    rank: str
    for_role: Role
    what: str
    how_we_know: str
    if_not: str
    due_at: datetime | None = None
    act: str = ""
    evidence_at: datetime | None = None
    only_keeps: bool = False


Find = Callable[[datetime], Iterable[Condition]]

_rules: dict[str, Find] = {}
_headings: dict[str, str] = {
    "watch.rule_failed": "The watch itself",
    "watch.sweep_stopped": "The watch itself",
}


def register_rule(name: str, find: Find, heading: str = "") -> None:
    """`find(at)` gives every condition now true, one a subject, in a number of queries that does not grow with the
    fleet. `heading`: what its alerts are called together, as in "Extinguishers". ValueError when the name has another
    rule already."""
    if _rules.get(name, find) is not find:
        raise ValueError(f"An alert rule named {name!r} is registered already.")
    _rules[name] = find
    if heading:
        _headings[name] = heading


def heading_of(name: str) -> str:
    """What a rule's alerts are called together; without a heading of its own, its name in words."""
    return _headings.get(name) or name.rpartition(".")[2].replace("_", " ").capitalize()


def rules() -> dict[str, Find]:
    return dict(_rules)


def rule_names() -> list[str]:
    """Every rule there is, the watch over the watch among them."""
    return sorted(_rules.keys() | _headings.keys())
