"""The gate: what leaves has its certificate and its receipt, leaves once, and comes back."""

from dataclasses import replace
from datetime import date, timedelta
from functools import partial

import pytest

from fleet.models.carts import Cart
from hire.actions.gate import (
    AT_THE_GATE,
    AlreadyHandedOver,
    NotOut,
    bring_back,
    gate_readiness,
    hand_over,
    valid_certificate,
)
from hire.actions.gate_given import LimitsNotAccepted, PhotosWanted, SignatureWanted
from hire.models.gate import Handover, HandoverPhoto
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import Role
from tests.at_once import at_once
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    LimitFactory,
    PassFactory,
    PhotoFactory,
)
from tests.factories.hire import LineFactory, given, ready_line
from tests.factories.people import StaffFactory

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def test_each_side_of_a_cart_has_a_picture_of_its_own(line, desk, at):
    one, other = PhotoFactory(), PhotoFactory()
    with pytest.raises(PhotosWanted, match="One picture was given for several sides"):
        hand_over(line=line, given=given(sides=(("front", one), ("rear", one))), by=desk, at=at)
    hand_over(line=line, given=given(sides=(("front", one), ("rear", other))), by=desk, at=at)
    assert HandoverPhoto.objects.count() == 2


def test_a_fit_cart_leaves_and_its_receipt_names_the_certificate(line, desk, at):
    certificate = valid_certificate(line)
    handover = hand_over(line=line, given=given(), by=desk, at=at)
    line.refresh_from_db()
    cart = Cart.objects.get(pk=line.cart_id)
    assert (line.handed_over_at, handover.certificate_number) == (at, certificate.number)
    assert (cart.where_kind, cart.where_words) == ("road", "Gone to Saltbush Road widening")
    assert cart.last_moved_at == at
    receipt = Certificate.objects.get(kind="receipt", subject_id=line.pk)
    paper = paper_of(receipt)
    assert (paper.certificate.number, paper.certificate.record_sha256) == (
        certificate.number,
        certificate.record_sha256,
    )
    assert (paper.received.name, paper.left) == ("Aoife Merrin", None)
    assert [item.name for item in paper.items] == ["Standpipe SP-14", "Hydrant key"]
    assert "Fuel at handover: 7 of 8 eighths." in paper.notes
    assert paper.method.sheet == "Gate-out check"


def test_leaving_is_in_the_carts_journal_and_the_yards(line, desk, at):
    hand_over(line=line, given=given(), by=desk, at=at)
    entries = Entry.objects.filter(event="hire.line.handed_over", subject_id=line.pk)
    assert {entry.chain for entry in entries} == {"yard", f"cart:{line.cart_id}"}
    assert len({entry.action_id for entry in entries}) == 1
    assert list(faults_in_journal()) == []


def test_a_cart_leaves_once(line, desk, at):
    hand_over(line=line, given=given(), by=desk, at=at)
    with pytest.raises(AlreadyHandedOver):
        hand_over(line=line, given=given(), by=desk, at=at)
    assert Certificate.objects.filter(kind="receipt").count() == 1
    cancelled = LineFactory(cancelled_at=at)
    with pytest.raises(AlreadyHandedOver):
        hand_over(line=cancelled, given=given(), by=desk, at=at)


@pytest.mark.django_db(transaction=True)
def test_of_two_handovers_at_once_one_wins(at):
    hand, desk = StaffFactory(), StaffFactory(role="hire_desk")
    line = ready_line(hand=hand, at=at)
    outcomes = at_once(
        *[partial(hand_over, line=line, given=given(), by=person, at=at) for person in (hand, desk)]
    )
    assert {type(outcome) for outcome in outcomes} == {Handover, AlreadyHandedOver}
    assert (Handover.objects.count(), Certificate.objects.filter(kind="receipt").count()) == (1, 1)
    assert list(faults_in_journal()) == []


def test_left_with_nobody_present_wants_photos(line, desk, at):
    alone = given(mode="left", taken_by_name="", signature_kind="")
    with pytest.raises(PhotosWanted):
        hand_over(line=line, given=alone, by=desk, at=at)
    photo = PhotoFactory(received_at=at)
    handover = hand_over(
        line=line,
        given=given(mode="left", taken_by_name="ignored", signature_kind="", photos=(photo,)),
        by=desk,
        at=at,
    )
    assert (handover.mode, handover.taken_by_name) == ("left", "")
    assert HandoverPhoto.objects.get().photo == photo
    paper = paper_of(Certificate.objects.get(kind="receipt"))
    assert (paper.received, paper.left.place, paper.left.photos) == (None, "Home yard", (1,))


