"""What every answer carries: the content policy, no caches, our own error pages, health, and a log that keeps no secret."""

import json
import logging
from datetime import timedelta
from pathlib import PurePath

import pytest
import redis
from django.contrib.auth.models import AnonymousUser
from django.db import DatabaseError
from django.test import Client, RequestFactory
from django.urls import reverse
from django.utils import timezone

from config import error_pages, health
from config.logs import JsonFormatter, ScrubFilter, request_id, scrub
from fleet.alerts.models import SweepRun
from people.roles import Role

POLICY = {
    "default-src 'none'",
    "script-src 'self'",
    "style-src 'self'",
    "img-src 'self' blob:",
    "connect-src 'self'",
    "font-src 'self'",
    "form-action 'self'",
    "manifest-src 'self'",
    "worker-src 'self'",
    "base-uri 'none'",
    "object-src 'none'",
    "frame-ancestors 'none'",
}


def answers(client, people):
    """One of each kind of answer: a page, a redirect, a refusal, something missing, JSON, plain text, a stranger's page."""
    client.force_login(people[Role.HIRE_DESK])
    yield client.get(reverse("hire:customer_list"))
    yield client.post(reverse("hire:customer_add"), {"name": ""})
    yield client.get(reverse("people:staff_list"))
    yield client.get("/no/such/page/")
    yield client.get("/sync/reference")
    yield client.get("/healthz")
    yield Client().get(reverse("hire:customer_list"))
    yield Client().get(reverse("people:sign_in"))
    yield Client().get("/v/")
    yield Client().get("/h/never-made-0123456789/")
    yield Client(enforce_csrf_checks=True).post(reverse("people:sign_in"), {})


def test_every_answer_carries_the_same_strict_policy(client, people):
    statuses = set()
    for answer in answers(client, people):
        statuses.add(answer.status_code)
        assert {
            part.strip() for part in answer["Content-Security-Policy"].split(";") if part.strip()
        } == POLICY
        assert answer["X-Content-Type-Options"] == "nosniff"
        assert answer["X-Frame-Options"] == "DENY"
        assert answer["Cross-Origin-Opener-Policy"] == "same-origin"
        assert answer["Referrer-Policy"] in ("same-origin", "no-referrer")
        assert "no-store" in answer["Cache-Control"]
        assert "HX-Request" in answer["Vary"]
        assert len(answer["X-Request-Id"]) == 32
    assert statuses == {200, 302, 403, 404, 422}


def test_no_page_needs_what_the_policy_forbids(client, people):
    client.force_login(people[Role.FLEET_MANAGER])
    for name in (
        "home",
        "find",
        "people:staff_list",
        "people:staff_add",
        "fleet:cart_list",
        "alerts:alert_list",
        "hire:line_add",
    ):
        page = client.get(reverse(name)).content.decode()
        assert " style=" not in page
        assert " onclick=" not in page
        assert "javascript:" not in page
        assert "<style" not in page
        for script in page.split("<script")[1:]:
            assert " src=" in script.split(">")[0], name


def test_cookies_are_for_this_site_and_out_of_reach_of_scripts(client, people):
    answer = client.post(
        reverse("people:sign_in"), {"username": "fitter", "password": "three wet carts at dawn"}
    )
    assert answer.status_code == 302
    assert {"sessionid"} <= set(answer.cookies)
    for cookie in answer.cookies.values():
        assert cookie["httponly"]
        assert cookie["samesite"] == "Lax"


@pytest.mark.parametrize(("page", "status"), [("bad_request", 400), ("forbidden", 403), ("not_found", 404)])
def test_our_own_error_pages_answer_with_their_status(rf, page, status):
    request = rf.get("/odd/")
    request.user = AnonymousUser()
    answer = getattr(error_pages, page)(request)
    assert answer.status_code == status
    assert b"Slake</title>" in answer.content


def test_the_broken_page_makes_no_query(django_assert_num_queries, db):
    with django_assert_num_queries(0):
        assert error_pages.server_error(RequestFactory().get("/")).status_code == 500


def test_a_fault_of_ours_gives_the_broken_page_whole(people, monkeypatch):
    monkeypatch.setattr("people.views.Staff", None)
    client = Client(raise_request_exception=False)
    client.force_login(people[Role.FLEET_MANAGER])
    answer = client.get(reverse("people:staff_list"))
    assert answer.status_code == 500
    assert "Something broke on our side" in answer.content.decode()
    assert "Traceback" not in answer.content.decode()
    assert answer["Content-Security-Policy"]


def test_a_stale_token_on_the_wire_is_told_in_json(rf):
    answer = error_pages.csrf_failure(rf.put("/sync/walk-round/x"))
    assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json")


def test_this_process_answers(client):
    answer = client.get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"alive\n")


class Answers:
    @staticmethod
    def ping():
        return True


def ready(client, monkeypatch, *, broker=Answers):
    monkeypatch.setattr(redis.Redis, "from_url", lambda *_args, **_options: broker)
    return client.get("/readyz")


