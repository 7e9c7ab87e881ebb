"""Carts set against what the site of their hire asks: what the gate stops, what it warns of, what a caller is told."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from uuid import UUID

from fleet.models.carts import Cart
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from hire.models.agreements import Line
from hire.models.sites import SiteSet
from hire.site_facts import Use, facts_of, set_at, sets_for, site_of
from hire.site_rules import Asked, CartFacts, Lacking, compare
from hire.site_text import NAMES
from people.roles import DESK, WORKSHOP
from people.yard import at_local, yard_day

ORDER_NUMBER = "hire.order_number"
# The kinds of Lacking, as a readiness sentence ends with them.
SHORT = {
    "gear": "the site asks for gear it has not",
    "paper": "the site asks for a paper",
    "tread": "the site asks for more tread",
    "extinguisher": "the site asks for an extinguisher",
    "noise": "the site asks for less noise",
}
# They stop the gate, not the certificate, which says what the cart is and goes to the site days ahead.
GATE_ONLY = frozenset({ORDER_NUMBER, *(f"site.{kind}" for kind in SHORT)})


def days_of(start: datetime, end: datetime) -> tuple[date, date]:
    """The first and last day of a half-open period in the yard."""
    return yard_day(start), yard_day(end - timedelta(microseconds=1))


def lacking_of(asked: Asked, facts: CartFacts, *, start: datetime, end: datetime) -> tuple[Lacking, ...]:
    first, last = days_of(start, end)
    return compare(asked, facts, first=first, last=last, names=NAMES)


def lacking_for(
    carts: Sequence[Cart], found: SiteSet, *, start: datetime, end: datetime
) -> dict[UUID, tuple[Lacking, ...]]:
    """What each of these carts lacks of a set, hired for a period, by cart id. Eight queries."""
    site = (found.customer_id, found.site_key)
    uses = {cart.pk: Use(site, start) for cart in carts}
    facts, asked = facts_of(carts, uses=uses), found.asked()
    return {cart.pk: lacking_of(asked, facts[cart.pk], start=start, end=end) for cart in carts}


def _sentence(one: Lacking, found: SiteSet) -> str:
    verb = "must have it" if one.is_must else "asks for it"
    return f"For {found.site or found.customer.name} {one.what}; the site {verb}."


def _finding(one: Lacking, line: Line, found: SiteSet, window: Window) -> Blocker | Caution:
    sentence, record = _sentence(one, found), Record("hire_line", line.pk)
    if one.is_must and one.from_on is None and window.asks_gate and not line.is_out:
        return Blocker(f"site.{one.kind}", sentence, record, DESK | WORKSHOP, one.clear, weight=40)
    due_at = at_local(one.from_on, time.min) if one.from_on else None
    return Caution(f"site.{one.kind}", sentence, record, due_at, SHORT[one.kind], weight=60)


def _order(line: Line) -> list[Blocker | Caution]:
    """The customer asks for an order number before a cart is handed over, and there is none."""
    about = line.agreement
    if line.is_out or about.order_number or not about.customer.asks_order_number:
        return []
    what = f"{about.customer.name} wants an order number before a cart is handed over, and {about.number} has none."
    clear = "Hire desk: ask for it and write it down"
    return [Blocker(ORDER_NUMBER, what, Record("hire_line", line.pk), DESK, clear, weight=45)]


def findings(carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime) -> dict[UUID, Findings]:
    """Of the carts asked about for a hire: an order number that is wanted, and what their site asks and they lack. One query
    where there is no such hire, two where no site has a set, ten else, however many carts."""
    hires = [window.line_id for window in windows.values() if window.line_id]
    if not hires:
        return {}
    lines = {line.cart_id: line for line in Line.objects.for_list().filter(pk__in=hires)}
    sets = sets_for(line.agreement.customer_id for line in lines.values())
    placed = {pk: found for pk, line in lines.items() if (found := set_at(site_of(line), sets))}
    theirs = [cart for cart in carts if cart.pk in placed]
    uses = {
        cart.pk: Use(site_of(lines[cart.pk]), windows[cart.pk].start, lines[cart.pk].pk) for cart in theirs
    }
    facts = facts_of(theirs, uses=uses) if theirs else {}
    answers = {}
    for pk, line in lines.items():
        window = windows[pk]
        pile = _order(line)
        if pk in placed:
            found = placed[pk]
            found.customer = line.agreement.customer
            lacking = lacking_of(found.asked(), facts[pk], start=window.start, end=window.end)
            pile += [_finding(one, line, found, window) for one in lacking]
        answers[pk] = split(pile)
    return answers


def split(pile: Iterable[Blocker | Caution]) -> Findings:
    pile = list(pile)
    return Findings(
        tuple(item for item in pile if isinstance(item, Blocker)),
        tuple(item for item in pile if isinstance(item, Caution)),
    )
