"""A cart's own tares and tank position from weighbridge tickets with known water aboard.

Every ticket gives two equations, front = F + s m and rear = R + (1 - s) m, for water of mass m; F, R and s, the front's share, are
fitted to all tickets by least squares. What the tickets leave over is shown, and says how far the figures may be trusted.
docs/loading.md has it worked. An approved weighbridge decides; a private one, or axles weighed one by one on a slope, less.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from fleet.water.measured import Number, above_zero, not_below_zero, number

# A weighbridge for trucks reads in steps of this; no fit is better than its scale. Common practice, no source.
BRIDGE_STEP_KG = 20.0
STEP_SD_KG = BRIDGE_STEP_KG / math.sqrt(12)
# Under this many tickets the line is drawn but hardly tested; with less water between them the share is a guess. Ours.
ENOUGH_TICKETS = 4
LEAST_WATER_RANGE_KG = 3000.0
# Spreads hold the truth 19 times in 20, for errors of the usual bell shape.
ONE_SIDE = 0.975


@dataclass(frozen=True, slots=True)
class Ticket:
    """One weighing, ready to work: kg on the front and the rear group, and the litres aboard by meter or dip."""

    front_kg: float
    rear_kg: float
    water_l: float


@dataclass(frozen=True, slots=True)
class Residual:
    """What one ticket weighed over what the fit says, kg on each group."""

    front_kg: float
    rear_kg: float


@dataclass(frozen=True)
class TareFit:
    """Tares in kg, the tank's middle in metres as the groups' positions, each ticket's residuals in order, their scatter
    (one standard deviation, kg), and `trust`, a sentence."""

    front_tare_kg: float
    rear_tare_kg: float
    tank_centroid_m: float
    front_share: float
    residuals: tuple[Residual, ...]
    scatter_kg: float
    is_trusted: bool
    trust: str
    inverse: tuple[tuple[float, ...], ...]
    degrees: int

    def spread_kg(self, mass_kg: Number) -> tuple[float, float]:
        """How far a weighing of front and rear with that much water may lie from the fit, 19 times in 20, kg."""
        mass = not_below_zero(mass_kg, "The water")
        inverse = np.array(self.inverse)
        t = float(stdtrit(self.degrees, ONE_SIDE))
        rows = np.array([[1.0, 0.0, mass], [0.0, 1.0, -mass]])
        leverage = np.einsum("ij,jk,ik->i", rows, inverse, rows)
        front, rear = t * self.scatter_kg * np.sqrt(1 + leverage)
        return float(front), float(rear)


def fit_tares(
    tickets: Sequence[Ticket],
    *,
    front_position_m: Number,
    rear_position_m: Number,
    density_kg_m3: Number = 1000.0,
) -> TareFit:
    """The tares and tank position that suit all tickets best.

    ValueError for under two tickets, tickets all with the same water, a weight of zero or less, water below zero, or groups in one
    place. A tank's middle that comes out beyond the groups is no error: it is told, and not to be trusted. Source: LS-01
    (VERIFIED-P) solved for its unknowns.
    """
    front, rear, mass = _columns(tickets, above_zero(density_kg_m3, "The density"))
    a, b = number(front_position_m, "The front's place"), number(rear_position_m, "The rear's place")
    if a == b:
        raise ValueError("The two axle groups stand in one place.")
    one, none = np.ones_like(mass), np.zeros_like(mass)
    matrix = np.vstack([np.column_stack([one, none, mass]), np.column_stack([none, one, -mass])])
    weighed = np.concatenate([front, rear - mass])
    (front_tare, rear_tare, share), *_ = np.linalg.lstsq(matrix, weighed, rcond=None)
    left = weighed - matrix @ np.array([front_tare, rear_tare, share])
    degrees = 2 * len(mass) - 3
    scatter = max(math.sqrt(float(left @ left) / degrees), STEP_SD_KG)
    residuals = tuple(Residual(float(f), float(r)) for f, r in left.reshape(2, -1).T)
    worst = float(np.abs(left).max())
    reasons = _doubts(float(front_tare), float(rear_tare), float(share), mass)
    return TareFit(
        float(front_tare),
        float(rear_tare),
        b - float(share) * (b - a),
        float(share),
        residuals,
        scatter,
        not reasons,
        _trust(len(mass), mass, worst, reasons),
        tuple(tuple(map(float, row)) for row in np.linalg.inv(matrix.T @ matrix)),
        degrees,
    )


def _columns(tickets: Sequence[Ticket], density: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    if len(tickets) < 2:
        raise ValueError("At least two tickets are wanted, with different water aboard.")
    front = np.array([above_zero(each.front_kg, "The weight on the front") for each in tickets])
    rear = np.array([above_zero(each.rear_kg, "The weight on the rear") for each in tickets])
    mass = np.array([not_below_zero(each.water_l, "The water aboard") for each in tickets]) * density / 1000
    if mass.min() == mass.max():
        raise ValueError("All tickets have the same water aboard: weigh the cart empty as well as filled.")
    return front, rear, mass


def _doubts(front_tare: float, rear_tare: float, share: float, mass: np.ndarray) -> list[str]:
    """Why the fit is not to be relied on, in words that follow "because"."""
    doubts = []
    if not 0 <= share <= 1:
        doubts.append("the tank's middle comes out beyond the axle groups")
    if min(front_tare, rear_tare) <= 0:
        doubts.append("a tare comes out at zero or less")
    if len(mass) < ENOUGH_TICKETS:
        doubts.append(f"there are under {ENOUGH_TICKETS} tickets")
    if float(mass.max() - mass.min()) < LEAST_WATER_RANGE_KG:
        doubts.append(f"their water differs by under {LEAST_WATER_RANGE_KG:,.0f} kg")
    return doubts


def _trust(tickets: int, mass: np.ndarray, worst: float, doubts: list[str]) -> str:
    said = (
        f"{tickets} tickets with {mass.min():,.0f} to {mass.max():,.0f} kg of water; the farthest lies"
        f" {worst:,.0f} kg from the fit."
    )
    if doubts:
        return f"{said} Don't rely on it, because {' and '.join(doubts)}. A weighbridge decides."
    return f"{said} Good between those fills, less so beyond them. A weighbridge decides."
