"""Whether a cart is walked round: how long a pre-hire check holds, what undoes it, and what the gate wants on the day.

Seventy-two hours and two hours are yard settings, common practice, no source.
"""

from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.actions.carts import move_cart
from fleet.readiness import Window, readiness
from fleet.sentences import readiness_sentence
from inspections import standing
from inspections.actions import confirm_name
from people.roles import Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.people import StaffFactory

HOUR = timedelta(hours=1)


@pytest.fixture
def cart(db):
    walk.edition()
    return CartFactory(fleet_number="RG07", tyres=True)


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


def found(cart, *, starts_at, at):
    cart.refresh_from_db()
    window = Window(start=starts_at, end=starts_at + timedelta(days=7))
    findings = standing.findings([cart], windows={cart.pk: window}, at=at).get(cart.pk)
    if findings is None:
        return {}, {}
    return (
        {item.code: item.sentence for item in findings.blockers},
        {item.code: item.sentence for item in findings.cautions},
    )


def test_before_the_start_what_can_still_be_done_is_a_caution(cart, at):
    blockers, cautions = found(cart, starts_at=at + HOUR, at=at)
    assert blockers == {}
    assert cautions == {
        "walk_round.pre_hire": "No pre-hire check has been signed. To be signed before it leaves.",
        "walk_round.gate_out": "No gate-out check has been signed. To be signed before it leaves.",
    }


def test_at_the_start_it_stops_the_cart(cart, at):
    blockers, cautions = found(cart, starts_at=at, at=at)
    assert set(blockers) == {"walk_round.pre_hire", "walk_round.gate_out"}
    assert cautions == {}


def test_both_checks_signed_say_nothing(cart, hand, at):
    walk.sign(cart, "pre_hire", by=hand, at=at - HOUR)
    walk.sign(cart, "gate_out", by=hand, at=at - HOUR / 2)
    assert found(cart, starts_at=at, at=at) == ({}, {})


@pytest.mark.parametrize(
    ("age", "holds"),
    [
        (timedelta(hours=72) - timedelta(seconds=1), True),
        (timedelta(hours=72), False),
        (timedelta(hours=72) + timedelta(seconds=1), False),
    ],
)
def test_a_pre_hire_check_holds_for_seventy_two_hours(cart, hand, at, age, holds):
    walk.sign(cart, "pre_hire", by=hand, at=at - age)
    blockers, _ = found(cart, starts_at=at, at=at)
    assert ("walk_round.pre_hire" not in blockers) is holds
    if not holds:
        assert "72 hours old" in blockers["walk_round.pre_hire"]


def test_it_is_judged_for_the_start_not_for_now(cart, hand, at):
    walk.sign(cart, "pre_hire", by=hand, at=at - timedelta(hours=60))
    assert "walk_round.pre_hire" not in found(cart, starts_at=at + 11 * HOUR, at=at)[1]
    assert "72 hours old" in found(cart, starts_at=at + 12 * HOUR, at=at)[1]["walk_round.pre_hire"]


def test_moving_the_cart_undoes_it_and_a_move_before_does_not(cart, hand, at):
    def move(moment, place):
        move_cart(cart=cart, where_kind="yard", where_words=place, keys_words="Board", by=hand, at=moment)

    move(at - 5 * HOUR, "Wash bay")
    walk.sign(cart, "pre_hire", by=hand, at=at - 4 * HOUR)
    assert "walk_round.pre_hire" not in found(cart, starts_at=at, at=at)[0]
    move(at - 2 * HOUR, "Row 3")
    assert found(cart, starts_at=at, at=at)[0]["walk_round.pre_hire"].startswith("The cart has moved since")
    walk.sign(cart, "pre_hire", by=hand, at=at - HOUR)
    assert "walk_round.pre_hire" not in found(cart, starts_at=at, at=at)[0]


def _repaired(cart, *, repaired_at, **kwargs):
    return DefectFactory(
        cart=cart,
        grade="watch",
        state="repaired",
        told_at=repaired_at - HOUR,
        repaired_at=repaired_at,
        **kwargs,
    )


def test_work_done_since_undoes_it_and_work_done_before_does_not(cart, hand, at):
    walk.sign(cart, "pre_hire", by=hand, at=at - 4 * HOUR)
    _repaired(cart, repaired_at=at - 5 * HOUR)
    assert "walk_round.pre_hire" not in found(cart, starts_at=at, at=at)[0]
    _repaired(cart, repaired_at=at - 3 * HOUR)
    assert "was worked on since" in found(cart, starts_at=at, at=at)[0]["walk_round.pre_hire"]


