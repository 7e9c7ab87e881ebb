"""Whatever happens between documents of a hire: they add up to the whole reckoned at once at the end, and every line recomputes."""

import ast
import operator
import re
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hire.charge_facts import docket_body
from hire.charges import (
    Docket,
    GivenUp,
    Hire,
    HoursTerms,
    Item,
    Reading,
    StandDown,
    StandDownTerms,
    Terms,
    WetTerms,
    cents,
    charge,
)
from hire.charging.lines import HIRE
from hire.charging.money import money
from tests.factories.charges import ADELAIDE, OUT_AT

START = OUT_AT.date()
CARD = {1: Decimal("290.35"), 7: Decimal("1450.25"), 28: Decimal("5000.05")}
WET = WetTerms(
    Decimal("165.25"),
    travel_price=Decimal("95.15"),
    overtime_after=Decimal(8),
    night=Decimal("1.25"),
    sunday=Decimal(2),
)
BEST = Terms("best rate", CARD, tax_rate=Decimal("0.0825"))
TERMS = [
    BEST,
    replace(BEST, rule="as agreed", re_rates_on_early_return=True, waiver_share=Decimal("0.115")),
    replace(BEST, rule="as agreed", minimum_days=9, waiver_day=Decimal("12.35")),
    replace(BEST, rule="fixed", fixed_length=7, shifts_a_day=2),
    replace(
        BEST,
        rule="agreed minimum",
        minimum_days=12,
        days_in_week=5,
        rates={1: CARD[1], 5: Decimal("1160.45")},
    ),
    replace(BEST, shifts_a_day=2, minimum_days=7),
    replace(BEST, rates={1: CARD[1]}, minimum_days=7, stand_down=StandDownTerms(price=Decimal("120.10"))),
    replace(BEST, hours=HoursTerms(Decimal("7.6"), "engine", "week", Decimal("95.55"))),
    replace(BEST, hours=HoursTerms(Decimal(8), "engine", "whole hire", Decimal("95.55")), days_in_week=6),
    replace(BEST, month="calendar", month_price=Decimal("5200.45")),
    replace(
        BEST,
        rule="as agreed",
        month="calendar",
        month_price=Decimal("5200.45"),
        re_rates_on_early_return=True,
    ),
    replace(BEST, rule="fixed", rates={}, month="calendar", month_price=Decimal("5200.45"), shifts_a_day=2),
    replace(BEST, wet=WET, waiver_share=Decimal("0.12")),
]
DAYS = st.integers(0, 39)
STEPS = st.one_of(
    st.tuples(st.just("docket"), DAYS),
    st.tuples(st.just("rain"), DAYS),
    st.tuples(st.just("broken"), DAYS),
    st.tuples(st.just("beside"), st.tuples(st.decimals("0.01", "400", places=2), st.booleans())),
    st.tuples(st.just("strike"), st.integers(0, 5)),
    st.tuples(st.just("terms"), st.sampled_from(TERMS)),
    st.tuples(st.just("agreed"), st.integers(1, 40)),
    st.tuples(st.just("off"), DAYS),
    st.tuples(st.just("on again"), st.none()),
    st.tuples(st.just("day"), st.tuples(DAYS, st.decimals("0", "14", places=2), st.booleans())),
    st.tuples(st.just("sign"), st.integers(0, 9)),
    st.tuples(st.just("replace"), st.integers(0, 9)),
    st.tuples(st.just("read"), st.tuples(DAYS, st.integers(0, 90))),
    st.tuples(st.just("give up"), st.tuples(st.integers(0, 9), st.sampled_from(["0.1", "0.5", "1"]))),
)


def on(day):
    return START + timedelta(days=day)


def hour(day, at, zone=ADELAIDE):
    return datetime(2026, 3, 2, at, tzinfo=zone) + timedelta(days=day)


