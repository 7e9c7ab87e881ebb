"""From the records of a hire to the facts it is charged by, and its charges to a day. Reads only."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from fleet.models.carts import MeterReading
from hire.back_findings import next_out
from hire.charges import Billed, Charges, Extra, GivenUp, Hire, Item, Reading, Terms, best_rate, charge
from hire.charges import StandDown as StoodDown
from hire.charging.back import Decided
from hire.charging.carriage import carried
from hire.charging.days import ONE_DAY, Days, Week, days_of, last_day
from hire.charging.lines import Line as ChargeLine
from hire.charging.lines import billed_of
from hire.charging.money import day_words, days_words, money, plain
from hire.charging.rates import price
from hire.daily_facts import charged_dockets
from hire.late_entries import late_words
from hire.models.agreements import Line
from hire.models.disputes import DisputeOutcome, GivenUpDay
from hire.models.money import AgreedTerms, BesideCharge, Docket, RateCard
from hire.public_holidays import region_of, yard_holidays
from hire.stand_down_words import charged_though, worked_though
from hire.swaps import line_now, lines_together
from hire.terms_text import terms_from
from hire.worked_facts import advances, agreed_hours, said_worked, worked_days
from people.yard import yard_day

METER_OF = {"engine": "engine_hours", "pump": "pump_hours"}


def cards_in_force(*, on: date) -> QuerySet[RateCard]:
    return RateCard.objects.filter(starts_on__lte=on).exclude(ends_on__lte=on).select_related("cart")


def card_for(cart_id: object, litres: int, cards: Iterable[RateCard]) -> RateCard | None:
    """The cart's own card, else the one from the most litres it has; of two for one, the newest."""
    own = [card for card in cards if card.cart_id == cart_id]
    by_litres = [card for card in cards if card.cart_id is None and card.litres_from <= litres]
    return max(own or by_litres, key=lambda card: (card.litres_from, card.starts_on), default=None)


def terms_of(line: Line) -> AgreedTerms | None:
    """The terms that count: those agreed last; of a cart that was swapped in, where nothing else was agreed, the other's."""
    for one in reversed(lines_together(line)):
        agreed = one.agreed_terms.select_related("agreed_by").order_by("-agreed_at").first()
        if agreed is not None:
            return agreed
    return None


def charge_ends_at(line: Line) -> datetime | None:
    """The instant that stops the charge: the off-hire call's, else the return; None while it is on hire."""
    call = line.off_hires.standing().first()
    if call is None:
        return line.back_at
    return min(call.stops_at, line.back_at) if line.back_at else call.stops_at


def holidays_of(lines: Sequence[Line], region: str, *, through: date | None) -> dict[date, str]:
    """The public holidays of a hire's days, and of a year more, which a minimum hire may reach into."""
    zone = ZoneInfo(lines[0].agreement.time_zone)
    instants = [
        at
        for line in lines
        for at in (line.promised.lower, line.promised.upper, line.handed_over_at, charge_ends_at(line))
        if at
    ]
    days = [at.astimezone(zone).date() for at in instants] + ([through] if through else [])
    return yard_holidays(first=min(days), last=date(max(days).year + 1, 12, 31), region=region)


def hire_of(
    lines: Sequence[Line], terms: Terms, *, region: str = "", through: date | None = None, known_at: datetime | None = None
) -> Hire:  # fmt: skip
    """The facts of a hire that was handed over, charged up to a day. lines: as swaps.lines_together has them; the last may not
    have left yet. known_at: days stood down as they stood then; None: now. ValueError as charges.Hire, and for a hire that has
    not left."""
    first, last = lines[0], lines[-1]
    if first.handed_over_at is None:
        raise ValueError("Nothing is charged before the cart is handed over.")
    zone = ZoneInfo(first.agreement.time_zone)
    holidays = frozenset(holidays_of(lines, region, through=through))
    return Hire(
        handed_over_at=first.handed_over_at,
        off_hire_at=charge_ends_at(last) if last.handed_over_at else None,
        zone=zone,
        agreed_days=hire_days(
            first.promised.lower,
            last.promised.upper,
            zone=zone,
            in_week=terms.days_in_week,
            free=holidays if terms.holidays_are_free else frozenset(),
        ),
        holidays=holidays,
        worked_on=frozenset(
            day for line in lines for day in worked_days(line, zone, until=charge_ends_at(line))
        ),
        said_worked=said_worked(lines, zone),
        # A wet hire is charged by its dockets, which say themselves when it worked.
        advances=[]
        if terms.wet
        else [one for line in lines for one in advances(line, until=charge_ends_at(line))],
        given_up_on=frozenset(GivenUpDay.objects.filter(line__in=lines).values_list("on", flat=True)),
        readings=[one for line in lines for one in _readings(line, terms, is_last=line is last)],
        agreed_hours=[] if terms.wet else agreed_hours(lines),
        stand_downs=list(_stand_downs(lines, terms, zone, known_at)),
        dockets=[docket for line in lines for docket in charged_dockets(line)] if terms.wet else [],
        extras=[
            *(
                _extra(row)
                for line in lines
                for row in line.beside.filter(struck_at=None).select_related("decision")
            ),
            *carried(terms.carriage, is_back=last.back_at is not None),
            *_given_up(lines),
        ],
    )


