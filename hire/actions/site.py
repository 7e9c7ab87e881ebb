"""The doors by which a customer's person comes to the pre-start of one hire: their link, or the plate with the site code."""

from __future__ import annotations

import secrets
from datetime import datetime
from uuid import UUID

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction

from hire.models.agreements import Line
from hire.models.links import CollectionLink, CustomerLink, SiteCode
from inspections.models import SiteWalker
from inspections.site_cookie import HIRE_KIND
from inspections.site_walkers import NameWanted, Subject, open_site_walker, revoke_site_walkers
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.throttle import count_try, take_back_try
from people.yard import yard_policy

# Without what is taken for something else on a muddy plate or a bad line: 0 O Q, 1 I L, 2 Z, 5 S, 8 B, U V.
LETTERS = "ACDEFGHJKMNPRTWXY34679"
LENGTH = 8
FREE_TRIES_OF_PAIR = 4
FREE_TRIES_OF_ADDRESS = 20
FREE_TRIES_OF_PLATE = 40
FREE_TRIES_OF_LINK = 6


class HireOver(Refusal):
    """The cart is back from this hire, or it was cancelled."""


class WrongCode(Refusal):
    """The plate and the code do not go together; which of the two is at fault is not said."""

    field = "code"


class TooManyTries(Refusal):
    """Wrong codes were typed here too often lately."""

    field = "code"


def subject_of(line: Line) -> Subject:
    return (HIRE_KIND, line.pk)


def expires_at(line: Line, *, at: datetime) -> datetime:
    """How long a phone opened now stays open: as long as a customer link."""
    ends: datetime = max(at, line.promised.upper) + yard_policy().customer_link_life
    return ends


def printed(code: str) -> str:
    """A code as it is read out and printed: K7QF-3MXP."""
    return f"{code[:4]}-{code[4:]}"


def _typed(code: str) -> str:
    return "".join(letter for letter in code.upper() if letter.isalnum())


def _check_desk(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk says who may walk a cart on site.")


def _check_runs(line: Line) -> None:
    if line.back_at is not None or line.cancelled_at is not None:
        raise HireOver(
            f"The hire of {line.cart.fleet_number} on {line.agreement.number} is over. No pre-start is owed on it any more."
        )


def count_link_try(what: str, link: CustomerLink | CollectionLink, *, at: datetime) -> None:
    """Count one try of a link before it is looked at. TooManyTries."""
    if wait := count_try([(f"{what} {link.pk}", FREE_TRIES_OF_LINK)], at=at):
        raise TooManyTries(f"This was sent many times. Wait {wait} seconds, or ring the yard.")


@transaction.atomic
def make_site_code(*, line: Line, by: Staff, at: datetime, code: str | None = None) -> tuple[SiteCode, str]:
    """Make a hire's site code, or a new one in its place, and return it with the code itself, which is shown once and kept
    nowhere. code: only an invented yard says which. Phones that are open stay so. NotAllowed; HireOver."""
    _check_desk(by)
    line = Line.objects.locked(line.pk)
    _check_runs(line)
    code = code or "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
    made, is_new = SiteCode.objects.update_or_create(
        line=line, defaults={"code_hash": make_password(code), "made_at": at, "made_by": by}
    )
    write_journal(
        event=Event.SITE_CODE_MADE,
        subject=subject_of(line),
        chains=[cart_chain(line.cart_id)],
        by=by,
        at=at,
        facts={"agreement": line.agreement.number, "renewed": not is_new},
    )
    return made, code


@transaction.atomic
def _open(
    line_id: UUID, *, name: str, how: str, through: UUID | None, at: datetime
) -> tuple[SiteWalker, str]:
    # Under the line's lock, so that no phone is opened on a hire that ends this very moment.
    line = Line.objects.locked(line_id)
    _check_runs(line)
    return open_site_walker(
        cart=line.cart,
        subject=subject_of(line),
        name=name,
        for_words=line.agreement.customer.name,
        how=how,
        through=through,
        expires_at=expires_at(line, at=at),
        at=at,
    )


def open_through_link(*, link: CustomerLink, name: str, at: datetime) -> tuple[SiteWalker, str]:
    """Open a hire's pre-start on the phone of whoever holds its link. NameWanted; HireOver; TooManyPhones."""
    return _open(link.line_id, name=name, how="link", through=link.pk, at=at)


def _line_at(plate_code: str) -> Line | None:
    """The hire a plate's site code is for: the one its cart is out on, else the next with a code."""
    lines = (
        Line.objects.unfinished()
        .filter(cart__plate_code=plate_code, site_code__isnull=False)
        .select_related("site_code")
    )
    out = lines.out_now().first()
    return out or lines.order_by("promised").first()


def _keys(plate_code: str, address: str) -> list[tuple[str, int]]:
    plate = plate_code[:40]
    return [
        (f"site code {plate}@{address}", FREE_TRIES_OF_PAIR),
        (f"site code @{address}", FREE_TRIES_OF_ADDRESS),
        (f"site code {plate}", FREE_TRIES_OF_PLATE),
    ]


def open_with_code(
    *, plate_code: str, code: str, name: str, address: str, at: datetime
) -> tuple[SiteWalker, str]:
    """Open the pre-start of the hire a cart is on, for whoever stands at its plate and has the site code.

    A try is counted before the code is compared, so that many at once are no more tries than one after the other.
    NameWanted; TooManyTries; WrongCode, also for a plate or a hire that is not there; TooManyPhones.
    """
    if not name.strip():
        raise NameWanted("Type your name: it stands under every pre-start you sign.")
    keys = _keys(plate_code, address)
    if wait := count_try(keys, at=at):
        raise TooManyTries(f"Too many tries. Wait {wait} seconds and try again, or ring the yard.")
    line, typed = _line_at(plate_code), _typed(code)
    if line is None:
        # A plate that opens nothing takes as long as one that does.
        make_password(typed)
    if line is None or not check_password(typed, line.site_code.code_hash):
        raise WrongCode(
            "That site code does not open this plate. Check it with your supervisor, or ring the yard."
        )
    take_back_try(keys, at=at)
    return _open(line.pk, name=name, how="code", through=None, at=at)


@transaction.atomic
def end_site_walker(*, walker: SiteWalker, by: Staff, at: datetime) -> None:
    """End the pre-start on one phone at once. Ending it twice changes nothing. NotAllowed."""
    _check_desk(by)
    revoke_site_walkers(subject=(walker.subject_kind, walker.subject_id), walker=walker, by=by, at=at)
