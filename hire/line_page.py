"""What the page of one hire shows of what was asked of its cart, and of its site: what that asks and whether it turned it away."""

from __future__ import annotations

from datetime import datetime

from fleet.gear import GEAR
from hire import suiting
from hire.availability import builds, with_road_fill
from hire.copies import OURS, copy_weeks
from hire.float_words import told_looks
from hire.lapsed import lapsed_of
from hire.letter_rows import letters_of
from hire.models.agreements import Agreement, Line
from hire.owed_facts import Out, weeks_of
from hire.packs_due import pack_wanted_by
from hire.site_facts import set_of
from hire.suiting import ANY_CART
from hire.where import RULES_OF, place_words
from people.yard import yard_policy


def needs_context(line: Line, *, at: datetime) -> dict[str, object]:
    """What the cart lacks of what was asked; nothing where nobody asked."""
    needs = line.needs
    if needs == ANY_CART:
        return {}
    kinds = builds([line.cart])
    kinds |= (
        with_road_fill(kinds, [line.cart], at=at, rule_set=line.agreement.rule_set)
        if needs.road_litres
        else {}
    )
    lacks = suiting.lacks(needs, kinds[line.cart_id], names=GEAR)
    return {"lacks": [one.what for one in lacks]}


def float_context(line: Line) -> dict[str, object]:
    """The looks at a floated cart, of which there are none for another."""
    looks = list(told_looks(line)) if line.agreement.leaves_by == "float" else []
    return {"float_looks": looks, "is_unloaded": any(look.kind == "unloading" for look, _, _ in looks)}


def where_words(agreement: Agreement) -> str:
    """By whose clock, holidays and rules it goes, where those are not the yard's."""
    policy, words = yard_policy(), []
    if agreement.time_zone != policy.zone.key:
        words.append(f"{place_words(agreement.time_zone)} time")
    if agreement.holiday_region:
        words.append(f"holidays of {agreement.holiday_region}")
    if agreement.rule_set != policy.rule_set:
        words.append(f"{RULES_OF[agreement.rule_set]} rules")
    return ", ".join(words)


def site_context(line: Line, *, at: datetime) -> dict[str, object]:
    found = set_of(line)
    return {
        "where": where_words(line.agreement),
        "site_set": found,
        "asked": found.asked() if found else None,
        "turned_away": line.turned_away.all()[:10],
        "packs": line.packs.for_list()[:5],
        "letters": letters_of(line),
        "week": weeks_of([Out.of(line)])[line.pk],
        "lapsed": lapsed_of([line], at=at)[line.pk] if line.agreement.pre_start_book == OURS else (),
        "copies": copy_weeks([line], at=at)[line.pk]
        if line.handed_over_at and line.agreement.pre_start_book != OURS
        else None,
        "send_by": pack_wanted_by(line) if line.handed_over_at is None else None,
    }
