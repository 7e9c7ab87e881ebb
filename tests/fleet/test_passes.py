"""Passing by authority: only what stops the cart now and may be passed, by whom the rule names, never twice the same way."""

import uuid
from datetime import timedelta
from functools import partial

import pytest
from django.utils import timezone

from fleet.actions.holds import close_pass, give_pass
from fleet.actions.locks import AgainstARule
from fleet.actions.passes import (
    AlreadyPassed,
    NeverPassed,
    NothingToPass,
    OwnWork,
    PassClosed,
    PassedTwice,
    window_of,
)
from fleet.models.standing import Pass
from fleet.passing import PASS_REASONS, may_pass
from fleet.readiness import Blocker, Record, readiness
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.refusals import NotAllowed
from people.roles import FLEET_ONLY, MANAGERS, Role
from tests.at_once import at_once
from tests.factories.fleet import DefectFactory, HoldFactory, PassFactory
from tests.factories.people import StaffFactory
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def late(at):
    """A defect past its date that may be passed."""
    return DefectFactory(grade="by_date", state="assessed", may_be_passed=True, due_on=(at - 3 * DAY).date())


def give(defect, by, at, **changes):
    terms = {
        "code": "defect.late",
        "record": Record("defect", defect.pk),
        "reason": PASS_REASONS[1],
        "words": "The glass comes on Thursday.",
        "condition_words": "By day only",
        "done_instead": "Second mirror clamped on",
        "told_words": "Driver, by phone",
        "ends_at": at + 3 * DAY,
    }
    return give_pass(cart=defect.cart, by=by, at=at, **terms | changes)


def codes(cart, at):
    answer = readiness(cart, window=window_of(cart, at=at), at=at)
    stops = [blocker.code for blocker in answer.blockers if blocker.code.startswith("defect.")]
    return stops, [passed.blocker.code for passed in answer.passed]


def test_a_pass_lets_the_cart_go_until_it_ends(late, people, at):
    assert codes(late.cart, at) == (["defect.late"], [])
    given = give(late, people[Role.WORKSHOP_MANAGER], at)
    assert (given.turn, given.given_at, given.ends_at) == (1, at, at + 3 * DAY)
    assert "was to be repaired by" in given.found
    assert codes(late.cart, at) == ([], ["defect.late"])
    assert codes(late.cart, at + 3 * DAY) == (["defect.late"], [])
    [(event, facts)] = entries_of(late.cart)
    assert (event, facts["done_instead"]) == ("fleet.pass.given", "Second mirror clamped on")


@pytest.mark.parametrize("role", sorted(Role))
def test_a_manager_passes_and_nobody_else(late, people, at, role):
    if role in MANAGERS:
        assert give(late, people[role], at).given_by == people[role]
    else:
        with pytest.raises(NotAllowed):
            give(late, people[role], at)
        assert not Pass.objects.exists()


@pytest.mark.parametrize(
    ("passed_by", "turn", "allowed"),
    [
        (frozenset(), 1, frozenset()),
        (frozenset(), 2, frozenset()),
        (MANAGERS, 1, MANAGERS),
        (MANAGERS, 2, FLEET_ONLY),
        (MANAGERS, 3, frozenset()),
        (frozenset({Role.WORKSHOP_MANAGER}), 1, frozenset({Role.WORKSHOP_MANAGER})),
        (frozenset({Role.WORKSHOP_MANAGER}), 2, FLEET_ONLY),
        (frozenset({Role.FITTER, Role.HIRE_DESK}), 1, frozenset()),
    ],
)
def test_who_may_pass_by_rule_and_turn(passed_by, turn, allowed):
    record = Record("defect", uuid.uuid4())
    blocker = Blocker("any.rule", "Stops.", record, MANAGERS, "Somebody", passed_by=passed_by)
    assert may_pass(blocker, turn=turn) == allowed


def test_do_not_use_is_never_passed(people, at):
    defect = DefectFactory(grade="do_not_use", may_be_passed=True)
    with pytest.raises(NeverPassed, match="never be passed"):
        give(defect, people[Role.FLEET_MANAGER], at, code="defect.do_not_use")


def test_a_hold_is_never_passed(people, at):
    hold = HoldFactory(kind="incident")
    with pytest.raises(NeverPassed):
        give_pass(
            cart=hold.cart, code="hold.incident", record=Record("cart", hold.cart_id), reason=PASS_REASONS[1], words="x",
            condition_words="x", done_instead="x", told_words="x", ends_at=at + DAY, by=people[Role.FLEET_MANAGER], at=at,
        )  # fmt: skip