class Desk:
    """A hire as its desk keeps it, and the documents made of it."""

    def __init__(self, zone=ADELAIDE):
        self.terms, self.made, self.given_up, self.extras = TERMS[0], [], [], {}
        self.charged_by = []
        self.zone, out_at = zone, OUT_AT.replace(tzinfo=zone)
        self.hire = Hire(out_at, None, zone, agreed_days=21, readings=[Reading(out_at, Decimal(1000))])

    def do(self, what, it):
        getattr(self, f"_{what.replace(' ', '_')}")(it)

    def _docket(self, day):
        through = on(day)
        if not self.made or through >= self.made[-1].through:
            self._make(through)

    def _make(self, through):
        self.charged_by.append(self.terms)
        self.made.append(
            charge(self.facts(), terms=self.terms, through=through, earlier=[one.billed for one in self.made])
        )

    def facts(self):
        return replace(self.hire, extras=[*self.extras.values(), *self.given_up])

    def _stood_down(self, day, why):
        if on(day) not in {one.on for one in self.hire.stand_downs}:
            row = StandDown(on(day), why, hour(day, 6, self.zone))
            self.hire = replace(self.hire, stand_downs=[*self.hire.stand_downs, row])

    def _rain(self, day):
        self._stood_down(day, "rain")

    def _broken(self, day):
        self._stood_down(day, "breakdown")

    def _beside(self, it):
        price, is_taxed = it
        key = f"beside {len(self.extras) + 1}"
        self.extras[key] = Item(key, "Delivery", Decimal("1.5"), "trip", price, is_taxed)

    def _strike(self, number):
        # As the desk may: never what was given up.
        self.extras.pop(f"beside {number}", None) if f"beside {number}" not in {
            one.of for one in self.given_up
        } else None

    def _terms(self, terms):
        self.terms = terms

    def _agreed(self, days):
        self.hire = replace(self.hire, agreed_days=days)

    def _off(self, day):
        self.hire = replace(self.hire, off_hire_at=hour(day, 15, self.zone))

    def _on_again(self, _):
        self.hire = replace(self.hire, off_hire_at=None)

    def _day(self, it):
        day, hours, is_signed = it
        row = Docket(f"W{len(self.hire.dockets)}", on(day), hours, Decimal("1.5"), is_signed=is_signed)
        self.hire = replace(self.hire, dockets=[*self.hire.dockets, row])

    def _sign(self, number):
        rows = [
            replace(one, is_signed=one.is_signed or n == number) for n, one in enumerate(self.hire.dockets)
        ]
        self.hire = replace(self.hire, dockets=rows)

    def _replace(self, number):
        """Another number, other hours: what the first charged is charged no longer."""
        rows = [
            replace(one, number=f"{one.number}R", hours=one.hours / 2) if n == number else one
            for n, one in enumerate(self.hire.dockets)
        ]
        self.hire = replace(self.hire, dockets=rows)

    def _read(self, it):
        day, hours = it
        shown = max(self.hire.readings, key=lambda one: one.at)
        at = hour(day, 18, self.zone)
        if at > shown.at:
            row = Reading(at, shown.hours + hours)
            self.hire = replace(self.hire, readings=[*self.hire.readings, row])

    def _give_up(self, it):
        """A part of a line of the newest document, or what is left of it; never more, as the desk is held to."""
        number, part = it
        lines = self.made[-1].lines if self.made else ()
        lines = [one for one in lines if one.amount > 0 and not one.key.startswith("dispute")]
        if not lines:
            return
        line = lines[number % len(lines)]
        key = f"dispute {len(self.made)} {line.key}"
        if key not in {one.key for one in self.given_up}:
            amount = cents(line.amount * Decimal(part))
            self.given_up.append(GivenUp(key, line.what, amount, "said so", of=line.key))


# One whose clocks go back in these weeks, one whose go forward, one whose never change, one far from the yard's day.
ZONES = [ADELAIDE, *(ZoneInfo(name) for name in ("Europe/London", "Australia/Perth", "Pacific/Honolulu"))]


