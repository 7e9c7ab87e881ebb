"""Changing a period: what it brings is seen before it is kept."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from tests.factories.fleet import DefectFactory
from tests.factories.hire import BookingFactory, LineFactory
from tests.pages import text_of, today, typed_moment

DAY = timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def line(db, now):
    return LineFactory(starts_at=now - 3 * DAY, ends_at=now + 2 * DAY, out_at=now - 3 * DAY)


@pytest.fixture
def post(client, desk, line):
    client.force_login(desk)

    def inner(ends_at, **more):
        typed = {"starts_at": typed_moment(line.promised.lower), "ends_at": typed_moment(ends_at)}
        return client.post(reverse("hire:line_move", args=[line.pk]), typed | more)

    return inner


def test_what_falls_due_is_shown_first_and_kept_by_the_second_press(post, line, now):
    title = "Mirror arm loose"
    DefectFactory(
        cart=line.cart, grade="by_date", state="assessed", due_on=today() + 6 * DAY, title=title, told_at=now
    )
    until = line.promised.upper
    assert title not in text_of(post(now + 4 * DAY))
    seen = post(now + 9 * DAY)
    assert title in text_of(seen)
    line.refresh_from_db()
    assert line.promised.upper == until
    assert post(now + 9 * DAY, looked=seen.context["looked"]).status_code == 302
    line.refresh_from_db()
    assert line.promised.upper > until + 6 * DAY


def test_times_changed_after_the_look_are_looked_at_anew(post, line, now):
    looked = post(now + 4 * DAY).context["looked"]
    until = line.promised.upper
    assert post(now + 9 * DAY, looked=looked).status_code == 200
    line.refresh_from_db()
    assert line.promised.upper == until


def test_the_hire_it_would_run_into_is_named_and_nothing_is_offered_to_press(post, line, now):
    other = LineFactory(cart=line.cart, starts_at=now + 5 * DAY)
    seen = post(now + 6 * DAY)
    assert other.agreement.number in text_of(seen)
    assert "See what it brings" in text_of(seen)
    refused = post(now + 6 * DAY, looked=seen.context["looked"])
    assert refused.status_code == 422
    assert other.agreement.number in str(refused.context["form"].errors)


def test_a_period_that_ends_before_it_starts_is_refused_at_once(post, now):
    answer = post(now - 9 * DAY)
    assert answer.status_code == 422
    assert "ends before it starts" in text_of(answer)


def test_the_open_booking_that_loses_its_cart_is_named_before_the_period_is_kept(post, line, now):
    """The fleet's only cart: back in two days it can have the booking, out for a week it cannot."""
    BookingFactory(
        made_at=now, starts_at=now + 4 * DAY, ends_at=now + 6 * DAY, customer__name="Wren Aldous Civil"
    )
    assert "Wren Aldous Civil" not in text_of(post(now + 2.5 * DAY))
    seen = post(now + 7 * DAY)
    assert "The open booking of Wren Aldous Civil" in text_of(seen)
    assert "can then have no cart" in text_of(seen)
    assert post(now + 7 * DAY, looked=seen.context["looked"]).status_code == 302
    assert "can then have a cart, and has none now" in text_of(post(now + 2 * DAY))
