"""Opening a hire's pre-start on a customer's phone, and ending that: what a phone's cookie opens, and for how long."""

from __future__ import annotations

import secrets
from datetime import datetime, timedelta
from uuid import UUID

from django.db import transaction

from fleet.models.carts import Cart
from inspections.models import SiteWalker
from people.canonical import sha256_hex
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import Refusal

TOKEN_BYTES = 24
# Far more phones than one cart has drivers: whoever holds a link cannot fill the yard's tables with it.
MOST_OPEN = 60
SEEN_EVERY = timedelta(minutes=1)

Subject = tuple[str, UUID]


class NameWanted(Refusal):
    """Whoever walks on site says who they are."""

    field = "name"


class TooManyPhones(Refusal):
    """The hire is open on more phones than a cart has drivers."""

    field = "name"


def _of(subject: Subject) -> dict[str, object]:
    return {"subject_kind": subject[0], "subject_id": subject[1]}


def plain_name(typed: str) -> str:
    """A name as it is kept. A comma parts the name from the customer's in what is printed, so it holds none."""
    return " ".join(typed.replace("\x00", " ").replace(",", " ").split())[:60]


def _name(typed: str) -> str:
    if name := plain_name(typed):
        return name
    raise NameWanted("Type your name: it stands under every pre-start you sign.")


@transaction.atomic
def open_site_walker(
    *,
    cart: Cart,
    subject: Subject,
    name: str,
    for_words: str,
    how: str,
    through: UUID | None,
    expires_at: datetime,
    at: datetime,
    given_by: Staff | None = None,
) -> tuple[SiteWalker, str]:
    """Let a customer's named person, or the driver who collects, walk one cart on one hire; returns the row and its token,
    which is kept nowhere else.

    how: "link" or "gate" (through: the link's id; of the latter given_by: who gave it) or "code". NameWanted; TooManyPhones.
    """
    name = _name(name)
    Cart.objects.select_for_update(of=("self",)).get(pk=cart.pk)
    if SiteWalker.objects.filter(**_of(subject), revoked_at=None, expires_at__gt=at).count() >= MOST_OPEN:
        raise TooManyPhones(
            f"The pre-start of {cart.fleet_number} is open on {MOST_OPEN} phones already. Ask the yard to end some."
        )
    token = secrets.token_urlsafe(TOKEN_BYTES)
    walker = SiteWalker(
        cart=cart,
        **_of(subject),
        name=name,
        for_words=for_words,
        token_sha256=sha256_hex(token),
        opened_at=at,
        opened_how=how,
        opened_through=through,
        given_by=given_by,
        expires_at=expires_at,
        last_seen_at=at,
    )
    walker.save(force_insert=True)
    write_journal(
        event=Event.SITE_WALKER_OPENED,
        subject=subject,
        chains=[cart_chain(cart.pk)],
        by=None,
        by_words=walker.words,
        at=at,
        facts={"site_walker": walker.pk, "how": how, "through": through, "expires_at": expires_at},
    )
    return walker, token


def site_walker_by(*, token: str, subject: Subject, at: datetime) -> SiteWalker | None:
    """Whom a phone's token names on a hire, ended or not; None for a token of another hire or of none. That it was seen is noted.

    The look-up is by hash, so how long it takes says nothing of how near a guess was.
    """
    walker = (
        SiteWalker.objects.filter(token_sha256=sha256_hex(token), **_of(subject))
        .select_related("cart")
        .first()
    )
    if walker is not None and at - walker.last_seen_at > SEEN_EVERY:
        SiteWalker.objects.filter(pk=walker.pk).update(last_seen_at=at)
    return walker


@transaction.atomic
def revoke_site_walkers(
    *,
    subject: Subject,
    by: Staff,
    at: datetime,
    walker: SiteWalker | None = None,
    through: UUID | None = None,
) -> int:
    """End phones of a hire at once: one of them, all opened through one link, or all. How many that were; ending one twice
    changes nothing."""
    open_ones = SiteWalker.objects.filter(**_of(subject), revoked_at=None)
    if walker is not None:
        open_ones = open_ones.filter(pk=walker.pk)
    if through is not None:
        open_ones = open_ones.filter(opened_through=through)
    ended = list(open_ones.select_for_update().order_by("pk"))
    SiteWalker.objects.filter(pk__in=[one.pk for one in ended]).update(revoked_at=at)
    for one in ended:
        write_journal(
            event=Event.SITE_WALKER_REVOKED,
            subject=subject,
            chains=[cart_chain(one.cart_id)],
            by=by,
            at=at,
            facts={"site_walker": one.pk, "name": one.name},
        )
    return len(ended)


@transaction.atomic
def end_site_walkers(*, subject: Subject, by: Staff, at: datetime) -> int:
    """The hire is over: its phones are shown no cart any more, and may still send what was signed. How many that were."""
    running = SiteWalker.objects.filter(**_of(subject), over_at=None)
    ended = list(running.select_for_update().order_by("pk"))
    SiteWalker.objects.filter(pk__in=[one.pk for one in ended]).update(over_at=at)
    if ended:
        write_journal(
            event=Event.SITE_WALKERS_OVER,
            subject=subject,
            chains=[cart_chain(ended[0].cart_id)],
            by=by,
            at=at,
            facts={"site_walkers": [one.pk for one in ended]},
        )
    return len(ended)


@transaction.atomic
def resume_site_walkers(*, subject: Subject, over_at: datetime, by: Staff, at: datetime) -> int:
    """The hire is not over after all: the phones that were over at that instant go on as long as they were to. How many."""
    over = SiteWalker.objects.filter(**_of(subject), over_at=over_at, revoked_at=None, expires_at__gt=at)
    again = list(over.select_for_update().order_by("pk"))
    SiteWalker.objects.filter(pk__in=[one.pk for one in again]).update(over_at=None)
    if again:
        write_journal(
            event=Event.SITE_WALKERS_AGAIN,
            subject=subject,
            chains=[cart_chain(again[0].cart_id)],
            by=by,
            at=at,
            facts={"site_walkers": [one.pk for one in again]},
        )
    return len(again)


def extend_site_walkers(*, subject: Subject, expires_at: datetime) -> int:
    """The hire's period changed: its phones open it as long as a phone opened now would. Not a driver's who collects it: that
    is for some hours alone."""
    standing = SiteWalker.objects.filter(**_of(subject), revoked_at=None, over_at=None).exclude(
        opened_how="gate"
    )
    return standing.filter(opened_at__lt=expires_at).update(expires_at=expires_at)
