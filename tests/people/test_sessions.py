"""One browser, one session cookie, and calls that cross: the newest sign-in is the one that stays."""

from django.conf import settings
from django.contrib.sessions.models import Session

from tests.factories.people import StaffFactory


def test_a_call_that_outlives_its_session_does_not_take_the_next_ones_cookie(client, db):
    client.force_login(StaffFactory())
    Session.objects.all().delete()
    late = client.get("/sync/reference")
    assert late.status_code == 401
    assert settings.SESSION_COOKIE_NAME not in late.cookies


def test_who_signs_out_has_no_cookie_left(client, db):
    client.force_login(StaffFactory())
    answer = client.post("/sign-out/")
    assert answer.cookies[settings.SESSION_COOKIE_NAME].value == ""
