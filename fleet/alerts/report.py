"""The weekly report: what was raised, acted on and ignored, by rule, and which rules are noise."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import Aggregate, Case, Count, DurationField, F, Q, Sum, When
from django.db.models.functions import Coalesce, Greatest, Least
from django.urls import reverse

from fleet.alerts.line import Line, channels
from fleet.alerts.models import Alert, Delivery, Notice, SweepRun
from fleet.alerts.rules import heading_of
from people.roles import Role
from people.say import say
from people.templatetags.screen import day_year, span_words
from people.yard import at_local, day_bounds, yard_day, yard_policy

# Something due already when it was raised still has a day, and something without a date a week.
LEAST_TIME = timedelta(days=1)
WITHOUT_DATE = timedelta(days=7)
# A rule of which less is acted on is read by nobody soon; below so many alerts a share says nothing.
WANTED_PCT = 70
FEWEST = 5
OVER = timedelta(days=30)
NOISIEST = 5


class Median(Aggregate):
    """The middle value, or what lies half way between the two middle ones; rows without a value are left out."""

    function = "percentile_cont"
    template = "%(function)s(0.5) WITHIN GROUP (ORDER BY %(expressions)s)"
    output_field = DurationField()


@dataclass(frozen=True)
class RuleFigures:
    """One rule's alerts of a time. waiting: neither acted on nor late yet. back: how often one came back within a day.
    median: from raised to acted on; None when none was."""

    rule: str
    raised: int
    acted: int
    waiting: int
    back: int
    median: timedelta | None

    @property
    def heading(self) -> str:
        return heading_of(self.rule)

    @property
    def ignored(self) -> int:
        return self.raised - self.acted - self.waiting

    @property
    def noise(self) -> int:
        return self.raised + self.back

    @property
    def acted_pct(self) -> int | None:
        """Whole per cent of the decided ones, cut; None when none is decided."""
        decided = self.raised - self.waiting
        return 100 * self.acted // decided if decided else None

    @property
    def is_noise(self) -> bool:
        decided = self.raised - self.waiting
        return decided >= FEWEST and 100 * self.acted < WANTED_PCT * decided


def figures(*, start: datetime, end: datetime, at: datetime) -> list[RuleFigures]:
    """By rule, the alerts raised in [start, end) and what had come of them at `at`; most noise first. One query.

    Acted on: somebody took it or set it aside, or its cause was removed by the day it was due. Ignored: that day passed
    first. Nobody saying anything and nobody doing anything look alike, and both are what the report is for.
    """
    deadline = Greatest(Coalesce("due_at", F("raised_at") + WITHOUT_DATE), F("raised_at") + LEAST_TIME)
    in_time = Case(When(cleared_at__lte=F("deadline"), then="cleared_at"))
    found = (
        Alert.objects.filter(raised_at__gte=start, raised_at__lt=end)
        .annotate(deadline=deadline)
        .annotate(acted_at=Least("taken_at", "held_at", in_time))
        .values("rule")
        .annotate(
            raised=Count("pk"),
            acted=Count("acted_at", filter=Q(acted_at__lte=at)),
            waiting=Count("pk", filter=Q(acted_at=None, cleared_at=None, deadline__gt=at)),
            back=Sum("times_reopened"),
            median=Median(F("acted_at") - F("raised_at")),
        )
    )
    rows = [RuleFigures(**row) for row in found]
    return sorted(rows, key=lambda row: (-row.noise, row.rule))


@dataclass(frozen=True)
class Report:
    """A week of the yard's, from its Monday. noisy: rules of which too little was acted on over thirty days."""

    monday: date
    rows: Sequence[RuleFigures]
    noisy: Sequence[RuleFigures]

    @property
    def noisiest(self) -> Sequence[RuleFigures]:
        return self.rows[:NOISIEST]

    def total(self, name: str) -> int:
        return sum(getattr(row, name) for row in self.rows)

    @property
    def sentence(self) -> str:
        if not self.rows:
            return "No alert was raised in this week."
        told = (
            f"{self.total('raised')} raised, {self.total('acted')} acted on, {self.total('ignored')} ignored"
        )
        return f"{told}, {self.total('waiting')} still in time."


