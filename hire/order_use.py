"""How much of an order number's value a hire has used: what is on dockets, and about what is not on one yet. Reads only."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Max, Sum

from hire.charge_facts import estimate, hire_days
from hire.models.agreements import Agreement, Line
from hire.models.money import AgreedTerms, Docket
from hire.models.off_hire import OffHire
from people.yard import day_bounds


@dataclass(frozen=True)
class OrderUse:
    """Of one agreement, before tax. line: the first cart on it. about: hire days not on a docket yet, by the agreed rates as if
    they were a hire of their own; hours over, washing and the like come on top."""

    agreement: Agreement
    line: Line
    on_dockets: Decimal
    about: Decimal

    @property
    def used(self) -> Decimal:
        return self.on_dockets + self.about

    @property
    def pct(self) -> Decimal:
        assert self.agreement.order_value is not None
        return self.used * 100 / self.agreement.order_value


def _about(
    line: Line, terms: AgreedTerms | None, through: object, stops_at: datetime | None, *, at: datetime
) -> Decimal:
    """What the days of a cart that no docket has come to."""
    if line.handed_over_at is None or terms is None:
        return Decimal(0)
    start = line.handed_over_at
    if through is not None:
        start = max(start, day_bounds(through)[1])  # type: ignore[arg-type]  # a date, as the table has it
    end = min(filter(None, (at, line.back_at, stops_at)))
    if end <= start:
        return Decimal(0)
    agreed = terms.terms()
    days = hire_days(start, end, zone=ZoneInfo(line.agreement.time_zone), in_week=agreed.days_in_week)
    return estimate(days, terms.body)


def order_uses(*, at: datetime) -> list[OrderUse]:
    """Agreements whose order number has a value and that still have a cart promised or out. Four queries."""
    open_ones = Line.objects.unfinished().filter(agreement__order_value__isnull=False)
    lines = list(
        Line.objects.standing()
        .filter(agreement__in=open_ones.values("agreement"))
        .for_list()
        .order_by("promised", "pk")
    )
    terms = {
        one.line_id: one
        for one in AgreedTerms.objects.filter(line__in=lines)
        .order_by("line_id", "-agreed_at")
        .distinct("line_id")
    }
    docketed = {
        line_id: (net, through)
        for line_id, net, through in Docket.objects.filter(line__in=lines)
        .values("line").annotate(net_sum=Sum("net"), last=Max("through")).order_by()
        .values_list("line", "net_sum", "last")
    }  # fmt: skip
    stops = dict(OffHire.objects.standing().filter(line__in=lines).values_list("line", "stops_at"))
    of_agreement: defaultdict[UUID, list[Line]] = defaultdict(list)
    for line in lines:
        of_agreement[line.agreement_id].append(line)
    return [
        OrderUse(
            theirs[0].agreement,
            theirs[0],
            sum((docketed[line.pk][0] for line in theirs if line.pk in docketed), Decimal(0)),
            sum(
                (
                    _about(
                        line,
                        terms.get(line.pk),
                        docketed.get(line.pk, (None, None))[1],
                        stops.get(line.pk),
                        at=at,
                    )
                    for line in theirs
                ),
                Decimal(0),
            ),
        )
        for theirs in of_agreement.values()
    ]
