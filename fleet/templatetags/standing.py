"""Display words for how things stand: ranks, outcomes, ages."""

from datetime import datetime

from django import template

from people.templatetags.screen import span_words

register = template.Library()


@register.filter
def rank_shape(rank: str) -> str:
    """The sign of an alert's rank: stop, today or soon."""
    return {"stop": "stop", "today": "caution", "soon": "watch"}[rank]


@register.filter
def outcome_state(outcome: str) -> str:
    """A walk-round's outcome as a state of the readiness sentence."""
    return {"ready": "ready", "conditions": "limits", "held": "held"}[outcome]


@register.filter
def outcome_shape(outcome: str) -> str:
    """The sign of a walk-round's outcome."""
    return {"ready": "safe", "conditions": "caution", "held": "stop"}[outcome]


@register.filter
def age(moment: datetime, at: datetime) -> str:
    """How old something is at `at`, "3 h 20 min"."""
    return span_words(at - moment)


@register.filter
def ago(moment: datetime, at: datetime) -> str:
    """How long before `at` something happened, "3 h 20 min ago"."""
    return f"{span_words(at - moment)} ago"
