"""The gate: nothing leaves while something stops it, whoever asks; what leaves has its certificate and its receipt."""

import threading
from datetime import date, timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from fleet.actions.carts import move_cart
from fleet.models.carts import Cart, Fitment
from fleet.models.wheels import TyreFitting
from fleet.records import record_url
from hire.actions.gate import (
    AT_THE_GATE,
    AlreadyHandedOver,
    LimitsNotAccepted,
    NoCertificate,
    NotOut,
    PhotosWanted,
    SignatureWanted,
    StoppedAtGate,
    bring_back,
    gate_readiness,
    hand_over,
    issue_certificate,
    valid_certificate,
)
from hire.models import Handover, HandoverPhoto, Line
from inspections.certificates.actions import paper_of, withdraw_paper
from inspections.certificates.models import Certificate
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import Role
from tests import photo_samples
from tests.factories import inspections as walk
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    DocumentFactory,
    ExtinguisherFactory,
    HoldFactory,
    LimitFactory,
    PassFactory,
    PhotoFactory,
    TreadReadingFactory,
)
from tests.factories.hire import LineFactory, given, ready_line, walked_line
from tests.factories.people import StaffFactory

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


@pytest.fixture
def desk(people):
    return people[Role.HIRE_DESK]


@pytest.fixture
def line(hand, at):
    return ready_line(hand=hand, at=at, cart=CartFactory(fleet_number="RG07", tyres=True))


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


def test_the_gate_out_check_is_of_the_same_day_and_two_hours_old_at_most(line, desk, at):
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
    gate, outcomes = threading.Barrier(2), []

    def let_go(by):
        try:
            gate.wait(20)
            hand_over(line=Line.objects.get(pk=line.pk), given=given(), by=by, at=at)
            outcomes.append("left")
        except AlreadyHandedOver:
            outcomes.append("already")
        finally:
            connection.close()

    threads = [threading.Thread(target=let_go, args=(by,)) for by in (hand, desk)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(outcomes) == ["already", "left"]
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


def test_a_returned_cart_wants_a_new_check_for_its_next_hire(line, desk, hand, at):
    hand_over(line=line, given=given(), by=desk, at=at)
    bring_back(line=line, where_words="Wash bay", keys_words="Board", by=hand, at=at + HOUR)
    # The old promise still runs; the next begins where it ends.
    following = LineFactory(cart=line.cart, starts_at=line.promised.upper)
    codes = {blocker.code for blocker in gate_readiness(following, at=following.promised.lower).blockers}
    assert codes == {"walk_round.pre_hire", "walk_round.gate_out"}


TYPED = {
    "mode": "signed", "place_words": "Home yard", "keys_words": "With the driver", "fuel_eighths": "7",
    "condition_words": "Clean, no marks", "items_words": "Standpipe SP-14", "signed_name": "Aoife Merrin", "strokes": "[]",
}  # fmt: skip


@pytest.fixture
def ready_now(hand):
    """Ready at this moment of the real clock, which the pages read."""
    now = timezone.now()
    line = LineFactory(starts_at=now, cart=CartFactory(tyres=True))
    walk.sign(line.cart, "pre_hire", by=hand, at=now - timedelta(minutes=3))
    walk.sign(line.cart, "gate_out", by=hand, at=now - timedelta(seconds=2))
    issue_certificate(line=line, by=None, at=now)
    return line


def test_the_page_hands_a_cart_over(client, desk, ready_now):
    client.force_login(desk)
    address = reverse("hire:handover", args=[ready_now.pk])
    assert client.get(address).status_code == 200
    answer = client.post(address, TYPED, follow=True)
    assert "has left. The receipt is issued." in answer.content.decode()
    answer = client.post(address, TYPED)
    assert answer.status_code == 422
    assert "was handed over on" in answer.content.decode()


@pytest.mark.parametrize(
    "wrong",
    [
        {"fuel_eighths": ""},
        {"fuel_eighths": "9"},
        {"mode": "posted"},
        {"keys_words": ""},
        {"signed_name": ""},
        {"strokes": "<svg onload=alert(1)>"},
        {"strokes": "[[[1,2]]]"},
        {"condition_words": "x\x00"},
        {"mode": "left"},
    ],
)
def test_the_page_keeps_what_was_typed_when_it_refuses(client, desk, ready_now, wrong):
    client.force_login(desk)
    answer = client.post(reverse("hire:handover", args=[ready_now.pk]), TYPED | wrong)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Standpipe SP-14" in page
    assert "<svg onload" not in page
    assert not Handover.objects.exists()


def test_photos_come_with_the_form_and_a_renamed_file_is_told(client, desk, ready_now):
    client.force_login(desk)
    address = reverse("hire:handover", args=[ready_now.pk])
    renamed = SimpleUploadedFile("cart.jpg", b"%PDF-1.7 not a photo", content_type="image/jpeg")
    assert client.post(address, TYPED | {"mode": "left", "photos": [renamed]}).status_code == 422
    sound = SimpleUploadedFile(
        "cart.jpg", photo_samples.camera_jpeg(width=600, height=800), content_type="image/jpeg"
    )
    assert client.post(address, TYPED | {"mode": "left", "photos": [sound]}).status_code == 302
    assert HandoverPhoto.objects.count() == 1


def test_the_page_of_a_stopped_cart_says_what_stops_it(client, desk, ready_now):
    HoldFactory(cart=ready_now.cart, reason="Gearbox noise")
    client.force_login(desk)
    page = client.get(reverse("hire:handover", args=[ready_now.pk])).content.decode()
    assert "Gearbox noise" in page
    answer = client.post(reverse("hire:handover", args=[ready_now.pk]), TYPED)
    assert answer.status_code == 422
    assert not Handover.objects.exists()
