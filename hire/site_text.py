"""What a site asks, as it is stored (plain text) and as it is said on screen."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from fleet.gear import GEAR
from fleet.models.equipment import AGENTS, DOCUMENT_KINDS
from hire.charging.money import counted
from hire.site_rules import MUST, Asked, Names, PaperAsked, extinguisher_words

NAMES = Names(gear=GEAR, papers=dict(DOCUMENT_KINDS), agents=dict(AGENTS))
# What sites ask for by name; the rest is how a cart is built.
SITE_GEAR = (
    "rops", "fire_suppression", "extinguisher", "emergency_stop", "battery_isolator", "beacon", "reversing_alarm", "camera", "flag",
    "two_way_radio", "work_lights", "high_brake_lights", "nut_pointers", "chocks", "first_aid_kit", "spill_kit", "spare_wheel",
    "tank_top_access", "cannon", "hose_reel", "dribble_bar", "drop_bar", "side_heads", "hydrant_fill", "backflow_device",
    "air_gap_fill", "potable_tank", "travelling_kit",
)  # fmt: skip
HOW_WORDS = {"must": "Must", "asked": "Asked for"}


@dataclass(frozen=True)
class AskedRow:
    """One thing a site asks, as a page says it."""

    what: str
    how: str
    detail: str = ""


def _amount(text: str | None) -> Decimal | None:
    return Decimal(text) if text else None


def asked_from(body: Mapping[str, Any]) -> Asked:
    """The set as it is stored; what an older set does not name is not asked."""
    tread, noise, fire = (body.get(name) or {} for name in ("tread", "noise", "extinguisher"))
    papers = body.get("papers", {})
    return Asked(
        gear=dict(body.get("gear", {})),
        papers={kind: PaperAsked(one["how"], one["max_age_days"]) for kind, one in papers.items()},
        least_tread_mm=_amount(tread.get("mm")),
        tread_how=tread.get("how", "asked"),
        extinguisher=fire.get("agent", ""),
        extinguisher_kg=_amount(fire.get("kg")),
        extinguisher_how=fire.get("how", ""),
        noise_db=_amount(noise.get("db")),
        noise_how=noise.get("how", "asked"),
        axles=body.get("axles", ""),
        notes=body.get("notes", ""),
    )


def _figure(value: Decimal | None) -> str:
    return "" if value is None else f"{value.normalize():f}"


def body_of(asked: Asked) -> dict[str, Any]:
    """A set as it is stored: only what is asked."""
    body: dict[str, Any] = {
        "gear": dict(sorted(asked.gear.items())),
        "papers": {
            kind: {"how": one.how, "max_age_days": one.max_age_days}
            for kind, one in sorted(asked.papers.items())
        },
        "axles": asked.axles,
        "notes": asked.notes,
    }
    if asked.least_tread_mm is not None:
        body["tread"] = {"mm": _figure(asked.least_tread_mm), "how": asked.tread_how}
    if asked.noise_db is not None:
        body["noise"] = {"db": _figure(asked.noise_db), "how": asked.noise_how}
    if asked.extinguisher_how:
        body["extinguisher"] = {
            "agent": asked.extinguisher, "kg": _figure(asked.extinguisher_kg), "how": asked.extinguisher_how
        }  # fmt: skip
    return body


def _musts_first(one: AskedRow) -> bool:
    return one.how != HOW_WORDS[MUST]


def asked_rows(asked: Asked) -> list[AskedRow]:
    """What is asked, line by line, musts first."""
    rows = [AskedRow(GEAR[kind], HOW_WORDS[how], "fitted") for kind, how in asked.gear.items()]
    for kind, one in asked.papers.items():
        age = (
            f"{counted(one.max_age_days, 'day')} old at most on the day of use"
            if one.max_age_days is not None
            else "in date"
        )
        rows.append(AskedRow(NAMES.papers[kind], HOW_WORDS[one.how], age))
    if asked.least_tread_mm is not None:
        rows.append(
            AskedRow("Tread", HOW_WORDS[asked.tread_how], f"{asked.least_tread_mm} mm at least, every tyre")
        )
    if asked.extinguisher_how:
        words = extinguisher_words(asked, NAMES)
        rows.append(
            AskedRow(words[0].upper() + words[1:], HOW_WORDS[asked.extinguisher_how], "aboard, charged")
        )
    if asked.noise_db is not None:
        rows.append(AskedRow("Noise", HOW_WORDS[asked.noise_how], f"{asked.noise_db} dB at most"))
    return sorted(rows, key=_musts_first)
