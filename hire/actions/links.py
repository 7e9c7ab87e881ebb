"""Customer links: 192 random bits, kept as a hash, expiring, revocable at once."""

from __future__ import annotations

import secrets
from datetime import datetime

from django.db import transaction

from hire.actions.site import subject_of
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.rights import SUPERVISOR
from hire.swaps import line_now, lines_from
from inspections.site_walkers import revoke_site_walkers
from people.canonical import sha256_hex
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed
from people.roles import DESK
from people.yard import yard_policy

TOKEN_BYTES = 24


@transaction.atomic
def make_link(
    *, line: Line, for_words: str, rights: str = SUPERVISOR, by: Staff, at: datetime
) -> tuple[CustomerLink, str]:
    """Make a link to one hire and return it with its token, which is shown once and kept nowhere. rights: a word of hire.rights.
    NotAllowed."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk gives customers their links.")
    token = secrets.token_urlsafe(TOKEN_BYTES)
    return new_link(line=line, for_words=for_words, rights=rights, token=token, by=by, at=at), token


def new_link(
    *, line: Line, for_words: str, rights: str, token: str, by: Staff | None, at: datetime
) -> CustomerLink:
    """The row of a link and its journal entry, in the caller's transaction. by: null when a letter brought it of itself."""
    ends = max(at, line.promised.upper) + yard_policy().customer_link_life
    link = CustomerLink(
        line=line,
        token_sha256=sha256_hex(token),
        for_words=for_words,
        rights=rights,
        made_at=at,
        made_by=by,
        expires_at=ends,
    )
    link.save(force_insert=True)
    write_journal(
        event=Event.LINK_MADE,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id)],
        by=by,
        by_words="" if by else "The yard, with a letter",
        at=at,
        facts={"link": link.pk, "for": for_words, "rights": rights, "expires_at": ends},
    )
    return link


@transaction.atomic
def revoke_link(*, link: CustomerLink, by: Staff, at: datetime) -> CustomerLink:
    """End a link at once, and the pre-start on every phone it opened. Ending it twice changes nothing. NotAllowed."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk ends customers' links.")
    link = CustomerLink.objects.select_for_update(of=("self",)).select_related("line").get(pk=link.pk)
    if link.revoked_at is None:
        link.revoked_at = at
        link.save(update_fields=["revoked_at"])
        for line in lines_from(link.line):
            revoke_site_walkers(subject=subject_of(line), through=link.pk, by=by, at=at)
        write_journal(
            event=Event.LINK_REVOKED,
            subject=("hire_line", link.line_id),
            chains=[cart_chain(link.line.cart_id)],
            by=by,
            at=at,
            facts={"link": link.pk},
        )
    return link


def open_link(*, token: str, at: datetime) -> CustomerLink | None:
    """The link a token opens, or None: unknown, expired and revoked look the same from outside. It does not expire while the
    hire goes on, however late the cart is, nor sooner after its return than a link lives.

    The look-up is by hash, so how long it takes says nothing of how near a guess was. After a swap the link's line is the
    one of the cart that took the other's place.
    """
    link = (
        CustomerLink.objects.filter(token_sha256=sha256_hex(token), revoked_at=None)
        .select_related("line__cart", "line__agreement__customer")
        .first()
    )
    if link is None:
        return None
    link.line = line_now(link.line)
    if not _is_open(link, at=at):
        return None
    CustomerLink.objects.filter(pk=link.pk).update(last_used_at=at)
    return link


def _is_open(link: CustomerLink, *, at: datetime) -> bool:
    line = link.line
    if link.expires_at > at or line.is_out:
        return True
    return line.back_at is not None and line.back_at + yard_policy().customer_link_life > at
