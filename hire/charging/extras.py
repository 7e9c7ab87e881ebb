"""What is charged beside the hire: delivery, cleaning, fuel, tyres, and whatever else a desk adds in its own words."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Protocol

from hire.charging.lines import Line, line_of, lump
from hire.charging.money import cents, counted, day_words, days_words, exact, money, number

CREDIT = "credit"


class Extra(Protocol):
    """key names it among everything charged on the hire, so that it is charged once."""

    @property
    def key(self) -> str: ...

    def line(self) -> Line | None: ...

    def note(self) -> str:
        """Why nothing is charged, or nothing."""
        ...


@dataclass(frozen=True, slots=True)
class Item:
    """Anything by quantity and price: delivery, a call-out, a fine passed on, damage a person decided to charge."""

    key: str
    what: str
    quantity: Decimal
    unit: str
    unit_price: Decimal
    is_taxed: bool = True

    def __post_init__(self) -> None:
        exact(self.quantity, f"The quantity of {self.what}")
        exact(self.unit_price, f"The price of {self.what}")

    def line(self) -> Line | None:
        # A symbol takes no s: 3 h, 40 L.
        many = self.unit if len(self.unit) < 3 else ""
        words = f"{counted(self.quantity, self.unit, many)} × {money(self.unit_price)}"
        line = line_of(self.key, self.what, self.quantity, self.unit, self.unit_price, working=words)
        return replace(line, is_taxed=self.is_taxed)

    def note(self) -> str:
        return ""


@dataclass(frozen=True, slots=True)
class GivenUp:
    """What was given up of a charge on an earlier document, before tax: a credit. of: the key of that charge. on: the
    days it is for, none where it is for no single one. lessened: why it is less than was given up, or nothing. is_taxed: as of
    that charge."""

    key: str
    what: str
    amount: Decimal
    working: str
    of: str = ""
    on: frozenset[date] = frozenset()
    lessened: str = ""
    is_taxed: bool = True

    def __post_init__(self) -> None:
        exact(self.amount, f"What is given up of {self.what}")

    def without(self, gone: Collection[date]) -> GivenUp:
        """Less its part for days that came back by themselves."""
        lost = sorted(self.on.intersection(gone))
        if not lost:
            return self
        left = cents(Fraction(self.amount) * (len(self.on) - len(lost)) / len(self.on))
        be = "is" if len(lost) == 1 else "are"
        return self._lessened(left, f"{days_words(lost)} {be} after the last day of the hire")

    def at_most(self, charged: Decimal) -> GivenUp:
        """No more than is still charged."""
        if self.amount <= charged:
            return self
        left = max(charged, Decimal("0.00"))
        return self._lessened(left, f"{money(left)} of it is still charged")

    def _lessened(self, left: Decimal, why: str) -> GivenUp:
        note = f"Given up of {self.what}: {why}, so {money(left)} is credited; the rest came back by itself."
        return replace(self, amount=left, working=f"{self.working}; {why}: {money(left)}", lessened=note)

    def line(self) -> Line | None:
        if not self.amount:
            return None
        line = lump(self.key, f"Given up: {self.what}"[:160], -self.amount, CREDIT, self.working)
        return replace(line, is_taxed=self.is_taxed)

    def note(self) -> str:
        return self.lessened


@dataclass(frozen=True, slots=True)
class Cleaning:
    """Man-hours of washing beyond the free ones."""

    man_hours: Decimal
    free_hours: Decimal
    price: Decimal
    key: str = "cleaning"

    def __post_init__(self) -> None:
        exact(self.man_hours, "The man-hours of cleaning")
        exact(self.free_hours, "The free hours of cleaning")
        exact(self.price, "The price of cleaning")

    def line(self) -> Line | None:
        over = self.man_hours - self.free_hours
        if over <= 0:
            return None
        words = (
            f"{number(self.man_hours)} man-hours less {number(self.free_hours)} free:"
            f" {number(over)} × {money(self.price)}"
        )
        return line_of(self.key, "Cleaning", over, "man-hour", self.price, working=words)

    def note(self) -> str:
        return ""


@dataclass(frozen=True, slots=True)
class Fuel:
    """What it took to fill it to where it stood at handover, by the docket's litres."""

    docket: str
    litres: Decimal
    price: Decimal

    def __post_init__(self) -> None:
        exact(self.litres, "The litres of fuel")
        exact(self.price, "The price of fuel")

    @property
    def key(self) -> str:
        return f"fuel {self.docket}"

    def line(self) -> Line | None:
        words = f"docket {self.docket}: {number(self.litres)} L × {money(self.price)}"
        return line_of(self.key, "Fuel", self.litres, "L", self.price, working=words)

    def note(self) -> str:
        return ""


def tyre_charge(
    *, fitted_cost: Decimal, new_mm: Decimal, out_mm: Decimal, change_out_mm: Decimal, call_out: Decimal
) -> Fraction:
    """The fitted cost x (depth out - change-out depth) / (new depth - change-out depth) + call-out, exact.

    A tyre that went out at its change-out depth or under had no tread left to pay for: the call-out alone. Common practice,
    no source. ValueError for a cost or depth below zero, a new depth at or under the change-out depth, a depth out
    over the new one.
    """
    cost, called = exact(fitted_cost, "The fitted cost"), exact(call_out, "The call-out")
    new, out = exact(new_mm, "The new depth"), exact(out_mm, "The depth out")
    change_out = exact(change_out_mm, "The change-out depth")
    if new <= change_out:
        raise ValueError("A new tyre is deeper than its change-out depth.")
    if out > new:
        raise ValueError("A tyre does not go out deeper than new: correct the depth out.")
    return cost * max(out - change_out, Fraction(0)) / (new - change_out) + called


@dataclass(frozen=True, slots=True)
class TyreDamage:
    """A tyre cut or staked on hire. out_mm None: nobody read its depth before it left, and nothing is charged. read_on: the yard's
    day on which it was read."""

    where: str
    fitted_cost: Decimal
    new_mm: Decimal
    out_mm: Decimal | None
    change_out_mm: Decimal
    call_out: Decimal = Decimal(0)
    read_on: date | None = None

    def __post_init__(self) -> None:
        self._charge()

    @property
    def key(self) -> str:
        return f"tyre {self.where}"

    def _charge(self) -> Fraction:
        return tyre_charge(
            fitted_cost=self.fitted_cost,
            new_mm=self.new_mm,
            out_mm=self.change_out_mm if self.out_mm is None else self.out_mm,
            change_out_mm=self.change_out_mm,
            call_out=self.call_out,
        )

    def line(self) -> Line | None:
        if self.out_mm is None:
            return None
        left = max(self.out_mm - self.change_out_mm, Decimal(0))
        read = f", read on {day_words(self.read_on)}" if self.read_on else ""
        words = (
            f"{number(left)} of {number(self.new_mm - self.change_out_mm)} mm of tread were left when it went out{read}:"
            f" {money(self.fitted_cost)} × {number(left)} / {number(self.new_mm - self.change_out_mm)}"
        )
        if self.call_out:
            words += f" + call-out {money(self.call_out)}"
        return lump(self.key, f"Tyre, {self.where}", cents(self._charge()), "tyre", words)

    def note(self) -> str:
        return (
            f"Tyre, {self.where}: no depth was read when it went out, so nothing is charged."
            if self.out_mm is None
            else ""
        )
