"""The gate: issuing the pre-hire certificate, handing a cart over, and taking it back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from fleet.actions.carts import move_cart
from fleet.actions.permits import arrive
from fleet.models.carts import Cart
from fleet.readiness import Readiness, readiness
from hire.actions.gate_given import Given, check_given
from hire.actions.gate_late import Leaving, is_late, issue_receipt, last_eyes, leaving_then, rests_on
from hire.actions.gate_times import came_at, left_at
from hire.actions.letters import write_for_certificate
from hire.actions.not_back import end_with_return
from hire.actions.water import tell_water
from hire.models.agreements import Line
from hire.models.gate import Handover, HandoverPhoto
from hire.needs_check import CODES as GEAR_CODES
from hire.paper_source import Source
from hire.papers import certificate_content, lap_of
from hire.promises import gate_window, window_of
from hire.site_check import GATE_ONLY
from hire.wet_findings import CODES as OPERATOR_CODES
from inspections.certificates.actions import issue_paper
from inspections.certificates.models import Certificate
from inspections.models import WalkRound
from inspections.standing import latest_fit_pre_hire, pre_hire_faults
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import AT_THE_GATE, MANAGERS
from servicing.service_book import reckon_services

# What is done shortly before leaving does not stop the paper that is sent days ahead; a gate-out check's name, or its
# acceptance, is of that kind, and a pre-hire check's keeps it from making the cart fit. Who drives a cart is none of its paper.
AFTER_THE_PAPER = (
    OPERATOR_CODES
    | GATE_ONLY
    | GEAR_CODES
    | {"walk_round.gate_out", "walk_round.name", "walk_round.acceptance"}
)


# What the journal has room for.
WORDS_MOST = 120


class NotFit(Refusal):
    """No certificate: something stops the cart. `blockers` are what, worst first."""

    def __init__(self, sentence: str, blockers: Sequence[str] = ()) -> None:
        super().__init__(sentence)
        self.blockers = tuple(blockers)


class StoppedAtGate(NotFit):
    """The cart may not leave; the sentence names the worst reason."""


class NothingChanged(Refusal):
    """A certificate for this very check stands already."""


class AlreadyHandedOver(Refusal):
    """The cart has left on this hire already."""


class NoCertificate(Refusal):
    """There is no certificate that rests on the cart's present check."""


class StoppedThen(StoppedAtGate):
    """It was stopped at the moment it is said to have left: only a manager records that it left although."""


class AlthoughWanted(StoppedThen):
    """The manager who records it says why it left."""

    field = "although_words"


class NotOut(Refusal):
    """The cart is not out on this hire."""


def _newest(line: Line, **which: object) -> Certificate | None:
    papers = Certificate.objects.filter(kind="pre_hire", subject_kind="hire_line", subject_id=line.pk)
    return papers.filter(replaced_by=None, **which).select_related("file").order_by("-issued_at").first()


def valid_certificate(line: Line) -> Certificate | None:
    """The line's newest pre-hire certificate that is neither replaced nor withdrawn."""
    return _newest(line, withdrawal=None)


def gate_readiness(line: Line, *, at: datetime) -> Readiness:
    """Readiness of the cart for leaving on this hire at this moment."""
    return readiness(line.cart, window=gate_window(line, at=at), at=at)


def _locked(line_id: UUID) -> tuple[Line, Cart]:
    line = Line.objects.locked(line_id)
    Cart.objects.select_for_update(of=("self",)).get(pk=line.cart_id)
    return line, Cart.objects.for_sheets().get(pk=line.cart_id)


@transaction.atomic
def issue_certificate(*, line: Line, by: Staff | None, at: datetime, why: str = "") -> Certificate:
    """Issue the line's pre-hire certificate on its signed check, or its successor with `why`.

    by: null when the signing of the check itself set it off. NotFit with what stops it; NothingChanged; AlreadyHandedOver.
    """
    line, cart = _locked(line.pk)
    if line.cancelled_at is not None or line.handed_over_at is not None:
        raise AlreadyHandedOver(
            f"{cart.fleet_number} has left on this hire, or it was cancelled. No certificate is issued."
        )
    walk = latest_fit_pre_hire(cart, at=at)
    # A hire that should have left already is judged for leaving now.
    window = window_of(line) if line.promised.lower > at else gate_window(line, at=at)
    answer = readiness(cart, window=window, at=at)
    stops = [blocker.sentence for blocker in answer.blockers if blocker.code not in AFTER_THE_PAPER]
    if walk is None or stops:
        faults = pre_hire_faults([cart], starts={cart.pk: at}, at=at)
        worst = [*stops, *faults.values(), "no signed pre-hire check makes it fit."][0]
        raise NotFit(f"{cart.fleet_number} gets no certificate: {worst}", stops)
    old = valid_certificate(line)
    if old is not None and rests_on(old, walk) and not why:
        raise NothingChanged(f"{old.number} stands already for this check.")
    # One that was withdrawn, the cart or the work being another, has its successor too.
    gone = None if old else _newest(line, withdrawal__isnull=False)
    source = Source(line, cart, walk, answer, at, by)
    paper = issue_paper(
        kind="pre_hire",
        subject=("hire_line", line.pk),
        write=lambda numbered: certificate_content(source, numbered),
        lap_svg=lap_of(cart),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        replaces=old or gone,
        why=why or ("A newer pre-hire check was signed." if old else gone.withdrawal.why if gone else ""),
    )
    write_for_certificate(paper, line, at=at)
    return paper


