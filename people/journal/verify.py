"""Walking the chains again: every row's hash recomputed, every column held against the text that was hashed."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from people.journal.models import ChainHead, Entry


@dataclass(frozen=True)
class Fault:
    chain: str
    position: int
    words: str


def _column_fault(entry: Entry) -> str | None:
    text = json.loads(entry.text)
    told = {
        "event": entry.event,
        "subject": [entry.subject_kind, str(entry.subject_id)],
        "action": str(entry.action_id),
        "by": str(entry.by_id) if entry.by_id else None,
        "by_words": entry.by_words,
    }
    for name, value in told.items():
        if text[name] != value:
            return f"its column {name} differs from the text that was hashed"
    if datetime.fromisoformat(text["at"]) != entry.at:
        return "its time differs from the text that was hashed"
    return None


def faults_in_journal() -> Iterator[Fault]:
    """Every fault of every chain, in chain and position order; nothing when the journal is whole.

    Rows are streamed, so the walk's memory does not grow with the journal.
    """
    heads = {head.chain: head for head in ChainHead.objects.all()}
    chain, position, previous = "", 0, "0" * 64
    last: dict[str, tuple[int, str]] = {}
    for entry in Entry.objects.order_by("chain", "position").iterator(chunk_size=2000):
        if entry.chain != chain:
            chain, position, previous = entry.chain, 0, "0" * 64
        if entry.position != position + 1:
            yield Fault(chain, entry.position, f"rows {position + 1} to {entry.position - 1} are missing")
        if entry.previous_hash != previous:
            yield Fault(chain, entry.position, "it does not follow the row before it")
        body = "\n".join(["slake-journal-1", chain, str(entry.position), entry.previous_hash, entry.text])
        if hashlib.sha256(body.encode()).hexdigest() != entry.hash:
            yield Fault(chain, entry.position, "its hash does not match what it says")
        elif words := _column_fault(entry):
            yield Fault(chain, entry.position, words)
        position, previous = entry.position, entry.hash
        last[chain] = (position, previous)
    for name, head in heads.items():
        if last.get(name) != (head.position, head.hash):
            yield Fault(name, head.position, "the chain's end does not match its recorded head")
    for name in last.keys() - heads.keys():
        yield Fault(name, last[name][0], "the chain has no recorded head")
