"""A pass by phone: who may enter it in whose name, when it was spoken, how long it counts unconfirmed, and who answers for it."""

from datetime import timedelta
from functools import partial

import pytest
from django.utils import timezone

from fleet.actions.passes import AlreadyPassed, NeverPassed, OwnWork, PassedTwice, close_pass
from fleet.actions.spoken_passes import (
    AnsweredAlready,
    NotSpoken,
    NotSpokenThen,
    NotTheirWord,
    SpokenForOneself,
    confirm_pass,
    disown_pass,
)
from fleet.board import answers_for
from fleet.models.standing import Pass
from fleet.readiness import Window, readiness
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.refusals import NotAllowed
from people.roles import AT_THE_GATE, MANAGERS, Role
from people.yard import yard_policy
from tests.at_once import at_once
from tests.factories.fleet import DefectFactory, PassFactory
from tests.factories.people import StaffFactory
from tests.fleet.journal import entries_of, events_of
from tests.fleet.passing import DAY, HOUR, MINUTE, enter, give, late_defect

pytestmark = pytest.mark.django_db
SECOND = timedelta(seconds=1)


@pytest.fixture
def late(at):
    return late_defect(at)


@pytest.fixture
def manager(people):
    return people[Role.WORKSHOP_MANAGER]


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


def stops(cart, at):
    _, answer = answers_for([cart], at=at)[cart]
    return "defect.late" in [blocker.code for blocker in answer.blockers]


def test_it_counts_at_once_with_both_names_and_both_times(late, manager, hand, at):
    given = enter(late, manager, hand, at)

    assert not stops(late.cart, at)
    assert (given.given_by, given.entered_by) == (manager, hand)
    assert (given.spoken_at, given.given_at) == (at - 10 * MINUTE, at)
    assert given.confirm_by_at == at - 10 * MINUTE + 12 * HOUR
    [(event, facts)] = entries_of(late.cart)
    assert (event, facts["given_by"], facts["condition"]) == (
        "fleet.pass.spoken",
        manager.full_name,
        "By day only",
    )


@pytest.mark.parametrize("role", sorted(Role))
def test_whoever_lets_carts_out_enters_it(late, people, at, role):
    manager = StaffFactory(role="fleet_manager")
    if role in AT_THE_GATE:
        assert enter(late, manager, people[role], at).entered_by == people[role]
    else:
        with pytest.raises(NotAllowed, match="entered by"):
            enter(late, manager, people[role], at)


@pytest.mark.parametrize("role", sorted(Role))
def test_only_in_the_name_of_one_who_may_pass_it(late, hand, at, role):
    named = StaffFactory(role=role.value)
    if role in MANAGERS:
        assert enter(late, named, hand, at).given_by == named
    else:
        with pytest.raises(NotAllowed) as refused:
            enter(late, named, hand, at)
        assert refused.value.field == "given_by"
        assert not Pass.objects.exists()


def test_not_in_the_name_of_somebody_who_has_left(late, hand, at):
    with pytest.raises(NotAllowed):
        enter(late, StaffFactory(role="fleet_manager", is_active=False), hand, at)


def test_not_in_ones_own_name(late, manager, at):
    with pytest.raises(SpokenForOneself) as refused:
        enter(late, manager, manager, at)
    assert refused.value.field == "given_by"


def test_not_in_the_name_of_whoever_worked_on_it(late, manager, hand, people, at):
    write_journal(
        event=Event.REPAIR_DONE,
        subject=("defect", late.pk),
        chains=[cart_chain(late.cart_id)],
        by=manager,
        at=at - DAY,
    )
    with pytest.raises(OwnWork) as refused:
        enter(late, manager, hand, at)
    assert refused.value.field == "given_by"
    assert enter(late, people[Role.FLEET_MANAGER], hand, at).turn == 1


def test_what_may_never_be_passed_is_not_passed_by_phone(people, hand, at):
    defect = DefectFactory(grade="do_not_use", may_be_passed=True)
    with pytest.raises(NeverPassed):
        enter(defect, people[Role.FLEET_MANAGER], hand, at, code="defect.do_not_use")


@pytest.mark.parametrize(
    ("spoken", "words"),
    [(-SECOND, "still to come"), (6 * HOUR, "6 hours ago"), (2 * HOUR + MINUTE, "before it was found")],
)
def test_it_was_not_spoken_then(manager, hand, at, spoken, words):
    late = late_defect(at, told_at=at - 2 * HOUR if "found" in words else at - 9 * DAY)
    with pytest.raises(NotSpokenThen, match=words) as refused:
        enter(late, manager, hand, at, spoken=spoken)
    assert refused.value.field == "spoken_at"


def test_a_second_time_is_the_fleet_managers_by_phone_too_and_a_third_refused(
    late, manager, hand, people, at
):
    fleet = people[Role.FLEET_MANAGER]
    close_pass(given=enter(late, manager, hand, at), by=manager, at=at)
    with pytest.raises(NotAllowed, match="goes up one rank"):
        enter(late, manager, hand, at)
    close_pass(given=enter(late, fleet, hand, at), by=manager, at=at)
    with pytest.raises(PassedTwice):
        enter(late, fleet, hand, at)


