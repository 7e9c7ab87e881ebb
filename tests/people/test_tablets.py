"""Enrolling a tablet that several people use, ending one, and a PIN of one's own."""

import pytest
from django.conf import settings
from django.contrib.auth.hashers import identify_hasher
from django.db import IntegrityError, transaction
from django.test import Client
from django.utils import timezone

from people.canonical import sha256_hex
from people.journal.models import Entry
from people.models import SignInThrottle
from people.refusals import NotAllowed
from people.roles import MANAGERS, PIN_HOLDERS, Role
from people.tablets.actions import (
    EndedAlready,
    EnrolledAlready,
    TabletNameTaken,
    end_tablet,
    enrol_tablet,
    note_password_sign_in,
    set_pin,
)
from people.tablets.models import PasswordSignIn, Pin, Tablet
from people.tablets.pin_rules import pin_fault
from tests.factories.people import PASSWORD, StaffFactory
from tests.factories.tablets import OTHER_PIN, PIN, enrolled, hand
from tests.pages import saved, text_of

TABLETS, MY_PIN, SIGN_IN = "/tablets/", "/my-pin/", "/sign-in/"


@pytest.fixture
def noor(people):
    return people[Role.FLEET_MANAGER]


def test_enrolling_gives_the_tablet_a_token_that_the_yard_does_not_keep(client, noor):
    client.force_login(noor)
    answer = client.post(TABLETS, {"name": " Wash bay "})
    assert (answer.status_code, answer["Location"]) == (302, SIGN_IN)
    cookie = answer.cookies[settings.TABLET_COOKIE_NAME]
    tablet = Tablet.objects.get()
    assert (tablet.name, tablet.enrolled_by, tablet.ended_at) == ("Wash bay", noor, None)
    assert tablet.token_sha256 == sha256_hex(cookie.value)
    # 32 bytes of chance in base 64.
    assert len(cookie.value) == 43
    assert (cookie["httponly"], cookie["samesite"], int(cookie["max-age"])) == (True, "Lax", 400 * 24 * 3600)
    entry = Entry.objects.get(event="people.tablet.enrolled")
    assert (entry.by, cookie.value in entry.text, str(tablet.pk) in entry.text) == (noor, False, True)


def test_the_manager_does_not_stay_signed_in_on_it_and_is_told(client, noor):
    client.force_login(noor)
    page = text_of(client.post(TABLETS, {"name": "Wash bay"}, follow=True))
    assert "This is now the Wash bay tablet, and you are signed out of it." in page
    assert client.get("/alerts/").status_code == 302
    assert "_auth_user_id" not in client.session


def test_the_cookie_is_kept_as_the_sessions_own_is(client, noor, settings):
    settings.SESSION_COOKIE_SECURE, settings.TABLET_COOKIE_NAME = True, "__Host-slake-tablet"
    client.force_login(noor)
    cookie = client.post(TABLETS, {"name": "Wash bay"}).cookies["__Host-slake-tablet"]
    # What the prefix asks for: secure, the whole site, no other host.
    assert (cookie["secure"], cookie["path"], cookie["domain"]) == (True, "/", "")


def test_an_enrolled_tablet_is_not_enrolled_twice_and_a_name_not_given_twice(client, noor, at):
    tablet = enrolled(client, at=at)
    with pytest.raises(EnrolledAlready, match="enrolled already, as Wash bay"):
        enrol_tablet(name="Gate", here=tablet, by=noor, at=at)
    with pytest.raises(TabletNameTaken, match="is called WASH BAY"):
        enrol_tablet(name="WASH BAY", here=None, by=noor, at=at)
    end_tablet(tablet=tablet, by=noor, at=at)
    enrol_tablet(name="Wash bay", here=None, by=noor, at=at)


@pytest.mark.parametrize("name", ["", "   ", "x" * 41])
def test_a_tablet_without_a_proper_name_comes_back(client, noor, name):
    client.force_login(noor)
    answer = client.post(TABLETS, {"name": name})
    assert answer.status_code == 422
    assert not Tablet.objects.exists()
    assert settings.TABLET_COOKIE_NAME not in answer.cookies


