"""A cart's road fill from what is on record of it: plates, tank, and weighbridge tickets or the maker's tare with allowances.

The figures are those of fleet.water.loading, mass_limits and weighbridge; this module says which of them a cart's record feeds,
and how far the answer may be trusted. docs/road-fill.md has it worked. A weighbridge decides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

from fleet.water.loading import TIE, LegalFill, legal_fill, loads_at, part_filled_caution, steer_warning
from fleet.water.mass_limits import LeastLimit, least_limit, tyres_kg
from fleet.water.ready import NOT_WEIGHED, Ready, ready_to_work
from fleet.water.road_facts import Facts, Limits
from fleet.water.road_law import WHOSE, gross_law, group_law
from fleet.water.tank import Dip, dip_of, pumpable_l


@dataclass(frozen=True)
class NoFigure:
    """No road fill for a cart: why, and what to do about it, each a sentence."""

    reason: str
    todo: str

    @property
    def sentence(self) -> str:
        return f"{self.reason} {self.todo}"


@dataclass(frozen=True)
class RoadFill:
    """What a cart may carry on a public road by what is on record of it. Litres are rounded down, mm down from the lid up.

    limits: (name, least limit, law or None) of both groups, then gross. mass_kg: of the water when filled so.
    """

    facts: Facts
    ready: Ready
    fill: LegalFill
    limits: Limits

    @property
    def litres(self) -> int:
        # A figure that is whole but for the last bit of a float is that whole figure.
        return math.floor(self.fill.litres * (1 + TIE))

    @property
    def capacity_l(self) -> int:
        return math.floor(self.facts.tank.capacity_l)

    @property
    def is_full_tank(self) -> bool:
        return self.fill.binding == "none" or self.fill.litres >= self.facts.tank.capacity_l

    @property
    def full_tank_words(self) -> str:
        return "" if self.is_full_tank else "Full tank: not on a public road."

    @cached_property
    def depth_m(self) -> float:
        return self.facts.tank.depth_m(self.litres) if not self.is_full_tank else self.facts.tank.height_m

    @cached_property
    def _dip(self) -> Dip:
        return dip_of(
            depth_m=self.depth_m, height_m=self.facts.tank.height_m, lid_above_mm=self.facts.lid_above_mm,
            sight_zero_mm=self.facts.sight_zero_mm,
        )  # fmt: skip

    @property
    def down_mm(self) -> int:
        """From the mark one dips from at the lid, down to the water."""
        return self._dip.down_mm

    @property
    def sight_mm(self) -> int | None:
        """The mark on the sight tube; None where there is no tube, or it starts above this water."""
        return self._dip.sight_mm

    @property
    def pumpable_l(self) -> int:
        return math.floor(pumpable_l(volume_l=self.litres, dead_l=self.facts.dead_l))

    @property
    def minutes_to_fill(self) -> int | None:
        rate = self.facts.fill_l_min
        return None if rate is None else math.ceil(self.litres / rate)

    @property
    def binding_words(self) -> str:
        """What stops the fill: "steer axle at 6,000 kg, the law's limit"."""
        if self.fill.binding == "none":
            return "no limit: the full tank is under them all"
        name, limit, _ = next(one for one in self.limits if one[0] == self.fill.binding)
        name = "the whole cart" if name == "gross" else name
        return f"{name} at {math.floor(limit.kg):,} kg, {WHOSE[limit.governed_by]}"

    @property
    def is_weighed(self) -> bool:
        return self.ready.source != NOT_WEIGHED

    @property
    def source(self) -> str:
        return self.ready.source

    @property
    def surge(self) -> str:
        if self.is_full_tank:
            return ""
        return part_filled_caution(fill_l=self.litres, capacity_l=self.facts.tank.capacity_l)

    @property
    def cautions(self) -> tuple[str, ...]:
        """Sentences that stand beside the figure: part load, how little it rests on, steer axle, limits not known, tape against
        tickets."""
        first = self.ready.groups[0].name
        total = math.fsum(self.fill.group_loads_kg.values())
        steer = steer_warning(steer_kg=self.fill.group_loads_kg[first], total_kg=total)
        doubt = "" if self.ready.is_trusted else self.ready.trust
        unknown = tuple(
            f"{'The whole cart' if name == 'gross' else f'The {name}'} may carry less: not known is {_listed(limit)}."
            for name, limit, _ in self.limits
            if limit.unknown
        )
        return tuple(one for one in (self.surge, doubt, steer, *unknown, *self.ready.cautions) if one)

    def loads_kg(self, litres: float) -> dict[str, float]:
        """What stands on each group with so many litres aboard, however much; the plot's figures."""
        return loads_at(groups=self.ready.groups, tank_centroid_m=self.ready.middle_m, mass_kg=litres)


def _listed(limit: LeastLimit) -> str:
    return " and ".join(WHOSE[one] for one in limit.unknown)


def reckon(facts: Facts) -> RoadFill | NoFigure:
    """The road fill of a cart, or why there is none. Nothing on record is too odd for it: it gets a sentence."""
    try:
        limits = _limits(facts)
        ready = ready_to_work(facts, limits)
        fill = legal_fill(
            groups=ready.groups,
            gross_limit_kg=limits[2][1].kg,
            tank_centroid_m=ready.middle_m,
            capacity_l=facts.tank.capacity_l,
        )
    except ValueError as error:
        return NoFigure(str(error), "Correct what is on record, or use a weighbridge.")
    return RoadFill(facts, ready, fill, limits)


def _limits(facts: Facts) -> Limits:
    found = []
    for group in facts.groups:
        law = group_law(facts.rule_set, group.law_key, axles=group.axles, spread_m=group.spread_m)
        load = group.tyre_load_kg
        carried = None if load is None else tyres_kg(load_kg_per_tyre=load, tyres=group.tyres)
        least = least_limit(table_kg=law.kg if law else None, maker_kg=group.maker_kg, tyres_kg=carried)
        found.append((group.name, least, law))
    law = gross_law(
        facts.rule_set, keys=tuple(group.law_key for group in facts.groups), gross_key=facts.gross_key,
        axles=sum(group.axles for group in facts.groups), outer_length_m=facts.outer_length_m,
    )  # fmt: skip
    plate = facts.gross_plate_kg
    # What the tyres of both groups carry together says nothing that the groups do not say already.
    gross = least_limit(table_kg=law.kg if law else None, maker_kg=plate)
    return (*found, ("gross", replace(gross, unknown=() if law else ("table",)), law))
