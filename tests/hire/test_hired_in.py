"""Carts hired in: what was agreed with the owner, the owner's own clock, and what no customer ever reads."""

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction

from fleet.actions.locks import AgainstARule, constraint_of
from hire.actions import hired_in as acts
from hire.actions.clashes import EndsBeforeItStarts
from hire.actions.owners import add_owner, change_owner, record_owner_paper
from hire.hired_in import cost_of, owners_parts
from hire.models.owners import HireIn
from inspections.certificates.actions import paper_of
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.at_once import at_once
from tests.factories.fleet import CartFactory
from tests.factories.hire import LineFactory, OffHireFactory, ready_line
from tests.factories.money import DocketFactory
from tests.factories.owners import HireInFactory, OwnerFactory, OwnerPaperFactory
from tests.factories.people import StaffFactory

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ADELAIDE = ZoneInfo("Australia/Adelaide")
TERMS = acts.OwnerTerms(Decimal(100), Decimal(500), cut_off=time(14))


def local(day, hour=9, minute=0):
    return datetime(2026, 11, day, hour, minute, tzinfo=ADELAIDE)


def hired(cart, desk, at, **changed):
    asked = {
        "owner": OwnerFactory(),
        "starts_at": at - DAY,
        "ends_at": at + 20 * DAY,
        "terms": TERMS,
    } | changed
    return acts.hire_in_cart(cart=cart, **asked, by=desk, at=at)


class TestTheOwnersClock:
    def test_a_cart_is_hired_in_and_both_journals_say_so(self, desk, at):
        hire_in = hired(CartFactory(fleet_number="HX-1"), desk, at)
        assert hire_in.rates == {1: Decimal(100), 7: Decimal(500)}
        entries = Entry.objects.filter(event="hire.hire_in.made")
        assert {entry.chain for entry in entries} == {"yard", f"cart:{hire_in.cart_id}"}
        assert list(faults_in_journal()) == []

    @pytest.mark.parametrize(("called", "last_day"), [((10, 13, 59), 10), ((10, 14, 0), 11)])
    def test_the_owners_own_cut_off_stops_it(self, desk, called, last_day):
        hire_in = HireInFactory(starts_at=local(2))
        done = acts.call_off_owner(
            hire_in=hire_in, called_at=local(*called), called_to_words="Bel, OH 3", by=desk, at=local(12)
        )
        assert cost_of(done, at=local(12)).cost.last == date(2026, 11, last_day)

    def test_it_runs_past_the_period_until_somebody_calls(self):
        hire_in = HireInFactory(starts_at=local(2), ends_at=local(9))
        found = cost_of(hire_in, at=local(15))
        assert (found.cost.last, found.cost.charged, found.cost.total) == (
            date(2026, 11, 15),
            14,
            Decimal(1000),
        )

    def test_a_call_made_by_mistake_stopped_nothing(self, desk, at):
        hire_in = hired(CartFactory(), desk, at)
        called = acts.call_off_owner(hire_in=hire_in, called_at=at, called_to_words="Bel", by=desk, at=at)
        with pytest.raises(acts.OwnerCalledOff, match="called off already"):
            acts.call_off_owner(hire_in=hire_in, called_at=at, called_to_words="Bel", by=desk, at=at)
        done = acts.cancel_owner_call(hire_in=called, why="Wrong cart", by=desk, at=at)
        assert (done.called_at, done.stops_at, done.called_by, done.called_to_words) == (None, None, None, "")
        with pytest.raises(acts.OwnerNotCalledOff):
            acts.cancel_owner_call(hire_in=done, why="x", by=desk, at=at)

    def test_agreed_anew_the_call_stops_it_by_the_new_cut_off(self, desk):
        hire_in = HireInFactory(starts_at=local(2))
        acts.call_off_owner(
            hire_in=hire_in, called_at=local(10, 15), called_to_words="Bel", by=desk, at=local(10, 15)
        )
        done = acts.change_hire_in(
            hire_in=hire_in, starts_at=local(2), ends_at=local(20), terms=acts.OwnerTerms(Decimal(90), cut_off=time(16)), by=desk,
            at=local(11),
        )  # fmt: skip
        assert (done.stops_at, done.rates) == (local(10, 15), {1: Decimal(90)})
        facts = Entry.objects.filter(event="hire.hire_in.changed").first().text
        assert '"day_price":["100.00","90"]' in facts