@pytest.mark.parametrize("role", [Role.YARD_HAND, Role.FITTER, Role.HIRE_DESK])
def test_only_managers_enrol_and_end(people, noor, at, role):
    with pytest.raises(NotAllowed):
        enrol_tablet(name="Gate", here=None, by=people[role], at=at)
    tablet, _ = enrol_tablet(name="Gate", here=None, by=noor, at=at)
    with pytest.raises(NotAllowed):
        end_tablet(tablet=tablet, by=people[role], at=at)


@pytest.mark.parametrize("values", [{"name": " "}, {"ended_at": timezone.now()}, {"name": "GATE"}])
def test_the_database_keeps_a_tablet_whole(noor, at, values):
    enrol_tablet(name="Gate", here=None, by=noor, at=at)
    row = {"name": "Bench", "token_sha256": "0" * 64, "enrolled_at": at, "enrolled_by": noor} | values
    with pytest.raises(IntegrityError), transaction.atomic():
        Tablet.objects.create(**row)


def test_the_list_says_who_enrolled_each_and_when_it_was_heard_of(client, noor, at):
    tablet = enrolled(Client(), at=at, name="Gate")
    client.force_login(noor)
    page = text_of(client.get(TABLETS))
    assert "Gate" in page
    assert f", {tablet.enrolled_by.full_name}" in page
    assert "Not yet" in page
    Tablet.objects.update(last_seen_at=at)
    assert "Not yet" not in text_of(client.get(TABLETS))


def sign_in(client, person, **more):
    return client.post(SIGN_IN, {"username": person.username, "password": PASSWORD}, **more)


def test_ending_a_tablet_signs_out_whoever_is_on_it_at_once(client, noor, at):
    tablet, wes = enrolled(client, at=at), hand("Wes Tonkin", at=at)
    sign_in(client, wes)
    elsewhere = Client()
    sign_in(elsewhere, wes)
    assert client.get("/alerts/").status_code == 200
    desk = Client()
    desk.force_login(noor)
    assert "The Wash bay tablet is ended" in text_of(desk.post(f"/tablets/{tablet.pk}/end/", follow=True))
    assert client.get("/alerts/").status_code == 302
    assert client.get("/sync/hello").json()["tablet"] is None
    assert elsewhere.get("/alerts/").status_code == 200
    assert Entry.objects.get(event="people.tablet.ended").by == noor
    with pytest.raises(EndedAlready):
        end_tablet(tablet=tablet, by=noor, at=at)


def test_a_session_of_a_tablet_is_worth_nothing_without_the_tablet(client, at, db):
    enrolled(client, at=at)
    sign_in(client, hand("Wes Tonkin", at=at))
    del client.cookies[settings.TABLET_COOKIE_NAME]
    assert client.get("/alerts/").status_code == 302


def test_signing_in_with_the_password_on_a_tablet_is_noted_there_and_nowhere_else(client, at, db):
    tablet, wes = enrolled(client, at=at), hand("Wes Tonkin", at=at)
    sign_in(Client(), wes)
    assert not PasswordSignIn.objects.exists()
    before = timezone.now()
    for _ in range(2):
        sign_in(client, wes)
    noted = PasswordSignIn.objects.get()
    assert (noted.tablet, noted.person) == (tablet, wes)
    assert noted.at > before


@pytest.mark.parametrize(
    ("pin", "words"),
    [
        ("480216", ""), ("112233", ""), ("135791", ""), ("121221", ""), ("098763", ""),
        ("", "six digits"), ("48021", "six digits"), ("4802161", "six digits"), ("48021a", "six digits"),
        ("48 216", "six digits"), ("٤٨٠٢١٦", "six digits"), ("480216\n", "six digits"),
        ("000000", "One digit six times"), ("777777", "One digit six times"),
        ("012345", "up or down"), ("456789", "up or down"), ("987654", "up or down"), ("543210", "up or down"),
        ("121212", "One pair"), ("909090", "One pair"),
    ],
)  # fmt: skip
def test_what_may_be_a_pin(pin, words):
    fault = pin_fault(pin)
    assert words in fault
    assert bool(words) == bool(fault)


