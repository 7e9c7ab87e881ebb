"""How a cart leaves, and its receipt: of one entered later than it happened, what stopped it at that moment and what has since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db.models import Q

from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.readiness import Readiness, readiness
from hire.actions.gate_times import MINUTE, left_at
from hire.models.agreements import LATE_AFTER, Line
from hire.models.gate import Handover
from hire.paper_source import Source
from hire.papers import lap_of, receipt_content
from hire.promises import gate_window
from inspections.certificates.actions import issue_paper, paper_of
from inspections.certificates.models import Certificate
from inspections.models import WalkRound
from inspections.standing import latest_fit_pre_hire
from people.journal.actions import cart_chain

NO_CERTIFICATE = "No certificate for its check of that time was issued."


@dataclass(frozen=True)
class Leaving:
    """How a cart leaves. eyes: the check its receipt rests on. although: what stopped it then, a sentence each, worst first; since:
    what stops it now and did not then."""

    at: datetime
    answer: Readiness
    certificate: Certificate | None
    eyes: WalkRound | None
    although: tuple[str, ...] = ()
    since: tuple[str, ...] = ()


def is_late(told: datetime | None, *, at: datetime) -> bool:
    """Whether a handover told of so is a late entry, judged at the moment it happened."""
    return told is not None and at - told > LATE_AFTER


def leaving_then(line: Line, cart: Cart, told: datetime, *, at: datetime) -> Leaving:
    """The leaving of a cart at a moment gone by, as things were on record then. NotThatTime where it cannot have left then."""
    left = _to_the_minute(cart, left_at(line, told, signed=(), at=at))
    then = readiness(cart, window=replace(gate_window(line, at=left), as_then=True), at=left)
    now = readiness(cart, window=gate_window(line, at=at), at=at)
    walk = latest_fit_pre_hire(cart, at=left, loaded_at=line.loaded_for(left))
    certificate = _certificate_then(line, left=left)
    although = [one.sentence for one in then.blockers]
    # With no check that made it fit, what kept it from that is among what stopped it.
    if certificate is None or (walk is not None and not rests_on(certificate, walk)):
        although.append(NO_CERTIFICATE)
    stopped = {(one.code, one.record) for one in then.blockers}
    # That its checks have aged since says nothing of the cart.
    since = [
        one.sentence
        for one in now.blockers
        if (one.code, one.record) not in stopped and not one.code.startswith("walk_round.")
    ]
    eyes = last_eyes(cart, at=left) or walk
    return Leaving(left, then, certificate, eyes, tuple(although), tuple(since))


def rests_on(certificate: Certificate, walk: WalkRound | None) -> bool:
    """Whether a certificate was issued for this very walk-round."""
    return walk is not None and paper_of(certificate).method.walk_round_id == str(walk.pk)


def last_eyes(cart: Cart, *, at: datetime) -> WalkRound | None:
    """The newest gate-out check; its receipt rests on it."""
    gate_out = WalkRound.objects.counting().filter(cart=cart, purpose="gate_out", signed_at__lte=at)
    loaded = gate_out.order_by("-signed_at").with_name().select_related("edition", "name_confirmation__by")
    return loaded.first()


def _certificate_then(line: Line, *, left: datetime) -> Certificate | None:
    """The newest certificate of the line by that moment, unless it was withdrawn by then."""
    papers = Certificate.objects.filter(kind="pre_hire", subject_kind="hire_line", subject_id=line.pk)
    stood = papers.filter(Q(withdrawal=None) | Q(withdrawal__at__gt=left), issued_at__lte=left)
    return stood.select_related("file").order_by("-issued_at").first()


def _to_the_minute(cart: Cart, told: datetime) -> datetime:
    """A time is typed to the minute: a check signed within it was signed before the cart left."""
    signed = WalkRound.objects.filter(
        cart=cart, purpose__in=["pre_hire", "gate_out"], signed_at__gt=told, signed_at__lt=told + MINUTE
    ).order_by("-signed_at")
    return signed.values_list("signed_at", flat=True).first() or told


def issue_receipt(
    handover: Handover, source: Source, certificate: Certificate, pictures: Sequence[Photo]
) -> Certificate:
    """The receipt of a handover. Called inside the action that hands over."""
    return issue_paper(
        kind="receipt",
        subject=("hire_line", source.line.pk),
        write=lambda numbered: receipt_content(
            source, numbered, handover=handover, certificate=certificate, pictures=pictures
        ),
        lap_svg=lap_of(source.cart),
        chains=[cart_chain(source.cart.pk)],
        by=source.by,
        at=source.at,
    )