def test_unconfirmed_it_counts_until_its_hours_are_past_and_confirmed_it_goes_on(
    late, manager, hand, people, at
):
    given = enter(late, manager, hand, at)
    ends = given.confirm_by_at

    assert not stops(late.cart, ends - SECOND)
    assert stops(late.cart, ends)
    with pytest.raises(AlreadyPassed, match=f"waits for {manager.full_name}"):
        enter(late, people[Role.FLEET_MANAGER], hand, ends)

    confirmed = confirm_pass(given=given, by=manager, at=ends)
    assert confirmed.is_confirmed_late
    assert not stops(late.cart, ends)
    assert stops(late.cart, given.ends_at)
    assert entries_of(late.cart)[-1][1]["late"] is True


def test_confirmed_in_time_it_is_not_late(late, manager, hand, at):
    given = enter(late, manager, hand, at)
    confirmed = confirm_pass(given=given, by=manager, at=given.confirm_by_at - SECOND)
    assert not confirmed.is_confirmed_late
    assert not stops(late.cart, given.confirm_by_at)
    assert events_of(late.cart) == ["fleet.pass.spoken", "fleet.pass.confirmed"]


def test_a_moment_gone_by_is_judged_by_what_was_confirmed_then(late, manager, hand, at):
    given = enter(late, manager, hand, at)
    confirm_pass(given=given, by=manager, at=given.confirm_by_at + HOUR)

    def stopped(then):
        answer = readiness(late.cart, window=Window(then, then + DAY, as_then=True), at=then)
        return "defect.late" in [blocker.code for blocker in answer.blockers]

    ends = given.confirm_by_at
    assert [stopped(ends + each) for each in (-SECOND, timedelta(0), HOUR - SECOND, HOUR)] == [
        False,
        True,
        True,
        False,
    ]


def test_the_yard_says_how_long(late, manager, hand, at, settings):
    settings.YARD_SPOKEN_PASS_HOURS = 4
    yard_policy.cache_clear()
    try:
        assert enter(late, manager, hand, at).confirm_by_at == at - 10 * MINUTE + 4 * HOUR
    finally:
        yard_policy.cache_clear()


def test_disowned_it_is_closed_at_once_and_was_never_given(late, manager, hand, at):
    given = disown_pass(given=enter(late, manager, hand, at), by=manager, at=at + HOUR)

    assert (given.closed_at, given.closed_by, given.disowned_at) == (at + HOUR, manager, at + HOUR)
    assert stops(late.cart, at + HOUR)
    assert entries_of(late.cart)[-1] == (
        "fleet.pass.disowned",
        {"rule": "defect.late", "is_out": False},
    )
    # It is not one of the two times.
    assert give(late, manager, at + HOUR).turn == 1


def test_one_that_was_closed_can_still_be_disowned_and_stays_closed_as_it_was(
    late, manager, hand, people, at
):
    fleet = people[Role.FLEET_MANAGER]
    given = close_pass(given=enter(late, manager, hand, at), by=fleet, at=at + MINUTE)
    given = disown_pass(given=given, by=manager, at=at + HOUR)
    assert (given.closed_at, given.closed_by, given.disowned_at) == (at + MINUTE, fleet, at + HOUR)


@pytest.mark.parametrize("answer", [confirm_pass, disown_pass])
def test_only_the_manager_named_answers_for_it_once(late, people, at, answer):
    manager, hand = people[Role.WORKSHOP_MANAGER], people[Role.YARD_HAND]
    given = enter(late, manager, hand, at)
    with pytest.raises(NotTheirWord, match=manager.full_name):
        answer(given=given, by=people[Role.FLEET_MANAGER], at=at)
    with pytest.raises(NotAllowed):
        answer(given=given, by=hand, at=at)
    answer(given=given, by=manager, at=at)
    for again in (confirm_pass, disown_pass):
        with pytest.raises(AnsweredAlready):
            again(given=given, by=manager, at=at)


@pytest.mark.parametrize("answer", [confirm_pass, disown_pass])
def test_one_that_was_signed_waits_for_nobody(manager, at, answer):
    with pytest.raises(NotSpoken, match="nothing waits"):
        answer(given=PassFactory(given_by=manager), by=manager, at=at)


@pytest.mark.django_db(transaction=True)
def test_confirmed_and_disowned_at_once_is_one_of_the_two():
    at = timezone.now()
    manager, hand = StaffFactory(role="workshop_manager"), StaffFactory()
    given = enter(late_defect(at), manager, hand, at)
    answers = at_once(
        *[partial(each, given=given, by=manager, at=at) for each in (confirm_pass, disown_pass)]
    )
    assert {type(answer) for answer in answers} == {Pass, AnsweredAlready}