def test_what_does_not_stop_the_cart_is_not_passed(late, people, at):
    other = DefectFactory(grade="watch", cart=late.cart)
    for record in (Record("defect", other.pk), Record("walk_round", late.pk)):
        with pytest.raises(NothingToPass):
            give(late, people[Role.FLEET_MANAGER], at, record=record)


@pytest.mark.parametrize("event", [Event.REPAIR_DONE, Event.REPAIR_STARTED])
def test_nobody_passes_their_own_work(late, people, at, event):
    manager = people[Role.WORKSHOP_MANAGER]
    write_journal(
        event=event, subject=("defect", late.pk), chains=[cart_chain(late.cart_id)], by=manager, at=at - DAY
    )
    with pytest.raises(OwnWork, match=manager.full_name):
        give(late, manager, at)
    assert give(late, people[Role.FLEET_MANAGER], at).turn == 1


def test_who_repaired_it_does_not_pass_it_either(people, at):
    manager = people[Role.WORKSHOP_MANAGER]
    late = DefectFactory(
        grade="by_date",
        state="repaired",
        may_be_passed=True,
        due_on=(at - 3 * DAY).date(),
        repaired_by=manager,
    )
    with pytest.raises(OwnWork):
        give(late, manager, at)


def test_a_second_time_goes_up_one_rank_and_a_third_is_refused(late, people, at):
    workshop, fleet = people[Role.WORKSHOP_MANAGER], people[Role.FLEET_MANAGER]
    first = give(late, workshop, at)
    with pytest.raises(AlreadyPassed, match=workshop.full_name):
        give(late, fleet, at)
    close_pass(given=first, by=workshop, at=at)
    with pytest.raises(NotAllowed, match="goes up one rank"):
        give(late, workshop, at)
    second = give(late, fleet, at)
    assert second.turn == 2
    close_pass(given=second, by=fleet, at=at)
    with pytest.raises(PassedTwice):
        give(late, fleet, at)
    assert events_of(late.cart) == ["fleet.pass.given", "fleet.pass.closed"] * 2


def test_a_pass_that_ended_is_closed_before_another_is_given(late, people, at):
    given = give(late, people[Role.WORKSHOP_MANAGER], at)
    later = given.ends_at + DAY
    with pytest.raises(AlreadyPassed, match="Close it first"):
        give(late, people[Role.FLEET_MANAGER], later)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"reason": "Because"}, "reason"),
        ({"words": " "}, "words"),
        ({"condition_words": " "}, "condition_words"),
        ({"done_instead": ""}, "done_instead"),
        ({"told_words": ""}, "told_words"),
        ({"ends_at": timedelta(0)}, "ends_at"),
        ({"ends_at": -DAY}, "ends_at"),
        ({"ends_at": 14 * DAY + timedelta(seconds=1)}, "ends_at"),
    ],
)
def test_terms_left_out_or_back_dated_are_refused(late, at, changes, field):
    changes = {name: at + value if name == "ends_at" else value for name, value in changes.items()}
    with pytest.raises(AgainstARule) as refused:
        give(late, StaffFactory(role="fleet_manager"), at, **changes)
    assert refused.value.field == field
    assert not Pass.objects.exists()


def test_a_pass_lasts_fourteen_days_at_most(late, people, at):
    assert give(late, people[Role.FLEET_MANAGER], at, ends_at=at + 14 * DAY).turn == 1


def test_a_pass_is_closed_once_by_a_manager(people, at):
    given = PassFactory()
    for role in sorted(set(Role) - MANAGERS):
        with pytest.raises(NotAllowed):
            close_pass(given=given, by=people[role], at=at)
    assert close_pass(given=given, by=people[Role.WORKSHOP_MANAGER], at=at).closed_at == at
    with pytest.raises(PassClosed, match=people[Role.WORKSHOP_MANAGER].full_name):
        close_pass(given=given, by=people[Role.FLEET_MANAGER], at=at)


@pytest.mark.django_db(transaction=True)
def test_two_managers_at_once_give_one_pass():
    at = timezone.now()
    late = DefectFactory(
        grade="by_date",
        state="assessed",
        may_be_passed=True,
        told_at=at - 9 * DAY,
        due_on=(at - 3 * DAY).date(),
    )
    managers = StaffFactory.create_batch(2, role="fleet_manager")
    answers = at_once(*[partial(give, late, manager, at) for manager in managers])
    assert {type(answer) for answer in answers} == {Pass, AlreadyPassed}
    assert Pass.objects.count() == 1
