"""Wet hires as they are read: who goes with which cart, and what each operator lacks for it. Reads only, many at once."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Sum

from fleet.models.carts import AxleGroup, Cart
from fleet.sentences import moment_words
from hire.licences import CLASSES, drives, licence_needed
from hire.models.agreements import Agreement, Line
from hire.models.customers import Customer
from hire.models.operators import Operator, OperatorTurn, Ticket, WetHire
from hire.operator_fitness import INDUCTION, KINDS, LICENCE, Gap, Held, gaps
from people.yard import yard_day, yard_policy

MOMENT = timedelta(microseconds=1)


@dataclass(frozen=True)
class Asks:
    """What a wet hire asks of its operator: a licence of a class or above, and kinds of WANTS for a customer's place of work."""

    licence: str
    rule_set: str
    customer: Customer | None = None
    place: str = ""
    wants: tuple[str, ...] = ()

    def words(self, kind: str) -> str:
        if kind == LICENCE:
            return f"licence of class {self.licence} or above"
        if kind == INDUCTION and self.customer is not None:
            return f"induction for {', '.join(filter(None, (self.customer.name, self.place)))}"
        return KINDS[kind]

    def covers(self, ticket: Ticket) -> bool:
        if ticket.kind == LICENCE:
            return drives(ticket.licence_class, self.licence, rule_set=self.rule_set)
        return ticket.kind != INDUCTION or ticket.is_for(self.customer and self.customer.pk, self.place)


@dataclass(frozen=True)
class Wet:
    """A wet hire, its line with cart, agreement and customer loaded; licence: the class its cart asks for."""

    row: WetHire
    licence: str
    turns: tuple[OperatorTurn, ...]

    @property
    def line(self) -> Line:
        return self.row.line

    @property
    def asks(self) -> Asks:
        about = self.line.agreement
        return Asks(self.licence, about.rule_set, about.customer, about.place_of_work, tuple(self.row.wants))


def wets_of(lines: Collection[UUID]) -> dict[UUID, Wet]:
    """Those of these hires that are wet, with their standing turns in order of time, by line id. Three queries at most."""
    rows = list(
        WetHire.objects.filter(line__in=lines).select_related("line__cart", "line__agreement__customer")
    )
    if not rows:
        return {}
    turns: defaultdict[UUID, list[OperatorTurn]] = defaultdict(list)
    wet_lines = [row.line_id for row in rows]
    for turn in (
        OperatorTurn.objects.standing().filter(line__in=wet_lines).for_list().order_by("period", "shift")
    ):
        turns[turn.line_id].append(turn)
    axles = _axles([row.line.cart_id for row in rows])
    return {
        row.line_id: Wet(
            row,
            _licence(row.line.cart, axles, rule_set=row.line.agreement.rule_set),
            tuple(turns[row.line_id]),
        )
        for row in rows
    }


def _axles(carts: Iterable[UUID]) -> dict[UUID, int]:
    groups = AxleGroup.objects.filter(cart__in=carts).values_list("cart_id")
    return dict(groups.annotate(count=Sum("axles")).values_list("cart_id", "count"))


def _licence(cart: Cart, axles: dict[UUID, int], *, rule_set: str) -> str:
    return licence_needed(rule_set=rule_set, gross_kg=cart.gross_limit_kg, axles=axles.get(cart.pk, 3))


def wants_at(customer: Customer, place: str) -> tuple[str, ...]:
    """What the last wet hire at a place of work asked of its operator beside the licence; the site's induction where there was
    none. One query."""
    about = {"line__agreement__customer": customer, "line__agreement__place_of_work__iexact": place.strip()}
    last = WetHire.objects.filter(**about).order_by("-set_at").first()
    return tuple(last.wants) if last else (INDUCTION,)


def usual_wants(agreement: Agreement) -> tuple[str, ...] | None:
    """What one more cart of an agreement asks of its operator, as its first does; None where that goes dry. Two queries at most."""
    first = agreement.lines.standing().select_related("wet").order_by("promised", "pk").first()
    return tuple(first.wet.wants) if first is not None and hasattr(first, "wet") else None


