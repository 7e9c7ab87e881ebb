"""A cart ready to work without water: from weighbridge tickets where it has any, else from the maker's tare with allowances."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.water.loading import FUEL_KG_PER_L, PERSON_KG, AxleGroup, ready_to_work_mass, with_added
from fleet.water.road_facts import FUEL_EIGHTHS, Facts, Limits, Weighing
from fleet.water.weighbridge import LEAST_WATER_RANGE_KG, Residual, TareFit, Ticket, fit_tares

NOT_WEIGHED = "from the maker's tare and allowances: not weighed"
# A tape and the tickets that put the tank's middle farther apart than this don't speak of one cart. Common practice, no source.
MIDDLES_APART_M = 0.3


@dataclass(frozen=True)
class Ready:
    """The cart ready to work without water: its groups with tares, the tank's middle, and where that comes from.

    parts: (words, kg) added to the tare; residuals: what each weighing weighed over the figures, in order.
    """

    groups: tuple[AxleGroup, AxleGroup]
    middle_m: float
    parts: tuple[tuple[str, float], ...]
    residuals: tuple[Residual, ...]
    source: str
    trust: str
    fit: TareFit | None = None
    cautions: tuple[str, ...] = ()

    @property
    def is_trusted(self) -> bool:
        """Only tickets enough, with water that differs enough, are relied on."""
        return self.fit is not None and self.fit.is_trusted

    @property
    def mass_kg(self) -> float:
        return math.fsum(group.tare_kg for group in self.groups)


def ready_to_work(facts: Facts, limits: Limits) -> Ready:
    """The cart ready to work, by its tickets where it has any, else by the maker's tare and the yard's allowances.

    Two tickets or more with water that differs enough find the tank's middle too; fewer leave it where the tape has it.
    ValueError where limits lie under the tare, or the tickets speak of no such cart.
    """
    if not facts.weighings:
        return _by_allowances(facts, limits)
    tickets = [_brought_to_work(facts, one) for one in facts.weighings]
    water = [one.water_l for one in tickets]
    if max(water) - min(water) >= LEAST_WATER_RANGE_KG:
        return _by_fit(facts, limits, tickets)
    return _by_tape(facts, limits, tickets)


def _supports(facts: Facts, limits: Limits, front_kg: float, rear_kg: float) -> tuple[AxleGroup, AxleGroup]:
    first, second = facts.groups
    return (
        AxleGroup(first.name, front_kg, limits[0][1].kg, first.position_m),
        AxleGroup(second.name, rear_kg, limits[1][1].kg, second.position_m),
    )


def _between_m(facts: Facts) -> float:
    return (facts.groups[0].position_m + facts.groups[1].position_m) / 2


def _by_allowances(facts: Facts, limits: Limits) -> Ready:
    first, second = facts.groups
    given, more = _supports(facts, limits, first.tare_kg, second.tare_kg), facts.allowances
    made_of = ready_to_work_mass(
        tare_kg=first.tare_kg + second.tare_kg, fuel_l=facts.fuel_tank_l, people=more.people, kit_kg=more.kit_kg,
        mud_kg=more.mud_kg, margin_kg=more.margin_kg,
    )  # fmt: skip
    kg, between = dict(made_of.parts), _between_m(facts)
    places = {"fuel": facts.fuel_place_m, "people": facts.cab_place_m, "kit": facts.cab_place_m}
    added = [(kg[name], places.get(name, between)) for name in ("fuel", "people", "kit", "mud", "margin")]
    trust = "Carts weigh more than their papers say. Weigh it ready to work, empty and with water."
    return Ready(with_added(given, added), facts.middle_m, made_of.parts, (), NOT_WEIGHED, trust)


def _brought_to_work(facts: Facts, one: Weighing) -> Ticket:
    """The ticket as if driver, kit and full fuel had been aboard."""
    first, second = facts.groups
    missing = (
        (0.0 if one.driver_in else facts.allowances.people * PERSON_KG, facts.cab_place_m),
        (0.0 if one.kit_in else facts.allowances.kit_kg, facts.cab_place_m),
        ((FUEL_EIGHTHS - one.fuel_eighths) / FUEL_EIGHTHS * facts.fuel_tank_l * FUEL_KG_PER_L, facts.fuel_place_m),
    )  # fmt: skip
    front, rear = float(one.front_kg), float(one.rear_kg)
    for kg, place in missing:
        share = (place - first.position_m) / (second.position_m - first.position_m)
        front, rear = front + kg * (1 - share), rear + kg * share
    return Ticket(front, rear, one.water_l)


def _weighed(
    facts: Facts, limits: Limits, front_kg: float, rear_kg: float
) -> tuple[tuple[AxleGroup, AxleGroup], tuple[tuple[str, float], ...]]:
    margin = facts.allowances.margin_kg
    groups = with_added(_supports(facts, limits, front_kg, rear_kg), [(margin, _between_m(facts))])
    return groups, (("weighed, ready to work", front_kg + rear_kg), ("margin", margin))


def _by_fit(facts: Facts, limits: Limits, tickets: Sequence[Ticket]) -> Ready:
    first, second = facts.groups
    fit = fit_tares(tickets, front_position_m=first.position_m, rear_position_m=second.position_m)
    if not 0 <= fit.front_share <= 1 or min(fit.front_tare_kg, fit.rear_tare_kg) <= 0:
        raise ValueError(f"The weighbridge tickets do not suit the cart: {fit.trust}")
    groups, parts = _weighed(facts, limits, fit.front_tare_kg, fit.rear_tare_kg)
    worst = max(max(abs(one.front_kg), abs(one.rear_kg)) for one in fit.residuals)
    apart = abs(fit.tank_centroid_m - facts.middle_m)
    caution = f"The tickets put the tank's middle {apart:.2f} m from where the tape has it: measure again, or weigh again."
    return Ready(
        groups, fit.tank_centroid_m, parts, fit.residuals,
        f"from {len(tickets)} weighbridge tickets, the farthest {round(worst):,} kg from their line"
        + ("" if fit.is_trusted else ", too few to rely on"),
        fit.trust, fit, (caution,) if apart > MIDDLES_APART_M else (),
    )  # fmt: skip


def _by_tape(facts: Facts, limits: Limits, tickets: Sequence[Ticket]) -> Ready:
    first, second = facts.groups
    rear_share = (facts.middle_m - first.position_m) / (second.position_m - first.position_m)
    fronts = [one.front_kg - (1 - rear_share) * one.water_l for one in tickets]
    rears = [one.rear_kg - rear_share * one.water_l for one in tickets]
    front, rear = math.fsum(fronts) / len(fronts), math.fsum(rears) / len(rears)
    if min(front, rear) <= 0:
        raise ValueError("The weighbridge tickets do not suit the cart: a tare comes out at zero or less.")
    groups, parts = _weighed(facts, limits, front, rear)
    how_many = "1 weighbridge ticket" if len(tickets) == 1 else f"{len(tickets)} weighbridge tickets"
    return Ready(
        groups, facts.middle_m, parts,
        tuple(Residual(f - front, r - rear) for f, r in zip(fronts, rears, strict=True)),
        f"from {how_many}, the tank's middle by tape",
        f"The water on the tickets differs by under {LEAST_WATER_RANGE_KG:,.0f} kg, so they do not say where the tank's weight"
        " bears. Weigh it empty and nearly full, four times in all. A weighbridge decides.",
    )  # fmt: skip
