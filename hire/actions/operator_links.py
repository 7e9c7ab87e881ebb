"""Operators' links: 192 random bits, kept as a hash, expiring, ended at once."""

from __future__ import annotations

import secrets
from datetime import datetime

from django.db import transaction

from hire.actions.links import TOKEN_BYTES
from hire.models.operators import Operator, OperatorLink
from people.canonical import sha256_hex
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.yard import yard_policy


class OutOfTheBook(Refusal):
    """The operator is out of the book: no link opens for them."""


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk gives operators their links.")


@transaction.atomic
def make_operator_link(*, operator: Operator, by: Staff, at: datetime) -> tuple[OperatorLink, str]:
    """Make a link to an operator's own dockets, in the place of the one before, and return it with its token, which is shown once
    and kept nowhere. NotAllowed; OutOfTheBook."""
    _check(by)
    operator = Operator.objects.select_for_update(of=("self",)).select_related("staff").get(pk=operator.pk)
    if operator.ended_at is not None:
        raise OutOfTheBook(f"{operator} is out of the book. Add them again first.")
    operator.links.filter(revoked_at=None).update(revoked_at=at)
    token = secrets.token_urlsafe(TOKEN_BYTES)
    ends = at + yard_policy().customer_link_life
    link = OperatorLink(
        operator=operator, token_sha256=sha256_hex(token), made_at=at, made_by=by, expires_at=ends
    )
    link.save(force_insert=True)
    write_journal(
        event=Event.OPERATOR_LINK_MADE,
        subject=("operator", operator.pk),
        by=by,
        at=at,
        facts={"link": link.pk, "operator": str(operator), "expires_at": ends},
    )
    return link, token


@transaction.atomic
def end_operator_link(*, operator: Operator, by: Staff, at: datetime) -> None:
    """End an operator's link at once. Ending it twice changes nothing. NotAllowed."""
    _check(by)
    operator = Operator.objects.select_for_update(of=("self",)).select_related("staff").get(pk=operator.pk)
    if operator.links.filter(revoked_at=None).update(revoked_at=at):
        write_journal(
            event=Event.OPERATOR_LINK_ENDED,
            subject=("operator", operator.pk),
            by=by,
            at=at,
            facts={"operator": str(operator)},
        )


def open_operator_link(*, token: str, at: datetime) -> OperatorLink | None:
    """The link a token opens, or None: unknown, expired, ended and out of the book look the same from outside."""
    found = OperatorLink.objects.filter(token_sha256=sha256_hex(token), revoked_at=None, expires_at__gt=at)
    return found.filter(operator__ended_at=None).select_related("operator__staff").first()
