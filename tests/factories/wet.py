"""Operators, tickets, wet hires and daily dockets. TurnFactory(line=...) puts an outside operator with a licence for any cart
there, for all of the hire; DailyDocketFactory() is nine hours of a wet hire that is out, signed unless unsigned_why= says why not.
"""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import factory
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from factory.django import DjangoModelFactory

from hire.models.daily import DailyDocket, DailySignature
from hire.models.operators import Operator, OperatorTurn, Ticket, WetHire
from tests.factories.hire import AT, LineFactory
from tests.factories.people import StaffFactory

ADELAIDE = ZoneInfo("Australia/Adelaide")


class OperatorFactory(DjangoModelFactory):
    class Meta:
        model = Operator

    staff = None
    name = factory.LazyAttributeSequence(lambda made, n: "" if made.staff else f"Kit Moran {n}")
    firm = factory.LazyAttribute(lambda made: "" if made.staff else "Moran Plant Operators")
    added_at = AT - timedelta(days=30)
    added_by = factory.SubFactory(StaffFactory, role="hire_desk")


class TicketFactory(DjangoModelFactory):
    """A licence for any cart, which does not lapse."""

    class Meta:
        model = Ticket

    operator = factory.SubFactory(OperatorFactory)
    kind = "licence"
    licence_class = factory.LazyAttribute(lambda made: "MC" if made.kind == "licence" else "")
    number = "044 118 207"
    recorded_at = AT - timedelta(days=30)
    recorded_by = factory.SubFactory(StaffFactory, role="hire_desk")


class WetHireFactory(DjangoModelFactory):
    class Meta:
        model = WetHire

    line = factory.SubFactory(LineFactory)
    wants = factory.LazyFunction(list)
    set_at = AT - timedelta(days=3)
    set_by = factory.SubFactory(StaffFactory, role="hire_desk")


class TurnFactory(DjangoModelFactory):
    class Meta:
        model = OperatorTurn
        exclude = ("starts_at", "ends_at")

    line = factory.LazyFunction(lambda: WetHireFactory().line)
    operator = factory.LazyFunction(lambda: TicketFactory().operator)
    starts_at = factory.LazyAttribute(lambda made: made.line.promised.lower)
    ends_at = factory.LazyAttribute(lambda made: made.line.promised.upper)
    period = factory.LazyAttribute(lambda made: DateTimeTZRange(made.starts_at, made.ends_at))
    made_at = AT - timedelta(days=2)
    made_by = factory.SubFactory(StaffFactory, role="hire_desk")


def wet_out(*, at: datetime, operator: Operator | None = None, wants=(), days=5, **line):
    """A wet hire that left so many days ago, six in the morning, for three weeks, with its operator."""
    morning = at.astimezone(ADELAIDE).replace(hour=6, minute=0, second=0, microsecond=0)
    starts = morning - timedelta(days=days)
    made = LineFactory(
        **{"starts_at": starts, "out_at": starts, "ends_at": starts + timedelta(days=21)} | line
    )
    WetHireFactory(line=made, wants=list(wants))
    return TurnFactory(line=made, **({"operator": operator} if operator else {}))


class DailySignatureFactory(DjangoModelFactory):
    class Meta:
        model = DailySignature

    name = "Aoife Merrin"
    kind = "typed"
    at = AT
    held_by = factory.SubFactory(StaffFactory)


class DailyDocketFactory(DjangoModelFactory):
    class Meta:
        model = DailyDocket
        exclude = ("turn",)
        skip_postgeneration_save = True

    turn = factory.LazyFunction(lambda: wet_out(at=AT))
    line = factory.LazyAttribute(lambda made: made.turn.line)
    operator = factory.LazyAttribute(lambda made: made.turn.operator)
    number = factory.Sequence(lambda n: f"W2025-{n:05d}")
    on = factory.LazyAttribute(lambda made: made.line.handed_over_at.astimezone(ADELAIDE).date())
    starts_at = factory.LazyAttribute(lambda made: datetime.combine(made.on, time(6), ADELAIDE))
    finishes_at = factory.LazyAttribute(lambda made: made.starts_at + timedelta(hours=9, minutes=30))
    breaks = timedelta(minutes=30)
    loads = 11
    made_at = factory.LazyAttribute(lambda made: made.finishes_at + timedelta(minutes=10))
    made_by = factory.SubFactory(StaffFactory)

    @factory.post_generation
    def signature(self, create, extracted, **kwargs):
        if not self.unsigned_why:
            DailySignatureFactory(docket=self, at=self.made_at)
