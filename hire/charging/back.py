"""What may be charged when a cart comes back: proposed from the records, worked out once a person decides.

Nothing is charged by itself. Fair wear is excepted, and what is fair wear a person says; the agreement's own words stand over
all of it. Common practice, no source; docs/charges.md works it by hand.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal

from hire.back_terms import DIRT_WORDS
from hire.charging.extras import Cleaning, Fuel, TyreDamage
from hire.charging.lines import Line, lump
from hire.charging.money import cents, exact, money, number
from hire.charging.out_reading import WITHIN_WORDS
from hire.charging.waiver import within_event, within_excess

# A fuel gauge is read in eighths of its tank.
EIGHTHS = 8
REASONS: Mapping[str, str] = {
    "fair_wear": "Fair wear",
    "before": "It was there before",
    "waiver": "The damage waiver covers it",
    "goodwill": "Goodwill",
    "after": "It came after damage was no longer theirs",
}
# A check that is wrong again while a defect of it is open tells no new one: a person says whether it is new.
SAY_FIRST = "Say first whether it is what was there before, or new damage."
NO_OUT_DEPTH = "No depth was read when it went out, so nothing is charged for a tyre."


@dataclass(frozen=True, slots=True)
class Tyre:
    """A tyre as it left. out_mm None: nobody read its depth before it left. cost None: what was paid for it is not known.
    read_on: the day that depth was read; old: how old it was, where that is too old to charge by."""

    code: str
    where: str
    new_mm: Decimal
    out_mm: Decimal | None
    change_out_mm: Decimal
    cost: Decimal | None = None
    read_on: date | None = None
    old: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """Something wrong that was not on the record it left with. tyres: those it may be; is_tyre: it is one of them for sure."""

    id: str
    what: str
    where: str
    shown: str
    tyres: tuple[Tyre, ...] = ()
    is_tyre: bool = False


@dataclass(frozen=True, slots=True)
class FoundAgain:
    """Something wrong where a defect of the same check was open as it left, so that none was told. id: of its answer."""

    id: str
    what: str
    where: str
    shown: str


@dataclass(frozen=True, slots=True)
class KitItem:
    """A thing that went out, counted from 1 as the handover lists it. state: "" not counted yet, "back", "missing", "broken"."""

    number: int
    what: str
    state: str = ""
    words: str = ""


@dataclass(frozen=True, slots=True)
class BackFacts:
    """fuel in eighths, None: not read. fuel_tank_l: what its fuel tanks hold, None: not on record. dirt: "" or a key of
    back_terms.WASH_FIELDS."""

    findings: tuple[Finding, ...] = ()
    again: tuple[FoundAgain, ...] = ()
    fuel_out: Decimal | None = None
    fuel_back: Decimal | None = None
    fuel_tank_l: Decimal | None = None
    dirt: str = ""
    kit: tuple[KitItem, ...] = ()


@dataclass(frozen=True, slots=True)
class Proposal:
    """One thing to decide. key: names it on this hire. kind: "damage", "tyre", "again", "fuel", "cleaning" or "kit"; "again" is
    a question, never a charge. where: of the first three. shown: what shows it. bar: why it cannot be charged, "" when it can.
    short: eighths of fuel; fuel_tank_l: as of BackFacts. dirt: of a cleaning."""

    key: str
    kind: str
    what: str
    shown: str
    where: str = ""
    bar: str = ""
    tyres: tuple[Tyre, ...] = ()
    is_tyre: bool = False
    short: Decimal = Decimal(0)
    fuel_tank_l: Decimal | None = None
    dirt: str = ""


@dataclass(frozen=True, slots=True)
class Typed:
    """What the person who decides typed and looked up. None: left blank. price: of a litre or a man-hour, as agreed where it
    is agreed. is_waived: the damage waiver takes it on, and the hirer pays the excess at most; excess: as agreed. old_why: why a
    tread read too long before still counts, said_by whom. event: what it happened with, charged before, "" by itself; paid: how
    much of its excess was."""

    amount: Decimal | None = None
    tyre: str = ""
    fitted_cost: Decimal | None = None
    call_out: Decimal = Decimal(0)
    docket: str = ""
    litres: Decimal | None = None
    tank_l: Decimal | None = None
    price: Decimal | None = None
    man_hours: Decimal | None = None
    free_hours: Decimal = Decimal(0)
    is_waived: bool = False
    excess: Decimal | None = None
    old_why: str = ""
    said_by: str = ""
    event: str = ""
    paid: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Worked:
    """What a decision charges. kind may have become damage, where the person says that it is no tyre. working: "" where the
    person gave the amount itself."""

    kind: str
    what: str
    unit: str
    amount: Decimal
    working: str
    out_mm: Decimal | None = field(default=None)


class CannotWork(ValueError):
    """What was typed makes no amount; `field` is the part at fault."""

    def __init__(self, sentence: str, field: str) -> None:
        super().__init__(sentence)
        self.field = field


def propose(facts: BackFacts) -> tuple[Proposal, ...]:
    """What a person has to decide, in the order of the page: what is new and wrong, what may be, fuel short, dirt, kit that did not
    come back.

    Hours over are not among them: the charges of the hire itself reckon those.
    """
    found = [_of_finding(finding) for finding in facts.findings]
    found += [
        Proposal(f"again-{one.id}", "again", f"{one.what}, {one.where}", one.shown, one.where, bar=SAY_FIRST)
        for one in facts.again
    ]
    if (
        facts.fuel_out is not None
        and facts.fuel_back is not None
        and (short := facts.fuel_out - facts.fuel_back) > 0
    ):
        shown = f"{number(facts.fuel_out)} of 8 when it left, {number(facts.fuel_back)} of 8 as returned."
        what = f"Fuel, {number(short)} of 8 short"
        if facts.fuel_tank_l is not None:
            shown = f"{shown} By the gauge {gauge_words(short, facts.fuel_tank_l)}."
        found.append(Proposal("fuel", "fuel", what, shown, short=short, fuel_tank_l=facts.fuel_tank_l))
    if facts.dirt and facts.dirt != "rinse":
        shown = f"As returned: {DIRT_WORDS.get(facts.dirt, facts.dirt)}."
        found.append(Proposal("cleaning", "cleaning", "Cleaning", shown, dirt=facts.dirt))
    for item in facts.kit:
        if item.state in ("missing", "broken"):
            shown = f"It went out on the handover list and is {item.state}. {item.words}".strip()
            found.append(Proposal(f"kit-{item.number}", "kit", f"{item.what}, {item.state}", shown))
    return tuple(found)


def _of_finding(finding: Finding) -> Proposal:
    is_read = any(tyre.out_mm is not None for tyre in finding.tyres)
    return Proposal(
        key=f"defect-{finding.id}",
        kind="tyre" if finding.tyres else "damage",
        what=f"{finding.what}, {finding.where}",
        shown=finding.shown,
        where=finding.where,
        bar=NO_OUT_DEPTH if finding.is_tyre and not is_read else "",
        tyres=finding.tyres,
        is_tyre=finding.is_tyre,
    )


def work_out(proposal: Proposal, typed: Typed) -> Worked:
    """What a proposal charges by what was typed, to the cent. CannotWork for what is missing, below zero or comes to nothing."""
    if proposal.bar:
        raise CannotWork(proposal.bar, "")
    by_kind = {"tyre": _tyre, "fuel": _fuel, "cleaning": _cleaning}
    try:
        worked = by_kind.get(proposal.kind, _sum)(proposal, typed)
    except CannotWork:
        raise
    except ValueError as error:
        raise CannotWork(str(error), "") from error
    if worked.amount <= 0:
        raise CannotWork("That comes to nothing. Let it go instead, and say why.", "")
    return _within(worked, typed, typed.excess) if typed.is_waived and typed.excess else worked


def _within(worked: Worked, typed: Typed, excess: Decimal) -> Worked:
    """The lesser of what it comes to and the excess, or what is left of it after what happened at the same event."""
    if not typed.event:
        amount, words = within_excess(worked.amount, excess)
    elif typed.paid < excess:
        amount, words = within_event(worked.amount, excess, typed.paid, typed.event)
    else:
        raise CannotWork(
            f"The excess of {money(excess)} is charged already with {typed.event}, so nothing of the same event is left to charge. "
            "Let it go: the damage waiver covers it.",
            "same_event",
        )
    return replace(worked, amount=amount, working=" = ".join(filter(None, (worked.working, words))))


def _given(value: Decimal | None, sentence: str, field: str) -> Decimal:
    if value is None:
        raise CannotWork(sentence, field)
    return value


def _sum(proposal: Proposal, typed: Typed) -> Worked:
    amount = _given(typed.amount, "Give the amount, before tax.", "amount")
    exact(amount, "The amount")
    if proposal.kind == "kit":
        return Worked("kit", proposal.what, "piece", cents(amount), "")
    where = f"{proposal.where[:1].lower()}{proposal.where[1:]}"
    return Worked("damage", f"Damage, {where}", "piece", cents(amount), "")


def _tyre(proposal: Proposal, typed: Typed) -> Worked:
    if not typed.tyre:
        if proposal.is_tyre:
            raise CannotWork("Say which tyre it is.", "tyre")
        return _sum(proposal, typed)
    tyre = next((each for each in proposal.tyres if each.code == typed.tyre), None)
    if tyre is None:
        raise CannotWork("That tyre did not leave with the cart. Choose one of those shown.", "tyre")
    if tyre.out_mm is None:
        raise CannotWork(f"Tyre, {tyre.where}: {NO_OUT_DEPTH[0].lower()}{NO_OUT_DEPTH[1:]}", "tyre")
    cost = _given(typed.fitted_cost, "Give what a new tyre costs, fitted.", "fitted_cost")
    damage = TyreDamage(
        tyre.where, cost, tyre.new_mm, tyre.out_mm, tyre.change_out_mm, typed.call_out, tyre.read_on
    )
    line, why = damage.line(), _why_it_counts(tyre, typed)
    if line is None:
        raise CannotWork(NO_OUT_DEPTH, "tyre")
    return Worked("tyre", line.what, "tyre", line.amount, f"{why}{line.working}", out_mm=tyre.out_mm)


def _why_it_counts(tyre: Tyre, typed: Typed) -> str:
    """Why a depth read too long before it left is charged by. CannotWork where nobody says."""
    if not tyre.old:
        return ""
    why = typed.old_why.strip().rstrip(".")
    if not why:
        raise CannotWork(
            f"Tyre, {tyre.where}: its tread was {tyre.old} when it went out, and a reading counts for {WITHIN_WORDS}. Say why it "
            "still counts, or let it go.",
            "old_why",
        )
    return f"the tread was {tyre.old} when it went out, and counts as {typed.said_by} says: {why}; "


def _fuel(proposal: Proposal, typed: Typed) -> Worked:
    """By the litres of the docket it was filled with, else by the gauge, which is an estimate and says so."""
    price = _given(typed.price, "No price of fuel is agreed: give the price a litre.", "price")
    if typed.litres is not None:
        if not typed.docket:
            raise CannotWork("Give the number of the docket it was filled by.", "docket")
        line = Fuel(typed.docket, typed.litres, price).line()
        working = line.working if line else ""
        return Worked("fuel", "Fuel", "fill", line.amount if line else Decimal(0), working)
    tank = _given(
        typed.tank_l, "Give the litres by the docket, or what the fuel tank holds for an estimate.", "litres"
    )
    exact(tank, "The fuel tank")
    exact(price, "The price of fuel")
    working = f"estimate by the gauge: {gauge_words(proposal.short, tank)} × {money(price)}"
    return Worked(
        "fuel", "Fuel, by the gauge", "fill", cents(gauge_litres(proposal.short, tank) * price), working
    )


def gauge_litres(short: Decimal, tank_l: Decimal) -> Decimal:
    """Litres that so many eighths of a tank are."""
    return short * tank_l / EIGHTHS


def gauge_words(short: Decimal, tank_l: Decimal) -> str:
    return f"{number(short)} of 8 × {number(tank_l)} L = {number(gauge_litres(short, tank_l))} L"


def _cleaning(proposal: Proposal, typed: Typed) -> Worked:
    hours = _given(typed.man_hours, "Give the man-hours it took to wash.", "man_hours")
    price = _given(typed.price, "No price of this washing is agreed: give the price a man-hour.", "price")
    line = Cleaning(hours, typed.free_hours, price).line()
    if line is None:
        raise CannotWork(
            f"{number(hours)} man-hours are within the {number(typed.free_hours)} that are free.", "man_hours"
        )
    return Worked("cleaning", "Cleaning", "wash", line.amount, line.working)


@dataclass(frozen=True, slots=True)
class Decided:
    """What a person decided to charge, as it was worked out then."""

    key: str
    what: str
    unit: str
    amount: Decimal
    working: str
    is_taxed: bool = True

    def line(self) -> Line | None:
        return replace(
            lump(self.key, self.what, self.amount, self.unit, self.working), is_taxed=self.is_taxed
        )

    def note(self) -> str:
        return ""
