"""What is said of a hire for those right beside it on its cart: promised all the same, for people know their day. Reads only."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from hire.models.agreements import Line
from hire.tank_order import met_by
from people.templatetags.screen import span_words
from people.yard import yard_policy

Period = tuple[datetime, datetime]
TOO_SHORT = "no time to wash and check it"


def beside(line: Line, *, at: datetime, period: Period | None = None) -> list[str]:
    """A sentence for each hire of its cart that is nearer than the yard's turn-round, and one for the water of the nearest that
    matters to it. period: as if it had that one. Nothing of a hire that is over. Two queries."""
    if line.cancelled_at is not None or line.back_at is not None:
        return []
    start, end = period or (line.promised.lower, line.promised.upper)
    said = list(_too_close(line, start, end, at=at))
    met = met_by([line.cart_id], line.agreement.water, start, end, at=at, but=[line.pk]).get(line.cart_id)
    if met and not (line.is_out and met[0].is_first):
        said.append(met[0].caution(at=at))
    return said


def _too_close(line: Line, start: datetime, end: datetime, *, at: datetime) -> Iterator[str]:
    turn = yard_policy().turn_round
    near = Line.objects.unfinished().filter(
        cart=line.cart_id, kept__overlap=DateTimeTZRange(start - turn, end + turn)
    )
    for other in near.exclude(pk=line.pk).select_related("agreement").order_by("promised"):
        starts, ends, number = other.promised.lower, other.expected_back, other.agreement.number
        if ends <= start and not line.is_out and (other.is_out or ends > at):
            yield f"{_only(start - ends, 'after')} {number} comes back: {TOO_SHORT}."
        elif starts >= end and not other.is_out:
            yield f"Comes back {_only(starts - end, 'before').lower()} {number} leaves: {TOO_SHORT}."


def _only(gap: timedelta, when: str) -> str:
    return f"Only {span_words(gap)} {when}" if gap >= timedelta(minutes=1) else "At the very moment that"