def issue_for_line(line_id: UUID, at: datetime) -> None:
    """Outbox work: issue the certificate when the cart is fit; when it is not, there is nothing to do yet."""
    line = Line.objects.for_list().get(pk=line_id)
    try:
        issue_certificate(line=line, by=None, at=at)
    except (NotFit, NothingChanged, AlreadyHandedOver):
        return


def issue_for_walk_round(walk_id: UUID, at: datetime) -> None:
    """Outbox work after a walk-round is signed: the cart's services are reckoned anew, and after a pre-hire check its next
    promised hire gets its certificate."""
    walk = WalkRound.objects.filter(pk=walk_id).select_related("cart").first()
    if walk is not None:
        # What it read of the meters may have used up a service.
        reckon_services(carts=[walk.cart], at=at)
    line = (
        Line.objects.to_come()
        .filter(cart=walk.cart_id, promised__endswith__gt=at)
        .order_by("promised")
        .first()
        if walk and walk.purpose == "pre_hire"
        else None
    )
    if line is not None:
        issue_for_line(line.pk, at)


def _leaving_now(line: Line, cart: Cart, given: Given, *, at: datetime) -> Leaving:
    """What stops it now stops it, whoever asks."""
    answer = readiness(cart, window=gate_window(line, at=at), at=at)
    if answer.blockers:
        sentences = [blocker.sentence for blocker in answer.blockers]
        raise StoppedAtGate(f"{cart.fleet_number} may not leave: {sentences[0]}", sentences)
    loaded, certificate = line.loaded_for(at), valid_certificate(line)
    walk = latest_fit_pre_hire(cart, at=at, loaded_at=loaded)
    if walk is None or certificate is None or not rests_on(certificate, walk):
        raise NoCertificate(f"{cart.fleet_number} has no certificate for its present check. Issue it first.")
    eyes = last_eyes(cart, at=at) or walk
    left = left_at(line, given.happened_at, signed=(walk.signed_at, eyes.signed_at), at=at)
    return Leaving(left, answer, certificate, eyes)


def _leaving(line: Line, cart: Cart, given: Given, *, by: Staff | None, at: datetime) -> Leaving:
    """The cart that leaves now; or the one that is gone, whose handover is recorded whatever stopped it, by a manager's word."""
    told = given.happened_at
    if told is None or not is_late(told, at=at):
        return _leaving_now(line, cart, given, at=at)
    leaving = leaving_then(line, cart, told, at=at)
    if leaving.although and not (by and by.has_role(MANAGERS)):
        raise StoppedThen(
            f"{cart.fleet_number} was stopped then: {leaving.although[0]} If it left all the same, the workshop manager or the "
            "fleet manager records it and says why.",
            leaving.although,
        )
    if leaving.although and not given.although_words.strip():
        raise AlthoughWanted(
            f"{cart.fleet_number} was stopped then: {' '.join(leaving.although)} Say why it left all the same.",
            leaving.although,
        )
    return leaving


@transaction.atomic
def hand_over(*, line: Line, given: Given, by: Staff, at: datetime) -> Handover:
    """Let a cart leave: refused while anything stops it now, whoever asks. One that left earlier than this is entered is judged
    by what stopped it then, and where something did a manager says why it left.

    NotAllowed; AlreadyHandedOver; StoppedAtGate; StoppedThen; AlthoughWanted; NoCertificate; NotThatTime; PhotosWanted;
    SignatureWanted; LimitsNotAccepted. Where there is a certificate, the receipt that names it is issued in the same transaction.
    """
    if not by.has_role(AT_THE_GATE):
        raise NotAllowed("Carts are handed over by the hire desk, a yard hand or a manager.")
    return let_leave(line=line, given=given, by=by, at=at)


