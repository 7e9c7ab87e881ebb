"""Extinguishers and their services, and the papers of a cart or of the whole yard."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import transaction

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.extinguisher_kinds import kinds_for
from fleet.models.carts import Cart
from fleet.models.equipment import Document, Extinguisher, ExtinguisherService
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal
from people.roles import EVERYBODY, FLEET_ONLY, WORKSHOP
from people.yard import yard_day


class ExtinguisherElsewhere(Refusal):
    """The extinguisher is on record on another cart."""


@dataclass(frozen=True)
class ExtinguisherDetails:
    """An extinguisher by its plate. `made_on`: the month or year on the plate, as its first day."""

    serial: str
    made_on: date
    agent: str = "dry_chemical"
    size_kg: Decimal = Decimal(9)


def _extinguisher(details: ExtinguisherDetails, at: datetime) -> Extinguisher:
    """The extinguisher with that serial, kept as it was first written down; new ones are added."""
    serial = " ".join(details.serial.upper().split())
    known = Extinguisher.objects.select_for_update(of=("self",)).filter(serial=serial).first()
    if known is not None:
        return known
    if details.made_on > yard_day(at):
        raise AgainstARule("An extinguisher was made on a day that has passed.", field="made_on")
    item = Extinguisher(**asdict(details) | {"serial": serial})
    check_fields(item)
    with rules_of(Extinguisher):
        item.save(force_insert=True)
    return item


def _to_the_shelf(old: Extinguisher, cart: Cart, new: Extinguisher) -> None:
    old = Extinguisher.objects.select_for_update(of=("self",)).get(pk=old.pk)
    if old.cart_id != cart.pk or old.pk == new.pk:
        raise AgainstARule(
            f"Extinguisher {old.serial} is not another one on cart {cart.fleet_number}.", field="instead_of"
        )
    old.cart, old.bracket = None, ""
    old.save(update_fields=["cart", "bracket"])


@transaction.atomic
def place_extinguisher(
    *,
    cart: Cart,
    details: ExtinguisherDetails,
    bracket: str,
    instead_of: Extinguisher | None = None,
    by: Staff,
    at: datetime,
) -> Extinguisher:
    """Put an extinguisher on a cart, in a bracket; the one it is there instead of goes to the shelf.

    A serial already known is that extinguisher, whatever else is typed. NotAllowed; ExtinguisherElsewhere when it is on
    another cart; AgainstARule for a used or condemned one, an unnamed bracket, or one to replace that is not on this cart.
    """
    ask_role(by, WORKSHOP, "Extinguishers are placed by a fitter or a manager.")
    cart = lock_cart(cart)
    item = _extinguisher(details, at)
    if item.cart_id not in (None, cart.pk) and item.cart is not None:
        raise ExtinguisherElsewhere(
            f"Extinguisher {item.serial} is on record on cart {item.cart.fleet_number}. Put another in its place there first, "
            "or read the serial again.",
            field="serial",
        )
    if item.condemned_at is not None:
        raise AgainstARule(
            f"Extinguisher {item.serial} is condemned: it never goes on a cart again.", field="serial"
        )
    if item.is_discharged:
        raise AgainstARule(
            f"Extinguisher {item.serial} is used or out of the green. Record its service first.",
            field="serial",
        )
    if not bracket.strip():
        raise AgainstARule("Say which bracket it is in.", field="bracket")
    if instead_of is not None:
        _to_the_shelf(instead_of, cart, item)
    item.cart, item.bracket = cart, bracket.strip()
    check_fields(item)
    item.save(update_fields=["cart", "bracket"])
    write_journal(
        event=Event.EXTINGUISHER_PLACED,
        subject=("extinguisher", item.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "serial": item.serial,
            "bracket": item.bracket,
            "instead_of": instead_of.serial if instead_of else None,
        },
    )
    return item


@transaction.atomic
def shelve_extinguisher(*, details: ExtinguisherDetails, by: Staff, at: datetime) -> Extinguisher:
    """Put a spare extinguisher on the shelf. One that is there already is that extinguisher, whatever else is typed.

    NotAllowed; ExtinguisherElsewhere when it is on a cart; AgainstARule for a condemned one or an odd plate.
    """
    ask_role(by, WORKSHOP, "Spare extinguishers are put on the shelf by a fitter or a manager.")
    item = _extinguisher(details, at)
    if item.cart is not None:
        raise ExtinguisherElsewhere(
            f"Extinguisher {item.serial} is on record on cart {item.cart.fleet_number}. "
            "Exchange it there, or read the serial again.",
            field="serial",
        )
    if item.condemned_at is not None:
        raise AgainstARule(f"Extinguisher {item.serial} is condemned: it is no spare.", field="serial")
    write_journal(
        event=Event.EXTINGUISHER_SHELVED,
        subject=("extinguisher", item.pk),
        chains=[YARD],
        by=by,
        at=at,
        facts={"serial": item.serial},
    )
    return item


@transaction.atomic
def record_extinguisher_service(
    *, extinguisher: Extinguisher, kind: str, on: date, by_words: str, by: Staff, at: datetime
) -> ExtinguisherService:
    """Record a service as stamped on the tag; a used extinguisher is taken to be charged again by it.

    kind: a word servicing knows for this extinguisher (fleet.extinguisher_kinds). The same kind on the same day again
    returns the first. NotAllowed; AgainstARule for a condemned one, an unknown kind, a day to come or before it was made, or no
    name of who did it.
    """
    ask_role(by, WORKSHOP, "Extinguisher services are recorded by a fitter or a manager.")
    item = Extinguisher.objects.select_for_update(of=("self",)).get(pk=extinguisher.pk)
    kept = item.services.filter(kind=kind, on=on).first()
    if kept is not None:
        return kept
    if item.condemned_at is not None:
        raise AgainstARule(f"Extinguisher {item.serial} is condemned: no service brings it back.")
    known = dict(kinds_for(item))
    if known and kind not in known:
        raise AgainstARule("Choose which service the tag is stamped for.", field="kind")
    if not item.made_on <= on <= yard_day(at):
        raise AgainstARule(
            f"A service of extinguisher {item.serial} lies between the day it was made and today.", field="on"
        )
    service = ExtinguisherService(extinguisher=item, kind=kind, on=on, by_words=by_words.strip())
    check_fields(service)
    service.save(force_insert=True)
    was_used, item.is_discharged = item.is_discharged, False
    item.save(update_fields=["is_discharged"])
    write_journal(
        event=Event.EXTINGUISHER_SERVICED,
        subject=("extinguisher", item.pk),
        chains=[cart_chain(item.cart_id) if item.cart_id else YARD],
        by=by,
        at=at,
        facts={"serial": item.serial, "kind": kind, "on": on, "by": service.by_words, "was_used": was_used},
    )
    return service


@transaction.atomic
def mark_extinguisher_used(
    *, extinguisher: Extinguisher, words: str, by: Staff, at: datetime
) -> Extinguisher:
    """Record an extinguisher as used, out of the green or unfit: it stops its cart until serviced or replaced.

    Anybody may. Marked already, it stays as it is. AgainstARule when nothing is said.
    """
    ask_role(by, EVERYBODY, "Only people of the yard record an extinguisher as used.")
    item = Extinguisher.objects.select_for_update(of=("self",)).get(pk=extinguisher.pk)
    if item.is_discharged:
        return item
    if not words.strip():
        raise AgainstARule(f"Say what was seen on extinguisher {item.serial}.", field="words")
    item.is_discharged = True
    item.save(update_fields=["is_discharged"])
    write_journal(
        event=Event.CART_CHANGED,
        subject=("extinguisher", item.pk),
        chains=[cart_chain(item.cart_id) if item.cart_id else YARD],
        by=by,
        at=at,
        facts={"extinguisher": item.serial, "is_used": True, "words": words.strip()},
    )
    return item


@transaction.atomic
def record_document(
    *,
    cart: Cart | None,
    kind: str,
    number: str = "",
    issued_on: date | None = None,
    expires_on: date | None = None,
    conditions: str = "",
    by: Staff,
    at: datetime,
) -> Document:
    """Record a paper of a cart, or of the whole yard (cart None). Older papers of its kind stay on record; the one that
    lapses last counts. expires_on: the last day it is good, None where it does not lapse. conditions: what it holds only with.
    The same paper again returns the first. NotAllowed; AgainstARule when it would lapse before it was issued.
    """
    ask_role(by, FLEET_ONLY, "Papers are recorded by the fleet manager.")
    if cart is not None:
        cart = lock_cart(cart)
    paper = Document(
        cart=cart,
        kind=kind,
        number=number.strip(),
        issued_on=issued_on,
        expires_on=expires_on,
        conditions=conditions.strip(),
        recorded_at=at,
        recorded_by=by,
    )
    kept = Document.objects.filter(
        cart=cart, kind=kind, number=paper.number, issued_on=issued_on, expires_on=expires_on,
        conditions=paper.conditions,
    ).first()  # fmt: skip
    if kept is not None:
        return kept
    check_fields(paper)
    with rules_of(Document):
        paper.save(force_insert=True)
    write_journal(
        event=Event.DOCUMENT_RECORDED,
        subject=("document", paper.pk),
        chains=[cart_chain(cart.pk) if cart else YARD],
        by=by,
        at=at,
        facts={
            "kind": kind, "number": paper.number, "issued_on": issued_on, "expires_on": expires_on,
            "conditions": paper.conditions,
        },
    )  # fmt: skip
    return paper
