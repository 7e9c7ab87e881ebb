"""Changing a period: what it brings is seen before it is kept."""

from datetime import date, time, timedelta

import pytest
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.urls import reverse
from django.utils import timezone

from people.yard import at_local
from tests.factories.fleet import DefectFactory
from tests.factories.hire import AT, BookingFactory, LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory, YardDayFactory
from tests.factories.wet import WetHireFactory
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


# What it costs.

# A Monday, six in the morning, after any clock change of that spring.
MONDAY = at_local(date(2027, 2, 1), time(6))


@pytest.fixture
def week(client, desk):
    """A week to Sunday at four in the afternoon, and the page of its changed end."""
    client.force_login(desk)
    line = LineFactory(starts_at=MONDAY, ends_at=MONDAY + timedelta(days=6, hours=10))

    def look(hire, **more):
        ends_at = hire.promised.upper + timedelta(**more)
        typed = {"starts_at": typed_moment(hire.promised.lower), "ends_at": typed_moment(ends_at)}
        return text_of(client.post(reverse("hire:line_move", args=[hire.pk]), typed))

    return line, look


def test_no_rate_agreed_is_said_with_the_way_to_agree_it(week):
    line, look = week
    words = look(line, days=2)
    assert "No rate is agreed for this hire" in words
    assert reverse("hire:terms_agree", args=[line.pk]) in words


def test_the_price_as_promised_and_as_changed_to_the_cent(week):
    line, look = week
    AgreedTermsFactory(line=line)
    words = look(line, days=2)
    assert (
        '<dt>As promised</dt><dd>1,450.00<span class="facts-note">7 days as 1 week: 1 × 1,450.00</span>'
        in words
    )
    assert "<dt>Changed</dt><dd>2,030.00" in words
    assert "<b>580.00 more.</b>" in words
    # Five days are as dear as a week.
    assert "<b>The same.</b>" in look(line, days=-2)
    assert "<b>290.00 less.</b>" in look(line, days=-3)
    assert "<b>The same.</b>" in look(line, minutes=-30)


def test_the_rule_agreed_and_its_minimum_and_shifts_count(week):
    line, look = week
    AgreedTermsFactory(line=line, rule="as agreed", body=BODY | {"shifts": "2"})
    # 9 x 1450 / 7 x 1.5 = 2796.428...
    assert "<dt>Changed</dt><dd>2,796.43" in look(line, days=2)
    AgreedTermsFactory(line=line, body=BODY | {"minimum_days": "9"}, agreed_at=AT + DAY)
    words = look(line, days=2)
    assert "<b>The same.</b>" in words and "minimum hire, 9 days as" in words


def test_a_free_holiday_is_no_day_of_either(week):
    line, look = week
    YardDayFactory(on=date(2027, 2, 9))
    AgreedTermsFactory(line=line, body=BODY | {"holidays": "free"})
    assert "<b>290.00 more.</b>" in look(line, days=2)


@pytest.mark.parametrize(
    ("shift", "old", "new", "words"),
    [
        # 6 x 1320 + 2640; a Monday more.
        ({}, "10,560.00", "11,880.00", "7 days of 8 h, wet"),
        # Six nights; Sunday's begins in the changed one, at twice.
        ({"is_night": True}, "9,900.00", "12,540.00", "6 nights of 8 h, wet"),
        ({"shifts_a_day": 2}, "20,460.00", "24,420.00", "7 days and 6 nights of 8 h, wet"),
    ],
    ids=["by day", "by night", "both"],
)
def test_wet_it_is_by_the_dockets_of_its_shifts(week, shift, old, new, words):
    line, look = week
    WetHireFactory(line=line)
    type(line.agreement).objects.filter(pk=line.agreement_id).update(**shift)
    body = BODY | {"wet_hour_price": "165", "wet_night": "1.25", "wet_sunday": "2"}
    AgreedTermsFactory(line=line, body=body)
    found = look(line, days=1)
    assert f"<dt>As promised</dt><dd>{old}" in found
    assert f"<dt>Changed</dt><dd>{new}" in found
    assert words in found and "without travel" in found


def test_a_rate_agreed_for_the_other_way_is_said(week):
    line, look = week
    AgreedTermsFactory(line=line, body=BODY | {"wet_hour_price": "165"})
    assert "the rate agreed is that of wet hire" in look(line, days=1)
    WetHireFactory(line=line)
    AgreedTermsFactory(line=line, agreed_at=AT + DAY)
    assert "the rate agreed is that of dry hire" in look(line, days=1)


def test_the_price_of_a_swapped_cart_is_that_of_the_whole_hire(week):
    """Three days with the one that broke, then this one to the end of the week: the rate is the week's."""
    line, look = week
    broke = LineFactory(agreement=line.agreement, starts_at=MONDAY, ends_at=MONDAY + 3 * DAY, out_at=MONDAY)
    line.promised = DateTimeTZRange(MONDAY + 3 * DAY, line.promised.upper)
    line.save()
    OffHireFactory(line=broke, called_at=MONDAY + 3 * DAY, replaced_by=line, replaced_why="Pump down")
    AgreedTermsFactory(line=broke)
    assert "<dt>As promised</dt><dd>1,450.00" in look(line, days=1)


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