def test_repairing_what_the_check_itself_found_does_not_undo_it(cart, hand, at):
    signed = walk.sign(cart, "pre_hire", by=hand, at=at - 4 * HOUR)
    _repaired(cart, repaired_at=at - HOUR, source_kind="walk_round", source_id=signed.pk)
    assert "walk_round.pre_hire" not in found(cart, starts_at=at, at=at)[0]
    # The same repair stands against an earlier check that did not find it.
    again = walk.sign(cart, "pre_hire", by=hand, at=at - 2 * HOUR)
    assert again.pk != signed.pk
    assert "was worked on since" in found(cart, starts_at=at, at=at)[0]["walk_round.pre_hire"]


def test_a_required_look_left_unmade_never_makes_a_cart_fit(cart, hand, at):
    item = next(item for item in walk.sheet(cart, "pre_hire").items if item.check.required)
    answers = {(item.check.key, item.place): {"answer": "could_not_check", "why": "dark"}}
    walk.sign(cart, "pre_hire", by=hand, at=at - HOUR, answers=answers)
    assert "left 1 required point unchecked" in found(cart, starts_at=at, at=at)[0]["walk_round.pre_hire"]
    assert standing.latest_fit_pre_hire(cart, at=at) is None


def test_the_newest_check_counts_even_when_the_one_before_was_better(cart, hand, at):
    walk.sign(cart, "pre_hire", by=hand, at=at - 3 * HOUR)
    assert standing.latest_fit_pre_hire(cart, at=at) is not None
    item = next(item for item in walk.sheet(cart, "pre_hire").items if item.check.required)
    unmade = {(item.check.key, item.place): {"answer": "could_not_check", "why": "dark"}}
    walk.sign(cart, "pre_hire", by=hand, at=at - HOUR, answers=unmade)
    assert standing.latest_fit_pre_hire(cart, at=at) is None


@pytest.mark.parametrize(
    ("age", "fault"),
    [
        (timedelta(hours=2) - timedelta(seconds=1), ""),
        (timedelta(hours=2), "is too old"),
        (timedelta(hours=3), "is too old"),
        (timedelta(hours=23), "is too old"),
    ],
)
def test_a_gate_out_check_is_two_hours_old_at_most(cart, hand, age, fault):
    noon = datetime(2026, 12, 1, 1, 30, tzinfo=UTC)
    signed = walk.sign(cart, "gate_out", by=hand, at=noon - age)
    said = standing.gate_out_fault(signed, starts_at=noon, at=noon)
    assert fault in said
    assert bool(said) is bool(fault)


def test_midnight_voids_no_gate_out_check(cart, hand):
    """Five to midnight and ten past are a quarter of an hour apart and two days; Adelaide, UTC+10:30 in summer."""
    late = datetime(2026, 11, 30, 13, 25, tzinfo=UTC)
    signed = walk.sign(cart, "gate_out", by=hand, at=late)
    after_midnight = datetime(2026, 11, 30, 13, 40, tzinfo=UTC)
    assert standing.gate_out_fault(signed, starts_at=after_midnight, at=after_midnight) == ""
    two_hours = late + 2 * HOUR
    assert "is too old" in standing.gate_out_fault(signed, starts_at=two_hours, at=two_hours)


@pytest.mark.parametrize("without_permit", ["", "Bogged at the wash"])
def test_a_moment_gone_by_is_judged_by_what_was_done_until_then(
    cart, hand, at, without_permit, django_assert_num_queries
):
    """A check signed since, a move and a repair since: none of them says anything of the moment before."""
    then, window = at - HOUR, Window(at - HOUR, at + HOUR)
    good = walk.sign(cart, "pre_hire", by=hand, at=then - HOUR)
    walk.sign(cart, "gate_out", by=hand, at=then - HOUR / 2)
    with django_assert_num_queries(2):
        assert standing.findings([cart], windows={cart.pk: window}, at=then) == {}
    walk.sign(cart, "pre_hire", by=hand, at=then + HOUR / 4)
    walk.sign(cart, "gate_out", by=hand, at=then + HOUR / 4)
    cart = move_cart(
        cart=cart, where_kind="road", where_words="Out", keys_words="Board", by=hand, at=then + HOUR / 3
    )
    DefectFactory(cart=cart, state="verified", grade="watch", repaired_at=then + HOUR / 3)
    cart.refresh_from_db()
    with django_assert_num_queries(3):
        assert standing.findings([cart], windows={cart.pk: window}, at=then) == {}
    assert standing.latest_fit_pre_hire(cart, at=then) == good
    before = then - HOUR / 4
    place = {"where_kind": "yard", "where_words": "Wash bay", "keys_words": "Board"}
    move_cart(cart=cart, **place, without_permit=without_permit, by=hand, at=before)
    move_cart(cart=cart, where_kind="road", where_words="Out", keys_words="Board", by=hand, at=at)
    cart.refresh_from_db()
    [stop] = standing.findings([cart], windows={cart.pk: window}, at=then)[cart.pk].blockers
    assert "has moved since" in stop.sentence


