"""The yard's check sheets by issue: the newest counts, a signed walk-round keeps its own for ever."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import lru_cache

from django.db import connection, transaction

from inspections.check import Check, CheckRefused
from inspections.library import checks_from, checks_of, content_of, library, lot_purposes_of, merge
from inspections.models import Answer, Edition, YardCheck
from people.canonical import canonical_text, sha256_hex
from people.journal.actions import write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS

# Issues are sealed, and a sealed row cannot be locked by the role that runs: publishing takes turns on this number.
PUBLISH_LOCK = 7_245_303


class NothingToPublish(Refusal):
    """The newest issue says the same already."""


class CheckNotWellWritten(Refusal):
    """A yard check that a walk-round could not ask."""


class NoEdition(Refusal):
    """No check sheet has been published yet."""


def newest_edition() -> Edition | None:
    return Edition.objects.order_by("-number").first()


def current_edition() -> Edition:
    """The newest issue. NoEdition before the first is loaded."""
    edition = newest_edition()
    if edition is None:
        raise NoEdition("No check sheet has been published yet. Load the reference data first.")
    return edition


@lru_cache(maxsize=8)
def _checks(sha256: str, content: str) -> tuple[Check, ...]:
    return checks_from(json.loads(content))


def checks_of_edition(edition: Edition) -> tuple[Check, ...]:
    """The checks of an issue, in the order they are asked. An issue never changes, so they are kept once read."""
    return _checks(edition.sha256, edition.content)


@lru_cache(maxsize=8)
def _choice_labels(sha256: str, content: str) -> Mapping[tuple[str, str], str]:
    return {
        (check.key, choice.key): choice.label
        for check in _checks(sha256, content)
        for choice in check.choices
    }


def value_words(answer: Answer) -> str:
    """What was read or picked, without its unit: a pick by the words the tablet showed for it on that issue."""
    if not answer.value or answer.unit:
        return answer.value
    edition = answer.walk_round.edition
    labels = _choice_labels(edition.sha256, edition.content)
    return labels.get((answer.check_key, answer.value), answer.value)


@lru_cache(maxsize=8)
def _lot_purposes(sha256: str, content: str) -> frozenset[str]:
    return lot_purposes_of(json.loads(content))


def gives_lots(edition: Edition, *, purpose: str) -> bool:
    """Whether a walk-round on these sheets is given a lot for its photos."""
    return purpose in _lot_purposes(edition.sha256, edition.content)


def checks_with_changes() -> tuple[Check, ...]:
    """The library with the yard's waiting changes: what the next issue would ask."""
    changes = list(YardCheck.objects.all())
    added = [
        check
        for change in changes
        if change.body and not change.is_retired
        for check in checks_of(change.body)
    ]
    try:
        return merge(library(), added, [change.key for change in changes if change.is_retired])
    except CheckRefused as error:
        raise CheckNotWellWritten(str(error)) from error


def _lock() -> None:
    """One publisher at a time. Issues are sealed rows, which the application's role may not lock, so a lock by name."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [PUBLISH_LOCK])


def _freeze(checks: Iterable[Check]) -> tuple[str, str]:
    text = canonical_text(content_of(checks))
    return text, sha256_hex(text)


@transaction.atomic
def publish_edition(*, why: str, by: Staff | None, at: datetime) -> Edition:
    """Freeze the library with the yard's changes as the next issue.

    `by` null: the library as it came with this version. NotAllowed; NothingToPublish; CheckNotWellWritten.
    """
    if by is not None and not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager publishes check sheets.")
    text, sha256 = _freeze(checks_with_changes())
    _lock()
    newest = newest_edition()
    if newest is not None and newest.sha256 == sha256:
        raise NothingToPublish(f"Nothing has changed since issue {newest.number}.")
    if Edition.objects.filter(sha256=sha256).exists():
        # Going back to an earlier wording is a new issue with a new number; the reason makes the content differ.
        raise NothingToPublish(
            "These very sheets were an earlier issue. Change at least one word to publish again."
        )
    edition = Edition(
        number=(newest.number if newest else 0) + 1,
        content=text,
        sha256=sha256,
        published_at=at,
        published_by=by,
        why=why,
    )
    edition.save(force_insert=True)
    write_journal(
        event=Event.SHEET_PUBLISHED,
        subject=("edition", edition.pk),
        by=by,
        by_words="" if by else "Slake, with its library",
        at=at,
        facts={"number": edition.number, "sha256": sha256, "why": why},
    )
    return edition


@transaction.atomic
def change_check(
    *, key: str, body: dict[str, object] | None, is_retired: bool, by: Staff, at: datetime
) -> YardCheck:
    """Keep a yard check for the next issue: added, reworded (same key as the library's) or retired.

    NotAllowed; CheckNotWellWritten with the sentence that says what to mend, before anything is kept.
    """
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager changes check sheets.")
    change, _ = YardCheck.objects.update_or_create(
        key=key, defaults={"body": body, "is_retired": is_retired, "changed_at": at, "changed_by": by}
    )
    try:
        if body is not None:
            checks_of(body)
        checks_with_changes()
    except CheckRefused as error:
        raise CheckNotWellWritten(str(error)) from error
    return change


@transaction.atomic
def drop_change(*, key: str, by: Staff) -> None:
    """Take back a waiting change; issues already published keep it. NotAllowed."""
    if not by.has_role(MANAGERS):
        raise NotAllowed("The workshop manager or fleet manager changes check sheets.")
    YardCheck.objects.filter(key=key).delete()
