"""Hire agreements: a cart is promised once at a time, by the action and by the database."""

from datetime import date, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from hire.actions.agreements import (
    AlreadyLeft,
    CartNotInFleet,
    CartPromised,
    CustomerStopped,
    EndsBeforeItStarts,
    add_line,
    cancel_line,
    make_agreement,
    move_line,
)
from hire.actions.customers import CustomerRefused, add_customer, change_customer
from hire.actions.stand_downs import AlreadyStoodDown, stand_down
from hire.models.agreements import Agreement, Line, StandDown
from hire.models.gate import Handover
from hire.models.links import CustomerLink
from people.journal.models import Entry
from people.outbox.models import Message
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import at_local
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, AgreementFactory, CustomerFactory, CustomerLinkFactory, LineFactory

DAY = timedelta(days=1)


def make(desk, at, *, cart=None, customer=None, starts_at=None, ends_at=None, **changed):
    starts_at = starts_at or at + DAY
    return make_agreement(
        **{
            "customer": customer or CustomerFactory(),
            "place_of_work": "Saltbush Road",
            "leaves_by": "road",
            "works_on": "site",
            "pre_start_book": "ours",
            "order_number": "PO 1",
            "cart": cart or CartFactory(),
            "starts_at": starts_at,
            "ends_at": ends_at or starts_at + 7 * DAY,
            "by": desk,
            "at": at,
        }
        | changed
    )


def events(line):
    return list(
        Entry.objects.filter(subject_id=line.pk, chain="yard")
        .order_by("position")
        .values_list("event", flat=True)
    )


def test_an_agreement_is_made_numbered_journalled_and_its_paper_waited_for(desk, at):
    first, second = make(desk, at), make(desk, at)
    assert (first.agreement.number, second.agreement.number) == ("H2026-00001", "H2026-00002")
    assert (first.agreement.time_zone, first.agreement.rule_set) == ("Australia/Adelaide", "au")
    rows = Entry.objects.filter(subject_id=first.pk)
    assert {row.chain for row in rows} == {"yard", f"cart:{first.cart_id}"}
    assert len({row.action_id for row in rows}) == 1
    assert Message.objects.filter(kind="hire.issue_certificate", subject_id=first.pk).count() == 1


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_makes_and_changes_hires(people, at, role):
    line, by = LineFactory(), people[role]
    for refused in (
        lambda: make(by, at),
        lambda: add_line(
            agreement=line.agreement, cart=CartFactory(), starts_at=at, ends_at=at + DAY, by=by, at=at
        ),
        lambda: move_line(line=line, starts_at=at, ends_at=at + DAY, by=by, at=at),
        lambda: cancel_line(line=line, why="x", by=by, at=at),
        lambda: stand_down(line=line, on=date(2026, 12, 1), why="x", told_by_words="y", by=by, at=at),
        lambda: add_customer(by=by, at=at, name="New"),
        lambda: change_customer(customer=line.agreement.customer, by=by, at=at, name="New"),
    ):
        with pytest.raises(NotAllowed):
            refused()
    assert not Entry.objects.exists()


@pytest.mark.parametrize("length", [timedelta(0), -timedelta(minutes=1), -DAY])
def test_a_hire_that_ends_before_it_starts_is_refused(desk, at, length):
    with pytest.raises(EndsBeforeItStarts):
        make(desk, at, starts_at=at + DAY, ends_at=at + DAY + length)
    line = LineFactory()
    with pytest.raises(EndsBeforeItStarts):
        move_line(line=line, starts_at=at, ends_at=at + length, by=desk, at=at)
    assert not Agreement.objects.exclude(pk=line.agreement_id).exists()


@pytest.mark.parametrize(
    ("starts", "ends"),
    [(0, 7), (-3, 1), (6, 9), (2, 3), (-1, 20)],
    ids=["same", "head", "tail", "inside", "round"],
)
def test_a_cart_promised_already_is_refused_by_name_and_number(desk, at, starts, ends):
    cart = CartFactory(fleet_number="RG07")
    standing = make(
        desk, at, cart=cart, customer=CustomerFactory(name="Merrin Civil"), starts_at=at + 10 * DAY
    )
    with pytest.raises(CartPromised) as refusal:
        make(desk, at, cart=cart, starts_at=at + (10 + starts) * DAY, ends_at=at + (10 + ends) * DAY)
    for word in ("RG07", "Merrin Civil", standing.agreement.number, "Choose another cart or period."):
        assert word in refusal.value.sentence
    assert Line.objects.count() == 1


