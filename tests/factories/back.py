"""A cart that left, came back and was walked as returned. Everything here goes through the real actions, or keeps their rules."""

from __future__ import annotations

from datetime import datetime, timedelta

from fleet.models.defects import Defect
from hire.actions.gate import bring_back, hand_over
from hire.models.agreements import Line
from hire.models.gate import Handover
from inspections.models import Answer
from people.models import Staff
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, DefectFactory, PhotoFactory
from tests.factories.hire import LineFactory, given, ready_line
from tests.factories.people import StaffFactory

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
REAR = "as-it-came-back-rear"


def back_line(*, at: datetime) -> tuple[Line, Defect]:
    """A hire that is over, with kit on its list and a defect told while it was out."""
    line = LineFactory(cart=CartFactory(), starts_at=at - 5 * DAY, out_at=at - 5 * DAY, came_back_at=at - DAY)
    Handover.objects.create(
        line=line, at=at - 5 * DAY, by=StaffFactory(role="hire_desk"), certificate_number="RGF-2026-00001-0", mode="signed",
        place_words="Home yard", taken_by_name="Aoife Merrin", signature_kind="typed", keys_words="With the driver",
        condition_words="Clean", items_words="Standpipe SP-14\nHydrant key\n20 m hose", fuel_eighths=8,
    )  # fmt: skip
    dent = DefectFactory(
        cart=line.cart,
        title="Side board bent",
        station="rear",
        place="",
        grade="by_date",
        told_at=at - 2 * DAY,
    )
    return line, dent


def wrong(words: str, grade: str = "by_date", *, photos: int = 1) -> dict[str, object]:
    """An answer that finds something wrong, with pictures of it."""
    pictures = [PhotoFactory().original_sha256 for _ in range(photos)]
    return {"answer": "wrong", "grade": grade, "words": words, "photos": pictures}


def found_again(*, hand: Staff, at: datetime, line: Line, grade: str = "by_date") -> Answer:
    """The rear of a cart that is back is wrong as it came, where it was wrong as it left: no defect is told of it."""
    DefectFactory(
        cart=line.cart, title="As it came back", words="Old scrape", grade=grade, station="rear", place="", check_key=REAR,
        told_at=line.handed_over_at - DAY,
    )  # fmt: skip
    signed = walk.sign(line.cart, "as_returned", by=hand, at=at, answers={REAR: wrong("Bumper bent", grade)})
    return signed.answers.get(check_key=REAR)


def returned_line(
    *, hand: Staff, at: datetime, out: dict | None = None, found: dict | None = None, washed: dict | None = None,
    cart=None, **given_changed,
) -> Line:  # fmt: skip
    """Handed over at `at`, back five days later, walked as returned within the hour; washed: walked after the wash too.

    out: what the gate-out check found otherwise; found: the check as returned; both by check key.
    """
    line = ready_line(hand=hand, at=at, cart=cart or CartFactory(fleet_number="RG07", tyres=True))
    if out:
        walk.sign(line.cart, "gate_out", by=hand, at=at - timedelta(minutes=5), answers=out)
    hand_over(line=line, given=given(**given_changed), by=hand, at=at)
    back_at = at + 5 * DAY
    bring_back(line=line, where_words="Wash bay", keys_words="Key board", by=hand, at=back_at)
    walk.sign(
        line.cart, "as_returned", by=hand, at=back_at + HOUR, answers={"fuel": {"value": "7"}} | (found or {})
    )
    if washed is not None:
        walk.sign(line.cart, "after_wash", by=hand, at=back_at + DAY, answers=washed)
    return Line.objects.for_list().get(pk=line.pk)
