"""The worked tables of "When it comes back" in docs/charges.md come out as printed. Worked by hand; common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest

from hire.back_terms import back_terms_from
from hire.charging.back import BackFacts, CannotWork, Finding, Typed, propose, work_out
from tests.reference.test_charges import tables

FUEL, WASHING = tables("When it comes back")
EXCESS, EVENTS = tables("A waiver with an excess")


def number(cell: str) -> Decimal | None:
    return Decimal(cell) if cell and cell[0].isdigit() else None


def charged(facts: BackFacts, typed: Typed) -> str:
    """What the one proposal there is comes to, as the tables write it."""
    proposals = propose(facts)
    if not proposals:
        return "not proposed"
    try:
        return str(work_out(proposals[0], typed).amount)
    except CannotWork:
        return "none"


@pytest.mark.parametrize("row", FUEL, ids=" ".join)
def test_fuel_short(row: list[str]) -> None:
    out, back, litres, tank, price, amount = row
    facts = BackFacts(fuel_out=number(out), fuel_back=number(back))
    typed = Typed(litres=number(litres), docket="F-204", tank_l=number(tank), price=number(price))
    assert charged(facts, typed) == amount


@pytest.mark.parametrize("row", WASHING, ids=" ".join)
def test_washing(row: list[str]) -> None:
    dirt, hours, free, mud, clay, chemical, amount = row
    terms = back_terms_from(
        {
            "wash_free_hours": free,
            "wash_mud_price": mud,
            "wash_clay_price": clay,
            "wash_chemical_price": chemical,
        }
    )
    typed = Typed(man_hours=number(hours), free_hours=terms.wash_free_hours, price=terms.wash_prices[dirt])
    assert charged(BackFacts(dirt=dirt), typed) == amount


@pytest.mark.parametrize("row", EXCESS, ids=" ".join)
def test_a_waiver_with_an_excess(row):
    comes_to, excess, is_waived, charged = row
    [dent] = propose(BackFacts(findings=(Finding("1", "Board bent in", "Rear", "As returned"),)))
    typed = Typed(amount=number(comes_to), is_waived=is_waived == "yes", excess=number(excess))
    assert str(work_out(dent, typed).amount) == charged


@pytest.mark.parametrize("row", EVENTS, ids=" ".join)
def test_several_things_of_one_event(row):
    comes_to, excess, charged_words = row
    paid, found = Decimal(0), []
    for nth, amount in enumerate(comes_to.split("; ")):
        facts = BackFacts(findings=(Finding(str(nth), "Board bent in", "Rear", "As returned"),))
        typed = Typed(
            amount=number(amount), is_waived=True, excess=number(excess), event="Damage, rear" if nth else "", paid=paid
        )  # fmt: skip
        found.append(charged(facts, typed))
        paid += Decimal(0) if found[-1] == "none" else Decimal(found[-1])
    assert "; ".join(found) == charged_words
    assert paid <= number(excess)
