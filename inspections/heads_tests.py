"""A flow and evenness test from the tablet: what it needs to be caught with no signal, its signing, and what it is told."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.template.defaultfilters import floatformat
from django.urls import reverse

from fleet.actions.signed_tests import SignedOnTablet
from fleet.actions.spraying import SOURCE, record_evenness
from fleet.models.carts import Cart
from fleet.models.evenness import EvennessTest
from fleet.models.spraying import SpraySheet
from fleet.spray_page import STANDS_CLEAR
from inspections.actions import UnknownCart, staff_author
from inspections.clocks import is_flagged, put_right
from inspections.heads_record import HeadsRecord
from people.models import Staff
from people.yard import yard_policy

PURPOSE = "heads_test"
STATEMENT = "I caught these heads at this pressure. What I have written is what I measured."


def spray_of(carts: Iterable[Cart]) -> dict[UUID, dict[str, Any]]:
    """The heads in force of each cart that has spray figures, in two queries. Figures travel as text."""
    sheets = SpraySheet.objects.filter(cart__in=carts).newest_each().prefetch_related("heads")
    return {
        sheet.cart_id: {
            "sheet": str(sheet.pk),
            "version": sheet.version,
            "head_kpa": str(sheet.head_kpa),
            "heads": [
                {"id": str(row.pk), "name": row.name, "nozzle": row.nozzle, "nominal_l_min": str(row.nominal_l_min)}
                for row in sheet.heads.all()
            ],
        }
        for sheet in sheets
    }  # fmt: skip


def what_it_asks() -> dict[str, str]:
    """The words of the test, and the yard's tolerance it is judged by."""
    return {
        "label": "Flow and evenness test",
        "statement": STATEMENT,
        "must": STANDS_CLEAR,
        "tolerance_pct": str(yard_policy().head_tolerance_pct),
    }


def sign_heads_test(*, record: HeadsRecord, by: Staff, at: datetime) -> EvennessTest:
    """Keep a signed test, by the one action that keeps any; the same record again returns the first.

    It was done when its last head was caught, by the yard's clock. UnknownCart; as `record_evenness`.
    """
    sheet = SpraySheet.objects.filter(pk=record.sheet_id, cart_id=record.cart_id).first()
    if sheet is None:
        raise UnknownCart("This test is of a cart, or of spray figures, that are not in this yard’s fleet.")
    offset = timedelta(milliseconds=record.clock_offset_ms)
    author, author_words = staff_author(record.author, sender=by)
    signed_at = put_right(record.device_signed_at, offset=offset, not_after=at)
    caught_at = max(one.caught_at for one in record.catches)
    return record_evenness(
        sheet=sheet,
        done_at=put_right(caught_at, offset=offset, not_after=signed_at),
        pressure_kpa=record.pressure_kpa,
        caught=record.caught,
        words=record.words,
        signed=SignedOnTablet(
            id=record.id,
            record=record.text,
            sha256=record.sha256,
            signed_at=signed_at,
            clock_offset_ms=record.clock_offset_ms,
            author=author,
            author_words=author_words,
            is_by_name=record.author.by_name,
            kind=record.signature.kind,
            name=record.signature.name,
        ),
        by=by,
        at=at,
    )


def _pct(figure: float) -> str:
    """As the test's own page has it."""
    return f"{floatformat(figure, 1)} %"


def told(test: EvennessTest) -> dict[str, object]:
    """The receipt: the same for the same test, however often it is asked for."""
    found, signature = test.result(), test.signature
    return {
        "id": str(signature.pk),
        "sha256": signature.record_sha256,
        "outcome": "out" if found.is_out else "good",
        "headline": f"Christiansen {_pct(found.christiansen_pct)}, low quarter {_pct(found.low_quarter_pct)}.",
        "sentences": [*found.sentences, *_what_follows(test, is_out=found.is_out)],
        "page": reverse("fleet:evenness_detail", args=[test.pk]),
        "received_at": test.recorded_at.isoformat(),
        "clock_flag": is_flagged(timedelta(milliseconds=signature.clock_offset_ms)),
    }


def _what_follows(test: EvennessTest, *, is_out: bool) -> Iterable[str]:
    if is_out:
        has_told = test.cart.defects.filter(source_kind=SOURCE, source_id=test.pk).exists()
        yield "The workshop is told." if has_told else "The defect that an earlier test told is still open."
    if later := test.later_figures():
        yield later