def test_neighbours_may_touch(desk, at):
    cart = CartFactory()
    middle = make(desk, at, cart=cart, starts_at=at + 10 * DAY, ends_at=at + 12 * DAY)
    before = make(desk, at, cart=cart, starts_at=at + 8 * DAY, ends_at=at + 10 * DAY)
    after = make(desk, at, cart=cart, starts_at=at + 12 * DAY, ends_at=at + 14 * DAY)
    assert before.promised.upper == middle.promised.lower
    assert middle.promised.upper == after.promised.lower
    with pytest.raises(CartPromised):
        move_line(
            line=before, starts_at=at + 8 * DAY, ends_at=at + 10 * DAY + timedelta(seconds=1), by=desk, at=at
        )


def test_the_night_the_clocks_change_is_an_hour_longer_and_neighbours_still_touch(desk, at):
    """Adelaide leaves daylight saving on 4 April 2027 at 3 am; from memory, and the zone database agrees."""
    cart, hour = CartFactory(), datetime(2027, 1, 1, 5, 30).time()  # noqa: DTZ001 - a time of day
    saturday, sunday, monday = (at_local(date(2027, 4, day), hour) for day in (3, 4, 5))
    assert sunday - saturday == timedelta(hours=25)
    assert monday - sunday == timedelta(hours=24)
    make(desk, at, cart=cart, starts_at=saturday, ends_at=sunday)
    make(desk, at, cart=cart, starts_at=sunday, ends_at=monday)
    with pytest.raises(CartPromised):
        make(desk, at, cart=cart, starts_at=sunday - timedelta(hours=1), ends_at=sunday)


def test_a_cancelled_promise_frees_the_cart(desk, at):
    cart = CartFactory()
    line = make(desk, at, cart=cart)
    assert cancel_line(line=line, why="Rain", by=desk, at=at).cancelled_why == "Rain"
    cancel_line(line=line, why="Again", by=desk, at=at + DAY)
    line.refresh_from_db()
    assert (line.cancelled_at, line.cancelled_why) == (at, "Rain")
    assert make(desk, at, cart=cart).cart == cart
    assert events(line) == ["hire.agreement.made", "hire.line.cancelled"]


def test_a_cart_that_left_is_not_cancelled_and_keeps_its_start(desk, at):
    line = LineFactory(starts_at=at - DAY, out_at=at - DAY)
    with pytest.raises(AlreadyLeft):
        cancel_line(line=line, why="x", by=desk, at=at)
    moved = move_line(line=line, starts_at=at, ends_at=at + 9 * DAY, by=desk, at=at)
    assert (moved.promised.lower, moved.promised.upper) == (at - DAY, at + 9 * DAY)


def test_a_hire_that_is_over_is_not_moved(desk, at):
    for line in (
        LineFactory(starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - DAY),
        LineFactory(cancelled_at=at),
    ):
        with pytest.raises(AlreadyLeft):
            move_line(line=line, starts_at=at, ends_at=at + DAY, by=desk, at=at)


def test_moving_onto_another_promise_is_refused(desk, at):
    cart = CartFactory()
    first = make(desk, at, cart=cart, starts_at=at + DAY, ends_at=at + 3 * DAY)
    make(desk, at, cart=cart, starts_at=at + 5 * DAY, ends_at=at + 8 * DAY)
    with pytest.raises(CartPromised) as refusal:
        move_line(line=first, starts_at=at + DAY, ends_at=at + 6 * DAY, by=desk, at=at)
    assert refusal.value.field == "ends_at"
    moved = move_line(line=first, starts_at=at + 2 * DAY, ends_at=at + 5 * DAY, by=desk, at=at)
    assert moved.promised.upper == at + 5 * DAY
    assert events(first)[-1] == "hire.line.moved"


def test_a_cart_leaving_the_fleet_and_a_stopped_customer_are_refused(desk, at):
    leaving = CartFactory(retired_on=date(2026, 12, 5))
    with pytest.raises(CartNotInFleet):
        make(desk, at, cart=leaving)
    with pytest.raises(CustomerStopped):
        make(desk, at, customer=CustomerFactory(is_stopped=True))
    assert make(desk, at, cart=leaving, ends_at=at + 2 * DAY).cart == leaving


def test_a_second_cart_goes_on_the_same_agreement(desk, at):
    line = make(desk, at)
    second = add_line(
        agreement=line.agreement, cart=CartFactory(), starts_at=at + DAY, ends_at=at + 2 * DAY, by=desk, at=at
    )
    assert second.agreement == line.agreement
    assert events(second) == ["hire.line.added"]


