"""What wet hire puts in the way of a cart: no operator, a licence too low, a paper that lapses; what the gate shows and prints."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.readiness import Window, readiness, readiness_each, readiness_of
from hire.actions import gate
from hire.promises import window_of
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from people.yard import yard_day
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, CustomerFactory, LineFactory, given, ready_line
from tests.factories.wet import OperatorFactory, TicketFactory, TurnFactory, WetHireFactory
from tests.pages import text_of

DAY = timedelta(days=1)


def operator_codes(answer):
    stops = [one.code for one in answer.blockers if one.code.startswith("operator.")]
    falls_due = [one.code for one in answer.cautions if one.code.startswith("operator.")]
    return stops, falls_due


def judged(line, at, **window):
    about = window_of(line)
    window = Window(**{"start": about.start, "end": about.end, "line_id": line.pk} | window)
    return readiness(line.cart, window=window, at=at)


def test_a_wet_hire_without_an_operator_is_a_caution_before_and_a_stop_at_the_gate(db):
    line = WetHireFactory().line
    assert operator_codes(judged(line, AT)) == ([], ["operator.none"])
    [caution] = [one for one in judged(line, AT).cautions if one.code == "operator.none"]
    assert caution.due_at == line.promised.lower
    now = line.promised.lower
    assert operator_codes(judged(line, now, start=now)) == (["operator.none"], [])
    assert operator_codes(judged(LineFactory(), now)) == ([], [])


def test_an_operator_with_a_licence_stands_in_nobodys_way(db):
    assert operator_codes(judged(TurnFactory().line, AT)) == ([], [])


@pytest.mark.parametrize(
    ("held", "found"),
    [
        ("LR", (["operator.licence"], [])),
        ("MR", (["operator.licence"], [])),
        ("HR", ([], [])),
        ("MC", ([], [])),
        (None, (["operator.licence"], [])),
    ],
)
def test_the_licence_drives_the_cart_or_stops_it(db, held, found):
    """Three axles and 23.5 t."""
    operator = TicketFactory(licence_class=held).operator if held else OperatorFactory()
    line = TurnFactory(operator=operator).line
    assert operator_codes(judged(line, AT)) == found
    # A licence is never passed by authority.
    assert not any(one.passed_by for one in judged(line, AT).blockers if one.code.startswith("operator."))


@pytest.mark.parametrize(("days", "found"), [(-1, (1, 0)), (0, (0, 1)), (6, (0, 1)), (7, (0, 0))])
def test_a_licence_that_lapses_before_inside_and_after(db, days, found):
    operator = OperatorFactory()
    line = TurnFactory(operator=operator).line
    TicketFactory(operator=operator, ends_on=yard_day(line.promised.lower) + days * DAY)
    stops, falls_due = operator_codes(judged(line, AT))
    assert (len(stops), len(falls_due)) == found


def test_the_induction_is_for_that_customer_and_site(db):
    operator = TicketFactory().operator
    line = WetHireFactory(wants=["induction"]).line
    TurnFactory(line=line, operator=operator)
    other = CustomerFactory()
    TicketFactory(operator=operator, kind="induction", customer=other)
    TicketFactory(operator=operator, kind="induction", customer=line.agreement.customer, site="Mill")
    assert operator_codes(judged(line, AT)) == (["operator.induction"], [])
    TicketFactory(operator=operator, kind="induction", customer=line.agreement.customer)
    assert operator_codes(judged(line, AT)) == ([], [])


def test_a_ticket_struck_out_counts_for_nothing(db):
    operator = TicketFactory(struck_at=AT, struck_why="Another man’s").operator
    assert operator_codes(judged(TurnFactory(operator=operator).line, AT)) == (["operator.licence"], [])


def test_each_shift_wants_its_operator_and_the_rest_of_the_hire_too(db):
    line = WetHireFactory(line__agreement__shifts_a_day=2).line
    TurnFactory(line=line, ends_at=line.promised.upper - DAY)
    found = judged(line, line.promised.lower, start=line.promised.lower)
    assert operator_codes(found) == (["operator.none"], ["operator.none"])
    assert "night shift" in next(one.sentence for one in found.blockers if one.code == "operator.none")
    [later] = [one for one in found.cautions if one.code == "operator.none"]
    assert later.due_at == line.promised.upper - DAY


def test_queries_do_not_grow_with_wet_hires(db):
    def cost(count):
        lines = [TurnFactory().line for _ in range(count)]
        windows = {line.cart_id: window_of(line) for line in lines}
        with CaptureQueriesContext(connection) as seen:
            readiness_each([line.cart for line in lines], windows=windows, at=AT)
        return len(seen)

    assert cost(2) == cost(9)


def test_carts_nobody_asks_a_hire_of_cost_nothing_more(db, at):
    cart = CartFactory()
    window = Window(start=at, end=at + DAY)
    with CaptureQueriesContext(connection) as seen:
        readiness_of([cart], window=window, at=at)
    assert not any("hire_wethire" in query["sql"] for query in seen)


# The gate.


def test_the_gate_stops_it_shows_the_operator_and_the_receipt_names_them(client, db, hand, desk, at):
    line = ready_line(hand=hand, at=at, cart=CartFactory(fleet_number="RG07", tyres=True))
    WetHireFactory(line=line)
    with pytest.raises(gate.StoppedAtGate, match="no operator"):
        gate.hand_over(line=line, given=given(), by=desk, at=at)
    TurnFactory(line=line, operator=TicketFactory(operator__name="Kit Moran", number="044").operator)
    client.force_login(desk)
    # The page reads the real clock; the words are of the hire's beginning.
    assert "Kit Moran" in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    gate.hand_over(line=line, given=given(), by=desk, at=at)
    receipt = paper_of(Certificate.objects.get(kind="receipt"))
    assert any("Kit Moran, Moran Plant Operators, licence MC 044" in note for note in receipt.notes)


def test_the_pre_hire_certificate_does_not_wait_for_an_operator_with_a_licence(db, hand, at):
    line = LineFactory(starts_at=at, cart=CartFactory(tyres=True))
    WetHireFactory(line=line)
    TurnFactory(line=line, operator=OperatorFactory())
    assert operator_codes(judged(line, at))[0] == ["operator.licence"]
    walk.sign(line.cart, "pre_hire", by=hand, at=at - timedelta(hours=3))
    assert gate.issue_certificate(line=line, by=None, at=at - timedelta(hours=2)).number
