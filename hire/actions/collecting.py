"""A driver who collects a cart: the link they are given, the gate-out check on their phone, and leaving with it."""

from __future__ import annotations

import secrets
from dataclasses import replace
from datetime import datetime, timedelta

from django.db import transaction

from fleet.lap.stations import station
from hire.actions.gate import AlreadyHandedOver, gate_readiness, let_leave
from hire.actions.gate_given import SIDES, Given, LimitsNotAccepted, PhotosWanted
from hire.actions.links import TOKEN_BYTES
from hire.actions.site import subject_of
from hire.models.agreements import Line
from hire.models.gate import Handover
from hire.models.links import CollectionLink
from inspections.models import SiteWalker
from inspections.site_walkers import open_site_walker, plain_name, revoke_site_walkers
from people.canonical import sha256_hex
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK, MANAGERS
from people.yard import yard_policy

MAY_GIVE = DESK | MANAGERS
# What was signed on the phone may still be sent so long after the link ran out. Common practice, no source.
SENDS_FOR = timedelta(days=2)


class DriverWanted(Refusal):
    """A collection link is for one named driver."""

    field = "name"


class FirmWanted(Refusal):
    """A float firm's driver has a firm."""

    field = "firm"


class LinkOver(Refusal):
    """The link was ended or has run out, or the cart is not to be collected on it any more."""


class NotTheirName(Refusal):
    """Whoever signs is another than the driver the link was given to."""

    field = "signed_name"


def _check_giver(by: Staff) -> None:
    if not by.has_role(MAY_GIVE):
        raise NotAllowed("The hire desk or a manager gives a driver the link to collect a cart.")


def _firm(line: Line, drives_for: str, typed: str) -> str:
    if drives_for == "customer":
        return line.agreement.customer.name[:80]
    if drives_for == "casual":
        return yard_policy().name[:80]
    if firm := " ".join(typed.split())[:80]:
        return firm
    raise FirmWanted("Type the float firm the driver is with: it stands on the receipt.")


@transaction.atomic
def make_collection_link(
    *, line: Line, name: str, drives_for: str, firm: str = "", phone: str, by: Staff, at: datetime
) -> tuple[CollectionLink, str]:
    """Give a named driver the link to do the gate-out check of one cart on one hire, in the place of the one given before, and
    return it with its token, which is shown once and kept nowhere. drives_for: a key of DRIVES_FOR; firm: a float firm's name.

    NotAllowed; AlreadyHandedOver; DriverWanted; FirmWanted.
    """
    _check_giver(by)
    line = Line.objects.locked(line.pk)
    cart = line.cart.fleet_number
    if line.handed_over_at is not None or line.cancelled_at is not None:
        raise AlreadyHandedOver(
            f"{cart} has left on {line.agreement.number}, or that is cancelled. There is nothing to collect."
        )
    name = plain_name(name)
    if not name or not phone.strip():
        raise DriverWanted(f"Type the name and the phone number of the driver who collects {cart}.")
    for before in line.collection_links.filter(revoked_at=None):
        _end(before, line, by=by, at=at)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    link = CollectionLink(
        line=line,
        cart=line.cart,
        token_sha256=sha256_hex(token),
        name=name,
        drives_for=drives_for,
        firm=_firm(line, drives_for, firm),
        phone=" ".join(phone.split())[:40],
        made_at=at,
        made_by=by,
        expires_at=at + yard_policy().collection_link_good,
    )
    link.save(force_insert=True)
    write_journal(
        event=Event.COLLECTION_LINK_MADE,
        subject=subject_of(line),
        chains=[cart_chain(line.cart_id)],
        by=by,
        at=at,
        facts={"link": link.pk, "driver": link.words, "phone": link.phone, "expires_at": link.expires_at},
    )
    return link, token


def _end(link: CollectionLink, line: Line, *, by: Staff, at: datetime) -> None:
    link.revoked_at = at
    link.save(update_fields=["revoked_at"])
    revoke_site_walkers(subject=subject_of(line), through=link.pk, by=by, at=at)


