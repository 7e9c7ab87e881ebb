"""One extinguisher, read for its page: what is due and by which rule."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404

from fleet.models.equipment import Extinguisher, ExtinguisherService
from fleet.sentences import source_words
from people.templatetags.screen import day_year
from people.yard import yard_day, yard_policy
from servicing.due import services_due
from servicing.extinguishers import DUE_WORDS, KIND_WORDS

RULE_SETS = {"au": "Australia", "us": "United States", "uk": "United Kingdom"}


@dataclass(frozen=True)
class NextService:
    """A service an extinguisher needs: its words, its day, whether that day has come, and the rule it follows from."""

    words: str
    on: date
    is_due: bool
    source: str


def extinguisher_page(extinguisher_id: UUID, *, at: datetime) -> dict[str, Any]:
    """An extinguisher with its services done and to come. Http404."""
    done = Prefetch("services", ExtinguisherService.objects.order_by("-on"))
    items = Extinguisher.objects.select_related("cart", "condemned_by").prefetch_related(done)
    item, today = get_object_or_404(items, pk=extinguisher_id), yard_day(at)
    return {
        "page_title": f"Extinguisher {item.serial}",
        "item": item,
        "facts": [
            ("Kind", f"{item.size_kg.normalize():f} kg {item.get_agent_display().lower()}"),
            ("Made", day_year(item.made_on)),
            ("Where", item.bracket or ("on the cart" if item.cart else "on the shelf")),
            ("Rule set", RULE_SETS[yard_policy().rule_set]),
        ],
        "coming": [
            NextService(DUE_WORDS[due.kind], due.on, due.on <= today, source_words(due.source))
            for due in services_due(item, on=today)
        ],
        "done": [
            (KIND_WORDS.get(service.kind, service.kind), service.on, service.by_words)
            for service in item.services.all()
        ],
    }
