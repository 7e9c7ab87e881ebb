"""What stops a cart at the gate: each thing by itself, whoever asks, until it is cleared."""

from datetime import date, timedelta

import pytest

from fleet.actions.carts import move_cart
from fleet.models.carts import Cart, Fitment
from fleet.models.wheels import TyreFitting
from fleet.records import record_url
from hire.actions.gate import (
    NoCertificate,
    StoppedAtGate,
    bring_back,
    gate_readiness,
    hand_over,
    issue_certificate,
    valid_certificate,
)
from hire.models.agreements import Line
from hire.models.gate import Handover
from inspections.certificates.actions import withdraw_paper
from tests.factories import inspections as walk
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    DocumentFactory,
    ExtinguisherFactory,
    HoldFactory,
    PassFactory,
    TreadReadingFactory,
)
from tests.factories.hire import LineFactory, given, ready_line, walked_line

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def _tyre(cart, depth, at):
    fitting = TyreFitting.objects.get(wheel_position__cart=cart, wheel_position__code="2LO")
    TreadReadingFactory(fitting=fitting, depth_mm=depth, read_at=at - HOUR)


def _move(cart, hand, moment):
    move_cart(cart=cart, where_kind="yard", where_words="Wash bay", keys_words="Board", by=hand, at=moment)


STOPS = {
    "defect.do_not_use": lambda cart, **_: DefectFactory(cart=cart, grade="do_not_use"),
    "defect.late": lambda cart, **_: DefectFactory(
        cart=cart, grade="by_date", state="assessed", due_on=date(2026, 11, 30)
    ),
    "hold.manual": lambda cart, **_: HoldFactory(cart=cart),
    "hold.incident": lambda cart, **_: HoldFactory(cart=cart, kind="incident"),
    "walk_round.pre_hire": lambda cart, hand, at, **_: _move(cart, hand, at - 2 * HOUR),
    "extinguisher.missing": lambda cart, **_: Fitment.objects.create(
        cart=cart, kind="extinguisher", fitted_on=date(2026, 1, 6)
    ),
    "extinguisher.discharged": lambda cart, **_: ExtinguisherFactory(cart=cart, is_discharged=True),
    "extinguisher.due": lambda cart, **_: ExtinguisherFactory(cart=cart, made_on=date(2024, 1, 1)),
    "tyre.below_legal": lambda cart, at, **_: _tyre(cart, "1.4", at),
    "tyre.change_out": lambda cart, at, **_: _tyre(cart, "2.9", at),
    "document.registration": lambda cart, **_: DocumentFactory(cart=cart, expires_on=date(2026, 11, 30)),
    "document.insurance": lambda **_: DocumentFactory(
        cart=None, kind="insurance", expires_on=date(2026, 11, 30)
    ),
    "document.rops_plate": lambda cart, **_: DocumentFactory(
        cart=cart, kind="rops_plate", expires_on=date(2026, 11, 30)
    ),
    "hire.overlap": lambda cart, at, **_: LineFactory(cart=cart, starts_at=at - 20 * DAY, out_at=at - 20 * DAY),
}  # fmt: skip


@pytest.mark.parametrize("code", STOPS)
def test_each_thing_that_stops_a_cart_stops_it_at_the_gate(line, desk, hand, at, code):
    STOPS[code](cart=line.cart, hand=hand, at=at)
    line = Line.objects.for_list().get(pk=line.pk)
    assert [blocker.code for blocker in gate_readiness(line, at=at).blockers] == [code]
    with pytest.raises(StoppedAtGate, match="RG07 may not leave: ") as refusal:
        hand_over(line=line, given=given(), by=desk, at=at)
    assert len(refusal.value.blockers) == 1
    line.refresh_from_db()
    assert line.handed_over_at is None
    assert not Handover.objects.exists()


