"""What the alerts page shows: alerts by what they are about, worst first, with who was told and what its reader may do."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from hashlib import sha256
from uuid import UUID

from django.db.models import Count, F, Max, Window
from django.db.models.functions import Coalesce, RowNumber
from django.utils.http import urlencode

from fleet.alerts.letters import due_words
from fleet.alerts.models import Alert, AlertQuerySet, Telling
from fleet.alerts.models.alerts import rank_order
from fleet.alerts.rules import heading_of
from fleet.records import find_record_url
from people.templatetags.screen import clock_words, day
from people.yard import yard_day

# Of one rule on the page that has them all; the rest is a click away.
ROWS_A_GROUP = 10
# A group of no more than so many stands open.
OPEN_ROWS = 5


@dataclass(frozen=True)
class AlertRow:
    """One alert as its reader sees it. act_url: "" when what it is about has no page."""

    alert: Alert
    act_url: str
    act_words: str
    due: str
    told: str
    may_take: bool
    may_set_aside: bool
    is_aside: bool


@dataclass
class AlertGroup:
    """The alerts of one rule. counts: (rank, how many), worst first."""

    rule: str
    counts: list[tuple[str, int]] = field(default_factory=list)
    rows: list[AlertRow] = field(default_factory=list)

    @property
    def heading(self) -> str:
        return heading_of(self.rule)

    @property
    def total(self) -> int:
        return sum(count for _, count in self.counts)

    @property
    def worst(self) -> str:
        return self.counts[0][0]

    @property
    def is_open(self) -> bool:
        return self.total <= OPEN_ROWS

    @property
    def more(self) -> int:
        return self.total - len(self.rows)

    @property
    def words(self) -> str:
        """How many and by when: "40: 2 stop, 5 today, 33 soon"."""
        parts = ", ".join(f"{count} {rank}" for rank, count in self.counts)
        return parts if len(self.counts) == 1 else f"{self.total}: {parts}"

    @property
    def query(self) -> str:
        return urlencode({"rule": self.rule})


def _told(alerts: Iterable[Alert]) -> dict[UUID, str]:
    """Who was told last of each alert, when and how. Two queries."""
    found: dict[UUID, str] = {}
    tellings = (
        Telling.objects.filter(alert__in=list(alerts), outcome="told")
        .select_related("notice__person")
        .prefetch_related("notice__deliveries")
        .order_by("settled_at", "step")
    )
    for telling in tellings:
        notice = telling.notice
        assert notice is not None
        sent = [one for one in notice.deliveries.all() if one.sent_at]
        name = notice.person.full_name
        if not sent:
            failing = any(one.last_error for one in notice.deliveries.all())
            found[telling.alert_id] = f"{'Could not be sent' if failing else 'On its way'} to {name}"
            continue
        at = max(one.sent_at for one in sent if one.sent_at)
        ways = " and ".join(
            {"email": "by email", "callout": "by call-out", "screen": "on screen only"}[one.channel]
            for one in sent
        )
        found[telling.alert_id] = f"Told {name} {day(at)}, {clock_words(at)} {ways}"
    return found


def rows_of(alerts: Sequence[Alert], *, at: datetime) -> list[AlertRow]:
    told, on = _told(alerts), yard_day(at)
    return [
        AlertRow(
            alert=alert,
            act_url=find_record_url(alert.subject_kind, alert.subject_id) or "",
            act_words=alert.act or "Open it",
            due=due_words(alert.due_at) if alert.due_at else "",
            told=told.get(alert.pk, ""),
            may_take=alert.cleared_at is None and not alert.is_in_hand,
            may_set_aside=alert.cleared_at is None and alert.rank != "stop" and not alert.is_aside(on=on),
            is_aside=alert.cleared_at is None and alert.is_aside(on=on),
        )
        for alert in alerts
    ]


def groups_of(alerts: AlertQuerySet, *, at: datetime) -> list[AlertGroup]:
    """By rule, the rule with the worst and soonest first; the first rows of each. Four queries."""
    counted = alerts.values("rule", "rank").annotate(number=Count("pk"), order=rank_order()).order_by("order")
    groups: dict[str, AlertGroup] = {}
    for row in counted:
        groups.setdefault(row["rule"], AlertGroup(row["rule"])).counts.append((row["rank"], row["number"]))
    place = Window(
        RowNumber(),
        partition_by="rule",
        order_by=[rank_order(), F("due_at").asc(nulls_last=True), "raised_at", "pk"],
    )
    first = alerts.annotate(place=place).filter(place__lte=ROWS_A_GROUP).worst_first()
    shown = list(first.select_related("cart", "taken_by", "held_by"))
    by_rule: defaultdict[str, list[AlertRow]] = defaultdict(list)
    for shown_row in rows_of(shown, at=at):
        by_rule[shown_row.alert.rule].append(shown_row)
    for rule, group in groups.items():
        group.rows = by_rule[rule]
    return sorted(groups.values(), key=lambda group: (_order(group.worst), group.heading))


def _order(rank: str) -> int:
    return ("stop", "today", "soon").index(rank)


def mark_of(alerts: AlertQuerySet, *, is_late: bool) -> str:
    """What a page shows, in a word: the same while nothing changed. One query."""
    found = alerts.aggregate(number=Count("pk"), changed=Max(Coalesce("changed_at", "raised_at")))
    return sha256(f"{found['number']} {found['changed']} {is_late}".encode()).hexdigest()[:12]


ALERT_HEAD = (
    "About", "Rank", "What", "How we know", "If not", "To do", "By", "Cart", "Raised", "Cleared", "Who has it", "Since",
    "Set aside until",
    "Because", "Told",
)  # fmt: skip


def alert_table(alerts: AlertQuerySet, *, at: datetime) -> Iterator[tuple[object, ...]]:
    """Every alert of the list, worst first, for a file."""
    found = list(alerts.select_related("cart", "taken_by", "held_by").worst_first())
    for row in rows_of(found, at=at):
        one = row.alert
        yield (
            heading_of(one.rule), one.get_rank_display(), one.what, one.how_we_know, one.if_not, one.act, one.due_at,
            one.cart.fleet_number if one.cart else "", one.raised_at, one.cleared_at,
            one.taken_by.full_name if one.taken_by else "", one.taken_at, one.held_until, one.held_because, row.told,
        )  # fmt: skip