def test_ready_names_each_part(client, db, monkeypatch):
    answer = ready(client, monkeypatch)
    assert answer.status_code == 200
    assert answer.json() == {
        "ready": True,
        "database": {"ready": True, "words": "answers, migrated"},
        "broker": {"ready": True, "words": "answers"},
        "last sweep": {"ready": True, "words": "has not run yet"},
        "mail": {"ready": True, "words": "set up"},
    }


def test_not_ready_without_its_broker(client, db, monkeypatch):
    class Away:
        @staticmethod
        def ping():
            raise redis.ConnectionError

    answer = ready(client, monkeypatch, broker=Away)
    assert (answer.status_code, answer.json()["broker"]["ready"]) == (503, False)


@pytest.mark.parametrize(("age_s", "status"), [(700, 200), (800, 503)])
def test_not_ready_when_the_sweep_stopped(client, db, monkeypatch, age_s, status):
    """Two and a half periods of 300 s."""
    ended = timezone.now() - timedelta(seconds=age_s)
    SweepRun.objects.create(started_at=ended, finished_at=ended)
    assert ready(client, monkeypatch).status_code == status


def test_not_ready_without_its_database(client, db, monkeypatch):
    def away(*_args):
        raise DatabaseError

    monkeypatch.setattr(health, "MigrationExecutor", away)
    answer = ready(client, monkeypatch)
    assert (answer.status_code, answer.json()["database"]["words"]) == (503, "does not answer")


def test_not_ready_while_migrations_wait(client, db, monkeypatch):
    class Waiting:
        def __init__(self, _connection):
            self.loader = type("Loader", (), {"graph": type("Graph", (), {"leaf_nodes": staticmethod(list)})})

        def migration_plan(self, _targets):
            return ["one", "two"]

    monkeypatch.setattr(health, "MigrationExecutor", Waiting)
    assert ready(client, monkeypatch).json()["database"]["words"] == "2 migrations wait"


SECRETS = {
    "/h/AbCdEf0123456789_-AbCdEf01234567/": "/h/[hidden]/",
    "/o/AbCdEf0123456789_-AbCdEf01234567/": "/o/[hidden]/",
    "/g/AbCdEf0123456789_-AbCdEf01234567/": "/g/[hidden]/",
    "GET /h/AbCdEf0123456789/x.pdf 200": "GET /h/[hidden]/x.pdf 200",
    "/join/AbCdEf01234567": "/join/[hidden]",
    "password=three wet carts&next=/": "password=[hidden] wet carts&next=/",
    "pin=1234&token=abc": "pin=[hidden]&token=[hidden]",
    "SessionID=abc; csrfmiddlewaretoken=xyz": "SessionID=[hidden] csrfmiddlewaretoken=[hidden]",
    "/hire/2026/": "/hire/2026/",
    "spin=7": "spin=7",
}


@pytest.mark.parametrize("text", SECRETS)
def test_secrets_are_scrubbed(text):
    assert scrub(text) == SECRETS[text]


def _line(record):
    ScrubFilter().filter(record)
    return json.loads(JsonFormatter().format(record))


def _record(message, *args, **extra):
    record = logging.getLogger("slake.test").makeRecord(
        "slake.test", logging.INFO, "f", 1, message, args, None, extra=extra
    )
    record.exc_info = extra.get("trace_of")
    return record


def test_a_log_line_is_json_with_its_request_and_facts():
    mark = request_id.set("a" * 32)
    try:
        line = _line(_record("request.answered", facts={"path": "/h/AbCdEf0123456789/", "ms": 3}))
    finally:
        request_id.reset(mark)
    assert (line["event"], line["level"], line["request_id"]) == ("request.answered", "INFO", "a" * 32)
    assert line["facts"] == {"path": "/h/[hidden]/", "ms": 3}


def test_a_secret_in_the_arguments_or_the_trace_is_scrubbed_too():
    assert _line(_record("opened %s", "/h/AbCdEf0123456789/"))["event"] == "opened /h/[hidden]/"
    fault = ValueError('said token=abcdef", and "pin=1234"')
    line = _line(_record("outbox.failed", trace_of=(ValueError, fault, None)))
    assert "abcdef" not in line["trace"]
    assert line["trace"] == 'ValueError: said token=[hidden]", and "pin=[hidden]"'


def test_facts_are_scrubbed_however_deep():
    facts = {
        "way": ["/h/AbCdEf0123456789/", {"said": 'token="x" token=abc'}],
        "at": PurePath("/h/AbCdEf0123456789"),
        "n": 1,
    }
    assert _line(_record("x", facts=facts))["facts"] == {
        "way": ["/h/[hidden]/", {"said": 'token="x" token=[hidden]'}],
        "at": "/h/[hidden]",
        "n": 1,
    }


def test_words_with_a_zero_character_break_no_search(client, people):
    client.force_login(people[Role.FLEET_MANAGER])
    searches = (
        "/find/?q=%00", "/customers/?q=%00", "/carts/?q=%00", "/check-sheets/?cart=%00", "/v/?code=%00", "/workshop/?q=%00",
    )  # fmt: skip
    for address in searches:
        answer = client.get(address)
        assert answer.status_code in (200, 422), address
