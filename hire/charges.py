"""What a hire costs: the least cover of its days, and its charges as lines that show their working.

The agreement's own words decide, and stand over every rule and default here; none of it is tax advice. docs/charges.md works
it by hand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction

from hire.charging.cover import BestRate, best_rate
from hire.charging.days import Days, days_of
from hire.charging.extras import Cleaning, Extra, Fuel, GivenUp, Item, TyreDamage, tyre_charge
from hire.charging.facts import AgreedHours, Docket, Hire, Reading, StandDown
from hire.charging.hours import excess_lines, uncounted_words
from hire.charging.interim import Spell, by_the_day_no_longer, since, spell_lines
from hire.charging.lines import HIRE, WAIVER, Billed, Charges, Line, line_of, lump
from hire.charging.money import cents, counted, day_words, money, percent
from hire.charging.rates import Priced, price
from hire.charging.terms import HoursTerms, StandDownTerms, Terms, WetTerms
from hire.charging.wet import docket_lines

__all__ = [
    "AgreedHours",
    "BestRate",
    "Billed",
    "Charges",
    "Cleaning",
    "Docket",
    "Extra",
    "Fuel",
    "GivenUp",
    "Hire",
    "HoursTerms",
    "Item",
    "Line",
    "Reading",
    "StandDown",
    "StandDownTerms",
    "Terms",
    "TyreDamage",
    "WetTerms",
    "best_rate",
    "cents",
    "charge",
    "tyre_charge",
]


def charge(
    hire: Hire, *, terms: Terms, through: date | None = None, earlier: Sequence[Billed] = ()
) -> Charges:
    """The charges of a hire up to and with the day `through` (None: to the off-hire), less what earlier documents charged.

    Whole amounts are reckoned to date each time and what was charged before is taken off, so the nets of a hire's documents add up
    to the whole to the cent, whatever its rule; where days charged before now come to another amount, a line of its own says why.
    Every line is rounded once, half up; the tax is that of what is taxed of the document's own net, rounded once.

    ValueError for a hire still out with no day to charge up to, and for a day before the handover; terms and facts refuse the rest.
    """
    days = days_of(hire, terms, through)
    notes, credit, hire_lines, uncounted = list(days.notes), Decimal("0.00"), [], ""
    others: list[Line] = []
    before = sum((document.amounts.get(HIRE, Decimal(0)) for document in earlier), Decimal(0))
    if terms.wet is not None:
        others, uncharged = docket_lines(hire, terms.wet, days)
        notes += uncharged
        hire_amount = sum((line.amount for line in others), Decimal(0))
        hire_lines = by_the_day_no_longer(before)
    else:
        spell, credit = _spell(hire, terms, days, earlier)
        hire_lines, hire_amount = spell_lines(spell, before), spell.amount
        billed_to = [document.through for document in earlier]
        others = excess_lines(hire, terms, days, billed_to)
        uncounted = uncounted_words(hire, terms, days, billed_to)
        notes += [uncounted] if uncounted else []
    others += _stood_down(hire, terms, days)
    others += _waiver(terms, days, hire_amount)
    hire_line = lump(HIRE, "Hire", Decimal(0) if terms.wet else hire_amount, "hire", "")
    kept = _kept([*others, hire_line], hire.extras, days)
    others += [line for extra in kept if (line := extra.line()) is not None]
    notes += [note for extra in kept if (note := extra.note())]
    lines = [*hire_lines, *since(others, earlier)]
    found = _document(lines, days, tax_rate=terms.tax_rate, credit=credit, notes=notes)
    return replace(found, hours_uncounted=uncounted)


def _spell(hire: Hire, terms: Terms, days: Days, earlier: Sequence[Billed]) -> tuple[Spell, Decimal]:
    """The hire itself, and what an early return saves on the length agreed."""
    agreed = days.week.first_of(hire.agreed_days or 0, days.first)
    is_early = days.is_last and 0 < len(days.stay) < len(agreed)
    by = max(days.stay, days.charged, days.week.first_of(_promised(terms), days.first), key=len)
    if len(agreed) > len(by) and not (is_early and terms.re_rates_on_early_return):
        by = agreed

    def priced(some: Sequence[date], start: date = days.first) -> Priced:
        return price(some, start=start, week=days.week, terms=terms, by=by)

    to_date = _told(priced(days.charged), days)
    amount, why, credit = to_date.amount, _why(terms, days, agreed, is_early=is_early), Decimal("0.00")
    if is_early:
        whole = price(
            days.kept_for(agreed), start=days.first, week=days.week, terms=terms, by=max(agreed, by, key=len)
        ).amount
        if amount > whole:
            # Nobody pays more for bringing a cart back than for keeping it.
            amount, why = whole, f"{why} never more than the {counted(len(agreed), 'day')} agreed,"
        credit = whole - amount
    billed_to = max((document.through for document in earlier if HIRE in document.amounts), default=None)
    fresh = [on for on in days.charged if billed_to is not None and on > billed_to]
    older = [on for on in days.charged if billed_to is not None and on <= billed_to]
    is_by_day = terms.rule != "best rate"
    spell = Spell(
        first=days.first,
        last=days.last,
        billed_to=billed_to,
        to_date=to_date,
        fresh=_told(priced(fresh, days.first if is_by_day else fresh[0]), days, billed_to) if fresh else None,
        older=priced(older) if is_by_day else None,
        amount=amount,
        why=why,
    )
    return spell, credit


def _told(priced: Priced, days: Days, after: date | None = None) -> Priced:
    """The price with what took days off or put them on, since the document before."""
    rain, broken = (sum(after is None or on > after for on in off) for off in (days.rain, days.breakdown))
    words = [f"less {counted(rain, 'day')} for rain"] if rain else []
    words += [f"less {counted(broken, 'day')} broken down"] if broken else []
    words += ["minimum hire"] if days.charged and days.charged[-1] > days.last else []
    return replace(priced, words=", ".join([*words, priced.words]))


def _promised(terms: Terms) -> int:
    """The days whose rate is given from the first day on because they are paid anyhow."""
    return terms.minimum_days if terms.rule == "agreed minimum" else 0


def _why(terms: Terms, days: Days, agreed: Sequence[date], *, is_early: bool) -> str:
    if is_early:
        return f"Back after {len(days.stay)} of {counted(len(agreed), 'day')} agreed:"
    if terms.rule == "best rate":
        return "Best rate over all days so far:"
    if terms.rule == "as agreed":
        return "All days so far at the rate they have reached:"
    return "The days charged before have changed:"


def _kept(charged: Sequence[Line], extras: Sequence[Extra], days: Days) -> list[Extra]:
    """The extras, of what was given up no more than is still charged: else what comes back by itself is credited twice."""
    left: dict[str, Decimal] = {}
    untaxed: set[str] = set()
    given_up = [each for each in extras if isinstance(each, GivenUp)]
    others = [each for each in extras if not isinstance(each, GivenUp)]
    for line in (*charged, *(line for extra in others if (line := extra.line()) is not None)):
        left[line.key] = left.get(line.key, Decimal(0)) + line.amount
        untaxed |= set() if line.is_taxed else {line.key}
    kept: list[Extra] = list(others)
    for each in given_up:
        some = each.without([on for on in each.on if days.is_over(on)])
        some = some.at_most(left.get(each.of, Decimal(0))) if each.of else some
        left[each.of] = left.get(each.of, Decimal(0)) - some.amount
        kept.append(replace(some, is_taxed=each.of not in untaxed))
    return kept


def _stood_down(hire: Hire, terms: Terms, days: Days) -> list[Line]:
    """What a day stood down for rain still costs, a line a day: they are claimed and argued by the day. A day of wet hire that a
    signed docket charges costs nothing besides."""
    each = terms.stand_down.price
    if not each:
        return []
    by_docket = {docket.on for docket in hire.dockets if docket.is_signed and terms.wet}
    return [
        line_of(
            f"rain {on}",
            f"Stood down for rain, {day_words(on)}",
            1,
            "day",
            each,
            working=f"1 day stood down × {money(each)}, in place of the day's hire{days.rain_words.get(on, '')}",
        )
        for on in days.rain
        if on not in by_docket
    ]


def _waiver(terms: Terms, days: Days, hire_amount: Decimal) -> list[Line]:
    """The damage waiver, by the day charged or as a share of the hire."""
    if terms.waiver_day and days.charged:
        count = len(days.charged)
        working = f"{counted(count, 'day')} charged × {money(terms.waiver_day)}"
        return [line_of(WAIVER, "Damage waiver", count, "day", terms.waiver_day, working=working)]
    if not terms.waiver_share or not hire_amount:
        return []
    amount = cents(hire_amount * terms.waiver_share)
    working = f"{percent(terms.waiver_share)} of the hire, {money(hire_amount)}"
    return [lump(WAIVER, "Damage waiver", amount, "waiver", working)]


def _document(
    lines: list[Line], days: Days, *, tax_rate: Decimal, credit: Decimal, notes: list[str]
) -> Charges:
    net = sum((line.amount for line in lines), Decimal("0.00"))
    taxed = sum((line.amount for line in lines if line.is_taxed), Decimal("0.00"))
    tax = cents(Fraction(taxed) * Fraction(tax_rate))
    return Charges(
        lines=tuple(lines),
        net=net,
        tax=tax,
        total=net + tax,
        through=days.last,
        hire_days=len(days.charged),
        is_last=days.is_last,
        early_return_credit=credit,
        notes=tuple(notes),
    )
