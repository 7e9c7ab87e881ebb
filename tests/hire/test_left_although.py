"""A handover entered later than it happened is judged at the moment it happened; what stopped the cart then is kept and told."""

from datetime import timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions.carts import move_cart
from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from hire.actions.gate import AlthoughWanted, StoppedAtGate, StoppedThen, gate_readiness, hand_over
from hire.actions.late_looks import NothingToLookAt, look_at_handover
from hire.dispute_record import record_page
from hire.late_watch import left_although
from hire.models.agreements import Line
from hire.models.gate import Handover
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.fleet import CartFactory, DefectFactory, DocumentFactory, HoldFactory
from tests.factories.hire import LineFactory, given, ready_line

pytestmark = pytest.mark.django_db

ADELAIDE = ZoneInfo("Australia/Adelaide")
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
WHY = "Ruby let it go by phone, the site stood dry"


@pytest.fixture
def boss(people):
    return people[Role.FLEET_MANAGER]


def gone(line, *, left, by, at, words=""):
    return hand_over(line=line, given=given(happened_at=left, although_words=words), by=by, at=at)


def test_a_good_cart_that_left_at_night_is_entered_in_the_morning(line, desk, at):
    """Its gate-out check was good at ten past two, and is far too old by the time anybody writes it down."""
    morning = at + 5 * HOUR + 30 * MINUTE
    with pytest.raises(StoppedAtGate, match="is too old"):
        hand_over(line=line, given=given(), by=desk, at=morning)
    done = gone(line, left=at, by=desk, at=morning)
    assert (done.at, done.left_although, done.stopped_since) == (at, "", "")
    line.refresh_from_db()
    assert (line.handed_over_at, line.left_entered_at) == (at, morning)
    assert list(left_although(morning)) == []


SINCE = {
    "a hold": lambda cart, when: HoldFactory(cart=cart, placed_at=when),
    "a defect": lambda cart, when: DefectFactory(cart=cart, grade="do_not_use", told_at=when),
}


@pytest.mark.parametrize("what", SINCE)
def test_what_has_come_to_stop_it_since_refuses_nothing_and_is_told(line, desk, at, what):
    """A date that has passed is no way round a cart tagged out today: the fleet manager hears of it."""
    SINCE[what](line.cart, at - MINUTE)
    [stop] = gate_readiness(Line.objects.for_list().get(pk=line.pk), at=at).blockers
    done = gone(line, left=at - 20 * MINUTE, by=desk, at=at)
    assert (done.left_although, done.since) == ("", [stop.sentence])
    [told] = left_although(at)
    assert told.for_role == Role.FLEET_MANAGER
    assert stop.sentence in told.how_we_know
    assert "something has come to stop it since" in told.what


THEN = {
    "hold": lambda cart, left, **_: HoldFactory(cart=cart, placed_at=left - MINUTE),
    "hold lifted since": lambda cart, left, by, **_: HoldFactory(
        cart=cart, placed_at=left - MINUTE, lifted_at=left + MINUTE, lifted_by=by
    ),
    "defect": lambda cart, left, **_: DefectFactory(cart=cart, grade="do_not_use", told_at=left - MINUTE),
    "defect closed since": lambda cart, left, **_: DefectFactory(
        cart=cart, grade="do_not_use", told_at=left - HOUR, state="no_fault_found", closed_at=left + MINUTE
    ),
    "insurance": lambda left, **_: DocumentFactory(cart=None, kind="insurance", expires_on=left.date() - timedelta(days=2)),
}  # fmt: skip


@pytest.mark.parametrize("what", THEN)
def test_what_stopped_it_then_wants_a_manager_and_words(line, people, at, what):
    left, boss = at - 20 * MINUTE, people[Role.FLEET_MANAGER]
    THEN[what](cart=line.cart, left=left, by=boss)
    for person in (people[Role.HIRE_DESK], people[Role.YARD_HAND]):
        with pytest.raises(StoppedThen, match=r"RG07 was stopped then: .* records it and says why"):
            gone(line, left=left, by=person, at=at, words=WHY)
    with pytest.raises(AlthoughWanted, match="Say why it left all the same"):
        gone(line, left=left, by=boss, at=at, words=" ")
    assert not Handover.objects.exists()
    done = gone(line, left=left, by=boss, at=at, words=WHY)
    assert (len(done.although), done.although_words, done.at) == (1, WHY, left)


def test_a_cart_that_has_not_left_is_never_let_by(line, boss, at):
    """Words help nobody at the gate, nor does a time of a few minutes ago."""
    HoldFactory(cart=line.cart, placed_at=at - HOUR)
    for told in (None, at, at - 10 * MINUTE):
        with pytest.raises(StoppedAtGate) as refusal:
            gone(line, left=told, by=boss, at=at, words=WHY)
        assert not isinstance(refusal.value, StoppedThen)


def test_it_is_shown_everywhere_and_told_once(line, boss, desk, at, client):
    left = at - 20 * MINUTE
    HoldFactory(cart=line.cart, placed_at=left - MINUTE, reason="Brakes pull left")
    done = gone(line, left=left, by=boss, at=at, words=WHY)
    line = Line.objects.for_list().get(pk=line.pk)
    notes = paper_of(Certificate.objects.get(kind="receipt")).notes
    assert any(note.startswith("Left although: Tagged out by") for note in notes)
    assert f"Recorded by {boss.full_name}: {WHY}." in notes
    assert "Left although: Tagged out by" in record_page([line], at).decode()
    entry = Entry.objects.filter(event="hire.line.handed_over").first()
    assert "Brakes pull left" in entry.text
    assert WHY in entry.text
    [told] = left_although(at)
    assert "Brakes pull left" in told.how_we_know
    client.force_login(boss)
    page = client.get(reverse("hire:line_detail", args=[line.pk])).content.decode()
    assert "Left although:" in page
    # It left before its promised start: nothing is still to be signed before it leaves.
    assert "before it leaves" not in page
    assert reverse("hire:handover_looked_at", args=[line.pk]) in page
    with pytest.raises(NotAllowed):
        look_at_handover(handover=done, words="Rang them, it came back", by=desk, at=at)
    answer = client.post(
        reverse("hire:handover_looked_at", args=[line.pk]), {"words": "Rang them"}, follow=True
    )
    assert "Looked at by" in answer.content.decode()
    assert list(left_although(at)) == []
    with pytest.raises(NothingToLookAt):
        look_at_handover(handover=done, words="Again", by=boss, at=at)


