"""What was asked of a cart goes on with its promise. Part of other actions."""

from __future__ import annotations

from hire.models.agreements import Line
from hire.models.needs import NEEDS_FIELDS
from hire.suiting import ANY_CART, Needs


def needs_facts(needs: Needs) -> dict[str, object]:
    """What is asked, as the journal has it."""
    return vars(needs) | {"gear": sorted(needs.gear)}


def keep_needs(line: Line, needs: Needs) -> dict[str, object]:
    """A new line is promised for these; for its journal entry: what they are, or nothing."""
    if needs == ANY_CART:
        return {}
    line.take_needs(needs)
    line.save(update_fields=list(NEEDS_FIELDS))
    return {"asked": needs_facts(needs)}
