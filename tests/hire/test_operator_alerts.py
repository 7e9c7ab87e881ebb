"""The desk is told before an operator's paper lapses that a hire needs, and of a wet hire without an operator."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.alerts.rules import rule_names
from hire.operator_watch import operators_missing, tickets_lapsing
from people.roles import Role
from people.yard import yard_day
from tests.factories.hire import AT, OffHireFactory
from tests.factories.wet import OperatorFactory, TicketFactory, TurnFactory, WetHireFactory, wet_out

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def lapsing(days, **turn):
    """A hire of the next weeks whose operator's licence is good for so many days from today."""
    operator = OperatorFactory(name="Kit Moran")
    TicketFactory(operator=operator, ends_on=yard_day(AT) + days * DAY)
    return TurnFactory(
        line=WetHireFactory(line__starts_at=AT + 2 * DAY, line__ends_at=AT + 60 * DAY).line, operator=operator, **turn
    )  # fmt: skip


def test_both_rules_are_told_of():
    assert {"hire.operator_ticket", "hire.operator_missing"} <= set(rule_names())


@pytest.mark.parametrize(("days", "count"), [(29, 1), (30, 0), (59, 0), (400, 0), (-5, 1)])
def test_a_licence_that_lapses_inside_the_hire_within_the_lead_time(days, count):
    lapsing(days)
    assert len(list(tickets_lapsing(AT))) == count


def test_what_is_said_and_to_whom():
    turn = lapsing(20)
    [told] = tickets_lapsing(AT)
    assert (told.subject_kind, told.subject_id) == ("operator", turn.operator_id)
    assert (told.rank, told.for_role, told.cart_id) == ("soon", Role.HIRE_DESK, turn.line.cart_id)
    assert "Kit Moran’s licence" in told.what and "lapses after" in told.what
    assert turn.line.agreement.number in told.how_we_know


def test_a_paper_that_is_not_there_is_told_and_nearer_ones_today():
    TurnFactory(line=WetHireFactory(wants=["induction"], line__starts_at=AT + timedelta(hours=20)).line)
    [told] = tickets_lapsing(AT)
    assert told.rank == "today" and "induction" in told.what


def test_a_hire_that_is_far_off_over_or_freed_is_not_told_of():
    TurnFactory(operator=OperatorFactory(), line=WetHireFactory(line__starts_at=AT + 31 * DAY).line)
    TurnFactory(operator=OperatorFactory(), cancelled_at=AT, cancelled_why="Ill")
    wet_out(at=AT, operator=OperatorFactory(), came_back_at=AT)
    assert list(tickets_lapsing(AT)) == []


def test_renewed_the_alert_has_no_cause_any_more():
    turn = lapsing(20)
    TicketFactory(operator=turn.operator, ends_on=yard_day(AT) + 400 * DAY)
    assert list(tickets_lapsing(AT)) == []


def test_a_wet_hire_that_leaves_tomorrow_with_nobody():
    line = WetHireFactory(line__starts_at=AT + DAY).line
    WetHireFactory(line__starts_at=AT + 2 * DAY)
    TurnFactory(line=WetHireFactory(line__starts_at=AT + DAY).line)
    [told] = operators_missing(AT)
    assert (told.subject_kind, told.subject_id, told.rank) == ("hire_line", line.pk, "today")
    assert told.due_at == line.promised.lower and line.cart.fleet_number in told.what


def test_a_cart_out_whose_operator_is_off_tonight_until_it_is_called_off():
    turn = wet_out(at=AT)
    assert list(operators_missing(AT)) == []
    turn.period = type(turn.period)(turn.period.lower, AT + timedelta(hours=9))
    turn.save()
    [told] = operators_missing(AT)
    assert told.due_at == AT + timedelta(hours=9)
    OffHireFactory(line=turn.line)
    assert list(operators_missing(AT)) == []


@pytest.mark.parametrize("rule", [tickets_lapsing, operators_missing])
def test_queries_do_not_grow(rule):
    def cost():
        with CaptureQueriesContext(connection) as seen:
            found = list(rule(AT))
        return len(seen), len(found)

    lapsing(20)
    WetHireFactory(line__starts_at=AT + DAY)
    few, one = cost()
    for _ in range(6):
        TurnFactory(operator=OperatorFactory(), line=WetHireFactory(line__starts_at=AT + 3 * DAY).line)
        WetHireFactory(line__starts_at=AT + DAY)
    many, more = cost()
    assert (one, more) == (1, 7)
    assert few == many
