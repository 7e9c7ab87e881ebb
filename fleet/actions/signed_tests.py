"""A test of heads as it was signed on a tablet: kept beside the test, once, whoever sends it and however often."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from fleet.models.evenness import EvennessSignature, EvennessTest
from people.models import Staff
from people.refusals import Refusal


class ChangedAfterSigning(Refusal):
    """A test with this id is kept already and says something else."""


@dataclass(frozen=True)
class SignedOnTablet:
    """The signed record, under the tablet's own id. author: who signed, whatever they may do here now. signed_at: by the yard's
    clock. is_by_name: they had the tablet by name alone."""

    id: UUID
    record: str
    sha256: str
    signed_at: datetime
    clock_offset_ms: int
    author: Staff
    author_words: str
    is_by_name: bool
    kind: str
    name: str


def kept_before(signed: SignedOnTablet) -> EvennessTest | None:
    """The test this record made when it first came; ChangedAfterSigning where that says something else."""
    kept = EvennessSignature.objects.select_related("test").filter(pk=signed.id).first()
    if kept is not None and kept.record_sha256 != signed.sha256:
        raise ChangedAfterSigning(
            "This test was signed and kept already, and this copy says something else. The signed one stands; test the heads "
            "again to correct it."
        )
    return kept.test if kept else None


def keep_signature(test: EvennessTest, signed: SignedOnTablet, *, by: Staff) -> str:
    """Keep it beside its test. Gives the words for who told it, "" where whoever signed it sent it too."""
    EvennessSignature(
        id=signed.id, test=test, record=signed.record, record_sha256=signed.sha256, signed_at=signed.signed_at,
        clock_offset_ms=signed.clock_offset_ms, author_words=signed.author_words, is_by_name=signed.is_by_name, sent_by=by,
        kind=signed.kind, name=signed.name,
    ).save(force_insert=True)  # fmt: skip
    return "" if signed.author == by else f"{signed.author.full_name}, sent by {by.full_name}"[:120]
