"""The off-hire call: one number, the instant that stops the charge, and the days until pick-up."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction

from fleet.readiness import Window, readiness
from hire.actions.gate import bring_back
from hire.actions.off_hire import (
    AlreadyOffHired,
    NotOnHire,
    NotThen,
    OffHireOver,
    PickUp,
    call_off,
    call_off_by_link,
    cancel_off_hire,
    record_failed_pick_up,
    record_left_site,
)
from hire.charge_stop import charge_stops_at
from hire.models.off_hire import FailedPickUp, OffHire
from hire.watch import pre_starts_lapsed, returns_overdue
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import AT_THE_GATE, DESK, Role
from tests.at_once import at_once
from tests.factories.hire import CustomerLinkFactory, LineFactory, OffHireFactory
from tests.factories.people import StaffFactory

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
PICK_UP = PickUp("Saltbush Road, north gate", "In the site office", "The customer, until pick-up")
ADELAIDE = ZoneInfo("Australia/Adelaide")


def local(day, hour, minute=0, month=12):
    return datetime(2026, month, day, hour, minute, tzinfo=ADELAIDE).astimezone(UTC)


@pytest.mark.parametrize(
    ("called", "stops"),
    [
        pytest.param(local(1, 0), local(1, 0), id="first thing, with the call"),
        pytest.param(local(1, 13, 59), local(1, 13, 59), id="a minute before the cut-off, with the call"),
        pytest.param(local(1, 14), local(2, 14), id="at the cut-off, the next day"),
        pytest.param(local(1, 23, 59), local(2, 14), id="late at night, the next day"),
        pytest.param(local(31, 15), datetime(2027, 1, 1, 3, 30, tzinfo=UTC), id="over the year's end"),
        pytest.param(local(3, 15, month=10), datetime(2026, 10, 4, 3, 30, tzinfo=UTC), id="into summer time"),
    ],
)
def test_what_stops_the_charge(called, stops):
    assert charge_stops_at(called, cut_off=time(14), zone=ADELAIDE) == stops


@pytest.fixture
def line(db, at):
    """Out for three days, expected back in four."""
    return LineFactory(
        cart__fleet_number="RG07", starts_at=at - 3 * DAY, ends_at=at + 4 * DAY, out_at=at - 3 * DAY
    )


def call(line, desk, at, **changed):
    given = {"called_at": at, "called_by_words": "Aoife Merrin", "pick_up": PICK_UP} | changed
    return call_off(line=line, **given, by=desk, at=at)


def test_a_call_has_its_number_and_is_in_both_journals(line, desk, at):
    made = call(line, desk, at)
    assert (made.number, made.stops_at, made.made_by) == ("O2026-00001", at, desk)
    entries = Entry.objects.filter(event="hire.off_hire.called", subject_id=line.pk)
    assert {entry.chain for entry in entries} == {"yard", f"cart:{line.cart_id}"}
    assert all('"number":"O2026-00001"' in entry.text for entry in entries)
    assert list(faults_in_journal()) == []


def test_numbers_follow_each_other(line, desk, at):
    call(line, desk, at)
    other = LineFactory(starts_at=at - DAY, out_at=at - DAY)
    assert call(other, desk, at).number == "O2026-00002"


def test_a_call_entered_late_counts_from_when_it_was_made(line, desk, at):
    made = call(line, desk, at, called_at=at - 15 * HOUR)
    assert (made.called_at, made.made_at) == (at - 15 * HOUR, at)
    # Called at 4.30 pm the day before, after the cut-off.
    assert made.stops_at == local(1, 14)


def test_through_the_customers_link_it_is_the_links_person(line, at):
    link = CustomerLinkFactory(line=line, for_words="Aoife Merrin")
    made = call_off_by_link(link=link, pick_up=PICK_UP, at=at)
    assert (made.called_by_words, made.made_by, made.link) == ("Aoife Merrin", None, link)
    assert Entry.objects.filter(event="hire.off_hire.called").first().by_words.startswith("Aoife Merrin")


def test_before_the_handover_and_after_the_return_there_is_nothing_to_call_off(desk, at):
    for line in (LineFactory(), LineFactory(starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at)):
        with pytest.raises(NotOnHire):
            call(line, desk, at)
    assert not OffHire.objects.exists()


def test_a_second_call_hears_the_first_ones_number(line, desk, at):
    first = call(line, desk, at)
    with pytest.raises(AlreadyOffHired, match=first.number):
        call(line, desk, at + HOUR)


@pytest.mark.parametrize(
    "moment",
    [
        pytest.param(-3 * DAY - HOUR, id="before the handover"),
        pytest.param(timedelta(minutes=1), id="still to come"),
    ],
)
def test_a_time_when_nobody_can_have_called(line, desk, at, moment):
    with pytest.raises(NotThen) as refused:
        call(line, desk, at, called_at=at + moment)
    assert refused.value.field == "called_at"


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_takes_and_cancels_calls(line, people, desk, at, role):
    with pytest.raises(NotAllowed):
        call(line, people[role], at)
    made = call(line, desk, at)
    with pytest.raises(NotAllowed):
        cancel_off_hire(off_hire=made, why="x", by=people[role], at=at)
    if role not in AT_THE_GATE:
        with pytest.raises(NotAllowed):
            record_left_site(off_hire=made, left_site_at=at, by=people[role], at=at)


def test_called_by_mistake_it_keeps_its_number_and_the_next_has_another(line, desk, at):
    made = call(line, desk, at)
    cancel_off_hire(off_hire=made, why="Meant the grader", by=desk, at=at + HOUR)
    with pytest.raises(OffHireOver):
        cancel_off_hire(off_hire=made, why="again", by=desk, at=at + HOUR)
    again = call(line, desk, at + 2 * HOUR)
    assert (made.number, again.number) == ("O2026-00001", "O2026-00002")
    assert list(OffHire.objects.standing()) == [again]


def test_the_cart_is_still_out_and_not_to_be_had_until_it_is_back(line, desk, hand, at):
    call(line, desk, at)
    line.refresh_from_db()
    assert line.is_out
    answer = readiness(line.cart, window=Window(at, at + DAY), at=at)
    assert "hire.overlap" in [blocker.code for blocker in answer.blockers]
    assert list(OffHire.objects.awaiting()) == [OffHire.objects.get()]
    bring_back(line=line, where_words="Wash bay", keys_words="Board", by=hand, at=at + DAY)
    assert not OffHire.objects.awaiting().exists()


def test_pick_ups_that_failed_and_the_one_that_did_not(line, desk, hand, at):
    made = call(line, desk, at)
    record_failed_pick_up(off_hire=made, tried_at=at + HOUR, why="Gate locked", by=hand, at=at + 2 * HOUR)
    with pytest.raises(NotThen):
        record_failed_pick_up(off_hire=made, tried_at=at - HOUR, why="Before", by=hand, at=at + 2 * HOUR)
    record_left_site(off_hire=made, left_site_at=at + 3 * HOUR, by=hand, at=at + 4 * HOUR)
    assert [one.why for one in made.failed_pick_ups.all()] == ["Gate locked"]
    for act in (
        partial(record_left_site, off_hire=made, left_site_at=at, by=hand, at=at + 5 * HOUR),
        partial(record_failed_pick_up, off_hire=made, tried_at=at, why="x", by=hand, at=at + 5 * HOUR),
        partial(cancel_off_hire, off_hire=made, why="x", by=desk, at=at + 5 * HOUR),
    ):
        with pytest.raises(OffHireOver):
            act()
    events = set(Entry.objects.values_list("event", flat=True))
    assert {"hire.off_hire.pick_up_failed", "hire.off_hire.left_site"} <= events


def test_a_failed_pick_up_is_never_changed(line, desk, hand, at):
    made = call(line, desk, at)
    record_failed_pick_up(off_hire=made, tried_at=at, why="Gate locked", by=hand, at=at)
    with pytest.raises(IntegrityError), transaction.atomic():
        FailedPickUp.objects.update(why="No fault of theirs")


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        ({"stops_at": -HOUR}, "stops_after_the_call"),
        ({"made_at": -HOUR}, "called_before_written"),
    ],
)
def test_the_database_refuses_what_cannot_be(line, at, changed, rule):
    (field, by_how_much), *_ = changed.items()
    with pytest.raises(IntegrityError, match=rule):
        OffHireFactory(line=line, called_at=at, **{field: at + by_how_much})


def test_called_off_it_owes_no_pre_start_and_is_missed_once_it_was_to_be_fetched(line, desk, at):
    assert [one.subject_id for one in pre_starts_lapsed(at)] == [line.pk]
    call(line, desk, at, pick_up=replace(PICK_UP, back_by=at + DAY - HOUR))
    assert list(pre_starts_lapsed(at)) == []
    assert list(returns_overdue(at + DAY)) == []
    [late] = returns_overdue(at + DAY + HOUR)
    assert "is not picked up" in late.what
    assert "earns nothing" in late.if_not
    OffHire.objects.update(left_site_at=at + 2 * HOUR)
    [late] = returns_overdue(at + DAY + HOUR)
    assert "left the site yesterday 9.30 am and is not back" in late.what


@pytest.mark.django_db(transaction=True)
def test_of_two_calls_at_once_one_has_the_number(at):
    desk = StaffFactory(role="hire_desk")
    line = LineFactory(starts_at=at - DAY, out_at=at - DAY)
    link = CustomerLinkFactory(line=line)
    outcomes = at_once(
        partial(call, line, desk, at), partial(call_off_by_link, link=link, pick_up=PICK_UP, at=at)
    )
    assert {type(one) for one in outcomes} == {OffHire, AlreadyOffHired}
    assert [one.number for one in OffHire.objects.all()] == ["O2026-00001"]
    assert list(faults_in_journal()) == []


@pytest.mark.django_db(transaction=True)
def test_two_hires_called_off_at_once_have_two_numbers(at):
    desk = StaffFactory(role="hire_desk")
    lines = [LineFactory(starts_at=at - DAY, out_at=at - DAY) for _ in range(2)]
    at_once(*[partial(call, line, desk, at) for line in lines])
    assert sorted(OffHire.objects.values_list("number", flat=True)) == ["O2026-00001", "O2026-00002"]
