"""A PIN counts on a shared tablet, on top of the password given there this shift; guessing is slowed, then ended."""

import os
from contextlib import closing
from datetime import timedelta

import pytest
import redis
from django.contrib.auth import hashers
from django.test import Client

from people.actions import set_access
from people.journal.models import Entry
from people.models import SignInThrottle
from people.roles import Role
from people.tablets import pins
from people.tablets.actions import end_tablet, enrol_tablet, note_password_sign_in, set_pin
from people.tablets.models import Pin
from people.tablets.pins import MOST_WRONG_IN_A_ROW, PinMustWait, PinRefused, WrongPin, check_pin
from tests.at_once import at_once
from tests.factories.tablets import OTHER_PIN, PIN, enrolled, hand, manager


@pytest.fixture
def tablet(db, at):
    return enrolled(Client(), at=at)


@pytest.fixture
def wes(tablet, at):
    return hand("Wes Tonkin", tablet=tablet, at=at)


def give(person, tablet, at, pin=PIN):
    return check_pin(person_id=person.pk, tablet=tablet, pin=pin, at=at)


def refusal_of(person, tablet, at, pin=PIN):
    with pytest.raises((PinRefused, PinMustWait)) as caught:
        give(person, tablet, at, pin)
    return caught.value


def test_the_right_pin_says_who_it_is(wes, tablet, at):
    person, sign_in = give(wes, tablet, at)
    assert (person, sign_in.at) == (wes, at)
    assert Pin.objects.get().wrong_in_a_row == 0
    assert not SignInThrottle.objects.exists()


@pytest.mark.parametrize("pin", [OTHER_PIN, "", "48021", "480216 ", "٤٨٠٢١٦"])
def test_another_pin_does_not(wes, tablet, at, pin):
    refused = refusal_of(wes, tablet, at, pin)
    assert isinstance(refused, WrongPin)
    assert refused.sentence == "That is not the PIN of Wes Tonkin. Try again."


def test_the_password_counts_for_one_shift_to_its_end_and_no_longer(wes, tablet, at):
    give(wes, tablet, at + timedelta(hours=14) - timedelta(microseconds=1))
    refused = refusal_of(wes, tablet, at + timedelta(hours=14))
    assert "Wes Tonkin has not signed in with the password on this tablet this shift." in refused.sentence
    note_password_sign_in(tablet=tablet, by=wes, at=at + timedelta(hours=14))
    give(wes, tablet, at + timedelta(hours=14))


def test_a_password_given_on_another_tablet_does_not_count_here(wes, at):
    other, _ = enrol_tablet(name="Gate", here=None, by=manager(), at=at)
    assert "has not signed in with the password" in refusal_of(wes, other, at).sentence


def test_a_changed_password_is_to_be_given_first(wes, tablet, at):
    wes.set_password("five full carts by noon")
    wes.save()
    assert "has not signed in with the password" in refusal_of(wes, tablet, at).sentence
    note_password_sign_in(tablet=tablet, by=wes, at=at)
    give(wes, tablet, at)


def test_whose_access_ended_has_no_pin_any_more(wes, tablet, at):
    noor = manager()
    set_access(person=wes, is_active=False, by=noor, at=at)
    assert "may not sign in here" in refusal_of(wes, tablet, at).sentence
    set_access(person=wes, is_active=True, by=noor, at=at)
    give(wes, tablet, at)


@pytest.mark.parametrize("role", [Role.WORKSHOP_MANAGER, Role.HIRE_DESK, Role.FLEET_MANAGER])
def test_who_has_become_something_else_has_no_pin_any_more(wes, tablet, at, role):
    wes.role = role.value
    wes.save()
    assert refusal_of(wes, tablet, at).sentence == "Wes Tonkin has no PIN. Sign in with name and password."


def test_without_a_pin_one_signs_in(tablet, at):
    ruby = hand("Ruby Anselm", tablet=tablet, at=at, pin=None)
    assert (
        refusal_of(ruby, tablet, at, "").sentence == "Ruby Anselm has no PIN. Sign in with name and password."
    )


def test_three_tries_are_free_and_then_the_waits_double(wes, tablet, at):
    waits, moment = [], at
    for _ in range(7):
        said = refusal_of(wes, tablet, moment, OTHER_PIN).sentence
        waits.append(int(said.split("Wait ")[1].split()[0]) if "Wait" in said else 0)
        moment += timedelta(seconds=waits[-1])
    # Whole seconds, the last one begun.
    assert waits == [0, 0, 0, 6, 11, 21, 41]


def test_within_a_wait_not_even_the_right_pin_is_looked_at(wes, tablet, at, monkeypatch):
    for _ in range(4):
        refusal_of(wes, tablet, at, OTHER_PIN)
    monkeypatch.setattr(pins, "check_password", lambda *_: pytest.fail("It was looked at."))
    refused = refusal_of(wes, tablet, at + timedelta(seconds=4))
    assert (type(refused), refused.seconds) == (PinMustWait, 2)
    monkeypatch.undo()
    give(wes, tablet, at + timedelta(seconds=5))
    # And the slate is clean.
    assert "Try again" in refusal_of(wes, tablet, at + timedelta(seconds=5), OTHER_PIN).sentence


