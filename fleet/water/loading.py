"""What stands on two axle groups at any fill, and how much water a cart may carry on a public road.

A cart here is a rigid beam on two supports: each axle group at its middle, the water at the middle of a level tank.
Positions and the tank's middle are metres from one and the same point, whichever. Trucks with a trailer, semi-trailers and
whatever else stands on more than two groups are refused. Limits are the least of law, maker and tyres
(fleet.water.mass_limits); tares are those of the cart ready to work, never the published tare. docs/loading.md has it worked.
A weighbridge decides.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from fleet.water.measured import Number, above_zero, not_below_zero, number, plain, whole, within
from fleet.water.tank import LITRES_PER_M3

# Two limits that differ by less than this share bind together: floats, not steel.
TIE = 1e-12
# Under this share of the whole on the steer axle a cart is slow to answer the wheel. Common practice, no source: the maker's
# manual says the least for its chassis.
LEAST_STEER_SHARE = 0.20
# Published tare carries this much fuel and nobody.
TARE_FUEL_L = 10.0
# Diesel and a person with a bag, on the heavy side. Common practice, no source.
FUEL_KG_PER_L = 0.85
PERSON_KG = 100.0
RESERVED = ("gross", "none")


@dataclass(frozen=True, slots=True)
class AxleGroup:
    """One support: what it carries with the tank empty, what it may carry, and where its middle stands in metres."""

    name: str
    tare_kg: float
    limit_kg: float
    position_m: float


@dataclass(frozen=True, slots=True)
class LegalFill:
    """Water in litres and kg, what binds (a group's name, "gross", or "none": the full tank is under every limit), and what
    stands on each group then, tare and water."""

    litres: float
    mass_kg: float
    binding: str
    group_loads_kg: dict[str, float]


@dataclass(frozen=True, slots=True)
class ReadyToWork:
    """The mass before any water, in kg, and what it is made of: (words, kg)."""

    mass_kg: float
    parts: tuple[tuple[str, float], ...]


def legal_fill(
    *,
    groups: Sequence[AxleGroup],
    gross_limit_kg: Number,
    tank_centroid_m: Number,
    density_kg_m3: Number = 1000.0,
    capacity_l: Number | None = None,
) -> LegalFill:
    """The most water with no group over its limit and the whole not over the gross limit.

    capacity_l None: the tank's size is not known and does not bound the fill. Ties go to the groups in order, then to gross.
    ValueError unless there are two groups of different names and places, the tank's middle lies between them, no limit is
    under its tare, and density and capacity are above zero. Nothing is rounded: a screen rounds down. Source: LS-01
    (VERIFIED-P), the least of all limits governs GM-13 (VERIFIED-P).
    """
    shares = _shares(groups, tank_centroid_m)
    tare = sum(float(group.tare_kg) for group in groups)
    gross = above_zero(gross_limit_kg, "The gross limit")
    if gross < tare:
        raise ValueError(f"The gross limit of {plain(gross)} kg is under the tare of {plain(tare)} kg.")
    density = above_zero(density_kg_m3, "The density")
    rooms = {
        group.name: (float(group.limit_kg) - float(group.tare_kg)) / shares[group.name]
        for group in groups
        if shares[group.name] > 0
    }
    rooms["gross"] = gross - tare
    mass = min(rooms.values())
    binding = next(name for name, room in rooms.items() if room <= mass * (1 + TIE))
    litres = mass / density * LITRES_PER_M3
    if capacity_l is not None:
        capacity = above_zero(capacity_l, "The tank's capacity")
        if capacity < litres * (1 - TIE):
            binding, litres, mass = "none", capacity, capacity * density / LITRES_PER_M3
        litres = min(litres, capacity)
    return LegalFill(litres, mass, binding, _loads(groups, shares, mass))


def loads_at(*, groups: Sequence[AxleGroup], tank_centroid_m: Number, mass_kg: Number) -> dict[str, float]:
    """The kg on each group, tare and water, with mass_kg of water aboard (LS-01, VERIFIED-P). It may well be over a limit.

    ValueError as `legal_fill`, or for water below zero.
    """
    return _loads(groups, _shares(groups, tank_centroid_m), not_below_zero(mass_kg, "The water"))


def _loads(groups: Sequence[AxleGroup], shares: Mapping[str, float], mass_kg: float) -> dict[str, float]:
    return {group.name: float(group.tare_kg) + shares[group.name] * mass_kg for group in groups}


def _shares(groups: Sequence[AxleGroup], tank_centroid_m: Number) -> dict[str, float]:
    """The part of the water that each group carries, 0..1."""
    first, second = _checked(groups)
    a, b = float(first.position_m), float(second.position_m)
    centroid = number(tank_centroid_m, "The tank's middle")
    if not min(a, b) <= centroid <= max(a, b):
        raise ValueError(
            "The tank's middle lies outside the two axle groups: water there would lift one of them, and no figure is given."
        )
    return {first.name: (b - centroid) / (b - a), second.name: (centroid - a) / (b - a)}


def _checked(groups: Sequence[AxleGroup]) -> tuple[AxleGroup, AxleGroup]:
    if len(groups) != 2:
        raise ValueError(
            f"A road fill is reckoned for two axle groups, and this cart has {len(groups)}: use a weighbridge."
        )
    first, second = groups
    if first.name == second.name or {first.name, second.name} & {*RESERVED, ""}:
        raise ValueError("The two axle groups need names of their own, other than “gross” and “none”.")
    for group in groups:
        number(group.position_m, f"The place of {group.name}")
        tare = not_below_zero(group.tare_kg, f"The tare on {group.name}")
        limit = number(group.limit_kg, f"The limit of {group.name}")
        if limit < tare:
            raise ValueError(
                f"The limit of {group.name} is {plain(limit)} kg, under its tare of {plain(tare)} kg."
            )
    if first.position_m == second.position_m:
        raise ValueError("The two axle groups stand in one place.")
    return first, second


def with_added(
    groups: Sequence[AxleGroup], added: Sequence[tuple[Number, Number]]
) -> tuple[AxleGroup, AxleGroup]:
    """The two groups with more on them before any water: (kg, place in metres), ahead of or behind both groups too.

    So a tare becomes that of the cart ready to work. ValueError as `legal_fill`, for kg below zero, or where what hangs
    behind would lift a group off the ground.
    """
    first, second = _checked(groups)
    a, b = float(first.position_m), float(second.position_m)
    on_first, on_second = float(first.tare_kg), float(second.tare_kg)
    for kg, place in added:
        mass = not_below_zero(kg, "An added mass")
        share = (number(place, "The place of an added mass") - a) / (b - a)
        on_first, on_second = on_first + mass * (1 - share), on_second + mass * share
    return _checked((replace(first, tare_kg=on_first), replace(second, tare_kg=on_second)))


def ready_to_work_mass(
    *,
    tare_kg: Number,
    fuel_l: Number,
    people: int,
    kit_kg: Number = 0,
    mud_kg: Number = 0,
    margin_kg: Number = 0,
    tare_fuel_l: Number = TARE_FUEL_L,
) -> ReadyToWork:
    """What a cart weighs at work with an empty tank: published tare, fuel above the tare's own, people, kit, mud and a margin.

    A weighbridge ticket of the cart as it works beats this. Fuel under the tare's own takes nothing off. ValueError for a tare
    of zero or less, people who are not a whole number, or anything below zero. Common practice, no source.
    """
    whole(people, 0, "The people aboard are a whole number, not below zero.")
    fuel = not_below_zero(fuel_l, "The fuel") - not_below_zero(tare_fuel_l, "The fuel in the tare")
    parts = (
        ("published tare", above_zero(tare_kg, "The tare")),
        ("fuel", max(fuel, 0.0) * FUEL_KG_PER_L),
        ("people", people * PERSON_KG),
        ("kit", not_below_zero(kit_kg, "The kit")),
        ("mud", not_below_zero(mud_kg, "The mud")),
        ("margin", not_below_zero(margin_kg, "The margin")),
    )
    return ReadyToWork(math.fsum(kg for _, kg in parts), parts)


def bridge_formula_lb(*, length_ft: Number, axles: int) -> int:
    """Pounds on a group of consecutive axles, length_ft between its outer ones: the formula alone, to the nearest 500, exact
    halves down as the printed table has them (AX-04 and BF-01 to BF-16, VERIFIED-P; BF-17, VERIFIED-S).

    No cap is applied: the 20,000, 34,000 and 80,000 lb limits stand beside it (fleet.water.mass_limits). ValueError for under
    two axles, axles that are not whole, or a length of zero or less.
    """
    whole(axles, 2, "The bridge formula is for two axles or more, and whole ones.")
    above_zero(length_ft, "The length between the outer axles")
    steps = Fraction(length_ft) * axles / (axles - 1) + 12 * axles + 36
    return math.ceil(steps - Fraction(1, 2)) * 500


def steer_warning(*, steer_kg: Number, total_kg: Number, least_share: Number = LEAST_STEER_SHARE) -> str:
    """A sentence where the steer axle carries too small a share of the whole; "" where it carries enough.

    ValueError for a share outside 0..1, a total of zero, or more on the steer axle than there is.
    """
    total = above_zero(total_kg, "The whole mass")
    steer = not_below_zero(steer_kg, "The mass on the steer axle")
    least = within(least_share, 0, 1, "The least share on the steer axle", "of the whole")
    if steer > total:
        raise ValueError("The steer axle can't carry more than the whole.")
    if steer >= least * total:
        return ""
    percent = math.floor(steer / total * 1000) / 10
    return (
        f"The steer axle carries {percent:g} % of the whole, under {least * 100:g} %: the cart may not answer the wheel."
        " See the maker's manual before it goes on a road."
    )


def part_filled_caution(*, fill_l: Number, capacity_l: Number) -> str:
    """The sentence that goes beside every fill between empty and full; "" at either end. ValueError outside 0..capacity."""
    capacity = above_zero(capacity_l, "The tank's capacity")
    fill = within(fill_l, 0, capacity, "The fill", "L")
    if fill in {0, capacity}:
        return ""
    return (
        "A part load surges: brake early, take bends slowly, and expect it to push on after the cart has stopped. Axle loads"
        " are for level water; without baffles they move with every stop, bend and slope."
    )
