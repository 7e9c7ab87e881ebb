"""The book of operators and their tickets: who keeps it, what is refused, what its pages show."""

import csv
import io
from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions import operators
from hire.models.operators import Operator, Ticket
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import yard_day
from tests.factories.fleet import PhotoFactory
from tests.factories.hire import CustomerFactory
from tests.factories.people import StaffFactory
from tests.factories.wet import OperatorFactory, TicketFactory, TurnFactory, wet_out
from tests.pages import queries_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def record(operator, by, at, **said):
    return operators.record_ticket(
        **{"operator": operator, "kind": "licence", "licence_class": "HR", "by": by, "at": at} | said
    )


def test_one_of_the_yards_people_and_one_from_outside(desk, hand, at):
    own = operators.add_operator(staff=hand, by=desk, at=at)
    other = operators.add_operator(name=" Kit Moran ", firm="Moran Plant", phone="0400", by=desk, at=at)
    assert (str(own), own.own_name) == (hand.full_name, hand.full_name)
    assert (str(other), other.own_name) == ("Kit Moran, Moran Plant", "Kit Moran")
    assert Entry.objects.filter(event="hire.operator.added").count() == 2


@pytest.mark.parametrize(
    ("said", "no"),
    [
        ({"name": "Kit"}, operators.OperatorUnclear),
        ({"firm": "Moran"}, operators.OperatorUnclear),
        ({}, operators.OperatorUnclear),
        ({"name": "kit moran", "firm": "MORAN PLANT"}, operators.OperatorKnown),
    ],
)
def test_an_operator_nobody_can_tell_is_refused(desk, at, said, no):
    OperatorFactory(name="Kit Moran", firm="Moran Plant")
    with pytest.raises(no):
        operators.add_operator(**said, by=desk, at=at)


def test_one_taken_out_of_the_book_comes_back_with_its_tickets(desk, at):
    operator = TicketFactory().operator
    operators.end_operator(operator=operator, by=desk, at=at)
    assert not Operator.objects.working().exists()
    same = operators.add_operator(name=operator.name, firm=operator.firm, by=desk, at=at + DAY)
    assert (same.pk, same.tickets.count(), same.ended_at) == (operator.pk, 1, None)


def test_nobody_leaves_the_book_while_put_down_for_a_hire(desk, at):
    turn = TurnFactory()
    with pytest.raises(operators.OperatorBusy, match=turn.line.cart.fleet_number):
        operators.end_operator(operator=turn.operator, by=desk, at=turn.period.upper - DAY)
    operators.end_operator(operator=turn.operator, by=desk, at=turn.period.upper)


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_and_the_fleet_manager_keep_the_book(people, at, role):
    operator, ticket, by = OperatorFactory(), TicketFactory(), people[role]
    for act in (
        lambda: operators.add_operator(name="A", firm="B", by=by, at=at),
        lambda: operators.end_operator(operator=operator, by=by, at=at),
        lambda: record(operator, by, at),
        lambda: operators.strike_ticket(ticket=ticket, why="x", by=by, at=at),
    ):
        with pytest.raises(NotAllowed):
            act()


def test_a_ticket_keeps_its_number_days_and_photo(desk, at):
    operator, photo = OperatorFactory(), PhotoFactory()
    ticket = record(
        operator, desk, at, number="044", issued_on=date(2024, 1, 1), ends_on=date(2027, 1, 1), photo=photo
    )
    assert Ticket.objects.get().photo == photo
    entry = Entry.objects.get(event="hire.ticket.recorded")
    assert "2027-01-01" in entry.text and str(photo.pk) in entry.text
    assert str(ticket) == "Driving licence HR"


def test_what_belongs_to_other_kinds_is_left_out(desk, at):
    customer = CustomerFactory()
    medical = record(
        OperatorFactory(), desk, at, kind="medical", customer=customer, site="Pit", words="Drivers"
    )
    assert (medical.licence_class, medical.customer, medical.site) == ("", None, "")
    induction = record(OperatorFactory(), desk, at, kind="induction", customer=customer, site="Pit")
    assert str(induction) == f"Site induction {customer.name} Pit"
    assert induction.is_for(customer.pk, " pit ") and not induction.is_for(customer.pk, "Mill")
    assert not induction.is_for(CustomerFactory().pk, "Pit")