def test_an_open_do_not_use_keeps_the_check_from_making_it_fit(cart, hand, at):
    walk.sign(cart, "pre_hire", by=hand, at=at - HOUR)
    DefectFactory(cart=cart, grade="do_not_use")
    assert standing.latest_fit_pre_hire(cart, at=at) is None
    # The check itself holds: it is the defect that stops the cart, and clearing it frees the cart without a new walk.
    assert standing.pre_hire_faults([cart], starts={cart.pk: at}, at=at) == {}


@pytest.fixture
def ruby(db):
    return StaffFactory(full_name="Ruby Ferris")


CHECKS = {
    "pre_hire": "Ruby Ferris has not confirmed having signed the pre-hire check (today 6.30 am).",
    "gate_out": "Ruby Ferris has not confirmed having signed the gate-out check (today 6.30 am).",
}


def signed_but(cart, hand, ruby, unconfirmed, at):
    """Both checks of a cart, one of them sent in by another than signed it."""
    walks = {
        purpose: walk.sign(
            cart, purpose, by=hand, at=at - HOUR, **(walk.signed_by(ruby) if purpose == unconfirmed else {})
        )
        for purpose in CHECKS
    }
    return walks[unconfirmed]


@pytest.mark.parametrize("purpose", CHECKS)
def test_a_check_whose_name_is_not_confirmed_stops_at_the_gate(cart, hand, ruby, at, purpose):
    signed = signed_but(cart, hand, ruby, purpose, at)
    assert found(cart, starts_at=at, at=at) == ({"walk_round.name": CHECKS[purpose]}, {})
    window = Window(start=at, end=at + HOUR)
    [blocker] = standing.findings([cart], windows={cart.pk: window}, at=at)[cart.pk].blockers
    assert (blocker.record.kind, blocker.record.id) == ("walk_round", signed.pk)
    assert blocker.clear_words.startswith("Ruby Ferris: sign in")
    assert blocker.passed_by == frozenset()
    confirm_name(walk=signed, by=ruby, at=at, how="session")
    assert found(cart, starts_at=at, at=at) == ({}, {})


@pytest.mark.parametrize("purpose", CHECKS)
def test_before_the_start_its_name_can_still_be_confirmed(cart, hand, ruby, at, purpose):
    signed_but(cart, hand, ruby, purpose, at)
    blockers, cautions = found(cart, starts_at=at + HOUR / 2, at=at)
    assert blockers == {}
    assert cautions == {"walk_round.name": f"{CHECKS[purpose]} To be confirmed before it leaves."}
    answer = readiness(cart, window=Window(start=at + HOUR / 2, end=at + HOUR), at=at)
    said = f"Ready once its {purpose.replace('_', '-')} check’s name is confirmed, by today 8.00 am."
    assert readiness_sentence(answer) == said


def test_a_check_that_does_not_hold_is_walked_again_whatever_its_name(cart, hand, ruby, at):
    walk.sign(cart, "gate_out", by=hand, at=at - HOUR)
    walk.sign(cart, "pre_hire", by=hand, at=at - 73 * HOUR, **walk.signed_by(ruby))
    assert set(found(cart, starts_at=at, at=at)[0]) == {"walk_round.pre_hire"}


def test_an_unconfirmed_pre_hire_check_is_no_basis_for_a_certificate(cart, hand, ruby, at):
    signed = signed_but(cart, hand, ruby, "pre_hire", at)
    assert standing.latest_fit_pre_hire(cart, at=at) is None
    assert standing.pre_hire_faults([cart], starts={cart.pk: at}, at=at) == {cart.pk: CHECKS["pre_hire"]}
    confirm_name(walk=signed, by=ruby, at=at, how="pin")
    assert standing.latest_fit_pre_hire(cart, at=at) == signed
    assert standing.pre_hire_faults([cart], starts={cart.pk: at}, at=at) == {}


def test_many_carts_cost_what_one_does(db, at):
    walk.edition()
    hand = StaffFactory()

    def queries(carts):
        windows = {cart.pk: Window(start=at, end=at + HOUR) for cart in carts}
        with CaptureQueriesContext(connection) as seen:
            answers = standing.findings(carts, windows=windows, at=at)
        assert len(answers) == len(carts)
        return len(seen)

    few, more = CartFactory.create_batch(2), CartFactory.create_batch(10)
    walk.sign(few[0], "daily", by=hand, at=at - HOUR)
    for cart in more:
        # Each with a name to confirm, the dearest case: who signed must not be asked for cart by cart.
        walk.sign(cart, "pre_hire", by=hand, at=at - HOUR, **walk.signed_by(StaffFactory()))
    assert queries(few) == queries(few + more) == 2
