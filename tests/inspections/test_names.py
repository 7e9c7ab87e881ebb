"""Who signed and who sent: on a shared tablet they may differ, and the name stands once its owner says so."""

import uuid
from functools import partial

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from inspections.actions import AlreadyConfirmed, NotTheAuthor, confirm_name
from inspections.models import NameConfirmation, WalkRound
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.outbox.models import Message
from people.roles import Role
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.inspections.wire import key_of, put
from tests.pages import text_of


@pytest.fixture
def ruby(db):
    return StaffFactory(full_name="Ruby Ferris", role=Role.YARD_HAND.value)


@pytest.fixture
def others(cart, people, ruby, at):
    """A pre-hire check Ruby signed and the yard hand sent in."""
    return walk.sign(cart, "pre_hire", by=people[Role.YARD_HAND], at=at, **walk.signed_by(ruby))


def test_who_signed_and_sent_is_told_at_once_that_the_name_stands(tablet, cart, people, now):
    hand = people[Role.YARD_HAND]
    answer = put(tablet, walk.manifest(cart, at=now, **walk.signed_by(hand)))
    assert (answer.status_code, answer.json()["name_confirmed"]) == (201, True)
    kept = WalkRound.objects.get()
    assert (kept.author, kept.sent_by, kept.is_name_confirmed) == (hand, hand, True)


def test_a_record_that_names_nobody_is_its_senders(tablet, cart, people, now):
    answer = put(tablet, walk.manifest(cart, at=now))
    assert answer.json()["name_confirmed"] is True
    assert WalkRound.objects.get().author == people[Role.YARD_HAND]


def test_a_name_taken_with_no_signal_does_not_stand_by_whoever_is_signed_in(tablet, cart, people, now):
    hand = people[Role.YARD_HAND]
    signed = walk.signed_by(hand)
    signed["author"] |= {"how": "name"}
    assert put(tablet, walk.manifest(cart, at=now, **signed)).json()["name_confirmed"] is False
    kept = WalkRound.objects.get()
    assert (kept.author, kept.sent_by, kept.is_name_confirmed) == (hand, hand, False)
    confirm_name(walk=kept, by=hand, at=now, how="pin")
    assert WalkRound.objects.with_name().get().is_name_confirmed


def test_version_1_takes_no_word_for_who_signed(tablet, cart, people, ruby, now):
    put(tablet, walk.manifest(cart, at=now, author=walk.signed_by(ruby)["author"]))
    assert WalkRound.objects.get().author == people[Role.YARD_HAND]


