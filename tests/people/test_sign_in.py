"""Signing in: guessing is slowed by pair and by address, nobody is locked out by a stranger, nothing typed is echoed."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from people import throttle
from people.actions import set_access
from people.models import SignInThrottle
from people.roles import Role
from tests.factories.people import PASSWORD, StaffFactory

SIGN_IN = "/sign-in/"
WRONG = "four dry carts at dusk"


def try_it(client, username, password, *, address="192.0.2.1", **more):
    return client.post(
        SIGN_IN, {"username": username, "password": password} | more, REMOTE_ADDR=address, follow=False
    )


@pytest.fixture
def marg(db):
    return StaffFactory(username="marg", full_name="Marg Pengilly")


def test_a_right_pair_signs_in_whatever_the_capitals(client, marg):
    answer = try_it(client, "Marg", PASSWORD)
    assert (answer.status_code, answer["Location"]) == (302, "/")
    assert client.session["_auth_user_id"] == str(marg.pk)


@pytest.mark.parametrize(("username", "password"), [("marg", WRONG), ("nobody", PASSWORD)])
def test_a_wrong_pair_stays_on_the_page_and_says_the_same_for_both(client, marg, username, password):
    answer = try_it(client, username, password)
    assert answer.status_code == 422
    assert answer.context["refusal"] == (
        "That name and password do not go together, or the sign-in is switched off."
    )
    assert f'value="{username}"' in answer.content.decode()


@pytest.mark.parametrize("typed", [WRONG, PASSWORD, "<script>alert(1)</script>"])
def test_the_password_typed_never_comes_back(client, marg, typed):
    page = try_it(client, "somebody else", typed).content.decode()
    assert typed not in page
    assert "&lt;script" not in page


@pytest.mark.parametrize(
    "fields", [{}, {"username": "marg"}, {"password": PASSWORD}, {"username": "m\x00rg"}]
)
def test_half_a_form_is_asked_again(client, marg, fields):
    answer = client.post(SIGN_IN, fields)
    assert answer.status_code == 422
    assert "_auth_user_id" not in client.session


def test_the_fifth_wrong_try_of_a_pair_waits_and_the_wait_doubles(at):
    """Growing delay; the amounts are common practice, no source."""
    waits = [throttle.wait_after(n, free=4).total_seconds() for n in range(3, 9)]
    assert waits == [0, 0, 5, 10, 20, 40]
    assert throttle.wait_after(10_000, free=4) == throttle.LONGEST_WAIT


def test_a_waiting_pair_is_not_even_looked_at(client, marg):
    for _ in range(5):
        assert try_it(client, "marg", WRONG).status_code == 422
    answer = try_it(client, "marg", PASSWORD)
    assert answer.status_code == 422
    assert answer.context["refusal"].startswith("Too many tries. Wait ")
    assert "_auth_user_id" not in client.session


def test_a_stranger_elsewhere_locks_nobody_out(client, marg):
    for _ in range(12):
        try_it(client, "marg", WRONG, address="203.0.113.9")
    assert try_it(client, "marg", PASSWORD, address="192.0.2.1").status_code == 302


def test_one_address_trying_many_names_waits_too(marg, at):
    for n in range(21):
        throttle.note_failure(username=f"name{n}", address="203.0.113.9", at=at)
    assert throttle.seconds_to_wait(username="marg", address="203.0.113.9", at=at) > 0
    assert throttle.seconds_to_wait(username="marg", address="192.0.2.1", at=at) == 0


@pytest.mark.parametrize(
    ("behind", "header", "address"),
    [
        (False, "203.0.113.9", "192.0.2.1"),
        (True, "203.0.113.9", "203.0.113.9"),
        (True, "198.51.100.7, 203.0.113.9", "203.0.113.9"),
        (True, "2001:DB8::1", "2001:db8::1"),
        (True, "", "192.0.2.1"),
        (True, "203.0.113.9, somewhere", "192.0.2.1"),
    ],
)
def test_an_address_is_believed_only_from_our_own_proxy(rf, settings, behind, header, address):
    settings.BEHIND_PROXY = behind
    request = rf.post(SIGN_IN, REMOTE_ADDR="192.0.2.1", headers={"X-Forwarded-For": header})
    assert throttle.address_of(request) == address


def test_behind_the_proxy_a_stranger_does_not_slow_the_yard(client, marg, settings):
    settings.BEHIND_PROXY = True

    def sign_in_from(address):
        typed = {"username": "marg", "password": PASSWORD}
        return client.post(SIGN_IN, typed, headers={"X-Forwarded-For": address}).status_code

    for n in range(22):
        typed = {"username": f"name{n}", "password": WRONG}
        client.post(SIGN_IN, typed, headers={"X-Forwarded-For": "203.0.113.9"})
    assert sign_in_from("203.0.113.9") == 422
    assert sign_in_from("198.51.100.7") == 302


def test_the_wait_ends_at_its_end_and_not_before(marg, at):
    for _ in range(5):
        throttle.note_failure(username="marg", address="192.0.2.1", at=at)

    def wait_at(moment):
        return throttle.seconds_to_wait(username=" MARG", address="192.0.2.1", at=moment)

    assert wait_at(at) == 6
    assert wait_at(at + timedelta(seconds=4, milliseconds=999)) == 1
    assert wait_at(at + timedelta(seconds=5)) == 0


def test_half_a_day_forgets(marg, at):
    for _ in range(8):
        throttle.note_failure(username="marg", address="192.0.2.1", at=at)
    later = at + throttle.FORGOTTEN_AFTER + timedelta(seconds=1)
    throttle.note_failure(username="marg", address="192.0.2.1", at=later)
    assert SignInThrottle.objects.get(key="marg@192.0.2.1").failures == 1
    assert throttle.seconds_to_wait(username="marg", address="192.0.2.1", at=later) == 0


def test_success_forgets_the_pair_and_keeps_the_address(client, marg):
    for _ in range(3):
        try_it(client, "marg", WRONG)
    assert try_it(client, "marg", PASSWORD).status_code == 302
    assert list(SignInThrottle.objects.values_list("key", "failures")) == [("192.0.2.1", 3)]


def test_a_disabled_person_is_signed_out_at_the_next_click(client, people):
    yard_hand, manager = people[Role.YARD_HAND], people[Role.FLEET_MANAGER]
    client.force_login(yard_hand)
    assert client.get(reverse("alerts:alert_list")).status_code == 200
    set_access(person=yard_hand, is_active=False, by=manager, at=timezone.now())
    answer = client.get(reverse("alerts:alert_list"))
    assert (answer.status_code, answer["Location"]) == (302, f"{SIGN_IN}?next=/alerts/")
    assert try_it(client, "yard_hand", PASSWORD).status_code == 422


def test_a_changed_role_counts_at_the_next_click(client, people):
    client.force_login(people[Role.YARD_HAND])
    assert client.get(reverse("hire:customer_list")).status_code == 403
    people[Role.YARD_HAND].role = Role.HIRE_DESK
    people[Role.YARD_HAND].save()
    assert client.get(reverse("hire:customer_list")).status_code == 200


@pytest.mark.parametrize(
    ("wanted", "goes_to"),
    [
        ("/alerts/", "/alerts/"),
        ("/hire/?x=1", "/hire/?x=1"),
        ("http://testserver/alerts/", "http://testserver/alerts/"),
        ("https://elsewhere.example/", "/"),
        ("//elsewhere.example/", "/"),
        ("/\\elsewhere.example", "/"),
        ("javascript:alert(1)", "/"),
        ("", "/"),
    ],
)
def test_next_leads_only_to_our_own_pages(client, marg, wanted, goes_to):
    assert try_it(client, "marg", PASSWORD, next=wanted)["Location"] == goes_to


def test_signing_in_makes_a_new_session(client, marg):
    client.get(SIGN_IN)
    session = client.session
    session["left_over"] = "from the person before"
    session.save()
    before = session.session_key
    try_it(client, "marg", PASSWORD)
    assert client.session.session_key != before


def test_signing_out_ends_the_session_and_is_never_a_link(client, marg):
    client.force_login(marg)
    assert client.get("/sign-out/").status_code == 405
    assert client.post("/sign-out/")["Location"] == SIGN_IN
    assert client.get("/alerts/").status_code == 302


def test_a_form_without_its_token_is_refused_in_words(marg, db):
    from django.test import Client  # noqa: PLC0415 - the one test that wants the check on

    answer = Client(enforce_csrf_checks=True).post(SIGN_IN, {"username": "marg", "password": PASSWORD})
    assert answer.status_code == 403
    assert "This form has gone stale" in answer.content.decode()
