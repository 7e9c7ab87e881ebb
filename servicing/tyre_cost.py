"""What a tyre costs by the distance."""

from __future__ import annotations

import math
from decimal import Decimal


def cost_per_1000_km(
    *, cost: Decimal, new_depth_mm: Decimal, change_out_mm: Decimal, wear_mm_per_1000_km: float
) -> Decimal | None:
    """What a tyre costs by the 1,000 km if it wears so from new to its change-out depth, unrounded; None where it does not wear,
    or has nothing to wear. ValueError for a cost or depth below zero, or no number."""
    if not math.isfinite(wear_mm_per_1000_km):
        raise ValueError("A wear has to be a number.")
    for value, what in ((cost, "A cost"), (new_depth_mm, "A depth"), (change_out_mm, "A depth")):
        if not value.is_finite() or value < 0:
            raise ValueError(f"{what} has to be a number and can't be below zero.")
    if wear_mm_per_1000_km <= 0 or new_depth_mm <= change_out_mm:
        return None
    return cost * Decimal(str(wear_mm_per_1000_km)) / (new_depth_mm - change_out_mm)