@given(steps=st.lists(STEPS, max_size=24), last=DAYS, zone=st.sampled_from(ZONES))
@settings(max_examples=300)
def test_the_documents_add_up_whatever_happens_between_them(steps, last, zone):
    desk = Desk(zone)
    for what, it in steps:
        desk.do(what, it)
    if desk.hire.off_hire_at is None:
        desk._off(last)
    desk._make(None)
    whole = charge(desk.facts(), terms=desk.terms)
    assert sum(one.net for one in desk.made) == whole.net
    assert sum(one.untaxed for one in desk.made) == whole.untaxed
    keys = {key for one in (*desk.made, whole) for key in one.billed.amounts}
    for key in keys:
        assert sum(one.billed.amounts.get(key, 0) for one in desk.made) == whole.billed.amounts.get(key, 0), (
            key
        )
    for given_up in desk.given_up:
        of = [whole.billed.amounts.get(one.key, 0) for one in desk.given_up if one.of == given_up.of]
        assert whole.billed.amounts.get(given_up.of, 0) + sum(of) >= 0, given_up.of
        assert all(amount <= 0 for amount in of)
    for document in (*desk.made, whole):
        check_lines(document)
        assert document.taxed + document.untaxed == document.net
    for document, terms in zip(desk.made, desk.charged_by, strict=True):
        assert document.tax == cents(document.taxed * terms.tax_rate)


def check_lines(document):
    """As an accounts program has them, and as a customer with a pencil does."""
    for line, stored in zip(document.lines, docket_body(document)["lines"], strict=True):
        assert cents(Decimal(stored["quantity"]) * Decimal(stored["unit_price"])) == line.amount, stored
        assert f": {line.key}" not in line.what or line.key == HIRE, line.what
        recompute(line)


ASIDES = r"; hours shared out evenly between readings|, in place of the day's hire(; told [^=]*)?"
SHARE = re.compile(r"([\d.]+) % of the hire, ([\d,.]+)")
TO_DATE = re.compile(
    r"^(.*) to date; (-?[\d,.]+) charged before(?: and (-?[\d,.]+) above)?(?:, so (credit|debit) ([\d,.]+))?$"
)
EQUALS = re.compile(r"^(.*) = (-?[\d,.]+)$")


def recompute(line):
    working = re.sub(ASIDES, "", line.working)
    if "said so" in working or "charged before, by the day" in working:
        return
    if found := TO_DATE.match(working):
        to_date, before, above, kind, turned = found.groups()
        amount = number_of(re.split(r"[ =]", to_date)[-1])
        check_sums(to_date)
        left = amount - number_of(before) - number_of(above or "0")
        assert left == line.amount, line
        assert kind is None or number_of(turned) * (-1 if kind == "credit" else 1) == line.amount, line
    elif "so that the documents add up to" in working:
        sums, kept = working.split("; ")
        assert number_of(kept.split(" ")[0]) == line.amount
        assert abs(value(sums) - Fraction(line.amount)) < Fraction(2, 100), line
    elif "; " in working:
        check_sums(working)
        assert number_of(working.split(" ")[-1]) == line.amount, line
    elif found := SHARE.match(working):
        assert cents(Decimal(found[1]) / 100 * number_of(found[2])) == line.amount, line
    elif " × " in working:
        assert cents(value(working)) == line.amount, line
    else:
        assert money(abs(line.amount)) in working, line


def check_sums(words):
    """Where it says what its sums come to: "3 × 1,450.00 = 4,350.00", after other words."""
    head = words.split("; ")[0]
    if (found := EQUALS.match(head)) and "×" in found[1]:
        assert cents(value(found[1])) == number_of(found[2]), words


def number_of(text):
    return Decimal(text.replace(",", ""))


OPERATIONS = {ast.Mult: operator.mul, ast.Div: operator.truediv, ast.Add: operator.add, ast.Sub: operator.sub}


def value(working):
    """What the sums at the end of a working come to."""
    text = working.rsplit(": ", 1)[-1].replace(",", "").replace("×", "*")
    text = re.sub(
        r"for \d shifts a day|overtime|Sunday|night|public holiday|[a-zA-Z ]*[a-zA-Z](?= \*)", "", text
    )
    return reckoned(ast.parse(text.strip(), mode="eval").body)


def reckoned(node):
    if isinstance(node, ast.BinOp):
        return OPERATIONS[type(node.op)](reckoned(node.left), reckoned(node.right))
    assert isinstance(node, ast.Constant), ast.dump(node)
    return Fraction(str(node.value))


def test_a_working_that_is_wrong_is_seen():
    found = charge(Hire(OUT_AT, hour(21, 15), ADELAIDE), terms=BEST)
    recompute(found.lines[0])
    with pytest.raises(AssertionError):
        recompute(replace(found.lines[0], amount=found.lines[0].amount + Decimal("0.01")))
