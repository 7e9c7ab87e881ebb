"""One extinguisher and one tyre, read for their pages: what is due and by which rule, what was read and against what."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404

from fleet.models.equipment import Extinguisher, ExtinguisherService
from fleet.models.wheels import TreadReading, TyreFitting
from fleet.sentences import source_words
from fleet.tread_limits import TreadLimit, legal_limit, withdrawal_limit
from people.templatetags.screen import clock_words, day_year, quantity
from people.yard import yard_day, yard_policy
from servicing.due import services_due
from servicing.extinguishers import KIND_WORDS

RULE_SETS = {"au": "Australia", "us": "United States", "uk": "United Kingdom"}


@dataclass(frozen=True)
class NextService:
    """A service an extinguisher needs: its words, its day, whether that day has come, and the rule it follows from."""

    words: str
    on: date
    is_due: bool
    source: str


@dataclass(frozen=True)
class Reading:
    """One believed depth of a tyre; is_least marks the smallest, which is the one that counts for its replacement."""

    depth: str
    read_words: str
    is_least: bool


def extinguisher_page(extinguisher_id: UUID, *, at: datetime) -> dict[str, object]:
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
            NextService(KIND_WORDS[due.kind], due.on, due.on <= today, source_words(due.source))
            for due in services_due(item, on=today)
        ],
        "done": [
            (KIND_WORDS.get(service.kind, service.kind), service.on, service.by_words)
            for service in item.services.all()
        ],
    }


def _limit(label: str, limit: TreadLimit) -> tuple[str, str, str]:
    return (
        label,
        quantity(limit.depth_mm, "mm"),
        f"{limit.as_written}, {limit.measured_where} ({source_words(limit.source)})",
    )


def _readings(fitting: TyreFitting) -> list[Reading]:
    found: list[TreadReading] = list(fitting.tread_readings.order_by("-read_at"))
    least = min((reading.depth_mm for reading in found), default=None)
    return [
        Reading(
            quantity(reading.depth_mm, "mm"),
            f"{day_year(reading.read_at)}, {clock_words(reading.read_at)}",
            reading.depth_mm == least,
        )
        for reading in found
    ]


def tyre_page(fitting_id: UUID) -> dict[str, object]:
    """A tyre in its place with its depths against the limits there. Http404."""
    fitting = get_object_or_404(
        TyreFitting.objects.select_related("tyre", "wheel_position__cart"), pk=fitting_id
    )
    position, tyre, policy = fitting.wheel_position, fitting.tyre, yard_policy()
    place = "steer" if position.steers else "other"
    yard_mm = policy.tread_steer_mm if position.steers else policy.tread_other_mm
    fitted, off = fitting.period.lower, fitting.period.upper
    return {
        "page_title": f"Tyre at {position.words}",
        "fitting": fitting,
        "cart": position.cart,
        "facts": [
            ("Place", f"{position.code}, {position.words}"),
            ("Tyre", f"{tyre.make} {tyre.size} {tyre.load_index}".strip(), tyre.serial),
            ("Fitted", day_year(fitted), f"taken off {day_year(off)}" if off else ""),
            ("New depth", quantity(tyre.new_depth_mm, "mm")),
            _limit(
                "Change out at", withdrawal_limit(rule_set=policy.rule_set, position=place, yard_mm=yard_mm)
            ),
            _limit("Legal", legal_limit(rule_set=policy.rule_set, position=place)),
        ],
        "readings": _readings(fitting),
    }
