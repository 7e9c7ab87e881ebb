"""The damage waiver's excess: what the hirer pays of damage each time, the waiver taking on what is over it. Pure."""

from __future__ import annotations

from decimal import Decimal

from hire.charging.money import cents, money

# What the waiver is of: the other things that are found are no damage to the cart.
WAIVED_KINDS = ("damage", "tyre")


def within_event(amount: Decimal, excess: Decimal, paid: Decimal, event: str) -> tuple[Decimal, str]:
    """What is left to pay of the excess by something that happened at one event with others, to the cent, and how it comes about.
    paid: what was charged of that event before; event: what they are. All together never more than the excess."""
    left = max(excess - paid, Decimal(0))
    told = f"{money(amount)}, of the same event as {event}: of its excess of {money(excess)}, {money(paid)} is charged"
    if amount <= left:
        return amount, f"{told} besides, within it"
    words = f"{money(left)} is left, and the damage waiver takes on {money(amount - left)}"
    return cents(left), f"{told} besides, so {words}"


def within_excess(amount: Decimal, excess: Decimal) -> tuple[Decimal, str]:
    """The lesser of the two, to the cent, and how it comes about."""
    if amount <= excess:
        return (
            amount,
            f"{money(amount)}, within the excess of {money(excess)} that the hirer pays each time",
        )
    words = f"of which the hirer pays the excess of {money(excess)} and the damage waiver takes on {money(amount - excess)}"
    return cents(excess), f"{money(amount)}, {words}"
