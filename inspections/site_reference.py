"""What the capture page needs on a customer's phone: the one cart of its hire, without a name of the yard's staff in it."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.urls import reverse

from fleet.board import BoardRow, window_for
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.needs import SiteHire, site_hire
from fleet.readiness import Readiness, readiness
from fleet.sentences import moment_words
from inspections.collecting import COLLECTION
from inspections.editions import checks_of_edition, current_edition
from inspections.models import Edition, SiteWalker, WalkRound
from inspections.querysets import last_pre_start
from inspections.reference import document, purposes_due, sheets_of
from inspections.walkers import person_of
from people.yard import yard_policy


def _defect(defect: Defect, *, at: datetime) -> dict[str, object]:
    """A defect that is known of, and how it stands; who of the yard told it or has it is the yard's business."""
    return {
        "id": str(defect.pk),
        "title": defect.title,
        "grade": defect.grade,
        "station": defect.station,
        "place": defect.place,
        "told_words": f"told {moment_words(defect.told_at, at=at)}",
        "state_words": "" if defect.state == "reported" else defect.get_state_display().lower(),
        "second_look": "",
    }


COLLECTING = "Walk the check and send it. Whether it may leave is then told at the gate’s page."


def _right_to_go(answer: Readiness, *, is_collecting: bool) -> dict[str, str]:
    """May it work? In the yard's own sentences, but for who tagged it out; what other hires and the yard's gate come to is
    no business of the person at work with it."""
    stops = [one for one in answer.blockers if not one.code.startswith(("hire.", "walk_round."))]
    if stops:
        tagged = stops[0].code.startswith("hold.")
        why = "Tagged out by the yard." if tagged else stops[0].sentence
        return {
            "state": "held",
            "sentence": f"Held: {why} Ring the yard before it works: {settings.YARD_ON_CALL}.",
        }
    if is_collecting:
        # No sign of its own says that it may go before the gate has said so.
        return {"state": "watch", "sentence": COLLECTING}
    if answer.limits:
        limits = " ".join(limit.sentence for limit in answer.limits)
        return {"state": "limits", "sentence": f"Goes with limits: {limits}"}
    return {"state": "ready", "sentence": "Nothing the yard knows of stops it."}


def _cart(cart: Cart, hire: SiteHire, edition: Edition, *, at: datetime) -> dict[str, object]:
    need = hire.need
    answer = readiness(cart, window=window_for(need, at=at), at=at)
    row = BoardRow(cart, need, answer, "", "")
    signed = WalkRound.objects.last_pre_starts(carts=[cart.pk], at=at)
    last = last_pre_start(signed, cart.pk, need.record_id)
    due = purposes_due(row, last_pre_start=last, at=at)
    leaves = "" if need.is_out else f"Leaves {moment_words(need.window.start, at=at)}, {need.label}"
    back = f"On hire, expected back {moment_words(need.window.end, at=at)}"
    return {
        "id": str(cart.pk),
        "fleet_number": cart.fleet_number,
        "plate": cart.plate,
        "make_model": cart.make_model,
        "right_to_go": _right_to_go(answer, is_collecting=bool(hire.gate_page)),
        "leaves_at": None if need.is_out else need.window.start.isoformat(),
        "leaves_words": leaves or back,
        "where": hire.where,
        "hire": {"line": str(need.record_id), "label": need.label},
        "defects": [_defect(defect, at=at) for defect in cart.defects.open().worst_first()],
        "sheets": sheets_of(cart, edition, purposes=hire.purposes),
        "purposes_due": [purpose for purpose in due if purpose in hire.purposes],
        "lap": reverse("inspections:sync_lap", args=[cart.pk]),
        # Its heads are the yard's to test.
        "spray": None,
    }


def site_reference(walker: SiteWalker, *, csrf: str, at: datetime) -> dict[str, object]:
    """The reference document of one hire: its cart, or none once it is over."""
    edition = current_edition()
    checks = checks_of_edition(edition)
    on_it = (walker.subject_kind, walker.subject_id)
    if walker.is_collecting and walker.opened_through:
        on_it = (COLLECTION, walker.opened_through)
    hire = site_hire(*on_it, at=at)
    is_over = walker.over_at is not None or hire is None or hire.is_over
    carts = []
    if hire is not None and not is_over:
        cart = Cart.objects.for_sheets().get(pk=walker.cart_id)
        carts.append(_cart(cart, hire, edition, at=at))
    return document(edition, checks, csrf=csrf, at=at) | {
        "person": person_of(walker),
        "people": [],
        "site": {
            "yard": yard_policy().name,
            "on_call": settings.YARD_ON_CALL,
            "customer": walker.for_words,
            "is_over": is_over,
            # Where a driver who collects the cart is told whether it may leave; "": none does.
            "gate_page": hire.gate_page if hire else "",
        },
        "carts": carts,
    }