def test_the_alert_is_raised_once_and_clears_when_somebody_has_looked(line, boss, at):
    left = at - 20 * MINUTE
    # As long as words may be: an alert has so much room and no more.
    for kind in ("manual", "incident"):
        HoldFactory(cart=line.cart, kind=kind, placed_at=left - MINUTE, reason="Brakes pull left. " * 13)
    done = gone(line, left=left, by=boss, at=at, words="Ruby let it go by phone. " * 9)
    sweep(at=at + HOUR)
    sweep(at=at + 2 * HOUR)
    alert = Alert.objects.get(rule="hire.left_although")
    assert (alert.subject_id, alert.cleared_at) == (line.pk, None)
    look_at_handover(handover=done, words="Rang them", by=boss, at=at + 3 * HOUR)
    sweep(at=at + 4 * HOUR)
    assert Alert.objects.get(rule="hire.left_although").cleared_at is not None


def test_queries_do_not_grow_with_the_handovers(hand, boss, at, django_assert_num_queries):
    for _ in range(3):
        line = ready_line(hand=hand, at=at, cart=CartFactory(tyres=True))
        HoldFactory(cart=line.cart, placed_at=at - HOUR)
        gone(line, left=at, by=boss, at=at + HOUR, words=WHY)
    with django_assert_num_queries(1):
        assert len(list(left_although(at + HOUR))) == 3


def test_one_that_left_with_no_check_and_no_certificate_is_recorded_without_a_receipt(boss, at, client):
    line = LineFactory(starts_at=at - HOUR, cart=CartFactory(tyres=True))
    done = gone(line, left=at - 20 * MINUTE, by=boss, at=at, words=WHY)
    assert done.certificate_number == ""
    assert sorted(done.although) == [
        "No certificate for its check of that time was issued.",
        "No gate-out check has been signed.",
        "No pre-hire check has been signed.",
    ]
    assert not Certificate.objects.exists()
    client.force_login(boss)
    assert "without a certificate" in client.get(reverse("hire:line_detail", args=[line.pk])).content.decode()


def test_where_it_went_since_says_nothing_of_how_it_left(hand, desk, at):
    """It was written down as gone, and as back at the wash bay, before anybody entered the handover."""
    line = ready_line(hand=hand, at=at, cart=CartFactory(tyres=True))
    for words, when in (("Gone", at + MINUTE), ("Wash bay", at + HOUR)):
        move_cart(cart=line.cart, where_kind="yard", where_words=words, keys_words="Board", by=hand, at=when)
    assert gone(line, left=at, by=desk, at=at + 2 * HOUR).left_although == ""


def test_the_database_wants_words_and_keeps_them(line, boss, at):
    left = at - 20 * MINUTE
    HoldFactory(cart=line.cart, placed_at=left - MINUTE)
    done = gone(line, left=left, by=boss, at=at, words=WHY)
    for wrong in ({"although_words": ""}, {"left_although": ""}, {"although_words": "Otherwise"}):
        with pytest.raises(DatabaseError), transaction.atomic():
            Handover.objects.filter(pk=done.pk).update(**wrong)
    other = LineFactory(starts_at=at)
    bare = Handover(line=other, at=at, by=boss, mode="signed", place_words="Yard", taken_by_name="Aoife",
                    keys_words="Board", condition_words="Clean", fuel_eighths=8)  # fmt: skip
    with pytest.raises(IntegrityError, match="hire_handover_no_paper_says_so"), transaction.atomic():
        bare.save(force_insert=True)


TYPED = {
    "mode": "signed", "place_words": "Home yard", "keys_words": "With the driver", "fuel_eighths": "7",
    "condition_words": "Clean, no marks", "items_words": "Standpipe SP-14", "signed_name": "Aoife Merrin", "strokes": "[]",
}  # fmt: skip


def test_the_page_offers_it_and_asks_a_manager_why(client, boss, desk, hand):
    now = timezone.now().replace(second=0, microsecond=0)
    line = ready_line(hand=hand, at=now - HOUR, cart=CartFactory(tyres=True))
    HoldFactory(cart=line.cart, placed_at=now - 2 * HOUR)
    address = reverse("hire:handover", args=[line.pk])
    client.force_login(desk)
    plain = client.get(address).content.decode()
    assert "Let " not in plain
    assert "?gone=1" in plain
    late = client.get(f"{address}?gone=1").content.decode()
    assert "has left</button>" in late
    assert "although_words" not in late
    local = timezone.localtime(now - HOUR, ADELAIDE)
    typed = TYPED | {"happened_at": f"{local:%Y-%m-%dT%H:%M}"}
    refused = client.post(address, typed)
    assert refused.status_code == 422
    assert "records it and says why" in refused.content.decode()
    client.force_login(boss)
    asked = client.post(address, typed)
    assert asked.status_code == 422
    assert "Say why it left all the same" in asked.content.decode()
    done = client.post(address, typed | {"although_words": WHY}, follow=True).content.decode()
    assert "has left. The receipt is issued." in done