class TestRefused:
    def test_a_period_that_ends_before_it_starts(self, desk, at):
        with pytest.raises(EndsBeforeItStarts):
            hired(CartFactory(), desk, at, ends_at=at - 2 * DAY)

    def test_a_cart_whose_owner_is_not_called_off(self, desk, at):
        cart = CartFactory(fleet_number="HX-2")
        hired(cart, desk, at)
        with pytest.raises(acts.OwnerClockRuns, match="HX-2 is hired in from"):
            hired(cart, desk, at, starts_at=at + 30 * DAY, ends_at=at + 40 * DAY)

    @pytest.mark.parametrize("moment", [HOUR, -3 * DAY], ids=["to come", "before the period"])
    def test_a_call_to_come_or_before_the_period(self, desk, at, moment):
        hire_in = hired(CartFactory(), desk, at)
        with pytest.raises(acts.NotThatMoment) as refused:
            acts.call_off_owner(hire_in=hire_in, called_at=at + moment, called_to_words="x", by=desk, at=at)
        assert refused.value.field == "called_at"

    def test_given_back_before_the_call_or_while_it_is_out(self, desk, at):
        line = LineFactory(cart__fleet_number="HX-3", starts_at=at - HOUR, out_at=at - HOUR)
        hire_in = hired(line.cart, desk, at)
        with pytest.raises(acts.OwnerNotCalledOff, match="HX-3 still runs"):
            acts.return_to_owner(hire_in=hire_in, returned_at=at, by=desk, at=at)
        acts.call_off_owner(hire_in=hire_in, called_at=at, called_to_words="Bel", by=desk, at=at)
        with pytest.raises(acts.StillOnOurHire, match=line.agreement.number):
            acts.return_to_owner(hire_in=hire_in, returned_at=at, by=desk, at=at)

    def test_anything_on_one_struck_out_or_given_back(self, desk, at):
        struck = acts.strike_hire_in(hire_in=HireInFactory(), why="Wrong cart", by=desk, at=at)
        assert cost_of(struck, at=at) is None
        back = HireInFactory(
            called_at=at - DAY,
            stops_at=at - DAY,
            called_to_words="Bel",
            called_by=desk,
            returned_at=at - HOUR,
        )
        for over in (struck, back):
            with pytest.raises(acts.HireInOver):
                acts.call_off_owner(hire_in=over, called_at=at, called_to_words="x", by=desk, at=at)

    @pytest.mark.parametrize("role", sorted(set(Role) - DESK))
    def test_anybody_but_the_desk(self, people, at, role):
        by, hire_in = people[role], HireInFactory()
        for act in (
            partial(hired, CartFactory(), by, at),
            partial(acts.call_off_owner, hire_in=hire_in, called_at=at, called_to_words="x", by=by, at=at),
            partial(acts.strike_hire_in, hire_in=hire_in, why="x", by=by, at=at),
            partial(add_owner, by=by, at=at, name="x", contact_name="x", phone="1"),
            partial(
                record_owner_paper,
                owner=hire_in.owner,
                kind="insurance",
                number="",
                expires_on=None,
                by=by,
                at=at,
            ),
        ):
            with pytest.raises(NotAllowed):
                act()

    def test_two_owners_of_one_name(self, desk, at):
        add_owner(by=desk, at=at, name="Tarcoola Plant", contact_name="Bel", phone="1")
        with pytest.raises(AgainstARule, match="already"):
            add_owner(by=desk, at=at, name="TARCOOLA plant", contact_name="Bel", phone="1")
        other = OwnerFactory()
        with pytest.raises(AgainstARule, match="already"):
            change_owner(owner=other, by=desk, at=at, name="tarcoola plant")