def _extra(row: BesideCharge) -> Extra:
    """What was decided when the cart came back reads as it was worked out then."""
    key = f"beside {row.pk}"
    if row.thing:
        return Decided(key, row.what, row.unit, row.unit_price, row.decision.working, row.is_taxed)
    return Item(key, row.what, row.quantity, row.unit, row.unit_price, row.is_taxed)


def _stand_downs(
    lines: Sequence[Line], terms: Terms, zone: ZoneInfo, known_at: datetime | None
) -> Iterator[StoodDown]:
    """The days stood down, and those on which one cart was gone and the other not there yet, once each: of such a day no other
    counts than that the customer is to blame."""
    gaps = _days_without_a_cart(lines, terms, zone)
    said: set[date] = set()
    for row in (row for line in lines for row in line.stand_downs.standing(at=known_at)):
        if row.on not in said and (row.cause or row.on not in gaps):
            said.add(row.on)
            yield StoodDown(
                row.on,
                row.kind,
                told_at=row.told_at,
                worked_hours=row.worked_hours,
                lost_hours=row.lost_hours,
                cause=row.cause,
            )
    for on, stops_at in gaps.items():
        if on not in said:
            yield StoodDown(on, "breakdown", told_at=stops_at)


def _days_without_a_cart(lines: Sequence[Line], terms: Terms, zone: ZoneInfo) -> dict[date, datetime]:
    """The days between a swapped cart's last and the other's first, each with when the first was gone."""
    found: dict[date, datetime] = {}
    for gone, came in pairwise(lines):
        stops_at = charge_ends_at(gone)
        if stops_at is None or came.handed_over_at is None:
            continue
        on, until = _free_from(gone, terms, zone), came.handed_over_at.astimezone(zone).date()
        while on < until:
            found.setdefault(on, stops_at)
            on += ONE_DAY
    return found


def _free_from(line: Line, terms: Terms, zone: ZoneInfo) -> date:
    """The first day not charged after a cart was taken off its hire by a swap."""
    assert line.handed_over_at
    alone = Hire(handed_over_at=line.handed_over_at, off_hire_at=charge_ends_at(line), zone=zone)
    ends = last_day(alone, terms)
    assert ends
    return ends + ONE_DAY


def _given_up(lines: Sequence[Line]) -> list[GivenUp]:
    """What was given up of disputed lines of this hire's dockets."""
    rows = DisputeOutcome.objects.filter(dispute__docket__line__in=lines, given_up__gt=0)
    return [
        GivenUp(
            f"dispute {row.dispute_id}",
            f"{row.dispute.line_what}, {row.dispute.docket.number}",
            row.given_up,
            f"{money(row.given_up)} of {money(row.dispute.line_amount)} on {row.dispute.docket.number}{_for_days(row)} given up by "
            f"{row.decided_by.full_name}, {day_words(yard_day(row.decided_at))}: {row.words}",
            of=row.dispute.line_key,
            on=frozenset(day.on for day in row.days.all()),
        )
        for row in rows.select_related("dispute__docket", "decided_by")
        .prefetch_related("days")
        .order_by("decided_at")
    ]


def _for_days(outcome: DisputeOutcome) -> str:
    days = [day.on for day in outcome.days.all()]
    return f" for {days_words(days)}" if days else ""


def hire_days(
    start: datetime, end: datetime, *, zone: ZoneInfo, in_week: int, free: frozenset[date] = frozenset()
) -> int:
    """The days of a period that are hire days in a week of so many from Monday on, its first and last among them, less free
    holidays; 1 at least."""
    first, last = start.astimezone(zone).date(), (end - timedelta(microseconds=1)).astimezone(zone).date()
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    return max(sum(on.weekday() < in_week and on not in free for on in days), 1)


def _readings(line: Line, terms: Terms, *, is_last: bool) -> list[Reading]:
    """What the agreed clock showed while it was out: from the last reading before it left to the first once its charge stopped,
    as when it came back. What it ran after that is not the customer's. is_last: no other cart took its place."""
    kind = METER_OF.get(terms.hours.clock) if terms.hours else None
    if kind is None or line.handed_over_at is None:
        return []
    rows = MeterReading.objects.filter(meter__cart=line.cart_id, meter__kind=kind).select_related("meter")
    before = rows.filter(read_at__lte=line.handed_over_at).order_by("-read_at", "-value").first()
    found = [Reading(line.handed_over_at, before.value, str(before.meter_id))] if before else []
    inside, until = rows.filter(read_at__gt=line.handed_over_at), charge_ends_at(line)
    if until is not None:
        closing = inside.filter(read_at__gt=until).order_by("meter", "read_at", "value").distinct("meter")
        if left_again := next_out(line):
            closing = closing.filter(read_at__lt=left_again)
        # Of a cart that was swapped it is what ran up to the swap.
        found += [Reading(row.read_at if is_last else until, row.value, str(row.meter_id)) for row in closing]
        inside = inside.filter(read_at__lte=until)
    return [*found, *(Reading(row.read_at, row.value, str(row.meter_id)) for row in inside)]