def test_going_from_tablet_to_tablet_does_not_make_guessing_quicker(wes, tablet, at):
    tablets = [tablet]
    for name in ("Gate", "Bench"):
        tablets.append(enrol_tablet(name=name, here=None, by=manager(), at=at)[0])
        note_password_sign_in(tablet=tablets[-1], by=wes, at=at)
    for one in tablets[:2]:
        for _ in range(3):
            assert isinstance(refusal_of(wes, one, at, OTHER_PIN), WrongPin)
    assert isinstance(refusal_of(wes, tablets[2], at, OTHER_PIN), WrongPin)
    assert isinstance(refusal_of(wes, tablets[2], at), PinMustWait)


def test_somebody_elses_wrong_tries_are_not_mine(wes, tablet, at):
    ruby = hand("Ruby Anselm", tablet=tablet, at=at, pin=OTHER_PIN)
    for _ in range(4):
        refusal_of(wes, tablet, at, OTHER_PIN)
    give(ruby, tablet, at, OTHER_PIN)
    assert isinstance(refusal_of(wes, tablet, at), PinMustWait)


def wrong_ten_times(person, tablet, at):
    for _ in range(MOST_WRONG_IN_A_ROW):
        refused = refusal_of(person, tablet, at, OTHER_PIN)
        at += timedelta(minutes=20)
    return refused, at


def test_ten_wrong_in_a_row_lock_it_until_the_password_is_given(wes, tablet, at):
    refused, later = wrong_ten_times(wes, tablet, at)
    assert "locked" in refused.sentence
    assert "signs in with the password" in refused.sentence
    assert "locked" in refusal_of(wes, tablet, later).sentence
    entry = Entry.objects.get(event="people.pin.locked")
    assert (entry.by, entry.by_words, entry.subject_id) == (None, "Somebody at the Wash bay tablet", wes.pk)
    # Not even a new shift opens it, and the password does, wherever it is given.
    note_password_sign_in(tablet=None, by=wes, at=later)
    give(wes, tablet, later)


def test_nine_and_a_right_one_begin_again(wes, tablet, at):
    for _ in range(2):
        for _ in range(MOST_WRONG_IN_A_ROW - 1):
            refusal_of(wes, tablet, at, OTHER_PIN)
            at += timedelta(minutes=20)
        give(wes, tablet, at)
    assert Pin.objects.get().locked_at is None


def test_a_new_pin_ends_the_old_one(wes, tablet, at):
    set_pin(pin=OTHER_PIN, by=wes, at=at)
    assert isinstance(refusal_of(wes, tablet, at, PIN), WrongPin)
    give(wes, tablet, at, OTHER_PIN)


def test_a_pin_changed_while_the_old_one_is_compared_stands(wes, tablet, at, monkeypatch):
    def changed_meanwhile(pin, kept):
        set_pin(pin=OTHER_PIN, by=wes, at=at)
        return hashers.check_password(pin, kept)

    monkeypatch.setattr(pins, "check_password", changed_meanwhile)
    assert isinstance(refusal_of(wes, tablet, at), WrongPin)


@pytest.mark.django_db(transaction=True)
def test_of_a_hundred_guesses_at_once_no_more_are_looked_at_than_one_after_the_other(at, monkeypatch):
    tablet = enrolled(Client(), at=at)
    wes = hand("Wes Tonkin", tablet=tablet, at=at)
    looked_at = []

    def watched(pin, kept):
        looked_at.append(pin)
        return hashers.check_password(pin, kept)

    monkeypatch.setattr(pins, "check_password", watched)
    for start in range(0, 100, 20):
        guesses = [f"9{number:05d}" for number in range(start, start + 20)]
        given = at_once(
            *(lambda pin=pin: check_pin(person_id=wes.pk, tablet=tablet, pin=pin, at=at) for pin in guesses)
        )
        assert all(isinstance(one, WrongPin | PinMustWait) for one in given), given
    assert len(looked_at) == 4
    assert Pin.objects.get().wrong_in_a_row == 4


@pytest.mark.django_db(transaction=True)
def test_a_wiped_redis_opens_nothing(at):
    tablet = enrolled(Client(), at=at)
    wes = hand("Wes Tonkin", tablet=tablet, at=at)
    for _ in range(4):
        refusal_of(wes, tablet, at, OTHER_PIN)
    with closing(redis.Redis.from_url(os.environ["SLAKE_REDIS_URL"])) as known:
        known.flushall()
        assert known.dbsize() == 0
    assert isinstance(refusal_of(wes, tablet, at), PinMustWait)


def test_an_ended_tablet_takes_no_pin(client, at, db):
    tablet = enrolled(client, at=at)
    wes = hand("Wes Tonkin", tablet=tablet, at=at)
    end_tablet(tablet=tablet, by=tablet.enrolled_by, at=at)
    answer = client.post(
        "/sync/change-over", {"person": str(wes.pk), "pin": PIN}, content_type="application/json"
    )
    assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json")
