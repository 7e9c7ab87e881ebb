"""What is proposed when a cart comes back, and what each decision charges: facts in, words and cents out."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from hire.back_terms import BackTerms, back_terms_from
from hire.charging.back import (
    BackFacts,
    CannotWork,
    Decided,
    Finding,
    KitItem,
    Typed,
    Tyre,
    propose,
    work_out,
)

OUTER = Tyre("2LO", "axle 2 left outer", Decimal(18), Decimal(11), Decimal(4), Decimal(980))
INNER = Tyre("2LI", "axle 2 left inner", Decimal(18), None, Decimal(4), Decimal(980))
CUT = Finding("7", "Tyres by eye", "Left rear wheels", "Cut.", tyres=(OUTER, INNER), is_tyre=True)


def only(**facts):
    (found,) = propose(BackFacts(**facts))
    return found


def refused(proposal, **typed):
    with pytest.raises(CannotWork) as no:
        work_out(proposal, Typed(**typed))
    return no.value


def test_everything_found_is_proposed_in_the_order_of_the_page():
    found = propose(
        BackFacts(
            findings=(Finding("1", "As it came back", "Rear", "Dent."), CUT),
            fuel_out=Decimal(8),
            fuel_back=Decimal(6),
            dirt="clay",
            kit=(
                KitItem(1, "Standpipe SP-14", "missing", "Left at the main"),
                KitItem(2, "Hose", "back"),
                KitItem(3, "Key"),
            ),
        )
    )
    assert [(one.key, one.kind) for one in found] == [
        ("defect-1", "damage"), ("defect-7", "tyre"), ("fuel", "fuel"), ("cleaning", "cleaning"), ("kit-1", "kit"),
    ]  # fmt: skip
    assert found[2].shown == "8 of 8 when it left, 6 of 8 as returned."
    assert found[4].what == "Standpipe SP-14, missing"
    assert found[4].shown.endswith("Left at the main")


def test_nothing_found_is_nothing_to_decide():
    assert propose(BackFacts(fuel_out=Decimal(8), fuel_back=Decimal(8), dirt="rinse")) == ()


def test_a_tyre_is_charged_by_the_tread_it_left_with():
    """The first row of "Tyre damage" in docs/charges.md."""
    worked = work_out(
        only(findings=(CUT,)), Typed(tyre="2LO", fitted_cost=Decimal(980), call_out=Decimal(120))
    )
    assert (worked.kind, worked.amount, worked.out_mm) == ("tyre", Decimal("610.00"), Decimal(11))
    assert (
        worked.working == "7 of 14 mm of tread were left when it went out: 980.00 × 7 / 14 + call-out 120.00"
    )


OLD = replace(OUTER, read_on=date(2026, 1, 10), old="65 days old")


def test_a_tread_read_too_long_before_is_charged_only_when_somebody_says_why():
    cut = only(findings=(replace(CUT, tyres=(OLD,)),))
    no = refused(cut, tyre="2LO", fitted_cost=Decimal(980), old_why=" . ")
    assert (no.field, "65 days old when it went out, and a reading counts for 14 days and 1,000 km" in str(no)) == (
        "old_why", True,
    )  # fmt: skip
    typed = Typed(
        tyre="2LO", fitted_cost=Decimal(980), old_why="It stood in the shed.", said_by="Noor Haddad"
    )
    assert work_out(cut, typed).working == (
        "the tread was 65 days old when it went out, and counts as Noor Haddad says: It stood in the shed; 7 of 14 mm of tread "
        "were left when it went out, read on 10 January 2026: 980.00 × 7 / 14"
    )


def test_a_tyre_nobody_measured_is_never_charged():
    cut = only(findings=(CUT,))
    assert refused(cut, tyre="2LI", fitted_cost=Decimal(980)).field == "tyre"
    assert refused(cut, fitted_cost=Decimal(980), amount=Decimal(500)).field == "tyre"
    assert refused(cut, tyre="1L", fitted_cost=Decimal(980)).field == "tyre"
    barred = only(
        findings=(Finding("7", "Tyres by eye", "Left rear wheels", "Cut.", tyres=(INNER,), is_tyre=True),)
    )
    assert "No depth was read" in barred.bar
    assert "No depth was read" in str(refused(barred, tyre="2LI", fitted_cost=Decimal(980)))


def test_what_may_be_a_rim_is_charged_as_damage_when_the_desk_says_so():
    seen = only(findings=(Finding("8", "Wheels at a glance", "Left rear wheels", "Bent.", tyres=(OUTER,)),))
    worked = work_out(seen, Typed(amount=Decimal(240)))
    assert (worked.kind, worked.amount, worked.out_mm) == ("damage", Decimal("240.00"), None)


@pytest.mark.parametrize(
    ("facts", "typed", "field"),
    [
        ({"findings": (CUT,)}, {"tyre": "2LO"}, "fitted_cost"),
        ({"findings": (Finding("1", "Dent", "Rear", "x"),)}, {}, "amount"),
        ({"findings": (Finding("1", "Dent", "Rear", "x"),)}, {"amount": Decimal(0)}, ""),
        ({"findings": (Finding("1", "Dent", "Rear", "x"),)}, {"amount": Decimal(-5)}, ""),
        ({"fuel_out": Decimal(8), "fuel_back": Decimal(6)}, {"price": Decimal(2)}, "litres"),
        ({"fuel_out": Decimal(8), "fuel_back": Decimal(6)}, {"litres": Decimal(90)}, "price"),
        ({"fuel_out": Decimal(8), "fuel_back": Decimal(6)}, {"litres": Decimal(90), "price": Decimal(2)}, "docket"),
        ({"dirt": "clay"}, {"price": Decimal(85)}, "man_hours"),
        ({"dirt": "clay"}, {"man_hours": Decimal(3)}, "price"),
        ({"dirt": "clay"}, {"man_hours": Decimal(1), "price": Decimal(85), "free_hours": Decimal(1)}, "man_hours"),
    ],
)  # fmt: skip
def test_what_makes_no_amount_names_the_part_at_fault(facts, typed, field):
    assert refused(only(**facts), **typed).field == field


def test_an_estimate_by_the_gauge_says_so():
    worked = work_out(
        only(fuel_out=Decimal(8), fuel_back=Decimal(5)), Typed(tank_l=Decimal(400), price=Decimal("1.985"))
    )
    assert worked.amount == Decimal("297.75")
    assert worked.working == "estimate by the gauge: 3 of 8 × 400 L = 150 L × 1.985"


def test_the_gauge_is_worked_out_where_the_tank_is_on_record():
    short = {"fuel_out": Decimal(8), "fuel_back": Decimal(5)}
    assert only(**short, fuel_tank_l=Decimal(400)).shown.endswith("By the gauge 3 of 8 × 400 L = 150 L.")
    assert "By the gauge" not in only(**short).shown


def test_a_decided_charge_is_a_line_of_one_with_its_working():
    line = Decided("beside 1", "Dent", "piece", Decimal("240.00"), "New side board").line()
    assert (line.key, line.amount, line.quantity, line.working) == (
        "beside 1",
        Decimal("240.00"),
        Decimal(1),
        "New side board",
    )


def test_terms_from_before_they_were_asked_for_say_nothing_of_what_comes_back():
    assert back_terms_from({"rates": {"1": "290"}}) == BackTerms()
    terms = back_terms_from({"fuel_price": "1.985", "wash_mud_price": "85", "waiver_pct": "12"})
    assert (terms.fuel_price, terms.has_waiver) == (Decimal("1.985"), True)
    assert terms.wash_prices == {"rinse": Decimal(85), "caked": Decimal(85)}
