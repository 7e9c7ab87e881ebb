"""The letters of a hire as its page shows them: to whom, when, and what became of each. Reads only."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from hire.models.agreements import Line
from hire.models.contacts import Letter
from people.outbox.models import Message

SHOWN = 20


@dataclass(frozen=True)
class LetterRow:
    """shape: of a mark; words: what became of it."""

    letter: Letter
    shape: str
    words: str
    wants_a_look: bool


def troubles(letters: Iterable[Letter]) -> dict[UUID, str]:
    """What went wrong with the last try of each letter that is not sent yet, by id. One query."""
    waiting = Message.objects.filter(
        kind="hire.letter", subject_id__in=[one.pk for one in letters], done_at=None, tries__gt=0
    )
    return {
        one.subject_id: f"Tried {one.tries} time{'s' if one.tries > 1 else ''}. {one.last_error[:120]}"
        for one in waiting
    }


def letters_of(line: Line) -> list[LetterRow]:
    """The newest letters of a hire. Two queries."""
    letters = list(line.letters.select_related("certificate", "pack", "made_by")[:SHOWN])
    wrong = troubles(letters)
    return [_row(one, wrong.get(one.pk, "")) for one in letters]


def _row(letter: Letter, wrong: str) -> LetterRow:
    wants = letter.settled_at is None
    if letter.came_back_at is not None:
        return LetterRow(letter, "caution", f"Came back: {letter.came_back_words}", wants)
    if letter.sent_at is not None:
        return LetterRow(letter, "safe", f"File SHA-256 {letter.file_sha256}", wants_a_look=False)
    return LetterRow(
        letter, "caution" if wrong else "watch", f"Not sent yet. {wrong}".strip(), bool(wrong) and wants
    )