def test_what_another_signed_is_kept_under_both_names(tablet, cart, people, ruby, now):
    key, place = key_of(cart, "daily", answer="sound")
    wrong = {(key, place): {"answer": "wrong", "grade": "watch"}}
    body = walk.manifest(cart, at=now, answers=wrong, **walk.signed_by(ruby))
    first, again = put(tablet, body), put(tablet, body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert first.json()["name_confirmed"] is False
    kept = WalkRound.objects.get()
    assert (kept.author, kept.sent_by) == (ruby, people[Role.YARD_HAND])
    assert kept.author_words == "Ruby Ferris, yard hand"
    assert kept.cart.defects.get().told_by_words == "Ruby Ferris, yard hand"
    entry = Entry.objects.get(event="inspections.walk_round.signed")
    assert (entry.by, entry.by_words) == (kept.sent_by, f"Ruby Ferris, sent by {kept.sent_by.full_name}")
    assert str(ruby.pk) in entry.text


@pytest.mark.parametrize("change", [{"role": Role.HIRE_DESK.value}, {"is_active": False}])
def test_a_record_is_never_refused_for_what_its_author_may_do_by_now(tablet, cart, ruby, now, change):
    body = walk.manifest(cart, at=now, **walk.signed_by(ruby))
    for name, value in change.items():
        setattr(ruby, name, value)
    ruby.save()
    assert put(tablet, body).status_code == 201
    assert WalkRound.objects.get().author == ruby


def test_only_the_sender_must_be_one_who_walks(client, cart, people, ruby, now):
    client.force_login(people[Role.HIRE_DESK])
    answer = put(client, walk.manifest(cart, at=now, **walk.signed_by(ruby)))
    assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json")


def test_a_name_this_yard_does_not_know_is_told_and_the_sender_answers_for_it(tablet, cart, people, now):
    hand = people[Role.YARD_HAND]
    stranger = {"id": str(uuid.uuid4()), "name": "Bo <b>Quill</b>" + "x" * 100}
    assert put(tablet, walk.manifest(cart, at=now, version=2, author=stranger)).status_code == 201
    kept = WalkRound.objects.get()
    assert (kept.author, kept.sent_by) == (hand, hand)
    assert kept.author_words.startswith("Bo <b>Quill</b>xxx")
    assert kept.author_words.endswith(f", not on this yard’s list; sent by {hand.full_name}")
    assert kept.author_role == f"Not on this yard’s list; sent by {hand.full_name}"
    page = text_of(tablet.get(f"/walk-rounds/{kept.pk}/"))
    assert "not on this yard’s list; sent by" in page
    assert "<b>Quill" not in page


NO_AUTHORS = {
    "none": None,
    "a name alone": "Ruby Ferris",
    "a list": [],
    "no id": {"name": "Ruby Ferris"},
    "an id that is none": {"id": "ruby", "name": "Ruby Ferris"},
    "no name": {"id": str(uuid.uuid4())},
    "a blank name": {"id": str(uuid.uuid4()), "name": " "},
    "a name without end": {"id": str(uuid.uuid4()), "name": "R" * 121},
    "a broken name": {"id": str(uuid.uuid4()), "name": "R\x00"},
}


@pytest.mark.parametrize("kind", NO_AUTHORS)
def test_version_2_says_who_signed_or_is_refused(tablet, cart, now, kind):
    answer = put(tablet, walk.manifest(cart, at=now, version=2, author=NO_AUTHORS[kind]))
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
    assert "author" in answer.json()["detail"]
    assert not WalkRound.objects.exists()


@pytest.mark.parametrize("how", ["session", "pin"])
def test_the_author_confirms_it_once_and_the_paper_is_looked_at_again(others, ruby, at, how):
    Message.objects.update(done_at=at)
    made = confirm_name(walk=others, by=ruby, at=at, how=how)
    assert (made.walk_round, made.by, made.at, made.how) == (others, ruby, at, how)
    assert WalkRound.objects.get().is_name_confirmed
    entry = Entry.objects.get(event="inspections.walk_round.name_confirmed")
    assert (entry.by, entry.chain, entry.subject_id) == (ruby, f"cart:{others.cart_id}", others.pk)
    assert entry.wording == "confirmed having signed a walk-round that another sent in"
    assert list(faults_in_journal()) == []
    assert Message.objects.get(done_at=None).subject_id == others.pk
    with pytest.raises(AlreadyConfirmed, match="is confirmed already"):
        confirm_name(walk=others, by=ruby, at=at, how=how)
    assert NameConfirmation.objects.count() == 1


def test_nobody_else_confirms_it_not_even_a_manager_or_who_sent_it(others, people, at):
    for person in people.values():
        with pytest.raises(NotTheAuthor, match="signed by Ruby Ferris"):
            confirm_name(walk=others, by=person, at=at, how="session")
    assert not NameConfirmation.objects.exists()


def test_whose_access_has_ended_confirms_nothing(others, ruby, at):
    ruby.is_active = False
    with pytest.raises(NotTheAuthor):
        confirm_name(walk=others, by=ruby, at=at, how="pin")


def test_whoever_sent_their_own_has_nothing_to_confirm(cart, ruby, at):
    own = walk.sign(cart, "daily", by=ruby, at=at, **walk.signed_by(ruby))
    with pytest.raises(AlreadyConfirmed):
        confirm_name(walk=own, by=ruby, at=at, how="session")


@pytest.mark.django_db(transaction=True)
def test_confirmed_six_times_at_once_it_is_confirmed_once(at):
    walk.edition()
    ruby, sender = StaffFactory(), StaffFactory()
    signed = walk.sign(CartFactory(), "daily", by=sender, at=at, **walk.signed_by(ruby))
    given = at_once(*[partial(confirm_name, walk=signed, by=ruby, at=at, how="session")] * 6)
    assert sorted(type(one).__name__ for one in given) == ["AlreadyConfirmed"] * 5 + ["NameConfirmation"]
    assert Entry.objects.filter(event="inspections.walk_round.name_confirmed").count() == 1


def test_the_database_keeps_one_confirmation_of_a_known_kind(others, ruby, at):
    with pytest.raises(IntegrityError, match="inspections_nameconfirmation_how_known"), transaction.atomic():
        NameConfirmation.objects.create(walk_round=others, by=ruby, at=at, how="spoken")
    NameConfirmation.objects.create(walk_round=others, by=ruby, at=at, how="pin")
    with pytest.raises(IntegrityError, match="walk_round_id"), transaction.atomic():
        NameConfirmation.objects.create(walk_round=others, by=ruby, at=at, how="pin")


BUTTON = "This was me"


def test_the_page_asks_the_author_and_tells_the_rest(client, others, people, ruby):
    page, act = (
        reverse("inspections:walk_round_detail", args=[others.pk]),
        reverse("inspections:name_confirm", args=[others.pk]),
    )
    hand = people[Role.YARD_HAND]
    asked = (
        f"Name not yet confirmed: sent by {hand.full_name}. Ruby Ferris confirms it by signing in, or with the PIN on the "
        "tablet."
    )
    client.force_login(hand)
    told = text_of(client.get(page))
    assert asked in told
    assert BUTTON not in told
    answer = client.post(act, follow=True)
    assert "Only they can say that it was them." in text_of(answer)
    client.force_login(ruby)
    told = text_of(client.get(page))
    assert asked in told
    assert BUTTON in told
    told = text_of(client.post(act, follow=True))
    assert f"Sent by {hand.full_name}. Ruby Ferris confirmed the name by signing in," in told
    assert asked not in told
    assert BUTTON not in told
    assert "is confirmed already" in text_of(client.post(act, follow=True))


def test_the_page_says_nothing_of_a_name_that_never_was_in_doubt(client, cart, ruby, at):
    own = walk.sign(cart, "daily", by=ruby, at=at)
    client.force_login(ruby)
    told = text_of(client.get(reverse("inspections:walk_round_detail", args=[own.pk])))
    assert "Sent by" not in told
    assert "confirmed" not in told
    assert BUTTON not in told


def test_the_wire_tells_a_confirmed_name_the_next_time_it_is_asked(tablet, cart, ruby, now):
    body = walk.manifest(cart, at=now, **walk.signed_by(ruby))
    put(tablet, body)
    confirm_name(walk=WalkRound.objects.get(), by=ruby, at=now, how="pin")
    assert put(tablet, body).json()["name_confirmed"] is True