def let_leave(*, line: Line, given: Given, by: Staff | None, by_words: str = "", at: datetime) -> Handover:
    """As `hand_over`, in the caller's transaction, by whoever was let to: by null, by_words: the driver who collects the cart."""
    line, cart = _locked(line.pk)
    if line.handed_over_at is not None or line.cancelled_at is not None:
        raise AlreadyHandedOver(
            f"{cart.fleet_number} was handed over on {line.agreement.number} already, or it is cancelled."
        )
    leaving = _leaving(line, cart, given, by=by, at=at)
    left, certificate, answer = leaving.at, leaving.certificate, leaving.answer
    check_given(given, answer, cart)
    handover = Handover(
        line=line,
        at=left,
        by=by,
        by_words=by_words,
        certificate_number=certificate.number if certificate else "",
        mode=given.mode,
        place_words=given.place_words,
        taken_by_name=given.taken_by_name.strip() if given.mode == "signed" else "",
        signature_kind=given.signature_kind if given.mode == "signed" else "",
        signature_strokes=given.strokes if given.mode == "signed" else "",
        items_words=given.items_words,
        keys_words=given.keys_words,
        condition_words=given.condition_words,
        fuel_eighths=given.fuel_eighths,
        limits_accepted=given.limits_accepted,
        left_although="\n".join(leaving.although),
        although_words=given.although_words.strip() if leaving.although else "",
        stopped_since="\n".join(leaving.since),
    )
    line.handed_over_at, line.left_entered_at = left, at
    try:
        with transaction.atomic():
            handover.save(force_insert=True)
            line.save(update_fields=["handed_over_at", "left_entered_at"])
    except IntegrityError as error:
        raise AlreadyHandedOver(
            f"{cart.fleet_number} was handed over this very moment, or is still out."
        ) from error
    shown = [*given.sides, *(("", photo) for photo in given.photos)]
    HandoverPhoto.objects.bulk_create(
        HandoverPhoto(handover=handover, photo=photo, station=side) for side, photo in shown
    )
    if certificate is not None and leaving.eyes is not None:
        source = Source(line, cart, leaving.eyes, answer, at, by, left if is_late(left, at=at) else None)
        issue_receipt(handover, source, certificate, given.pictures)
    move_cart(
        cart=cart,
        where_kind="float" if line.agreement.leaves_by == "float" else "road",
        where_words=f"Gone to {line.agreement.place_of_work}"[:80],
        keys_words=given.keys_words,
        by=by,
        by_words=by_words[:WORDS_MOST],
        at=at,
    )
    write_journal(
        event=Event.HANDED_OVER,
        subject=("hire_line", line.pk),
        chains=[cart_chain(cart.pk), YARD],
        by=by,
        by_words=by_words[:WORDS_MOST],
        at=at,
        facts={
            "agreement": line.agreement.number,
            "happened_at": left,
            "certificate": handover.certificate_number,
            "mode": given.mode,
            "taken_by": handover.taken_by_name,
            "limits_accepted": given.limits_accepted,
        }
        | ({"left_although": leaving.although, "why": handover.although_words} if leaving.although else {}),
    )
    return handover


@transaction.atomic
def bring_back(
    *, line: Line, where_words: str, keys_words: str, water: str = "", happened_at: datetime | None = None, by: Staff, at: datetime
) -> Line:  # fmt: skip
    """Record a cart back in the yard. Always recordable, early or late. water: what it carried, a word of fleet.water.history; "":
    nobody told, and it is taken as the worst the hire allowed. happened_at: when it came, None for this moment; the charge
    ends by it, and a docket made meanwhile is put right by the next. NotAllowed; NotOut; NotThatTime."""
    if not by.has_role(AT_THE_GATE):
        raise NotAllowed("The hire desk, a yard hand or a manager records a cart back in the yard.")
    line, cart = _locked(line.pk)
    if not line.is_out:
        raise NotOut(f"{cart.fleet_number} is not out on {line.agreement.number}.")
    line.back_at, line.back_entered_at = came_at(line, happened_at, at=at), at
    line.save(update_fields=["back_at", "back_entered_at"])
    if water:
        tell_water(line=line, source=water, by=by, at=at)
    ended = end_with_return(line, cart, by=by, at=at)
    arrive(cart=cart, where_kind="yard", where_words=where_words, keys_words=keys_words, by=by, at=at)
    write_journal(
        event=Event.BACK_IN_YARD,
        subject=("hire_line", line.pk),
        chains=[cart_chain(cart.pk), YARD],
        by=by,
        at=at,
        facts={
            "agreement": line.agreement.number,
            "happened_at": line.back_at,
            "late": line.back_at > line.promised.upper,
        }
        | ended,
    )
    return line
