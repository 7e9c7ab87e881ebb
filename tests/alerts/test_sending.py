"""Deliveries over a real socket: sent once, tried again when refused, and after a crash once more as the same message."""

import logging
import threading
from datetime import timedelta

import pytest
from django.db import connection

from fleet.alerts import sending
from fleet.alerts.actions import sweep
from fleet.alerts.callout import CalloutFailed, call_out
from fleet.alerts.models import Alert, Delivery
from fleet.alerts.notices import put_together
from fleet.alerts.sending import MOST_UNKNOWN_ENDS, claim_next, deliver_next
from tests.alerts.told import condition, watch
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW
from tests.mail_sink import Gateway, MailSink, running

MINUTE, LEASE = timedelta(minutes=1), timedelta(minutes=3)
TOKEN = "a-token-that-no-log-may-show"


@pytest.fixture
def sink(settings):
    with running(MailSink()) as server:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", server.port
        settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False
        settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
        settings.PUBLIC_ADDRESS = "https://yard.example"
        yield server


@pytest.fixture
def gateway(settings):
    with running(Gateway()) as server:
        settings.CALLOUT_URL, settings.CALLOUT_TOKEN = server.url, TOKEN
        yield server


@pytest.fixture
def found(monkeypatch, db):
    StaffFactory(
        full_name="Bruna Kitto", role="workshop_manager", email="bruna@yard.example", mobile="+61491570157"
    )
    return watch(monkeypatch)


def owe(found, *conditions, at=NOW):
    found["test.tag"] = list(conditions)
    sweep(at=at)
    return put_together(at=at)


def drain(at):
    sent = 0
    while deliver_next(at=at):
        sent += 1
    return sent


def test_a_mail_arrives_as_it_was_put_together(found, sink):
    (notice,) = owe(
        found,
        condition(
            what="WC-07: the six-month service of extinguisher E-12 falls due on 3 Dec 2026.",
            evidence_at=NOW - timedelta(days=3),
            due_at=NOW + timedelta(days=2),
            act="Record its service",
        ),
    )

    assert drain(NOW) == 1

    (mail,) = sink.mails
    delivery = notice.deliveries.get()
    assert mail["To"] == "bruna@yard.example"
    assert mail["Subject"] == (
        "Today: WC-07: the six-month service of extinguisher E-12 falls due on 3 Dec 2026."
    )
    assert mail["Message-ID"] == f"<{delivery.pk}@yard.example>"
    body = mail.get_content()
    for words in (
        "For Bruna Kitto: it is for the workshop manager.",
        "1 of 1. TODAY. WC-07: the six-month service of extinguisher E-12 falls due on",
        "How we know: It says so. This is 3 days old.",
        "By: Thu 3 Dec, 7.30 am",
        "If not: It lapses.",
        "Record its service: https://yard.example/alerts/",
        "https://yard.example/alerts/?rule=test.tag",
        "the fleet manager is told one working day from now.",
    ):
        assert words in body, words
    assert (delivery.sent_at, delivery.tries) == (NOW, 1)
    assert drain(NOW + timedelta(days=1)) == 0
    assert len(sink.mails) == 1


@pytest.mark.parametrize("how", ["451 not now", "nobody there"])
def test_what_the_server_refuses_is_tried_again_later(found, sink, settings, how):
    owe(found, condition())
    if how == "nobody there":
        settings.EMAIL_PORT = 1
    sink.answer = how

    assert drain(NOW) == 1
    refused = Delivery.objects.get()
    assert (refused.sent_at, refused.claimed_at, refused.tries) == (None, None, 1)
    assert refused.last_error
    assert drain(NOW + timedelta(seconds=14)) == 0

    sink.mails.clear()
    sink.answer, settings.EMAIL_PORT = "250 kept", sink.port
    assert drain(NOW + timedelta(seconds=15)) == 1
    assert len(sink.mails) == 1
    refused.refresh_from_db()
    assert (refused.sent_at, refused.tries, refused.last_error) == (NOW + timedelta(seconds=15), 2, "")


class Killed(BaseException):
    """The process is gone: nothing after it runs."""


def killed_after(way):
    def inner(delivery):
        way(delivery)
        raise Killed

    return inner


def killed_before(_delivery):
    raise Killed


@pytest.mark.parametrize(("when", "mails"), [("before", 1), ("after", 2)])
def test_killed_in_the_middle_it_is_sent_again_as_the_same_mail(found, sink, monkeypatch, when, mails):
    owe(found, condition(rank="stop"))
    real = sending.WAYS["email"]
    monkeypatch.setitem(sending.WAYS, "email", killed_before if when == "before" else killed_after(real))
    with pytest.raises(Killed):
        deliver_next(at=NOW)
    monkeypatch.setitem(sending.WAYS, "email", real)

    assert drain(NOW + LEASE - timedelta(seconds=1)) == 0
    assert drain(NOW + LEASE) == 1

    assert len(sink.mails) == mails
    assert len({mail["Message-ID"] for mail in sink.mails}) == 1
    assert drain(NOW + 10 * LEASE) == 0