def typed(client, *, password=PASSWORD, pin=PIN, again=None):
    return client.post(MY_PIN, {"password": password, "pin": pin, "again": pin if again is None else again})


def test_a_pin_is_set_with_the_password_and_kept_as_a_hash(client, people):
    wes = people[Role.YARD_HAND]
    client.force_login(wes)
    assert "You have no PIN yet." in text_of(client.get(MY_PIN))
    assert typed(client).status_code == 302
    kept = Pin.objects.get()
    assert kept.person == wes
    assert identify_hasher(kept.hash)
    assert PIN not in kept.hash
    assert PIN not in Entry.objects.get(event="people.pin.set").text
    assert "You have a PIN, set" in text_of(client.get(MY_PIN))


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"password": "four dry carts at dusk"}, "That is not your password."),
        ({"password": ""}, ""),
        ({"again": OTHER_PIN}, "The two are not alike."),
        ({"pin": "121212"}, "One pair of digits"),
        ({"pin": "12"}, "A PIN is six digits."),
        ({"pin": "4802160"}, ""),
    ],
)
def test_a_pin_that_is_not_to_be_is_refused_in_words_and_not_echoed(client, people, given, words):
    client.force_login(people[Role.FITTER])
    answer = typed(client, **given)
    assert answer.status_code == 422
    assert words in text_of(answer)
    assert not Pin.objects.exists()
    assert f'value="{given.get("pin", PIN)}"' not in answer.content.decode()


def test_guessing_the_password_there_is_slowed_as_at_the_door(client, people):
    client.force_login(people[Role.YARD_HAND])
    for _ in range(5):
        typed(client, password="four dry carts at dusk")
    assert "Too many tries. Wait" in text_of(typed(client))
    assert SignInThrottle.objects.filter(key=f"{Role.YARD_HAND.value}@127.0.0.1").exists()
    assert not Pin.objects.exists()


@pytest.mark.parametrize("role", sorted(set(Role) - PIN_HOLDERS))
def test_who_shares_no_tablet_has_no_pin(people, at, role):
    with pytest.raises(NotAllowed, match="A manager signs in with the password"):
        set_pin(pin=PIN, by=people[role], at=at)


def test_noting_a_password_for_somebody_without_a_pin_is_nothing_special(people, at):
    note_password_sign_in(tablet=None, by=StaffFactory(), at=at)
    assert not PasswordSignIn.objects.exists()


def test_the_tablets_are_saved_without_their_tokens(client, noor, at):
    ended, _ = enrol_tablet(name="=Gate", here=None, by=noor, at=at)
    end_tablet(tablet=ended, by=noor, at=at)
    tablet, _ = enrol_tablet(name="Wash bay", here=None, by=noor, at=at)
    client.force_login(noor)
    rows = saved(client, TABLETS)
    assert [(row["Tablet"], row["Ended by"]) for row in rows] == [
        ("Wash bay", ""),
        ("'=Gate", noor.full_name),
    ]
    assert not {tablet.token_sha256, ended.token_sha256} & {value for row in rows for value in row.values()}


@pytest.mark.parametrize("role", sorted(set(Role) - MANAGERS))
def test_the_file_of_tablets_is_for_managers(client, people, role):
    client.force_login(people[role])
    assert client.get(TABLETS, {"as": "csv"}).status_code == 403


def test_a_tablet_is_enrolled_whatever_the_address_says(client, noor):
    client.force_login(noor)
    assert client.post(f"{TABLETS}?as=csv", {"name": "Wash bay"}).status_code == 302
    assert Tablet.objects.get().name == "Wash bay"
