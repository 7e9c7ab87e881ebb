"""The lines of a charge, and what earlier documents of the same hire charged."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from fractions import Fraction

from hire.charging.money import cents

# Keys of the hire itself and of what grows with it, among all that is charged.
HIRE, WAIVER = "hire", "waiver"


@dataclass(frozen=True, slots=True)
class Line:
    """One line. key: what it is charged for, so that a later document knows what was charged of it before; several lines may
    share one. unit_price is per unit; quantity x unit_price, rounded, is the amount. working: for reading out to a customer.
    is_taxed: whether tax falls on it, the same for all lines of one key.
    """

    key: str
    what: str
    quantity: Decimal
    unit: str
    unit_price: Decimal
    amount: Decimal
    working: str
    is_taxed: bool = True


@dataclass(frozen=True, slots=True)
class Billed:
    """An earlier document of the hire: the last day it charged, how much by key (credits below zero), what each was called, and
    the keys on which no tax fell."""

    through: date
    amounts: Mapping[str, Decimal]
    names: Mapping[str, str] = field(default_factory=dict)
    untaxed: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Charges:
    """One document. through: the last day it charges. hire_days: days charged to date, earlier documents' included.

    early_return_credit: what the agreed length would have cost for the hire itself, less what the days stayed do (whole
    hire, before tax); zero unless it came back early. notes: what was claimed and not taken off, and why.
    hours_uncounted: the note among them that names days whose hours nobody read or agreed; "": none.
    """

    lines: tuple[Line, ...]
    net: Decimal
    tax: Decimal
    total: Decimal
    through: date
    hire_days: int
    is_last: bool
    early_return_credit: Decimal
    notes: tuple[str, ...]
    hours_uncounted: str = ""

    @property
    def billed(self) -> Billed:
        """What a later document has to know of this one."""
        return billed_of(
            self.through, [(line.key, line.what, line.amount, line.is_taxed) for line in self.lines]
        )

    @property
    def has_untaxed(self) -> bool:
        return any(not line.is_taxed for line in self.lines)

    @property
    def taxed(self) -> Decimal:
        """Of the net, what tax falls on."""
        return sum((line.amount for line in self.lines if line.is_taxed), Decimal("0.00"))

    @property
    def untaxed(self) -> Decimal:
        return self.net - self.taxed

    @property
    def untaxed_or_none(self) -> Decimal | None:
        """As it is shown: None where tax falls on all of it."""
        return self.untaxed if self.has_untaxed else None


def billed_of(through: date, lines: Iterable[tuple[str, str, Decimal, bool]]) -> Billed:
    """A document as a later one knows it: the key of each line, what it was called, its amount, whether tax fell on it."""
    amounts: dict[str, Decimal] = {}
    names: dict[str, str] = {}
    untaxed: set[str] = set()
    for key, what, amount, is_taxed in lines:
        untaxed |= set() if is_taxed else {key}
        amounts[key] = amounts.get(key, Decimal(0)) + amount
        names.setdefault(key, what)
    return Billed(through, amounts, names, frozenset(untaxed))


def line_of(
    key: str, what: str, quantity: Decimal | int, unit: str, unit_price: Decimal, *, working: str
) -> Line:
    """A line whose amount is its quantity at its price."""
    return Line(
        key=key,
        what=what,
        quantity=Decimal(quantity),
        unit=unit,
        unit_price=unit_price,
        amount=cents(Fraction(quantity) * Fraction(unit_price)),
        working=working,
    )


def lump(key: str, what: str, amount: Decimal, unit: str, working: str) -> Line:
    """A line of one, where no single price times a quantity makes the amount."""
    return Line(key, what, Decimal(1), unit, amount, amount, working)
