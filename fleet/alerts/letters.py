"""The words of a notice: each row says what, how we know and how old that is, by when, what happens if not, and one act."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time
from textwrap import fill
from urllib.parse import urlencode

from django.conf import settings
from django.urls import reverse

from fleet.alerts.models import Alert
from fleet.alerts.rules import heading_of
from fleet.records import find_record_url
from people.models import Staff
from people.say import say
from people.templatetags.screen import clock_words, day, span_words
from people.yard import yard_policy

# A mail of ten thousand rows helps nobody; the page has them all.
MOST_ROWS = 200
WIDTH = 78
RANK_WORDS = {"stop": "Stop", "today": "Today", "soon": "Soon"}
CAUTION = (
    "Slake keeps the record. A competent person, the maker's manual, the site's rules, road law and licensed trades "
    "decide."
)


@dataclass(frozen=True)
class Letter:
    subject: str
    body: str
    spoken: str


def address_of(alert: Alert) -> str:
    """Where the act is done: the page of what the alert is about, else the alerts themselves."""
    path = find_record_url(alert.subject_kind, alert.subject_id)
    return f"{settings.PUBLIC_ADDRESS}{path or reverse('alerts:alert_list')}"


def list_address(**narrow: str) -> str:
    query = f"?{urlencode(narrow)}" if narrow else ""
    return f"{settings.PUBLIC_ADDRESS}{reverse('alerts:alert_list')}{query}"


def plain(words: str) -> str:
    """A sentence of the screen as plain text, its spaces as any mail reader knows them."""
    return words.replace("\N{NO-BREAK SPACE}", " ")


def moment_words(moment: datetime) -> str:
    return plain(f"{day(moment)}, {clock_words(moment)}")


def due_words(due_at: datetime) -> str:
    """By when: a day alone where it begins with the day, for nobody has an appointment at midnight."""
    is_day = due_at.astimezone(yard_policy().zone).time() == time.min
    return plain(day(due_at)) if is_day else moment_words(due_at)


def _fold(words: str, *, indent: str = "") -> str:
    return fill(say(words), WIDTH, initial_indent=indent, subsequent_indent=indent, break_on_hyphens=False)


def _row(number: int, of: int, alert: Alert, *, at: datetime) -> str:
    lines = [_fold(f"{number} of {of}. {RANK_WORDS[alert.rank].upper()}. {alert.what}")]
    age = f" This is {span_words(at - alert.evidence_at)} old." if alert.evidence_at else ""
    parts = [("How we know", f"{alert.how_we_know}{age}")]
    if alert.due_at:
        late = "" if alert.due_at > at else " (past)"
        parts.append(("By", f"{due_words(alert.due_at)}{late}"))
    parts.append(("If not", alert.if_not))
    parts.append((alert.act or "Open it", address_of(alert)))
    for label, words in parts:
        said = plain(f"{label}: {words}")
        # An address is never folded: half of it opens nothing.
        lines.append(f"   {said}" if words.startswith("http") else _fold(said, indent="   "))
    return "\n".join(lines)


def _subject(alerts: Sequence[Alert], *, is_digest: bool) -> str:
    if len(alerts) == 1:
        return say(f"{RANK_WORDS[alerts[0].rank]}: {alerts[0].what}")[:200]
    if is_digest:
        return f"Soon: {len(alerts)} things fall due"
    return say(f"{RANK_WORDS[alerts[0].rank]}: {heading_of(alerts[0].rule)}, {len(alerts)} to see to")[:200]


def letter(
    alerts: Sequence[Alert], *, person: Staff, rank: str, why: str, further: str, at: datetime
) -> Letter:
    """One message about alerts that are told together, worst and soonest first.

    why: why this person is told; further: what happens if nobody takes them ("" when nothing does).
    """
    is_digest = rank == "soon"
    narrow = {} if is_digest or len({alert.rule for alert in alerts}) > 1 else {"rule": alerts[0].rule}
    parts = [f"{yard_policy().name}, {moment_words(at)}", say(f"For {person.full_name}: {why}")]
    last_rule = ""
    for number, alert in enumerate(alerts[:MOST_ROWS], start=1):
        if is_digest and alert.rule != last_rule:
            heading = say(heading_of(alert.rule))
            parts.append(f"{heading}\n{'-' * len(heading)}")
            last_rule = alert.rule
        parts.append(_row(number, len(alerts), alert, at=at))
    if len(alerts) > MOST_ROWS:
        parts.append(f"And {len(alerts) - MOST_ROWS} more, on the page of alerts.")
    parts.append(f"Say “I’ve got it” here, so that nobody else starts on it:\n{list_address(**narrow)}")
    if further:
        parts.append(_fold(further))
    parts.append(_fold(CAUTION))
    return Letter(_subject(alerts, is_digest=is_digest), "\n\n".join(parts) + "\n", _spoken(alerts))


def _spoken(alerts: Sequence[Alert]) -> str:
    more = f" And {len(alerts) - 1} more." if len(alerts) > 1 else ""
    said = f"{yard_policy().name}. {RANK_WORDS[alerts[0].rank]}. {plain(say(alerts[0].what))}"
    return f"{said[:240]}{more} Open {list_address()}"[:320]
