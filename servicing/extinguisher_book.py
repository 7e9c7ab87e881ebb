"""What the fleet's pages are told of extinguishers: which services one can have, and when each falls due."""

from __future__ import annotations

from datetime import date

from fleet.extinguisher_kinds import Due
from fleet.models.equipment import Extinguisher
from people.yard import yard_policy
from servicing.due import services_due
from servicing.extinguishers import DUE_WORDS, KIND_WORDS, kinds_for


def kinds(extinguisher: Extinguisher) -> list[tuple[str, str]]:
    """(word kept, words on screen) of each service the yard's rule set asks of it, lightest first."""
    asked = kinds_for(regime=yard_policy().rule_set, agent=extinguisher.agent)
    return [(kind, KIND_WORDS[kind].capitalize()) for kind in asked]


def dates(extinguisher: Extinguisher, on: date) -> list[Due]:
    """Its services to come, soonest first (its services loaded)."""
    return [Due(DUE_WORDS[due.kind], due.on, due.source) for due in services_due(extinguisher, on=on)]