@pytest.mark.parametrize(
    ("rule", "wrong"),
    [
        ("hire_hirein_period_in_order", {"period": (None, local(9))}),
        ("hire_hirein_prices_not_below_zero", {"day_price": Decimal(-1)}),
        ("hire_hirein_prices_not_below_zero", {"week_price": Decimal(-1)}),
        ("hire_hirein_called_off_whole", {"called_at": local(9), "called_to_words": "Bel"}),
        ("hire_hirein_called_off_whole", {"called_to_words": "Bel"}),
        ("hire_hirein_returned_was_called_off", {"returned_at": local(9)}),
        ("hire_hirein_struck_says_why", {"struck_at": local(9)}),
    ],
)
def test_the_database_itself_refuses(rule, wrong):
    with pytest.raises(IntegrityError) as error, transaction.atomic():
        HireInFactory(**wrong)
    assert constraint_of(error.value) == rule


def test_a_call_without_a_stop_is_no_call(desk):
    with pytest.raises(IntegrityError) as error, transaction.atomic():
        HireInFactory(called_at=local(9), called_by=desk, called_to_words="Bel")
    assert constraint_of(error.value) == "hire_hirein_called_off_whole"


def test_one_cart_is_hired_in_once_at_a_time():
    hire_in = HireInFactory()
    with pytest.raises(IntegrityError) as error, transaction.atomic():
        HireInFactory(cart=hire_in.cart, starts_at=hire_in.period.lower + DAY)
    assert constraint_of(error.value) == "hire_hirein_one_a_cart"


@pytest.mark.django_db(transaction=True)
def test_of_two_desks_that_hire_one_cart_in_at_once_one_does(at):
    desk, cart = StaffFactory(role="hire_desk"), CartFactory()
    owners = [OwnerFactory(), OwnerFactory()]
    outcomes = at_once(*[partial(hired, cart, desk, at, owner=owner) for owner in owners])
    assert {type(one) for one in outcomes} == {HireIn, acts.OwnerClockRuns}


class TestCostAndMargin:
    def test_each_hire_bears_its_days_and_the_rest_is_on_no_hire(self, desk):
        hire_in = HireInFactory(starts_at=local(2), ends_at=local(20))
        first = LineFactory(
            cart=hire_in.cart, starts_at=local(2), ends_at=local(4), out_at=local(2), came_back_at=local(6)
        )
        OffHireFactory(line=first, called_at=local(4), made_at=local(4), stops_at=local(4))
        second = LineFactory(cart=hire_in.cart, starts_at=local(7), ends_at=local(9), out_at=local(7))
        DocketFactory(line=first, net=Decimal(870), tax=Decimal(87), total=Decimal(957))
        found = cost_of(hire_in, at=local(8))
        # 2 to 8 November: 7 days, a week, 500.
        told = [(one.line, one.share.days, one.share.amount, one.margin) for one in found.lines]
        assert told == [
            (first, 3, Decimal("214.29"), Decimal("655.71")),
            (second, 2, Decimal("142.86"), Decimal("-142.86")),
        ]
        assert (found.idle.days, found.idle.amount, found.cost.total) == (2, Decimal("142.85"), Decimal(500))
        [part] = owners_parts(first, at=local(8))
        assert (part.hire_in, part.share.amount) == (hire_in, Decimal("214.29"))

    def test_a_cart_of_our_own_costs_no_owner(self, at):
        line = LineFactory(starts_at=at - DAY, out_at=at - DAY)
        HireInFactory()
        assert owners_parts(line, at=at) == []


def test_a_certificate_claims_no_maintenance_and_names_no_owner(hand, at):
    cart = CartFactory(tyres=True)
    hire_in = HireInFactory(cart=cart, owner__name="Tarcoola Plant", day_price=Decimal("123.45"))
    OwnerPaperFactory(owner=hire_in.owner)
    line = ready_line(hand=hand, at=at, cart=cart)
    from hire.actions.gate import valid_certificate  # noqa: PLC0415 - beside its one use

    paper = paper_of(valid_certificate(line))
    assert paper.outside == (
        "this cart is hired in: its owner keeps and maintains it, and the yard states only what its own check found",
    )
    assert "Tarcoola" not in paper.canonical().decode()
    assert "123.45" not in paper.canonical().decode()
    own = ready_line(hand=hand, at=at, cart=CartFactory(tyres=True))
    assert paper_of(valid_certificate(own)).outside == ()
