"""The damage waiver's excess: what the hirer pays of damage each time, the waiver taking on what is over it. Pure."""

from __future__ import annotations

from decimal import Decimal

from hire.charging.money import cents, money

# What the waiver is of: the other things that are found are no damage to the cart.
WAIVED_KINDS = ("damage", "tyre")


def within_excess(amount: Decimal, excess: Decimal) -> tuple[Decimal, str]:
    """The lesser of the two, to the cent, and how it comes about."""
    if amount <= excess:
        return (
            amount,
            f"{money(amount)}, within the excess of {money(excess)} that the hirer pays each time",
        )
    words = f"of which the hirer pays the excess of {money(excess)} and the damage waiver takes on {money(amount - excess)}"
    return cents(excess), f"{money(amount)}, {words}"