def asks_of(carts: Sequence[Cart], customer: Customer | None, place: str) -> dict[UUID, Asks]:
    """What each cart would ask of an operator at a place of work, by cart id; the licence alone where no customer is named. Two
    queries."""
    rule_set, axles = yard_policy().rule_set, _axles([cart.pk for cart in carts])
    wants = wants_at(customer, place) if customer else ()
    return {
        cart.pk: Asks(_licence(cart, axles, rule_set=rule_set), rule_set, customer, place, wants)
        for cart in carts
    }


def tickets_of(operators: Collection[UUID]) -> dict[UUID, list[Ticket]]:
    """The tickets that count, by operator. One query."""
    found: defaultdict[UUID, list[Ticket]] = defaultdict(list)
    for ticket in Ticket.objects.counting().filter(operator__in=operators):
        found[ticket.operator_id].append(ticket)
    return found


def class_words(code: str, *, rule_set: str) -> str:
    return dict(CLASSES[rule_set]).get(code, code)


def lacks(
    operator: Operator, tickets: Iterable[Ticket], asks: Asks, *, start: datetime, end: datetime
) -> list[Gap]:
    """What an operator lacks to go with a cart from an instant to another."""
    held = [
        Held(ticket.kind, ticket.ends_on, ticket.issued_on, asks.covers(ticket), ticket.licence_class)
        for ticket in tickets
    ]
    first, last = yard_day(start), yard_day(max(end - MOMENT, start))
    return gaps(name=operator.own_name, held=held, wants=asks.wants, first=first, last=last, asked=asks.words)


@dataclass(frozen=True)
class Choice:
    """An operator who could go with a cart; words: what stands in the way, "" for nothing."""

    operator: Operator
    words: str


def choices_for(
    asked: Iterable[Asks], *, start: datetime, end: datetime, at: datetime
) -> dict[Asks, list[Choice]]:
    """For each of these everybody in the book, those with nothing in the way first. Three queries."""
    operators = list(Operator.objects.working().for_list())
    tickets = tickets_of([one.pk for one in operators])
    busy: dict[UUID, OperatorTurn] = {}
    for turn in OperatorTurn.objects.standing().filter(period__overlap=(start, end)).for_list():
        busy.setdefault(turn.operator_id, turn)

    def choice(one: Operator, asks: Asks) -> Choice:
        said = []
        if other := busy.get(one.pk):
            until = moment_words(other.period.upper, at=at)
            said.append(
                f"With {other.line.cart.fleet_number} on {other.line.agreement.number} until {until}."
            )
        said += [gap.sentence for gap in lacks(one, tickets[one.pk], asks, start=start, end=end)]
        return Choice(one, " ".join(said))

    return {
        asks: sorted((choice(one, asks) for one in operators), key=lambda found: bool(found.words))
        for asks in set(asked)
    }


def operator_words(turns: Sequence[OperatorTurn], wet: Wet) -> list[str]:
    """Who goes with the cart, with the licence, as the gate shows it and the receipt prints it. One query."""
    tickets, rule_set = tickets_of([turn.operator_id for turn in turns]), wet.line.agreement.rule_set
    said = []
    for turn in turns:
        licences = [ticket for ticket in tickets[turn.operator_id] if ticket.kind == LICENCE]
        fit = [one for one in licences if drives(one.licence_class, wet.licence, rule_set=rule_set)]
        shift = "" if wet.line.agreement.shift == "day" else f", {turn.get_shift_display().lower()}"
        words = f"{turn.operator}{shift}"
        if fit:
            best = max(fit, key=lambda one: (one.ends_on is None, one.ends_on))
            until = f", good until {best.ends_on:%-d %b %Y}" if best.ends_on else ""
            words += f", licence {best.licence_class} {best.number}".rstrip() + until
        said.append(words)
    return said


def turns_at(wet: Wet, when: datetime) -> list[OperatorTurn]:
    """Who is put down for an instant; before the hire begins, for its beginning."""
    when = max(when, wet.line.promised.lower)
    return [turn for turn in wet.turns if turn.period.lower <= when < turn.period.upper]