def test_what_kills_every_sender_is_given_up_with_words(found, sink, monkeypatch):
    owe(found, condition(rank="stop"))
    monkeypatch.setitem(sending.WAYS, "email", killed_after(sending.WAYS["email"]))
    for turn in range(MOST_UNKNOWN_ENDS):
        with pytest.raises(Killed):
            deliver_next(at=NOW + turn * LEASE)

    given_up_at = NOW + MOST_UNKNOWN_ENDS * LEASE
    assert drain(given_up_at) == 0
    delivery = Delivery.objects.get()
    assert (delivery.given_up_at, delivery.last_error) == (
        given_up_at,
        "Cut off 5 times while it was being sent: it may have arrived.",
    )
    assert len({mail["Message-ID"] for mail in sink.mails}) == 1


def test_what_cleared_while_the_server_was_away_is_not_sent_late(found, sink):
    owe(found, condition())
    sink.answer = "451 not now"
    drain(NOW)
    sink.answer = "250 kept"
    sink.mails.clear()
    found["test.tag"] = []
    sweep(at=NOW + 5 * MINUTE)

    assert drain(NOW + 6 * MINUTE) == 0
    assert sink.mails == []
    assert Delivery.objects.get().last_error == "Everything in it cleared before it could be sent."


def test_what_could_not_be_sent_by_day_waits_for_the_next_unless_it_is_a_stop(found, sink):
    owe(found, condition(1), condition(2, rank="stop"))
    sink.answer = "451 not now"
    drain(NOW)
    sink.answer = "250 kept"
    sink.mails.clear()

    assert drain(NOW + timedelta(hours=11)) == 1
    assert [mail["Subject"][:4] for mail in sink.mails] == ["Stop"]
    assert drain(NOW + timedelta(hours=23)) == 1


def test_after_three_days_in_vain_it_is_given_up(found, sink):
    owe(found, condition())
    sink.answer = "550 no such person"
    at = NOW
    while at < NOW + timedelta(days=4):
        drain(at)
        at += timedelta(hours=1)

    delivery = Delivery.objects.get()
    assert NOW + timedelta(days=3) < delivery.given_up_at <= NOW + timedelta(days=3, hours=1)
    assert "550" in delivery.last_error


def test_a_stop_is_rung_first_and_the_same_call_carries_the_same_key(
    found, sink, gateway, monkeypatch, caplog
):
    owe(found, condition(rank="stop", what="WC-07 must not leave."))
    real = sending.WAYS["callout"]
    monkeypatch.setitem(sending.WAYS, "callout", killed_after(real))
    with pytest.raises(Killed):
        deliver_next(at=NOW)
    assert sink.mails == []
    monkeypatch.setitem(sending.WAYS, "callout", real)
    with caplog.at_level(logging.DEBUG):
        drain(NOW + LEASE)

    (path, first, body), (_, second, _) = gateway.calls
    assert path == "/call?by=voice"
    assert body == {
        "to": "+61491570157",
        "text": "Redgum Flat Water Carts. Stop. WC-07 must not leave. Open https://yard.example/alerts/",
    }
    assert first["Authorization"] == f"Bearer {TOKEN}"
    assert (
        first["Idempotency-Key"]
        == second["Idempotency-Key"]
        == str(Delivery.objects.get(channel="callout").pk)
    )
    assert len(sink.mails) == 1
    assert TOKEN not in caplog.text


@pytest.mark.parametrize("status", [302, 401, 500])
def test_a_gateway_that_does_not_take_it_is_asked_again_and_never_followed(
    found, sink, gateway, status, caplog
):
    gateway.status = status
    owe(found, condition(rank="stop"))

    with caplog.at_level(logging.DEBUG):
        drain(NOW)

    failed = Delivery.objects.get(channel="callout")
    assert failed.last_error == f"CalloutFailed: The gateway at 127.0.0.1 answered {status}."
    assert len(gateway.calls) == 1
    assert TOKEN not in caplog.text + failed.last_error
    gateway.status = 200
    drain(NOW + MINUTE)
    assert Delivery.objects.filter(sent_at=None).count() == 0


def test_the_token_goes_over_https_alone():
    with pytest.raises(ValueError, match="https"):
        call_out(url="http://gateway.example/", token=TOKEN, to="+61491570157", text="x", key="k")
    with pytest.raises(CalloutFailed, match="does not answer"):
        call_out(url="http://127.0.0.1:1/", token=TOKEN, to="+61491570157", text="x", key="k")


@pytest.mark.django_db(transaction=True)
def test_two_at_once_share_the_work_and_double_none(monkeypatch, sink):
    people = [
        StaffFactory(role=role, email=f"{role}@yard.example")
        for role in ("workshop_manager", "hire_desk", "fitter", "fleet_manager")
    ]
    found = watch(monkeypatch)
    owe(found, *[condition(number, for_role=person.role) for number, person in enumerate(people)])
    assert Delivery.objects.count() == 4
    together = threading.Barrier(2)

    def work():
        try:
            together.wait(timeout=30)
            drain(NOW)
        finally:
            connection.close()

    threads = [threading.Thread(target=work) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)

    assert sorted(mail["To"] for mail in sink.mails) == sorted(person.email for person in people)
    assert set(Delivery.objects.values_list("tries", flat=True)) == {1}


@pytest.mark.django_db(transaction=True)
def test_a_claimed_delivery_is_passed_over_by_others(monkeypatch):
    StaffFactory(role="workshop_manager", email="bruna@yard.example")
    owe(watch(monkeypatch), condition())
    assert claim_next(at=NOW) is not None
    assert claim_next(at=NOW) is None
    assert Alert.objects.count() == 1
