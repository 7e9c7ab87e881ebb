"""Adding, changing and ending people: who may, what is refused, what the journal says."""

from functools import partial

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from people.actions import (
    LastFleetManager,
    NotAnAddress,
    NotANumber,
    WeakPassword,
    add_staff,
    change_staff,
    set_access,
)
from people.journal.models import Entry
from people.models import SignInThrottle, Staff
from people.refusals import NotAllowed, Refusal
from people.roles import Role
from tests.at_once import at_once
from tests.factories.people import PASSWORD, StaffFactory
from tests.pages import queries_of, saved


def add(by, at, **changed):
    typed = {"username": "dell", "full_name": "Dell Ferrar", "role": "fitter", "password": PASSWORD} | changed
    return add_staff(**typed, by=by, at=at)


def test_a_person_is_added_and_can_sign_in(people, at, client):
    made = add(people[Role.FLEET_MANAGER], at)
    assert client.login(username="dell", password=PASSWORD)
    entry = Entry.objects.get(subject_kind="staff", subject_id=made.pk)
    assert (entry.event, entry.by, entry.at, entry.chain) == (
        "people.staff.added",
        people[Role.FLEET_MANAGER],
        at,
        "yard",
    )
    assert PASSWORD not in entry.text


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.FLEET_MANAGER}))
def test_only_the_fleet_manager_touches_people(people, at, role):
    by, person = people[role], people[Role.YARD_HAND]
    with pytest.raises(NotAllowed):
        add(by, at)
    with pytest.raises(NotAllowed):
        change_staff(person=person, full_name="X", role="fitter", by=by, at=at)
    with pytest.raises(NotAllowed):
        set_access(person=person, is_active=False, by=by, at=at)
    assert not Entry.objects.exists()


@pytest.mark.parametrize("password", ["short", "123456789987654321", "dellferrar-dell"])
def test_a_weak_password_is_refused(people, at, password):
    with pytest.raises(WeakPassword):
        add(people[Role.FLEET_MANAGER], at, password=password, username="dellferrar")
    assert not Staff.objects.filter(username="dellferrar").exists()


@pytest.mark.parametrize("name", ["fitter", "FITTER", "Fitter "])
def test_a_sign_in_name_is_used_once_whatever_its_capitals(people, at, name):
    with pytest.raises((ValidationError, Refusal)):
        add(people[Role.FLEET_MANAGER], at, username=name)


def test_a_change_tells_before_and_after(people, at):
    changed = change_staff(
        person=people[Role.FITTER],
        full_name=" Ana Otway ",
        role="workshop_manager",
        by=people[Role.FLEET_MANAGER],
        at=at,
    )
    assert (changed.full_name, changed.role) == ("Ana Otway", "workshop_manager")
    text = Entry.objects.get().text
    assert '"before":{"full_name":"Person Number' in text
    assert '"after":{"full_name":"Ana Otway","role":"workshop_manager"}' in text


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("+61 491 570 156", "+61491570156"),
        (" +1 (555) 010-0199 ", "+15550100199"),
        ("", ""),
        ("   ", ""),
    ],
)
def test_a_mobile_number_is_kept_as_it_is_dialled(people, at, typed, kept):
    made = add(people[Role.FLEET_MANAGER], at, mobile=typed, email=" dell@yard.example ")
    assert (made.mobile, made.email) == (kept, "dell@yard.example")


@pytest.mark.parametrize(
    ("typed", "refusal"),
    [
        ({"mobile": "0491 570 156"}, NotANumber),
        ({"mobile": "+61 491"}, NotANumber),
        ({"mobile": "+61 call me"}, NotANumber),
        ({"mobile": "+0491570156"}, NotANumber),
        ({"email": "dell at the yard"}, NotAnAddress),
        ({"email": "dell@yard.example, boss@yard.example"}, NotAnAddress),
    ],
)
def test_what_reaches_nobody_is_refused(people, at, typed, refusal):
    boss = people[Role.FLEET_MANAGER]
    with pytest.raises(refusal):
        add(boss, at, **typed)
    with pytest.raises(refusal):
        change_staff(person=boss, full_name=boss.full_name, role=boss.role, **typed, by=boss, at=at)
    assert not Entry.objects.exists()


def test_the_journal_says_that_a_number_changed_and_never_what_it_was(people, at):
    person = people[Role.FITTER]
    told = {
        "person": person,
        "full_name": person.full_name,
        "role": "fitter",
        "by": people[Role.FLEET_MANAGER],
        "at": at,
    }
    change_staff(**told, email="dell@yard.example", mobile="+61491570156")
    unchanged = change_staff(**told)
    assert (unchanged.email, unchanged.mobile) == ("dell@yard.example", "+61491570156")
    first, second = (entry.text for entry in Entry.objects.order_by("position"))
    assert '"reached_otherwise":["email","mobile"]' in first
    assert "yard.example" not in first
    assert "491570156" not in first
    assert "reached_otherwise" not in second


def test_the_last_fleet_manager_stays(people, at):
    boss = people[Role.FLEET_MANAGER]
    with pytest.raises(LastFleetManager):
        change_staff(person=boss, full_name=boss.full_name, role="fitter", by=boss, at=at)
    boss.refresh_from_db()
    with pytest.raises(LastFleetManager):
        set_access(person=boss, is_active=False, by=boss, at=at)
    boss.refresh_from_db()
    other = StaffFactory(role="fleet_manager", is_active=False)
    with pytest.raises(LastFleetManager):
        set_access(person=boss, is_active=False, by=boss, at=at)
    other = set_access(person=other, is_active=True, by=boss, at=at)
    assert not set_access(person=boss, is_active=False, by=other, at=at).is_active