def billed(dockets: Iterable[Docket]) -> list[Billed]:
    """What earlier dockets charged, by what for."""
    return [_billed(docket) for docket in dockets]


def _billed(docket: Docket) -> Billed:
    lines = docket.body["lines"]
    return billed_of(
        docket.through,
        [(one["key"], one["what"], Decimal(one["amount"]), one.get("is_taxed", True)) for one in lines],
    )


def charges_to(line: Line, agreed: AgreedTerms, *, through: date | None) -> Charges:
    """What a docket up to a day would say now, of the hire whose cart is or was this line's; between a broken cart and the one
    that takes its place it is charged up to the swap. ValueError as charges.charge."""
    lines, terms = lines_together(line), agreed.terms()
    if lines[-1].handed_over_at is None and len(lines) > 1:
        zone = ZoneInfo(line.agreement.time_zone)
        stopped = _free_from(lines[-2], terms, zone) - ONE_DAY
        through = min(through, stopped) if through else stopped
    hire = hire_of(lines, terms, region=region_of(line.agreement, agreed.body), through=through)
    found = charge(hire, terms=terms, through=through, earlier=billed(dockets_of(lines)))
    return replace(found, notes=(*found.notes, *_said_of(lines, found.through)))


def _said_of(lines: Sequence[Line], through: date) -> Iterator[str]:
    """What was entered late, the days claimed or struck out that are charged, and those stood down though the cart worked."""
    for line in lines:
        yield from late_words(line)
        yield from charged_though(line, through=through)
        yield from worked_though(line, through=through)


def days_to(line: Line, agreed: AgreedTerms, *, through: date, known_at: datetime | None = None) -> Days:
    """The days of such a hire up to one, as it is charged now, by days stood down as they stood at known_at. ValueError as
    charges.charge."""
    terms = agreed.terms()
    region = region_of(line.agreement, agreed.body)
    hire = hire_of(lines_together(line), terms, region=region, through=through, known_at=known_at)
    return days_of(hire, terms, through)


def dockets_of(lines: Iterable[Line]) -> QuerySet[Docket]:
    """The dockets of a hire, in the order they were made."""
    return Docket.objects.filter(line__in=lines).order_by("made_at")


def shifts_charged(line: Line) -> int | None:
    """The shifts a day by which dockets charged this hire; null: none did yet."""
    agreed = terms_of(line)
    if agreed is None or not dockets_of(lines_together(line)).exists():
        return None
    return agreed.terms().shifts_a_day


def due_through(line: Line, *, at: datetime) -> date | None:
    """Up to which day a docket made now would charge: to the end of a hire that is over (None), else today."""
    end = charge_ends_at(line_now(line))
    return None if end is not None and end <= at else line.agreement.day(at)


def lines_text(lines: Iterable[ChargeLine]) -> list[dict[str, Any]]:
    """Lines of a paper as they are stored: plain text."""
    return [
        {
            "key": one.key, "what": one.what, "quantity": f"{one.quantity.normalize():f}", "unit": one.unit,
            "unit_price": plain(one.unit_price), "amount": f"{one.amount:.2f}", "working": one.working,
            "is_taxed": one.is_taxed,
        }
        for one in lines
    ]  # fmt: skip


def docket_body(found: Charges) -> dict[str, Any]:
    """What a docket says, as it is stored: plain text."""
    return {
        "lines": lines_text(found.lines),
        "notes": list(found.notes),
        "hire_days": found.hire_days,
        "early_return_credit": f"{found.early_return_credit:.2f}",
        # Only where they differ from the net.
        **({"taxed": f"{found.taxed:.2f}", "untaxed": f"{found.untaxed:.2f}"} if found.has_untaxed else {}),
    }


def estimate(days: int, card: Mapping[str, Any], *, start: date | None = None) -> Decimal:
    """What so many days cost by a card at the best rate, the hire alone, before tax; start: from which day a calendar month runs,
    none counts without. ValueError as charges.best_rate."""
    terms = terms_from(card, rule="best rate")
    if start is None or terms.calendar_price is None:
        return best_rate(days=days, rates=terms.lengths).total * terms.shift_factor
    week = Week(terms.days_in_week, frozenset(), frozenset(), {})
    some = week.first_of(days, start)
    return price(some, start=start, week=week, terms=terms, by=some).amount