@pytest.mark.parametrize(
    "changed",
    [
        {"taken_by_name": "  "},
        {"signature_kind": ""},
        {"signature_kind": "drawn", "strokes": ""},
        {"signature_kind": "drawn", "strokes": "[]"},
        {"signature_kind": "drawn", "strokes": "[[]]"},
        {"signature_kind": "drawn", "strokes": "{}"},
        {"signature_kind": "drawn", "strokes": "not JSON"},
        {"signature_kind": "drawn", "strokes": "[[[1, 2]]]"},
        {"signature_kind": "drawn", "strokes": "[[[1.5, 2, 3]]]"},
        {"signature_kind": "drawn", "strokes": '[[["<svg>", 2, 3]]]'},
        {"signature_kind": "drawn", "strokes": "[" * 5000},
    ],
)
def test_a_signature_that_is_none_is_refused(line, desk, at, changed):
    with pytest.raises(SignatureWanted):
        hand_over(line=line, given=given(**changed), by=desk, at=at)


def test_a_drawn_signature_is_kept_as_drawn(line, desk, at):
    drawn = given(signature_kind="drawn", strokes="[[[1, 2, 0], [5, 9, 40]]]")
    hand_over(line=line, given=drawn, by=desk, at=at)
    paper = paper_of(Certificate.objects.get(kind="receipt"))
    assert paper.received.strokes == (((1, 2, 0), (5, 9, 40)),)


def _limited(hand, at):
    cart = CartFactory(tyres=True)
    LimitFactory(defect__cart=cart, defect__grade="do_not_use")
    return ready_line(hand=hand, at=at, cart=cart)


def test_limits_are_accepted_by_the_customer_or_the_cart_stays(hand, desk, at):
    line = _limited(hand, at)
    assert gate_readiness(line, at=at).state == "limits"
    with pytest.raises(LimitsNotAccepted):
        hand_over(line=line, given=given(), by=desk, at=at)
    hand_over(line=line, given=given(limits_accepted=True), by=desk, at=at)
    paper = paper_of(Certificate.objects.get(kind="receipt"))
    assert [limit.what for limit in paper.limits] == ["Cannon isolated and tagged: not for use."]
    assert "I accept the limits" in paper.received.statement


def test_limits_are_read_out_by_telephone_where_nobody_is_present(hand, desk, at):
    line = _limited(hand, at)
    left = given(mode="left", signature_kind="", taken_by_name="", photos=(PhotoFactory(received_at=at),))
    with pytest.raises(LimitsNotAccepted, match="Ring whoever hired it"):
        hand_over(line=line, given=left, by=desk, at=at)
    hand_over(line=line, given=replace(left, limits_accepted=True), by=desk, at=at)
    assert Certificate.objects.filter(kind="receipt").exists()


def test_a_pass_lets_it_go_is_accepted_and_printed(hand, desk, at):
    cart = CartFactory(tyres=True)
    late = DefectFactory(
        cart=cart,
        grade="by_date",
        state="assessed",
        due_on=date(2026, 11, 30),
        may_be_passed=True,
        title="Mirror cracked",
    )
    given_pass = PassFactory(defect=late, given_at=at - 5 * HOUR, ends_at=at + DAY)
    line = ready_line(hand=hand, at=at, cart=cart)
    with pytest.raises(LimitsNotAccepted):
        hand_over(line=line, given=given(), by=desk, at=at)
    hand_over(line=line, given=given(limits_accepted=True), by=desk, at=at)
    paper = paper_of(Certificate.objects.get(kind="receipt"))
    assert paper.passes[0].by == given_pass.given_by.full_name
    assert paper.passes[0].done_instead == "Second mirror clamped on"


@pytest.mark.parametrize("role", sorted(set(Role) - AT_THE_GATE))
def test_who_may_not_open_the_gate(line, people, at, role):
    with pytest.raises(NotAllowed):
        hand_over(line=line, given=given(), by=people[role], at=at)
    with pytest.raises(NotAllowed):
        bring_back(line=line, where_words="x", keys_words="y", by=people[role], at=at)


def test_back_in_the_yard_early_or_late_always_recordable_once(line, desk, hand, at):
    with pytest.raises(NotOut):
        bring_back(line=line, where_words="Wash bay", keys_words="Board", by=hand, at=at)
    hand_over(line=line, given=given(), by=desk, at=at)
    late = line.promised.upper + 3 * DAY
    back = bring_back(line=line, where_words="Wash bay", keys_words="Board", by=hand, at=late)
    cart = Cart.objects.get(pk=line.cart_id)
    assert (back.back_at, cart.where_kind, cart.where_words, cart.last_moved_at) == (
        late,
        "yard",
        "Wash bay",
        late,
    )
    assert '"late":true' in Entry.objects.filter(event="hire.line.back_in_yard").first().text
    with pytest.raises(NotOut):
        bring_back(line=line, where_words="Wash bay", keys_words="Board", by=hand, at=late)
