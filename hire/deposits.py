"""What stands of a deposit. Pure: from its steps in the order they were written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

NOTHING = Decimal("0.00")


@dataclass(frozen=True, slots=True)
class Deposit:
    """asked: what was asked for last. taken, given_back, set_off: all of it."""

    asked: Decimal = NOTHING
    taken: Decimal = NOTHING
    given_back: Decimal = NOTHING
    set_off: Decimal = NOTHING

    @property
    def held(self) -> Decimal:
        return self.taken - self.given_back - self.set_off

    @property
    def to_take(self) -> Decimal:
        """What was asked for and is not taken yet."""
        return max(self.asked - self.taken, NOTHING)

    def __bool__(self) -> bool:
        return bool(self.asked or self.taken)


def deposit_of(steps: Iterable[tuple[str, Decimal]]) -> Deposit:
    """steps: (kind, amount) in order; kind "asked" | "taken" | "given_back" | "set_off". ValueError for another."""
    sums = {"asked": NOTHING, "taken": NOTHING, "given_back": NOTHING, "set_off": NOTHING}
    for kind, amount in steps:
        if kind not in sums:
            raise ValueError(f"A deposit is asked, taken, given back or set off, not {kind}.")
        sums[kind] = amount if kind == "asked" else sums[kind] + amount
    return Deposit(**sums)
