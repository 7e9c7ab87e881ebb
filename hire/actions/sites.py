"""What a site asks, written down issue by issue, and a cart turned away."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleet.sentences import past_words
from hire.models.agreements import Line
from hire.models.customers import Customer
from hire.models.sites import SiteSet, TurnedAway
from hire.site_rules import Asked, site_key
from hire.site_text import body_of
from hire.site_where import Where, where_body, where_known
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK

NOT_SAID = Where()


class SiteHasSet(Refusal):
    """There is a set for this site; it is changed, not added."""

    field = "site"


class SiteSetMoved(Refusal):
    """Somebody wrote a newer issue while this one was being changed."""


class SameAsBefore(Refusal):
    """Nothing in the set was changed."""


class NotTurnedAway(Refusal):
    """The cart was not on its way to this hire's site then."""

    field = "at"


def newest_issue(customer: Customer, site: str) -> SiteSet | None:
    return customer.site_sets.filter(site_key=site_key(site)).order_by("-issue").first()


@transaction.atomic
def write_site_set(
    *, customer: Customer, site: str, asked: Asked, where: Where = NOT_SAID, why: str, issue: int = 0,
    turned_away: TurnedAway | None = None, by: Staff, at: datetime,
) -> SiteSet:  # fmt: skip
    """Write down what a site asks. site "": every site of theirs without a set of its own. issue: the one that was changed, 0 for
    a site without any. where: by whose clock, holidays and road rules hires made for it from now on go; hires made already keep
    theirs. NotAllowed; SiteHasSet; SiteSetMoved; SameAsBefore; UnknownZone; UnknownRegion."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes down what a site asks.")
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    old, name = newest_issue(customer, site), site or "their other sites"
    if old is not None and issue == 0:
        raise SiteHasSet(f"There is a set for {name} of {customer.name} already. Change that one.")
    if old is not None and old.issue != issue:
        raise SiteSetMoved(
            f"{old.made_by.full_name} wrote issue {old.issue} of {name} {past_words(old.made_at, at=at)}. Look at it first."
        )
    body = body_of(asked) | where_body(where_known(where))
    if old is not None and old.body == body and turned_away is None:
        raise SameAsBefore(f"Nothing is changed in what {name} asks.")
    made = SiteSet(
        customer=customer, site=old.site if old else " ".join(site.split()), site_key=site_key(site),
        issue=old.issue + 1 if old else 1, body=body, why=why, turned_away=turned_away, made_at=at, made_by=by,
    )  # fmt: skip
    made.save(force_insert=True)
    write_journal(
        event=Event.SITE_SET_WRITTEN,
        subject=("site_set", made.pk),
        chains=[YARD],
        by=by,
        at=at,
        facts={"customer": customer.name, "site": made.site, "issue": made.issue, "why": why, "asked": body},
    )
    return made


@dataclass(frozen=True)
class Turned:
    """What is told of a cart turned away. failed, whose_cost: words of hire.models.sites; gear, paper: which it was, if one."""

    at: datetime
    failed: str
    words: str
    told_by_words: str
    whose_cost: str
    done_words: str
    gear: str = ""
    paper: str = ""


@transaction.atomic
def record_turned_away(*, line: Line, turned: Turned, by: Staff, at: datetime) -> TurnedAway:
    """Write down that a site did not let a cart in. NotAllowed; NotTurnedAway."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes down that a cart was turned away.")
    line = Line.objects.locked(line.pk)
    cart = line.cart.fleet_number
    if line.handed_over_at is None:
        raise NotTurnedAway(
            f"{cart} has not left on {line.agreement.number}: it cannot have been turned away."
        )
    if turned.at > at:
        raise NotTurnedAway("That is still to come. Give the time the cart was turned away.")
    if turned.at < line.handed_over_at or (line.back_at and turned.at > line.back_at):
        raise NotTurnedAway(f"{cart} was not out on {line.agreement.number} then. Correct the time.")
    row = TurnedAway(line=line, **vars(turned), recorded_at=at, recorded_by=by)
    row.save(force_insert=True)
    write_journal(
        event=Event.TURNED_AWAY,
        subject=("hire_line", line.pk),
        chains=[cart_chain(line.cart_id), YARD],
        by=by,
        at=at,
        facts={"agreement": line.agreement.number, "site": line.agreement.place_of_work, **vars(turned)},
    )
    return row