@pytest.mark.parametrize(
    ("said", "field"),
    [
        ({"licence_class": ""}, "licence_class"),
        ({"licence_class": "C1"}, "licence_class"),
        ({"kind": "induction"}, "customer"),
        ({"issued_on": date(2026, 2, 1), "ends_on": date(2026, 1, 1)}, "ends_on"),
    ],
)
def test_a_ticket_that_does_not_say_what_it_is_is_refused(desk, at, said, field):
    with pytest.raises(operators.TicketUnclear) as refused:
        record(OperatorFactory(), desk, at, **said)
    assert refused.value.field == field


def test_a_ticket_is_struck_once_with_why(desk, at):
    ticket = TicketFactory()
    operators.strike_ticket(ticket=ticket, why="Another man’s", by=desk, at=at)
    assert not Ticket.objects.counting().exists()
    with pytest.raises(operators.TicketStruck):
        operators.strike_ticket(ticket=ticket, why="Again", by=desk, at=at)


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: OperatorFactory(firm=""), "hire_operator_yard_or_outside"),
        (lambda: OperatorFactory(staff=StaffFactory(), name="Kit"), "hire_operator_yard_or_outside"),
        (
            lambda: [OperatorFactory(name="Kit", firm="M"), OperatorFactory(name="KIT", firm="m")],
            "hire_operator_outside_once",
        ),
        (
            lambda: TicketFactory(issued_on=date(2026, 2, 1), ends_on=date(2026, 1, 31)),
            "hire_ticket_period_in_order",
        ),
        (lambda: TicketFactory(licence_class=""), "hire_ticket_licence_has_class"),
        (lambda: TicketFactory(kind="medical", licence_class="HR"), "hire_ticket_licence_has_class"),
        (lambda: TicketFactory(kind="induction"), "hire_ticket_induction_has_customer"),
        (lambda: TicketFactory(kind="medical", site="Pit"), "hire_ticket_induction_has_customer"),
        (lambda: TicketFactory(struck_at=timezone.now()), "hire_ticket_struck_with_why"),
    ],
)
def test_the_database_refuses_round_the_forms(make, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        make()


def test_the_list_shows_what_lapses_first(client, desk):
    client.force_login(desk)
    today = yard_day(timezone.now())
    operator = OperatorFactory(name="Kit Moran", firm="Moran")
    TicketFactory(operator=operator, licence_class="HR", ends_on=today - 9 * DAY)
    TicketFactory(operator=operator, licence_class="HR", ends_on=today + 300 * DAY)
    TicketFactory(operator=operator, kind="medical", ends_on=today + 30 * DAY)
    OperatorFactory(name="Ola Brand", firm="Brand")
    page = client.get(reverse("hire:operator_list")).content.decode()
    assert f"Medical: Good until {today + 30 * DAY:%-d %b %Y}" in page
    assert "mark-caution" in page and "mark-stop" not in page
    found = client.get(reverse("hire:operator_list"), {"q": "ola"}).content.decode()
    assert "Ola Brand" in found and "Kit Moran" not in found
    saved = client.get(reverse("hire:operator_list"), {"q": "kit", "as": "csv"})
    rows = list(csv.reader(io.StringIO(saved.content.decode("utf-8-sig"))))
    assert len(rows) == 4


def test_the_list_costs_the_same_for_many(client, desk, at):
    client.force_login(desk)
    TurnFactory()
    TicketFactory()
    few = queries_of(client, reverse("hire:operator_list"))
    for _ in range(12):
        wet_out(at=timezone.now())
    assert queries_of(client, reverse("hire:operator_list")) == few


def test_a_ticket_typed_on_the_page(client, desk):
    client.force_login(desk)
    operator = OperatorFactory()
    address = reverse("hire:ticket_add", args=[operator.pk])
    answer = client.post(address, {"kind": "induction", "number": "IN-7", "site": "Pit"})
    assert answer.status_code == 422
    assert "IN-7" in answer.content.decode()
    customer = CustomerFactory()
    typed = {"kind": "induction", "customer": customer.pk, "site": "Pit", "ends_on": "2031-01-01"}
    assert client.post(address, typed).status_code == 302
    page = client.get(reverse("hire:operator_detail", args=[operator.pk])).content.decode()
    assert f"Site induction {customer.name} Pit" in page
