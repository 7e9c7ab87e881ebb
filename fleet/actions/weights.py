"""What a cart weighs and may weigh: its tank measured, its plates read, and weighbridge tickets. Written once, never rewritten."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from dataclasses import fields as dataclass_fields
from datetime import date, datetime
from decimal import Decimal
from typing import TypeVar, cast

from django.db import models, transaction

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.models.weights import (
    TWO_GROUPS,
    GroupWeights,
    TankMeasured,
    TicketStruck,
    WeighbridgeTicket,
    WeightSheet,
)
from fleet.road_fill import tank_of
from fleet.water.mass_limits import RuleSet
from fleet.water.road_law import gross_keys, group_keys
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import MANAGERS
from people.yard import yard_day, yard_policy

ENTERS = "Tank, plates and weighbridge tickets are entered by the workshop manager or the fleet manager."


class NotYet(Refusal):
    """The day or the moment is still to come."""


class NoTank(Refusal):
    """These measures, or this table, are no tank's."""


class NotOnTheTable(Refusal):
    """The rule set has no such limit."""


class GroupsOutOfOrder(Refusal):
    """The two groups have one name, or the second does not stand behind the first."""


class MoreThanItHolds(Refusal):
    """More water than the tank takes."""

    field = "water_l"


class StruckOutAlready(Refusal):
    """Somebody struck it out already."""


@dataclass(frozen=True)
class TankDetails:
    """A tank as measured. dip_rows: pairs of mm and litres from empty to full, for shape "table", else None; sight_zero_mm None:
    no sight tube; fill_l_min None: nobody has timed a fill."""

    measured_on: date
    shape: str
    length_m: Decimal | None
    width_m: Decimal | None
    height_m: Decimal | None
    dip_rows: list[list[int]] | None
    dead_l: int
    lid_above_mm: int
    sight_zero_mm: int | None
    middle_m: Decimal
    fill_l_min: int | None
    by_words: str


@dataclass(frozen=True)
class GroupDetails:
    """One axle group by its plates; see fleet.models.weights.GroupWeights."""

    name: str
    law_key: str
    axles: int
    spread_m: Decimal
    tyres: int
    tyre_load_kg: int | None
    maker_kg: int | None
    position_m: Decimal
    tare_kg: int


@dataclass(frozen=True)
class PlateDetails:
    """A cart's plates. groups: front and rear; none where the cart stands on something else than two groups."""

    from_on: date
    stands_on: str
    gross_key: str
    outer_length_m: Decimal | None
    fuel_tank_l: int
    fuel_place_m: Decimal
    cab_place_m: Decimal
    height_m: Decimal | None
    tickets_from_on: date | None
    source_words: str
    groups: tuple[GroupDetails, ...]


@dataclass(frozen=True)
class TicketDetails:
    """A weighbridge ticket and what was aboard."""

    weighed_at: datetime
    place_words: str
    number: str
    front_kg: int
    rear_kg: int
    water_l: int
    driver_in: bool
    kit_in: bool
    fuel_eighths: int
    by_words: str


def _said(details: object) -> dict[str, object]:
    fields = asdict(details)  # type: ignore[call-overload]
    return {name: value.strip() if isinstance(value, str) else value for name, value in fields.items()}


Sealed = TypeVar("Sealed", TankMeasured, WeighbridgeTicket, WeightSheet)


def _same(row: Sealed | None, said: Mapping[str, object]) -> bool:
    return row is not None and all(getattr(row, name) == value for name, value in said.items())


def _keep(row: models.Model) -> None:
    check_fields(row)
    with rules_of(type(row)):
        row.save(force_insert=True)


def _not_to_come(day: date, cart: Cart, *, field: str, at: datetime) -> None:
    if day > yard_day(at):
        raise NotYet(
            f"That day is still to come. Give the day cart {cart.fleet_number} was looked at.", field=field
        )


@transaction.atomic
def measure_tank(*, cart: Cart, details: TankDetails, by: Staff, at: datetime) -> TankMeasured:
    """Record a cart's tank as measured; from its day it counts over what was measured before. The same again returns the first.

    NotAllowed; NotYet; NoTank for measures or a table that cannot be; AgainstARule.
    """
    ask_role(by, MANAGERS, ENTERS)
    cart, said = lock_cart(cart), _said(details)
    _not_to_come(details.measured_on, cart, field="measured_on", at=at)
    kept = cart.tanks_measured.first()
    if _same(kept, said) and kept is not None:
        return kept
    row = TankMeasured(cart=cart, recorded_at=at, recorded_by=by, **said)
    check_fields(row)
    try:
        capacity_l = tank_of(row).capacity_l
    except ValueError as error:
        is_table = details.shape == "table"
        raise NoTank(str(error), field="dip_rows" if is_table else "shape") from error
    if details.dead_l >= capacity_l:
        raise NoTank(
            f"The tank holds {capacity_l:,.0f} L by these measures, so the pump can draw some of it. Correct the dead volume.",
            field="dead_l",
        )
    _keep(row)
    _write(Event.TANK_MEASURED, "tank_measured", row, by=by, at=at, facts=said)
    return row


