"""Offering a service on site to the customer of a cart that is out; the answer, by word or by link; striking an offer out."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleet.sentences import moment_words, past_words
from hire.actions.site import count_link_try
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.models.service_offers import OfferAnswer, OfferStrike, ServiceOffer
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK, WORKSHOP
from servicing.models.plans import ServicePlan

MAY_OFFER = DESK | WORKSHOP


class NotOutThere(Refusal):
    """The cart is not out on this hire: the service is the workshop's, at the yard."""


class NoSuchService(Refusal):
    """The service does not come round on this cart."""

    field = "plan"


class OfferedAlready(Refusal):
    """The service is offered, and nobody has answered."""


class OfferSettled(Refusal):
    """The offer is answered or struck out."""


class NotThatTime(Refusal):
    """A time to come that has to have passed, or the other way about."""


class WordsWanted(Refusal):
    """A refusal without words, or an answer by nobody."""


@dataclass(frozen=True)
class Offered:
    """As it was told: to whom, when, for which time (aware), and what the site has to let in or induct."""

    offered_to: str
    offered_at: datetime
    starts_at: datetime
    ends_at: datetime
    access_words: str = ""


@dataclass(frozen=True)
class Answered:
    is_agreed: bool
    by_words: str
    words: str = ""


def _check(by: Staff) -> None:
    if not by.has_role(MAY_OFFER):
        raise NotAllowed("The hire desk and the workshop offer services on site.")


def _write(
    event: Event, offer: ServiceOffer, *, by: Staff | None, by_words: str = "", at: datetime, **facts: object
) -> None:
    write_journal(
        event=event, subject=("hire_line", offer.line_id), chains=[cart_chain(offer.line.cart_id), YARD], by=by,
        by_words=by_words, at=at, facts={"offer": offer.pk, "service": offer.plan.name} | facts,
    )  # fmt: skip


def _check_told(told_at: datetime, *, at: datetime, field: str) -> None:
    if told_at > at:
        raise NotThatTime(
            f"That is still to come: {moment_words(told_at, at=at)}. Give a time that has passed.",
            field=field,
        )


@transaction.atomic
def offer_service(*, line: Line, plan: ServicePlan, said: Offered, by: Staff, at: datetime) -> ServiceOffer:
    """Write down that a service was offered on site. NotAllowed; NotOutThere; NoSuchService; NotThatTime; OfferedAlready."""
    _check(by)
    line = Line.objects.locked(line.pk)
    cart = line.cart.fleet_number
    if not line.is_out:
        raise NotOutThere(
            f"{cart} is not out on {line.agreement.number}. Do the service in the yard, or book a workshop day."
        )
    if not line.cart.services_due.filter(plan=plan).exists():
        raise NoSuchService(f"{plan.name} does not come round on {cart}. Choose a service of that cart.")
    _check_told(said.offered_at, at=at, field="offered_at")
    if said.ends_at <= said.starts_at:
        raise NotThatTime("It ends before it begins. Correct one of the two times.", field="ends_at")
    if said.starts_at < said.offered_at:
        raise NotThatTime(
            "A service is offered for a time to come. Correct one of the times.", field="starts_at"
        )
    before = line.service_offers.filter(plan=plan)
    for one in before.for_list():
        if one.is_open:
            raise OfferedAlready(
                f"{plan.name} is offered to {one.offered_to} since {past_words(one.offered_at, at=at)}, not answered. Write "
                "the answer down, or strike the offer out.",
                field="plan",
            )
    offer = ServiceOffer(line=line, plan=plan, nth=before.count() + 1, made_at=at, made_by=by, **vars(said))
    offer.save(force_insert=True)
    _write(Event.SERVICE_OFFERED, offer, by=by, at=at, **vars(said))
    return offer


def _open(offer: ServiceOffer) -> ServiceOffer:
    """The offer under its line's lock, once it is sure that nobody has answered. OfferSettled."""
    Line.objects.locked(offer.line_id)
    offer = ServiceOffer.objects.for_list().get(pk=offer.pk)
    name = f"{offer.plan.name} of {offer.line.cart.fleet_number}"
    if offer.is_struck:
        raise OfferSettled(f"The offer of {name} is struck out. Offer it anew.")
    if not offer.is_open:
        how = "agreed" if offer.answer.is_agreed else "refused"
        raise OfferSettled(
            f"{name} was {how} by {offer.answer.by_words} already. Offer it anew if that is no longer so."
        )
    return offer


def _answer(
    offer: ServiceOffer,
    said: Answered,
    row: OfferAnswer,
    *,
    by: Staff | None,
    by_words: str = "",
    at: datetime,
) -> OfferAnswer:
    if not said.by_words.strip():
        raise WordsWanted("Say who answered, by name.", field="by_words")
    if not said.is_agreed and not said.words.strip():
        raise WordsWanted("Say why it is refused, in the words that were used.", field="words")
    row.offer, row.made_at, row.made_by = offer, at, by
    for name, value in vars(said).items():
        setattr(row, name, value)
    row.save(force_insert=True)
    event = Event.SERVICE_AGREED if said.is_agreed else Event.SERVICE_REFUSED
    _write(
        event,
        offer,
        by=by,
        by_words=by_words,
        at=at,
        told_at=row.told_at,
        said_by=said.by_words,
        words=said.words,
    )
    return row


@transaction.atomic
def answer_offer(
    *, offer: ServiceOffer, said: Answered, told_at: datetime, by: Staff, at: datetime
) -> OfferAnswer:
    """Write down what the customer answered. NotAllowed; OfferSettled; NotThatTime; WordsWanted."""
    _check(by)
    offer = _open(offer)
    _check_told(told_at, at=at, field="told_at")
    if told_at < offer.offered_at:
        raise NotThatTime(
            f"It was offered {past_words(offer.offered_at, at=at)}. Give that time or a later one.",
            field="told_at",
        )
    return _answer(offer, said, OfferAnswer(told_at=told_at), by=by, at=at)


def answer_by_link(*, offer: ServiceOffer, link: CustomerLink, said: Answered, at: datetime) -> OfferAnswer:
    """What the customer's person answers through their link, now. TooManyTries; OfferSettled; WordsWanted."""
    count_link_try("service answer", link, at=at)
    with transaction.atomic():
        offer = _open(offer)
        words = f"{said.by_words}, by the link for {link.for_words}"
        return _answer(offer, said, OfferAnswer(told_at=at, link=link), by=None, by_words=words, at=at)


@transaction.atomic
def strike_offer(*, offer: ServiceOffer, why: str, by: Staff, at: datetime) -> OfferStrike:
    """An offer was written down by mistake, answered or not. NotAllowed; OfferSettled."""
    _check(by)
    Line.objects.locked(offer.line_id)
    offer = ServiceOffer.objects.for_list().get(pk=offer.pk)
    if offer.is_struck:
        raise OfferSettled(f"The offer of {offer.plan.name} is struck out already.")
    strike = OfferStrike(offer=offer, why=why, made_at=at, made_by=by)
    strike.save(force_insert=True)
    _write(Event.SERVICE_OFFER_STRUCK, offer, by=by, at=at, why=why)
    return strike