def monday_of(on: date) -> date:
    return on - timedelta(days=on.weekday())


def report(monday: date, *, at: datetime) -> Report:
    """The report of the yard's week that begins on this Monday, as things stand at `at`. Two queries."""
    start, _ = day_bounds(monday)
    end, _ = day_bounds(monday + timedelta(days=7))
    lately = figures(start=min(end, at) - OVER, end=min(end, at), at=at)
    return Report(monday, figures(start=start, end=end, at=at), [row for row in lately if row.is_noise])


REPORT_HEAD = (
    "About", "Raised", "Came back", "Acted on", "Acted on, %", "Ignored", "In time still", "Median time to act, minutes",
)  # fmt: skip


def report_table(found: Report) -> Iterator[tuple[object, ...]]:
    """The week's rules under REPORT_HEAD, for a file."""
    for row in found.rows:
        minutes = None if row.median is None else row.median // timedelta(minutes=1)
        yield row.heading, row.raised, row.back, row.acted, row.acted_pct, row.ignored, row.waiting, minutes


def noisy_words(row: RuleFigures) -> str:
    return (
        f"{row.heading}: {row.acted_pct} % acted on in 30 days. Change this rule or drop it: what is "
        "not answered hides what should be."
    )


def _text(found: Report) -> str:
    monday = found.monday
    parts = [
        f"{yard_policy().name}: alerts of the week from {day_year(monday)}",
        found.sentence,
    ]
    if found.rows:
        head = f"{'':32}{'raised':>8}{'acted':>8}{'ignored':>9}{'in time':>9}  median to act"
        parts.append("\n".join([head, *(_line(row) for row in found.rows)]))
        noisiest = ", ".join(f"{row.heading} ({row.noise})" for row in found.noisiest)
        parts.append(f"Noisiest, each time it was raised or came back: {noisiest}.")
    parts += [noisy_words(row) for row in found.noisy]
    parts.append(f"{settings.PUBLIC_ADDRESS}{reverse('alerts:alert_report')}?week={week_words(monday)}")
    return say("\n\n".join(parts)).replace("\N{NO-BREAK SPACE}", " ") + "\n"


def _line(row: RuleFigures) -> str:
    median = span_words(row.median) if row.median is not None else "nobody acted"
    return (
        f"{say(row.heading)[:31]:32}{row.raised:>8}{row.acted:>8}{row.ignored:>9}{row.waiting:>9}  {median}"
    )


def week_words(monday: date) -> str:
    year, week, _ = monday.isocalendar()
    return f"{year}-W{week:02d}"


def monday_in(words: str) -> date | None:
    """The Monday of a week written as in 2026-W48; None when it is no week."""
    year, _, week = words.partition("-W")
    try:
        return date.fromisocalendar(int(year), int(week), 1)
    except ValueError:
        return None


@transaction.atomic
def owe_report(*, at: datetime) -> Notice | None:
    """From Monday's digest time on, owe the fleet manager the report of the week before: once, by its key. None when it is
    owed already, when the watch had not begun by then, or when there is nobody to send it to."""
    monday = monday_of(yard_day(at))
    if at < at_local(monday, yard_policy().digest_at):
        monday -= timedelta(days=7)
    key, due = f"report:{monday.isoformat()}", at_local(monday, time.min)
    if Notice.objects.filter(key=key).exists() or not SweepRun.objects.filter(started_at__lt=due).exists():
        return None
    person = Line(at=at).next_up(rank="today", role=Role.FLEET_MANAGER, step=0, told=())
    if person is None:
        return None
    found = report(monday - timedelta(days=7), at=at)
    words: dict[str, Any] = {
        "person": person,
        "why": "it is for the fleet manager.",
        "subject": f"Alerts of the week from {day_year(found.monday)}: {found.sentence}"[:200],
        "body": _text(found),
        "made_at": at,
    }
    notice, is_new = Notice.objects.get_or_create(key=key, defaults=words)
    if not is_new:
        return None
    ways = channels(person, "today")
    Delivery.objects.bulk_create(
        [Delivery(notice=notice, channel=channel, address=to, available_at=at) for channel, to in ways]
        or [Delivery(notice=notice, channel="screen", available_at=at, sent_at=at)]
    )
    return notice
