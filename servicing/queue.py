"""The order of the workshop's queue as a rule: grade first, then time in hand, the least first.

The database puts ten thousand defects in this order (servicing/waiting.py); a test holds the two together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from types import MappingProxyType
from uuid import UUID

# Until the yard's own repair times are known. Common practice, no source.
REPAIR_PRIOR: Mapping[str, timedelta] = MappingProxyType(
    {"do_not_use": timedelta(hours=2), "by_date": timedelta(hours=1), "watch": timedelta(minutes=30)}
)
RANK: Mapping[str, int] = MappingProxyType({"do_not_use": 0, "by_date": 1, "watch": 2})


@dataclass(frozen=True)
class Item:
    """What the order asks of one defect. slack: None when nobody waits for its cart."""

    id: UUID
    grade: str
    slack: timedelta | None
    due_on: date | None
    told_at: datetime


def missed_from(*, grade: str, told_at: datetime, wanted_at: datetime, is_out: bool) -> datetime | None:
    """When the cart is missed; None when nobody waits for it.

    wanted_at: the start of its next hire, or of the one it is out on. A cart out on hire that may not be used is missed
    from the moment the defect was told; one that may go on working waits for nothing: its job comes when it is back.
    """
    if not is_out:
        return wanted_at
    return max(wanted_at, told_at) if grade == "do_not_use" else None


def slack(*, next_need_at: datetime | None, expected_repair: timedelta, at: datetime) -> timedelta | None:
    """Time in hand: until the cart is next wanted, less what the repair takes. Negative when it is too late already."""
    return None if next_need_at is None else next_need_at - at - expected_repair


def order(items: Iterable[Item]) -> list[Item]:
    """Most urgent first. Carts nobody waits for follow by their date, one not dated yet first, then the oldest."""

    def place(one: Item) -> tuple[int, bool, timedelta, date, datetime, UUID]:
        hand = timedelta(0) if one.slack is None else one.slack
        return RANK[one.grade], one.slack is None, hand, one.due_on or date.min, one.told_at, one.id

    return sorted(items, key=place)
