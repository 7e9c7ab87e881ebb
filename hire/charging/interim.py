"""What a document charges when earlier ones have charged already, so that together they are the whole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from hire.charging.days import ONE_DAY
from hire.charging.lines import HIRE, WAIVER, Billed, Line, lump
from hire.charging.money import cents, day_words, money, span_words
from hire.charging.rates import Priced

CORRECTION = "correction"
WHAT_LENGTH = 160


@dataclass(frozen=True, slots=True)
class Spell:
    """The hire itself. to_date: its price to date. fresh: that of the days since the last document. older: that of the days
    before, at today's terms; None for a least cover, which has no price by the day. amount: to date, which an early return may
    have put below its price. why: what made the days before worth another amount."""

    first: date
    last: date
    billed_to: date | None
    to_date: Priced
    fresh: Priced | None
    older: Priced | None
    amount: Decimal
    why: str


def spell_lines(spell: Spell, before: Decimal) -> list[Line]:
    """The new days, and a line of credit or debit where the days before now come to another amount."""
    if spell.billed_to is None:
        return [_first_line(spell)] if spell.amount else []
    lines, new = [], Decimal(0)
    if spell.fresh is not None:
        new = spell.fresh.amount
        working = spell.fresh.working
        if spell.older is not None:
            # The difference of two rounded sums, so that any number of documents adds up to the whole.
            new = spell.to_date.amount - spell.older.amount
            if new != spell.fresh.amount:
                working += f"; {money(new)} so that the documents add up to {money(spell.to_date.amount)}"
        opens = spell.billed_to + ONE_DAY
        is_there = opens <= spell.last
        what = f"Hire, {span_words(opens, spell.last)}" if is_there else "Hire, the rest of the minimum"
        lines.append(_by_unit(what, spell.fresh, new, working))
    turned = spell.amount - before - new
    if turned:
        kind = "credit" if turned < 0 else "debit"
        above = f" and {money(new)} above" if lines else ""
        working = f"{_to_date(spell)} to date; {money(before)} charged before{above}, so {kind} {money(abs(turned))}"
        lines.append(lump(HIRE, f"Hire to {day_words(spell.last)}, {kind}", turned, CORRECTION, working))
    return lines


def _to_date(spell: Spell) -> str:
    """What the hire comes to so far, and by what sums, those that an early return puts aside among them."""
    if spell.amount == spell.to_date.amount:
        return f"{spell.why} {spell.to_date.working} = {money(spell.amount)}"
    return _capped(spell)


def _capped(spell: Spell) -> str:
    return f"{spell.to_date.working} = {money(spell.to_date.amount)}; {spell.why} {money(spell.amount)}"


def _first_line(spell: Spell) -> Line:
    what = f"Hire, {span_words(spell.first, spell.last)}"
    working = spell.to_date.working if spell.amount == spell.to_date.amount else _capped(spell)
    return _by_unit(what, spell.to_date, spell.amount, working)


def by_the_day_no_longer(before: Decimal) -> list[Line]:
    """A hire that was charged by the day and goes with an operator now: what its days cost comes back."""
    if not before:
        return []
    working = f"{money(before)} charged before, by the day; it goes with an operator now, charged by the signed daily dockets"
    return [lump(HIRE, "No longer charged: hire by the day", -before, CORRECTION, working)]


def _by_unit(what: str, priced: Priced, amount: Decimal, working: str) -> Line:
    if priced.single is not None:
        quantity, unit, unit_price = priced.single
        if cents(quantity * unit_price) == amount:
            return Line(HIRE, what, Decimal(quantity), unit, unit_price, amount, working)
    return lump(HIRE, what, amount, "hire", working)


def since(lines: Sequence[Line], earlier: Sequence[Billed]) -> list[Line]:
    """Lines to date, all but the hire itself, less what earlier documents charged under the same key. A charge that is gone
    comes back as a credit."""
    before: dict[str, Decimal] = {}
    names: dict[str, str] = {}
    untaxed = {key for document in earlier for key in document.untaxed}
    for document in sorted(earlier, key=lambda each: each.through):
        for key, amount in document.amounts.items():
            before[key] = before.get(key, Decimal(0)) + amount
            names.setdefault(key, document.names.get(key, key))
    before.pop(HIRE, None)
    left = [_less(line, before.pop(line.key, Decimal(0))) for line in lines]
    gone = [
        replace(_gone(key, names[key], amount), is_taxed=key not in untaxed)
        for key, amount in before.items()
        if amount
    ]
    return [line for line in left if line is not None] + gone


def _gone(key: str, name: str, before: Decimal) -> Line:
    word = "charged" if before > 0 else "credited"
    working = f"{money(abs(before))} {word} before"
    return lump(key, f"No longer {word}: {name}"[:WHAT_LENGTH], -before, CORRECTION, working)


def _less(line: Line, before: Decimal) -> Line | None:
    if not before:
        return line
    if line.amount == before:
        return None
    working = f"{line.working} = {money(line.amount)} to date; {money(before)} charged before"
    unit = WAIVER if line.key == WAIVER else CORRECTION
    return replace(lump(line.key, line.what, line.amount - before, unit, working), is_taxed=line.is_taxed)
