"""A load of water put down on a hire, by one tap, and taken back where it was a slip."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db import transaction

from fleet.water.history import SOURCES, is_unlike
from hire.actions.off_hire import NotOnHire
from hire.actions.site import HireOver
from hire.actions.water import WaterUnclear
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.loads import Load, LoadUndone
from hire.models.operators import OperatorLink
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS

# More than a cart can take by any pump: a phone that sends and sends.
MOST_A_DAY = 200
# So long whoever stands at the water may take a load back; the yard may always, and after that what spoilt a tank is struck out
# by a manager alone, as on the cart's own record.
SLIP = timedelta(hours=24)


class LoadTooLarge(Refusal):
    """More than the tank holds, or nothing."""

    field = "litres"


class LoadNotThen(Refusal):
    """The time is to come, or the cart was not out on this hire then."""

    field = "taken_at"


class NoFillPoint(Refusal):
    """Nobody says where it was filled."""

    field = "fill_point"


class TooManyLoads(Refusal):
    """More loads that day than a cart can take."""


class TooLateToUndo(Refusal):
    """The customer's people and operators take back what they put down within a day."""


@dataclass(frozen=True)
class Teller:
    """Who puts a load down: a customer's link, an operator's, or anybody of the yard, one of the three."""

    link: CustomerLink | None = None
    by: Staff | None = None
    operator_link: OperatorLink | None = None

    @property
    def words(self) -> str:
        if self.link is not None:
            return f"{self.link.for_words}, {self.link.line.agreement.customer.name}"[:120]
        if self.operator_link is not None:
            return f"{self.operator_link.operator}, by the operator’s link"[:120]
        return self.by.full_name if self.by else ""


def _line(line_id: uuid.UUID) -> Line:
    """The hire as it stands, locked: its loads come one after the other."""
    return Line.objects.locked(line_id)


def _check_time(line: Line, taken_at: datetime, *, at: datetime) -> None:
    number = line.cart.fleet_number
    if line.handed_over_at is None:
        raise NotOnHire(f"{number} has not been handed over yet: no load is put down for it.")
    if line.back_at is not None and taken_at >= line.back_at:
        raise HireOver(f"The hire of {number} is over. Ring the yard if it still stands with you.")
    if not line.handed_over_at <= taken_at <= at:
        raise LoadNotThen(f"Give a time when {number} was out on this hire, and not to come.")


@transaction.atomic
def record_load(
    *, line: Line, load_id: uuid.UUID, fill_point: str, litres: int, source: str, permit_words: str = "", taken_at: datetime,
    teller: Teller, at: datetime,
) -> Load:  # fmt: skip
    """Put a load down; the same load_id again returns the first. source: a word of fleet.water.history, which the tank has
    carried from then on (hire.water_on_hire). NotOnHire; HireOver; LoadNotThen; LoadTooLarge; NoFillPoint; WaterUnclear;
    TooManyLoads."""
    line, key = _line(line.pk), uuid.uuid5(line.pk, str(load_id))
    if known := Load.objects.filter(pk=key).first():
        return known
    _check_time(line, taken_at, at=at)
    if not 0 < litres <= line.cart.tank_capacity_l:
        raise LoadTooLarge(
            f"The tank of {line.cart.fleet_number} holds {line.cart.tank_capacity_l:,} L. Give litres above zero, up to that."
        )
    if not fill_point.strip():
        raise NoFillPoint("Say where it was filled.")
    if source not in SOURCES:
        raise WaterUnclear("Choose what water it is.")
    if is_unlike(source, fill_point):
        raise WaterUnclear(
            f"“{fill_point.strip()}” does not sound like potable water. Choose what it is, or name the fill point so that nobody "
            "takes it for a dam or a bore."
        )
    day = line.loads.counted().between(*line.agreement.day_bounds(line.agreement.day(taken_at)))
    if day.count() >= MOST_A_DAY:
        raise TooManyLoads(f"{MOST_A_DAY} loads are down for that day already. Ring the yard.")
    load = Load(
        id=key, line=line, taken_at=taken_at, fill_point=fill_point.strip()[:80], litres=litres, source=source,
        permit_words=permit_words.strip()[:60], told_at=at, link=teller.link, operator_link=teller.operator_link, by=teller.by,
        by_words=teller.words,
    )  # fmt: skip
    load.save(force_insert=True)
    facts = {
        "load": load.pk,
        "fill_point": load.fill_point,
        "litres": litres,
        "taken_at": taken_at,
        "water": source,
    }
    _write(Event.LOAD_TAKEN, line, teller, facts, at=at)
    return load


@transaction.atomic
def undo_load(*, load: Load, teller: Teller, at: datetime) -> LoadUndone:
    """Take a load back by a row that counters it; taken back twice, the first stands. TooLateToUndo; NotAllowed for somebody of
    the yard who takes back a load that spoilt a tank a day after it was put down, and is no manager."""
    line = _line(load.line_id)
    if known := LoadUndone.objects.filter(load=load).first():
        return known
    if at - load.told_at > SLIP:
        _check_late(load, teller)
    undone = LoadUndone(
        load=load, undone_at=at, link=teller.link, operator_link=teller.operator_link, by=teller.by, by_words=teller.words
    )  # fmt: skip
    undone.save(force_insert=True)
    facts = {"load": load.pk, "fill_point": load.fill_point, "litres": load.litres}
    _write(Event.LOAD_UNDONE, line, teller, facts, at=at)
    return undone


def _check_late(load: Load, teller: Teller) -> None:
    if teller.by is None:
        raise TooLateToUndo("This load was put down over a day ago. Ring the yard: they take it back.")
    if load.source not in ("", "potable") and not teller.by.has_role(MANAGERS):
        raise NotAllowed(
            f"{load.get_source_display()} that is on record for over a day is taken back by the workshop manager or the fleet "
            "manager."
        )


def _write(event: Event, line: Line, teller: Teller, facts: dict[str, object], *, at: datetime) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id)], by=teller.by, by_words=teller.words,
        at=at, facts=facts,
    )  # fmt: skip