def test_access_ends_and_comes_back_twice_in_a_row(people, at):
    boss, hand = people[Role.FLEET_MANAGER], people[Role.YARD_HAND]
    for wanted in (False, False, True, True):
        assert set_access(person=hand, is_active=wanted, by=boss, at=at).is_active is wanted
    events = Entry.objects.filter(subject_id=hand.pk).order_by("position").values_list("event", flat=True)
    assert list(events) == ["people.staff.disabled"] * 2 + ["people.staff.enabled"] * 2


@pytest.mark.django_db(transaction=True)
def test_two_fleet_managers_cannot_end_each_other_at_once(at):
    first, second = StaffFactory(role="fleet_manager"), StaffFactory(role="fleet_manager")
    end = partial(set_access, is_active=False, at=at)
    outcomes = at_once(partial(end, person=first, by=second), partial(end, person=second, by=first))
    assert {type(outcome) for outcome in outcomes} == {Staff, LastFleetManager}
    assert Staff.objects.filter(role="fleet_manager", is_active=True).count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_two_people_with_one_name_the_second_gets_a_sentence(at):
    boss = StaffFactory(role="fleet_manager")
    outcomes = at_once(*[partial(add, boss, at, username=name) for name in ("marg", "MARG")])
    assert sorted(isinstance(outcome, Staff) for outcome in outcomes) == [False, True]
    assert sorted(isinstance(outcome, Refusal | ValidationError) for outcome in outcomes) == [False, True]


ROUND_THE_FORMS = {
    "people_staff_username_once": lambda: StaffFactory(username="FITTER"),
    "people_staff_mobile_dialled_from_anywhere": lambda: Staff.objects.filter(username="fitter").update(
        mobile="0491 570 156"
    ),
    "people_staff_role_known": lambda: Staff.objects.filter(username="fitter").update(role="boss"),
    # The field brings a check of its own, which PostgreSQL happens to ask first.
    "people_signinthrottle_failures": lambda: SignInThrottle.objects.create(
        key="k", failures=-1, last_failure_at="2026-01-01T00:00Z"
    ),
}


@pytest.mark.parametrize("constraint", ROUND_THE_FORMS)
def test_the_database_refuses_it_by_itself(people, constraint):
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        ROUND_THE_FORMS[constraint]()


def test_the_pages_keep_what_was_typed(people, sign_in):
    client = sign_in(people[Role.FLEET_MANAGER])
    typed = {"username": "fitter", "full_name": "Dell Ferrar", "role": "fitter", "password": PASSWORD}
    answer = client.post(reverse("people:staff_add"), typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="Dell Ferrar"' in page
    assert PASSWORD not in page
    answer = client.post(reverse("people:staff_add"), typed | {"username": "dell"}, follow=True)
    assert "Dell Ferrar can sign in as dell." in answer.content.decode()


def test_changing_and_ending_by_the_pages(people, sign_in):
    client, hand = sign_in(people[Role.FLEET_MANAGER]), people[Role.YARD_HAND]
    change = reverse("people:staff_change", args=[hand.pk])
    assert client.post(change, {"full_name": "", "role": "fitter"}).status_code == 422
    assert client.post(change, {"full_name": "Jo Quill", "role": "nobody"}).status_code == 422
    assert client.post(change, {"full_name": "Jo Quill", "role": "fitter"}).status_code == 302
    answer = client.post(reverse("people:staff_access", args=[hand.pk]), {"access": "off"}, follow=True)
    assert "Jo Quill is signed out and may not sign in." in answer.content.decode()
    reach = {"full_name": "Jo Quill", "role": "fitter", "email": "jo@yard.example", "mobile": "0491 570 156"}
    refused = client.post(change, reach)
    assert refused.status_code == 422
    assert "with its country" in refused.content.decode()
    assert 'value="0491 570 156"' in refused.content.decode()
    assert (
        "jo@yard.example, +61491570156"
        in client.post(change, reach | {"mobile": "+61491570156"}, follow=True).content.decode()
    )
    boss = people[Role.FLEET_MANAGER]
    answer = client.post(reverse("people:staff_access", args=[boss.pk]), {"access": "off"}, follow=True)
    assert "is the only fleet manager" in answer.content.decode()


def test_the_list_costs_the_same_however_many_people(people, sign_in):
    client = sign_in(people[Role.FLEET_MANAGER])
    address = reverse("people:staff_list")
    client.get(address)
    few = queries_of(client, address)
    StaffFactory.create_batch(30)
    assert queries_of(client, address) == few


def test_the_people_are_saved_with_nothing_they_sign_in_by(people, sign_in):
    left = StaffFactory(full_name="=Dell", username="dell", is_active=False, email="dell@yard.example")
    client, address = sign_in(people[Role.FLEET_MANAGER]), reverse("people:staff_list")
    rows = saved(client, address)
    assert len(rows) == len(people) + 1
    assert rows[-1] == {
        "Name": "'=Dell", "Signs in as": "dell", "Role": left.role_label, "Email": "dell@yard.example", "Mobile": "",
        "May sign in": "no",
    }  # fmt: skip
    for role in set(Role) - {Role.FLEET_MANAGER}:
        assert sign_in(people[role]).get(address, {"as": "csv"}).status_code == 403
