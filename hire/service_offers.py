"""What became of services offered on site: for the hire's page, the customer's, the workshop and the dispute pack. Reads only."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from uuid import UUID

from fleet.sentences import clock_words, day_words
from hire.models.agreements import Line
from hire.models.service_offers import ServiceOffer
from people.clock import shown_by, shown_day

OFFER_HEAD = (
    "Cart", "Service", "State", "Offered", "Offered to", "From", "Until", "Access and induction", "Entered", "Entered by",
    "Answered", "Answered by", "Words", "Struck out", "Struck out why",
)  # fmt: skip


def offers_of(lines: Sequence[Line]) -> list[ServiceOffer]:
    """Of a hire's carts, the oldest first, struck out or not. One query."""
    return list(ServiceOffer.objects.filter(line__in=lines).for_list())


def state_words(offer: ServiceOffer) -> str:
    if offer.is_struck:
        return "struck out"
    if offer.is_open:
        return "not answered"
    return "agreed" if offer.answer.is_agreed else "refused"


def window_words(offer: ServiceOffer, *, at: datetime) -> str:
    """The time it was offered for: "Thursday 6.00 am to 10.00 am"."""
    start, end = offer.starts_at, offer.ends_at
    until = (
        clock_words(end)
        if shown_day(start) == shown_day(end)
        else f"{day_words(end, at=at)} {clock_words(end)}"
    )
    return f"{day_words(start, at=at)} {clock_words(start)} to {until}"


def offer_words(offer: ServiceOffer, *, at: datetime) -> str:
    """As it stands behind a service that falls due: "Offered on site Tue 24 Nov, refused by K. Olsen: …"."""
    on = shown_day(offer.offered_at)
    offered = f"Offered on site {on:%a} {on.day} {on:%b}"
    if not hasattr(offer, "answer"):
        return f"{offered} to {offer.offered_to}, not answered."
    said = offer.answer
    if said.is_agreed:
        return f"{offered}, agreed by {said.by_words} for {window_words(offer, at=at)}."
    return f"{offered}, refused by {said.by_words}: {said.words.rstrip('.')}."


def offered(carts: Collection[UUID], *, at: datetime) -> Mapping[tuple[UUID, UUID], str]:
    """What is said of the last offer of each service of carts that are out, by cart and plan. One query."""
    found = {}
    for offer in ServiceOffer.objects.of_carts_out(carts).for_list():
        with shown_by(offer.line.agreement.zone):
            found[offer.line.cart_id, offer.plan_id] = offer_words(offer, at=at)
    return found


def offer_rows(lines: Sequence[Line], *, at: datetime) -> list[tuple[ServiceOffer, str, str]]:
    """Each offer with how it stands and its time, in words."""
    return [(one, state_words(one), window_words(one, at=at)) for one in offers_of(lines)]


def offers_said(lines: Sequence[Line], *, at: datetime) -> list[str]:
    """Each offer in a sentence, for the record of a dispute."""
    with shown_by(lines[-1].agreement.zone):
        return [
            f"{one.line.cart.fleet_number}, {one.plan.name}, for {window_words(one, at=at)}: {offer_words(one, at=at)}"
            + (f" Struck out: {one.strike.why}" if one.is_struck else "")
            for one in offers_of(lines)
        ]


def offer_table(offers: Iterable[ServiceOffer]) -> Iterator[Sequence[object]]:
    for one in offers:
        said, strike = getattr(one, "answer", None), getattr(one, "strike", None)
        yield (
            one.line.cart.fleet_number, one.plan.name, state_words(one), one.offered_at, one.offered_to, one.starts_at, one.ends_at,
            one.access_words, one.made_at, one.made_by.full_name, said.told_at if said else None, said.by_words if said else "",
            said.words if said else "", strike.made_at if strike else None, strike.why if strike else "",
        )  # fmt: skip
