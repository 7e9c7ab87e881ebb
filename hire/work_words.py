"""The work of a hire as it can be corrected, and what else changes with it, in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fleet.gear import GEAR
from hire.actions.needs import needs_facts
from hire.charge_facts import shifts_charged, terms_of
from hire.models.agreements import Agreement, Line
from hire.public_holidays import holidays_words
from hire.suiting import ANY_CART, Needs, needs_words
from hire.where import RULES_OF, place_words
from people.canonical import sha256_hex

# What stands on a certificate or decides what does.
ON_PAPER = frozenset({"place_of_work", "leaves_by", "works_on", "water", "time_zone", "rule_set"})
WHERE = frozenset({"time_zone", "rule_set", "holiday_region"})
OWED_BY = frozenset({"pre_start_book", "shift"})


@dataclass(frozen=True)
class WorkSaid:
    """What is said of a hire's work, and what its cart must be."""

    place_of_work: str
    leaves_by: str
    works_on: str
    water: str
    pre_start_book: str
    shift: str
    time_zone: str
    rule_set: str
    holiday_region: str
    needs: Needs = ANY_CART
    # This very cart was promised.
    is_this_cart: bool = False

    def facts(self) -> dict[str, object]:
        return vars(self) | {"needs": needs_facts(self.needs)}


def said_of(line: Line) -> WorkSaid:
    about = line.agreement
    return WorkSaid(
        about.place_of_work, about.leaves_by, about.works_on, about.water, about.pre_start_book, about.shift,
        about.time_zone, about.rule_set, about.holiday_region, line.needs, line.is_this_cart,
    )  # fmt: skip


def stamp(line: Line) -> str:
    """Of the work as it is: a form that comes back with another was filled in before somebody else changed it."""
    return sha256_hex(repr(sorted((name, str(value)) for name, value in said_of(line).facts().items())))


def changed_facts(before: WorkSaid, after: WorkSaid) -> tuple[dict[str, object], dict[str, object]]:
    """What differs, as it was and as it is."""
    was, now = before.facts(), after.facts()
    names = [name for name in was if was[name] != now[name]]
    return {name: was[name] for name in names}, {name: now[name] for name in names}


def also_changes(line: Line, before: WorkSaid, changed: Mapping[str, object]) -> Iterator[str]:
    """What else changes, a sentence each. line: as it is now."""
    about = line.agreement
    if ON_PAPER & set(changed):
        if line.is_out:
            yield "The certificate it left with stays as it is."
        else:
            yield "Its certificate is withdrawn, and one is issued anew as soon as the cart is fit for it."
        if line.packs.exists():
            yield "The site pack goes out again: make a new one."
    if OWED_BY & set(changed) and line.is_out:
        if about.pre_start_book == "ours":
            shift = "each shift, day and night" if about.shifts_a_day > 1 else "each day"
            yield f"From now on a pre-start is owed to us for {shift}."
        elif before.pre_start_book == "ours":
            yield "From now on no pre-start is owed to us."
    if "shift" in changed:
        yield from _charged(line)
    yield from _where(about, changed)
    if "needs" in changed:
        words = ", ".join(needs_words(line.needs, names=GEAR)) or "any cart"
        yield f"Asked for now: {words}."
    if "is_this_cart" in changed:
        number = line.cart.fleet_number
        yield (
            f"No other cart is proposed instead of {number}."
            if line.is_this_cart
            else f"Another cart than {number} may be proposed."
        )


def _where(about: Agreement, changed: Mapping[str, object]) -> Iterator[str]:
    if "time_zone" in changed:
        yield f"Its days, its cut-off and its times go by {place_words(about.time_zone)} time."
    if WHERE & set(changed):
        yield f"Its public holidays are those of {holidays_words(about)}."
    if "rule_set" in changed:
        yield f"It works under {RULES_OF[about.rule_set]} rules: tyres keep them too, and a road fill has to be reckoned by them."


def _charged(line: Line) -> Iterator[str]:
    shifts, agreed = shifts_charged(line), terms_of(line)
    if shifts is not None and shifts != line.agreement.shifts_a_day:
        by = "one shift" if shifts == 1 else "two shifts"
        yield f"Dockets charged {by} a day, and that stays: put what is different down as a charge beside it."
    elif agreed and agreed.terms().shifts_a_day != line.agreement.shifts_a_day:
        yield "The rate agreed is for the shifts as they were: agree it anew, it counts for all of the hire."