@transaction.atomic
def end_collection_link(*, link: CollectionLink, by: Staff, at: datetime) -> None:
    """End a driver's link at once, and the check on every phone it opened. Ending it twice changes nothing. NotAllowed."""
    _check_giver(by)
    line = Line.objects.locked(link.line_id)
    link = CollectionLink.objects.select_for_update(of=("self",)).get(pk=link.pk)
    if link.revoked_at is not None:
        return
    _end(link, line, by=by, at=at)
    write_journal(
        event=Event.COLLECTION_LINK_ENDED,
        subject=subject_of(line),
        chains=[cart_chain(link.cart_id)],
        by=by,
        at=at,
        facts={"link": link.pk, "driver": link.words},
    )


def open_collection_link(*, token: str, at: datetime) -> CollectionLink | None:
    """The link a token opens, or None: unknown, run out, ended, and of a cart that has left look the same from outside.

    The look-up is by hash, so how long it takes says nothing of how near a guess was.
    """
    return _open(CollectionLink.objects.for_page().filter(token_sha256=sha256_hex(token)).first(), at=at)


def link_of_phone(*, walker: SiteWalker | None, at: datetime) -> CollectionLink | None:
    """The link a driver's phone was opened through; None where it is not open any more, or the phone is another's."""
    if walker is None or not walker.is_collecting or walker.opened_through is None:
        return None
    return _open(CollectionLink.objects.for_page().filter(pk=walker.opened_through).first(), at=at)


def _open(link: CollectionLink | None, *, at: datetime) -> CollectionLink | None:
    if link is None or not link.is_open(at=at):
        return None
    CollectionLink.objects.filter(pk=link.pk).update(last_used_at=at)
    return link


def _locked(link: CollectionLink, *, at: datetime) -> CollectionLink:
    """The link with its hire locked, so that neither ends meanwhile. LinkOver."""
    line = Line.objects.locked(link.line_id)
    link = CollectionLink.objects.for_page().get(pk=link.pk)
    link.line = line
    if not link.is_open(at=at):
        raise LinkOver("This link is over: it was ended, it ran out, or the cart has left. Ring the yard.")
    return link


@transaction.atomic
def open_gate_out(*, link: CollectionLink, at: datetime) -> tuple[SiteWalker, str]:
    """Open the gate-out check on the driver's phone; returns who it is known by and the token. LinkOver; TooManyPhones."""
    link = _locked(link, at=at)
    return open_site_walker(
        cart=link.cart,
        subject=subject_of(link.line),
        name=link.name,
        for_words=link.firm,
        how="gate",
        through=link.pk,
        given_by=link.made_by,
        expires_at=link.expires_at + SENDS_FOR,
        at=at,
    )


@transaction.atomic
def leave_with(*, link: CollectionLink, given: Given, at: datetime) -> Handover:
    """The driver leaves with the cart: the handover by the gate's own rules, by nobody of the yard. The customer's driver takes it
    over, signs and accepts its limits; another driver leaves with nobody present, and never with limits, which are not theirs
    to accept. Each side of the cart is photographed.

    LinkOver; PhotosWanted; NotTheirName; LimitsNotAccepted; and what `hire.actions.gate.hand_over` refuses.
    """
    link = _locked(link, at=at)
    line, cart = link.line, link.cart.fleet_number
    taken = dict(given.sides)
    if missing := [station(side).label.lower() for side in SIDES if side not in taken]:
        raise PhotosWanted(
            f"Photograph {cart} from each side before you leave. Still wanted: {', '.join(missing)}."
        )
    if plain_name(given.taken_by_name).casefold() != link.name.casefold():
        raise NotTheirName(
            f"This link is {link.name}’s. Type that name; if you are somebody else, ring the yard."
        )
    if not link.is_of_the_customer:
        answer = gate_readiness(line, at=at)
        if answer.limits or answer.passed:
            raise LimitsNotAccepted(
                f"{cart} goes with limits, which {line.agreement.customer.name} has to accept first. Do not leave: ring the yard."
            )
        given = replace(given, mode="left", taken_by_name="", signature_kind="", strokes="")
    by_words = f"{link.name}, driver of {link.firm}, on a phone link given by {link.made_by.full_name}"
    return let_leave(line=line, given=given, by=None, by_words=by_words[:240], at=at)
