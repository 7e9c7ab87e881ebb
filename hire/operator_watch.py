"""What is watched of wet hire: operators' tickets that lapse before a hire has done with them, and carts without an operator."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, time, timedelta
from uuid import UUID

from fleet.alerts.rules import Condition
from fleet.readiness import Caution
from fleet.sentences import moment_words
from hire.models.agreements import Line
from hire.models.off_hire import OffHire
from hire.models.operators import OperatorTurn
from hire.operator_fitness import Gap
from hire.promises import window_of
from hire.wet_findings import NONE, line_findings
from hire.wet_reading import Wet, lacks, tickets_of, wets_of
from people.roles import Role
from people.yard import at_local, yard_policy

HOUR = timedelta(hours=1)


def tickets_lapsing(at: datetime) -> Iterator[Condition]:
    """Operators who lack, or will lack within the yard's lead time for papers, what a hire they are put down for asks. One an
    operator, its first hire first. Five queries."""
    lead = at + yard_policy().document_lead
    turns = list(
        OperatorTurn.objects.to_come(at=at)
        .filter(line__cancelled_at=None, line__back_at=None, period__startswith__lte=lead)
        .for_list()
        .order_by("operator", "period")
    )
    wets, tickets = (
        wets_of({turn.line_id for turn in turns}),
        tickets_of({turn.operator_id for turn in turns}),
    )
    told: set[UUID] = set()
    for turn in turns:
        wet = wets.get(turn.line_id)
        if wet is None or turn.operator_id in told:
            continue
        start = max(turn.period.lower, at)
        found = [
            (gap, due_at)
            for gap in lacks(
                turn.operator, tickets[turn.operator_id], wet.asks, start=start, end=turn.period.upper
            )
            if (due_at := _due(gap, start)) <= lead
        ]
        if found:
            told.add(turn.operator_id)
            yield _condition(turn, found, at=at)


def _due(gap: Gap, start: datetime) -> datetime:
    return start if gap.last_day is None else at_local(gap.last_day + timedelta(days=1), time.min)


def _condition(turn: OperatorTurn, found: list[tuple[Gap, datetime]], *, at: datetime) -> Condition:
    cart, about = turn.line.cart.fleet_number, turn.line.agreement
    due_at = min(due for _, due in found)
    is_near = due_at <= at + yard_policy().due_out_lead
    return Condition(
        subject_kind="operator",
        subject_id=turn.operator_id,
        cart_id=turn.line.cart_id,
        rank="today" if is_near else "soon",
        for_role=Role.HIRE_DESK,
        what=" ".join(gap.sentence for gap, _ in found),
        how_we_know=f"Put down with {cart} on {about.number}, {about.customer.name}, until "
        f"{moment_words(turn.period.upper, at=at)}; by the papers on record.",
        if_not=f"{cart} stands: nobody else is put down to drive it then.",
        due_at=due_at,
        act="Get the paper, or put another down",
    )


def operators_missing(at: datetime) -> Iterator[Condition]:
    """Wet hires that are out, or leave within the yard's lead time, with nobody put down to drive by then. Three queries."""
    lead = at + yard_policy().due_out_lead
    lines = (
        Line.objects.unfinished()
        .filter(wet__isnull=False, promised__startswith__lte=lead, promised__endswith__gt=at)
        .exclude(pk__in=OffHire.objects.standing().values("line"))
    )
    for wet in wets_of(lines.values_list("pk", flat=True)).values():
        if found := _nobody(wet, lead, at=at):
            sentence, due_at = found
            about = wet.line.agreement
            yield Condition(
                subject_kind="hire_line",
                subject_id=wet.line.pk,
                cart_id=wet.line.cart_id,
                rank="today",
                for_role=Role.HIRE_DESK,
                what=f"{wet.line.cart.fleet_number}, {about.customer.name}: {sentence}",
                how_we_know=f"{about.number} is wet hire, until {moment_words(wet.line.promised.upper, at=at)}.",
                if_not="It does not leave, or stands on site with nobody to drive it.",
                due_at=due_at,
                act="Put an operator with it",
            )


def _nobody(wet: Wet, lead: datetime, *, at: datetime) -> tuple[str, datetime] | None:
    start = max(wet.line.promised.lower, at)
    window = replace(window_of(wet.line), start=start, end=max(wet.line.promised.upper, start + HOUR))
    for finding in line_findings(wet, {}, window, at):
        if finding.code == NONE:
            due_at = finding.due_at if isinstance(finding, Caution) and finding.due_at else at
            return (finding.sentence, due_at) if due_at <= lead else None
    return None
