"""How a road fill came about, opened to its inputs, rule, source and spread, as components/working.html shows it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fleet.water.mass_limits import LeastLimit
from fleet.water.road import RoadFill
from fleet.water.road_law import LAW_NOTES, WHOSE, Law

Fact = tuple[str, str, str]
PAGE = "docs/road-fill.md"


@dataclass(frozen=True)
class Working:
    label: str
    figure: str
    inputs: list[Fact]
    rule: str
    source: str
    spread: str = ""
    caution: str = ""


def workings(found: RoadFill) -> list[Working]:
    return [_fill(found), _ready(found), _dip(found)]


def _kg(value: float) -> str:
    return f"{value:,.0f} kg"


def limit_words(limit: LeastLimit, law: Law | None) -> str:
    """Whose limit counts, and the law's row with its tag: "the law's limit (single steer axle, 6 t; GM-01, VERIFIED-S)"."""
    lawful = f" Law: {law.words} ({law.row}, {law.tag})." if law else ""
    return f"{WHOSE[limit.governed_by].capitalize()} counts.{lawful}"


def _shares(found: RoadFill) -> dict[str, float]:
    first, second = found.ready.groups
    rear = (found.ready.middle_m - first.position_m) / (second.position_m - first.position_m)
    return {first.name: 1 - rear, second.name: rear}


def _fill(found: RoadFill) -> Working:
    shares, tares = _shares(found), {one.name: one.tare_kg for one in found.ready.groups}
    inputs: list[Fact] = []
    rooms = []
    for name, limit, law in found.limits:
        tare, share = tares.get(name, found.ready.mass_kg), shares.get(name, 1.0)
        called = "Whole cart" if name == "gross" else name[:1].upper() + name[1:]
        inputs.append((called, f"{_kg(tare)} of {_kg(limit.kg)}", limit_words(limit, law)))
        over = f"({limit.kg:,.0f} − {tare:,.1f})" + ("" if name == "gross" else f" / {share:.4f}")
        if share > 0:
            rooms.append(f"{called.lower()} {over} = {_kg((limit.kg - tare) / share)}")
    inputs += [
        ("Tank’s middle", f"{found.ready.middle_m:.2f} m behind the first axle", "Its share of the water rests on the rear group."),
        ("Tank holds", f"{found.capacity_l:,} L", "As measured inside."),
        ("Water", "1,000 kg/m³", "The safe side for clean water; salty water is heavier (section 7.3)."),
    ]  # fmt: skip
    return Working(
        "Road fill", f"{found.litres:,} L", inputs,
        "The least water at which a limit is reached: (limit − ready to work) / share of the water. " + "; ".join(rooms) + ".",
        f"Shares LS-01 (VERIFIED-P); the least limit governs, GM-13 (VERIFIED-P). {PAGE}.",
        _spread(found), LAW_NOTES[found.facts.rule_set],
    )  # fmt: skip


def _spread(found: RoadFill) -> str:
    fit = found.ready.fit
    if fit is None:
        return found.ready.trust
    front, rear = fit.spread_kg(found.fill.mass_kg)
    first, second = found.ready.groups
    return (
        f"{found.ready.trust} A weighing at this fill may lie {math.ceil(front):,} kg from the {first.name} and"
        f" {math.ceil(rear):,} kg from the {second.name} of the figures, 19 times in 20."
    )


def _ready(found: RoadFill) -> Working:
    inputs = [(words[:1].upper() + words[1:], _kg(kg), "") for words, kg in found.ready.parts]
    inputs += [(f"On the {one.name}", _kg(one.tare_kg), "") for one in found.ready.groups]
    how = (
        "Tickets are brought to a full fuel tank, driver and kit where one was missing, and fitted by least squares."
        if found.is_weighed
        else "The maker’s tare with full fuel (0.85 kg/L over the 10 L it has), people at 100 kg each, kit, mud and margin."
    )
    return Working(
        "Ready to work", _kg(found.ready.mass_kg), inputs, how,
        f"Allowances are this yard’s settings: common practice, no source. {PAGE}.", found.ready.trust,
    )  # fmt: skip


def _dip(found: RoadFill) -> Working:
    facts = found.facts
    inputs: list[Fact] = [
        ("Depth of the road fill", f"{math.floor(found.depth_m * 1000):,} mm", "Of level water above the tank’s lowest point."),
        ("Tank inside, high", f"{facts.tank.height_m * 1000:,.0f} mm", ""),
        ("Dip mark over the inside top", f"{facts.lid_above_mm:,.0f} mm", ""),
        ("Left when the pump draws no more", f"{facts.dead_l:,.0f} L", "Measured on the cart."),
    ]  # fmt: skip
    if facts.sight_zero_mm is not None:
        inputs.append(("Zero of the sight tube", f"{facts.sight_zero_mm:,.0f} mm over the bottom", ""))
    return Working(
        "Dip", f"{found.down_mm:,} mm down from the lid", inputs,
        "Depth from litres by halving the tank’s height; down = mark + height − depth, rounded so that it never says more water.",
        "Round and elliptic sections 7.1, 7.2 (VERIFIED-S); a metered table by a monotone cubic. docs/tank.md.",
        "A dip is read to some millimetres, on level ground.",
    )  # fmt: skip