def test_a_day_is_stood_down_once_and_only_of_its_hire(desk, at):
    line = LineFactory(starts_at=at - DAY, out_at=at - DAY)
    stand_down(line=line, on=date(2026, 12, 2), why="Rain", told_by_words="Aoife", by=desk, at=at)
    for refused_line, on in (
        (line, date(2026, 12, 2)),
        (line, date(2026, 11, 1)),
        (LineFactory(), date(2026, 12, 2)),
    ):
        with pytest.raises(AlreadyStoodDown):
            stand_down(line=refused_line, on=on, why="Rain", told_by_words="Aoife", by=desk, at=at)


def test_a_customer_is_in_the_book_once(desk, at):
    typed = {"name": "Merrin Civil", "contact_name": "Aoife", "phone": "1"}
    kept = add_customer(by=desk, at=at, **typed)
    with pytest.raises(CustomerRefused):
        add_customer(by=desk, at=at, **typed | {"name": "MERRIN civil"})
    changed = change_customer(customer=kept, by=desk, at=at, phone="2")
    assert (changed.name, changed.phone) == ("Merrin Civil", "2")
    with pytest.raises(CustomerRefused):
        change_customer(customer=kept, by=desk, at=at, email="not an address")
    assert Entry.objects.filter(subject_id=kept.pk).count() == 2


def _handover(line, at, desk, **changed):
    return Handover.objects.create(
        **{
            "line": line, "at": at, "by": desk, "certificate_number": "X", "mode": "signed", "taken_by_name": "Aoife",
            "place_words": "Gate", "keys_words": "Driver", "condition_words": "Clean", "fuel_eighths": 8,
        } | changed
    )  # fmt: skip


def test_the_database_refuses_by_itself_what_the_forms_refuse(desk, at):
    line = LineFactory(starts_at=at, ends_at=at + DAY)
    out = LineFactory(starts_at=at, out_at=at)
    stood = StandDown.objects.create(line=out, on=date(2026, 12, 2), why="x", told_at=at, told_by_words="y")
    cases = {
        "hire_line_one_promise_a_cart": lambda: LineFactory(cart=line.cart, starts_at=at + DAY / 2),
        "hire_line_promise_in_order": lambda: LineFactory(starts_at=at, ends_at=at),
        "hire_line_back_after_leaving": lambda: Line.objects.filter(pk=out.pk).update(back_at=at - DAY),
        "hire_line_back_was_out": lambda: Line.objects.filter(pk=line.pk).update(back_at=at),
        "hire_line_cancelled_never_left": lambda: Line.objects.filter(pk=out.pk).update(cancelled_at=at),
        "hire_line_one_out_a_cart": lambda: LineFactory(cart=out.cart, starts_at=at + 30 * DAY, out_at=at),
        "hire_standdown_once_a_day": lambda: StandDown.objects.create(
            line=out, on=stood.on, why="x", told_at=at, told_by_words="y"
        ),
        "hire_customer_name_once": lambda: CustomerFactory(name=line.agreement.customer.name.upper()),
        "hire_customerlink_expires_later": lambda: CustomerLinkFactory(made_at=at, expires_at=at),
        "hire_handover_signed_or_left": lambda: _handover(line, at, desk, mode="left"),
        "hire_handover_fuel_in_eighths": lambda: _handover(line, at, desk, fuel_eighths=9),
        "hire_agreement_number_key": lambda: AgreementFactory(number=line.agreement.number),
        "hire_handover_line_id_key": lambda: (_handover(line, at, desk), _handover(line, at, desk)),
        "hire_customerlink_token_sha256_key": lambda: (
            CustomerLinkFactory(token="same" * 8), CustomerLinkFactory(token="same" * 8)
        ),
    }  # fmt: skip
    for constraint, going_round in cases.items():
        with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
            going_round()
    assert not CustomerLink.objects.exists()


def test_a_promise_without_an_end_is_no_promise(db, at):
    line = LineFactory()
    for bound in ("lower", "upper"):
        span = (None, at) if bound == "lower" else (at, None)
        with pytest.raises(IntegrityError, match="hire_line_promise_in_order"), transaction.atomic():
            Line.objects.filter(pk=line.pk).update(promised=span)


def test_a_cart_back_early_is_free_for_the_rest_of_what_was_promised(desk):
    line = LineFactory(
        out_at=AT, came_back_at=AT + timedelta(days=1), starts_at=AT, ends_at=AT + timedelta(days=9)
    )
    again = add_line(
        agreement=line.agreement, cart=line.cart, starts_at=AT + timedelta(days=2), ends_at=AT + timedelta(days=5), by=desk,
        at=AT + timedelta(days=1),
    )  # fmt: skip
    assert again.cart == line.cart