def test_every_stop_says_who_clears_it_and_where_its_record_is(line, hand, at):
    for code, stop in STOPS.items():
        if code not in ("defect.do_not_use", "hire.overlap"):
            stop(cart=line.cart, hand=hand, at=at)
    blockers = gate_readiness(Line.objects.for_list().get(pk=line.pk), at=at).blockers
    assert len(blockers) >= 10
    assert [blocker.weight for blocker in blockers] == sorted(blocker.weight for blocker in blockers)
    for blocker in blockers:
        assert blocker.cleared_by
        assert blocker.clear_words
        assert blocker.sentence.endswith(".")
        assert record_url(blocker.record.kind, blocker.record.id).startswith("/")


def test_the_gate_out_check_is_two_hours_old_at_most(line, desk, at):
    later = at + timedelta(hours=1, minutes=30)
    with pytest.raises(StoppedAtGate, match="is too old"):
        hand_over(line=line, given=given(), by=desk, at=later)
    assert hand_over(line=line, given=given(), by=desk, at=later - timedelta(seconds=1)).at < later


def test_a_lapsed_registration_stops_only_a_road_leg(line, desk, at):
    DocumentFactory(cart=line.cart, expires_on=date(2026, 11, 30))
    agreement = line.agreement
    agreement.leaves_by, agreement.works_on = "float", "site"
    agreement.save()
    assert gate_readiness(line, at=at).may_go
    assert hand_over(line=line, given=given(), by=desk, at=at)
    assert Cart.objects.get(pk=line.cart_id).where_kind == "float"


def test_another_hire_promised_meanwhile_stops_an_early_start(desk, hand, at):
    cart = CartFactory(tyres=True)
    between = LineFactory(cart=cart, starts_at=at + DAY, ends_at=at + 3 * DAY)
    early = ready_line(hand=hand, at=at, cart=cart, starts_at=at + 5 * DAY)
    with pytest.raises(StoppedAtGate, match=between.agreement.number):
        hand_over(line=early, given=given(), by=desk, at=at)


def test_without_a_certificate_nothing_leaves(hand, desk, at):
    line = walked_line(hand=hand, at=at)
    with pytest.raises(NoCertificate):
        hand_over(line=line, given=given(), by=desk, at=at)


def test_a_withdrawn_certificate_is_none(line, desk, at):
    withdraw_paper(certificate=valid_certificate(line), why="Wrong customer", by=desk, at=at - HOUR)
    with pytest.raises(NoCertificate):
        hand_over(line=line, given=given(), by=desk, at=at)
    issue_certificate(line=line, by=desk, at=at - HOUR / 2)
    assert hand_over(line=line, given=given(), by=desk, at=at)


def test_a_certificate_for_an_older_check_is_none(line, hand, desk, at):
    walk.sign(line.cart, "pre_hire", by=hand, at=at - HOUR)
    with pytest.raises(NoCertificate, match="for its present check"):
        hand_over(line=line, given=given(), by=desk, at=at)


def test_a_pass_that_ended_or_never_may_be_counts_for_nothing(line, desk, at):
    late = DefectFactory(
        cart=line.cart, grade="by_date", state="assessed", due_on=date(2026, 11, 30), may_be_passed=True
    )
    PassFactory(defect=late, given_at=at - 5 * HOUR, ends_at=at)
    with pytest.raises(StoppedAtGate):
        hand_over(line=line, given=given(), by=desk, at=at)
    brakes = DefectFactory(cart=line.cart, grade="do_not_use")
    PassFactory(defect=brakes, cart=line.cart, rule="defect.do_not_use", given_at=at - HOUR, ends_at=at + DAY)
    codes = [blocker.code for blocker in gate_readiness(line, at=at).blockers]
    assert codes == ["defect.do_not_use", "defect.late"]


def test_a_returned_cart_wants_a_new_check_for_its_next_hire(line, desk, hand, at):
    hand_over(line=line, given=given(), by=desk, at=at)
    bring_back(line=line, where_words="Wash bay", keys_words="Board", by=hand, at=at + HOUR)
    # The old promise still runs; the next begins where it ends.
    following = LineFactory(cart=line.cart, starts_at=line.promised.upper)
    codes = {blocker.code for blocker in gate_readiness(following, at=following.promised.lower).blockers}
    assert codes == {"walk_round.pre_hire", "walk_round.gate_out"}
