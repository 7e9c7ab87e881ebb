"""What a paper is assembled from, loaded once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from fleet.models.carts import Cart
from fleet.readiness import Readiness
from hire.models.agreements import Line
from inspections.models import WalkRound
from people.models import Staff


@dataclass(frozen=True)
class Source:
    """Everything a paper is assembled from, loaded once."""

    line: Line
    cart: Cart
    walk: WalkRound
    answer: Readiness
    at: datetime
    by: Staff | None
    # Of a cart that left earlier than this is written: what was told since is no part of it. Null: what is so now.
    left: datetime | None = None

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.line.agreement.time_zone)

    def moment(self, when: datetime) -> str:
        return when.astimezone(self.zone).isoformat(timespec="seconds")