@transaction.atomic
def record_plates(*, cart: Cart, details: PlateDetails, by: Staff, at: datetime) -> WeightSheet:
    """Record what a cart's plates say, judged by the yard's rule set; from its day it counts over the plates before. The same
    again returns the first.

    NotAllowed; NotYet; NotOnTheTable for a limit the rule set has not; GroupsOutOfOrder; AgainstARule.
    """
    ask_role(by, MANAGERS, ENTERS)
    cart, said, rule_set = lock_cart(cart), _said(details), cast("RuleSet", yard_policy().rule_set)
    groups = details.groups if details.stands_on == TWO_GROUPS else ()
    said["groups"] = [_said(group) for group in groups]
    _not_to_come(details.from_on, cart, field="from_on", at=at)
    _check_plates(details, groups, rule_set)
    fields = {name: value for name, value in said.items() if name != "groups"}
    kept = cart.weight_sheets.first()
    if kept is not None and _same(kept, fields | {"rule_set": rule_set}) and _groups_of(kept) == list(groups):
        return kept
    row = WeightSheet(cart=cart, rule_set=rule_set, recorded_at=at, recorded_by=by, **fields)
    _keep(row)
    for place, group in enumerate(groups, start=1):
        _keep(GroupWeights(sheet=row, place=place, **_said(group)))
    _write(Event.PLATES_RECORDED, "weight_sheet", row, by=by, at=at, facts=said | {"rule_set": rule_set})
    return row


def _groups_of(sheet: WeightSheet) -> list[GroupDetails]:
    names = [one.name for one in dataclass_fields(GroupDetails)]
    return [GroupDetails(**{name: getattr(row, name) for name in names}) for row in sheet.groups.all()]


def _check_plates(details: PlateDetails, groups: tuple[GroupDetails, ...], rule_set: RuleSet) -> None:
    if details.gross_key and details.gross_key not in gross_keys(rule_set):
        raise NotOnTheTable("Choose the gross limit from the list.", field="gross_key")
    if details.stands_on != TWO_GROUPS:
        return
    if len(groups) != 2:
        raise GroupsOutOfOrder("A road fill is reckoned for two axle groups: give the front and the rear.")
    front, rear = groups
    if front.name.strip().lower() == rear.name.strip().lower():
        raise GroupsOutOfOrder("The two axle groups need names of their own.")
    if rear.position_m <= front.position_m:
        raise GroupsOutOfOrder("The rear group stands behind the front one. Correct one of the two places.")
    for group in groups:
        if group.law_key and group.law_key not in group_keys(rule_set):
            raise NotOnTheTable(f"Choose the law’s limit of the {group.name} from the list.")


@transaction.atomic
def record_ticket(
    *, cart: Cart, details: TicketDetails, photo: Photo | None, by: Staff, at: datetime
) -> WeighbridgeTicket:
    """Record a weighbridge ticket. The same moment again with the same weights returns the first.

    NotAllowed; NotYet; MoreThanItHolds for more water than the tank takes; AgainstARule.
    """
    ask_role(by, MANAGERS, ENTERS)
    cart, said = lock_cart(cart), _said(details)
    if details.weighed_at > at:
        raise NotYet(
            f"Cart {cart.fleet_number} has not been weighed yet at that time. Give the time on the ticket.",
            field="weighed_at",
        )
    tank = cart.tanks_measured.first()
    holds_l = tank_of(tank).capacity_l if tank else cart.tank_capacity_l
    if details.water_l > holds_l:
        raise MoreThanItHolds(
            f"The tank of cart {cart.fleet_number} holds {holds_l:,.0f} L. Correct the litres aboard, or measure the tank."
        )
    kept = cart.weighbridge_tickets.filter(weighed_at=details.weighed_at, struck=None).first()
    if _same(kept, said) and kept is not None:
        return kept
    row = WeighbridgeTicket(cart=cart, photo=photo, recorded_at=at, recorded_by=by, **said)
    _keep(row)
    more = {"photo": photo.original_sha256} if photo else {}
    _write(Event.CART_WEIGHED, "weighbridge_ticket", row, by=by, at=at, facts=said | more)
    return row


@transaction.atomic
def strike_ticket(*, ticket: WeighbridgeTicket, words: str, by: Staff, at: datetime) -> TicketStruck:
    """Strike out a wrong ticket; it stays on record and counts for nothing. NotAllowed; StruckOutAlready; AgainstARule."""
    ask_role(by, MANAGERS, ENTERS)
    cart = lock_cart(ticket.cart)
    if not words.strip():
        raise AgainstARule("Write what was wrong with it: the record keeps both.", field="words")
    before = TicketStruck.objects.filter(ticket=ticket).select_related("struck_by").first()
    if before is not None:
        raise StruckOutAlready(
            f"{before.struck_by.full_name} struck out this ticket of cart {cart.fleet_number} already."
        )
    row = TicketStruck(ticket=ticket, words=words.strip(), struck_at=at, struck_by=by)
    _keep(row)
    facts = {"number": ticket.number, "weighed_at": ticket.weighed_at, "words": row.words}
    _write(Event.WEIGHING_STRUCK, "weighbridge_ticket", ticket, by=by, at=at, facts=facts)
    return row


def _write(
    event: Event,
    kind: str,
    row: TankMeasured | WeightSheet | WeighbridgeTicket,
    *,
    by: Staff,
    at: datetime,
    facts: Mapping[str, object],
) -> None:
    write_journal(
        event=event, subject=(kind, row.pk), chains=[cart_chain(row.cart_id)], by=by, at=at, facts=facts
    )
