"""Lapsed pre-starts on hire: which shifts have none, who said what when, for the desk and the customer's supervisor."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from hire.actions.said import NotLapsed, NotSaidThen, record_said, say_by_link
from hire.actions.site import FREE_TRIES_OF_LINK, TooManyTries
from hire.actions.stand_downs import stand_down
from hire.lapsed import lapsed_of, watched_lines
from hire.models.said import PreStartSaid
from hire.shifts import Hours, Work, lapsed_shifts
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import at_local, yard_day
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.hire import CustomerLinkFactory, LineFactory, OffHireFactory
from tests.pages import saved, text_of, typed_moment

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
NOON = datetime(2026, 12, 4, 1, 30, tzinfo=UTC)


def hours(shifts_a_day=1):
    return Hours(ZoneInfo("Australia/Adelaide"), shifts_a_day, by=time(9), second_at=time(18))


def local(day, hour, minute=0):
    return at_local(date(2026, 12, day), time(hour, minute))


def days_of(*signed, down=(), shifts_a_day=1, at=NOON, since=NOON - 14 * DAY):
    work = Work(hours(shifts_a_day), local(1, 6), since, stood_down=frozenset(down), signed=signed)
    return [(one.shift.on.day, one.shift.words) for one in lapsed_shifts(work, at=at)]


def test_a_day_without_its_pre_start_is_lapsed_and_the_day_it_left_owes_none():
    assert days_of() == [(4, ""), (3, ""), (2, "")]
    assert days_of(local(3, 6)) == [(4, ""), (2, "")]
    assert days_of(local(2, 23, 59)) == [(4, ""), (3, "")]
    assert days_of(down=[date(2026, 12, 3)]) == [(4, ""), (2, "")]
    assert days_of(at=local(4, 8, 59)) == [(3, ""), (2, "")]
    assert days_of(since=local(3, 0)) == [(4, "")]


def test_one_signed_late_that_night_is_not_the_next_days():
    assert days_of(local(3, 0)) == [(4, ""), (2, "")]
    assert days_of(local(2, 5), local(3, 5), local(4, 11, 30)) == []


def test_two_shifts_a_day_owe_two():
    found = days_of(shifts_a_day=2, at=local(3, 10))
    assert found == [(3, "day shift"), (2, "night shift"), (2, "day shift"), (1, "night shift")]
    assert days_of(local(2, 17, 30), shifts_a_day=2, at=local(3, 10))[1:2] == [(2, "day shift")]


def test_a_hire_by_night_alone_owes_the_nights():
    by_night = replace(hours(), is_night=True)
    found = lapsed_shifts(
        Work(by_night, local(1, 6), local(1, 0), signed=(local(2, 17, 30),)), at=local(4, 10)
    )
    # The third's began at six in the evening; the second's was signed half an hour before it began.
    assert [(one.shift.on.day, one.shift.words) for one in found] == [(3, "night shift"), (1, "night shift")]
    assert found[0].shift.due_at == local(3, 21)


def test_a_cart_that_never_left_owes_none():
    assert lapsed_shifts(Work(hours(), None, NOON), at=NOON) == []


def out(**more):
    return LineFactory(**{"starts_at": local(1, 6), "out_at": local(1, 6)} | more)


def keys(line, at=NOON):
    return [one.key for one in lapsed_of([line], at=at)[line.pk]]


def test_pre_starts_on_record_and_stood_down_days_count(hand, desk):
    line = out()
    walk.edition()
    walk.sign(line.cart, "daily", by=hand, at=local(3, 6))
    assert keys(line) == ["2026-12-04", "2026-12-02"]
    stand_down(line=line, on=date(2026, 12, 2), why="Rain", told_by_words="Aoife", by=desk, at=NOON)
    assert keys(line) == ["2026-12-04"]
    assert lapsed_of([line], at=NOON)[line.pk][0].last_at == local(3, 6)


def test_from_the_off_hire_call_on_none_is_owed():
    line = out()
    OffHireFactory(line=line, called_at=local(3, 8), made_at=local(3, 8), stops_at=local(3, 8))
    assert keys(line) == ["2026-12-02"]
    assert line not in watched_lines()


def test_hires_that_keep_their_own_book_are_not_watched():
    theirs, ours = out(agreement__pre_start_book="theirs"), out()
    assert list(watched_lines()) == [ours]
    assert theirs.pk != ours.pk


def said(line, desk, **changed):
    return record_said(
        **{
            "line": line,
            "shift": "2026-12-03",
            "said_at": NOON,
            "said_by_words": "Aoife",
            "words": "Phone was flat",
            "by": desk,
            "at": NOON,
        }
        | changed
    )


def test_who_said_what_when_is_written_once(people, desk):
    line = out()
    row = said(line, desk)
    assert [(one.said_by_words, one.words) for one in lapsed_of([line], at=NOON)[line.pk][1].said] == [
        ("Aoife", "Phone was flat")
    ]
    assert Entry.objects.get(event="hire.pre_start.said").subject_id == line.pk
    for shift in ("2026-12-01", "2026-12-05", "nonsense"):
        with pytest.raises(NotLapsed):
            said(line, desk, shift=shift)
    for moment in (NOON + DAY, local(2, 12)):
        with pytest.raises(NotSaidThen):
            said(line, desk, said_at=moment)
    for role in set(Role) - DESK:
        with pytest.raises(NotAllowed):
            said(line, people[role])
    with pytest.raises(DatabaseError), transaction.atomic():
        PreStartSaid.objects.filter(pk=row.pk).update(words="x")
    with pytest.raises(IntegrityError, match="told_or_by_link"), transaction.atomic():
        PreStartSaid.objects.create(
            line=line,
            shift_on=date(2026, 12, 3),
            said_at=NOON,
            said_by_words="x",
            words="x",
            recorded_at=NOON,
        )


def test_a_supervisor_says_it_under_their_own_name(desk):
    line = out()
    link = CustomerLinkFactory(line=line, for_words="Aoife Merrin")
    row = say_by_link(link=link, shift="2026-12-03", name="Ken Ashby", words="Done on paper", at=NOON)
    assert (row.link, row.recorded_by, row.said_at) == (link, None, NOON)
    assert "by the link for Aoife Merrin" in Entry.objects.get(event="hire.pre_start.said").text
    with pytest.raises(TooManyTries):
        for _ in range(FREE_TRIES_OF_LINK + 1):
            say_by_link(link=link, shift="2026-12-03", name="x", words="x", at=NOON)


def test_queries_do_not_grow_with_the_hires():
    def cost(lines):
        with CaptureQueriesContext(connection) as queries:
            lapsed_of(lines, at=NOON)
        return len(queries)

    lines = list(LineFactory.create_batch(12, starts_at=local(1, 6), out_at=local(1, 6)))
    assert cost(lines[:2]) == cost(lines)


@pytest.fixture
def now_line(db):
    now = timezone.now()
    # Every day, so that the test may be run on any.
    return LineFactory(
        cart=CartFactory(fleet_number="RG61"), starts_at=now - 10 * DAY, out_at=now - 10 * DAY, ends_at=now + 10 * DAY,
        agreement__days_in_week=7,
    )  # fmt: skip


def test_the_desk_has_a_list_and_writes_down_what_was_said(client, desk, now_line):
    client.force_login(desk)
    page = client.get(reverse("hire:lapsed_list"))
    count = len(page.context["page"].object_list)
    assert count >= 2
    assert "RG61" in text_of(page)
    assert len(saved(client, reverse("hire:lapsed_list"))) == count
    assert "No pre-start like that has lapsed." in text_of(
        client.get(reverse("hire:lapsed_list"), {"q": "nobody"})
    )
    row = page.context["page"].object_list[0]
    address = reverse("hire:pre_start_said", args=[now_line.pk])
    typed = {
        "shift": row.key,
        "said_at": typed_moment(timezone.now()),
        "said_by_words": "Aoife",
        "words": "Phone was flat",
    }
    wrong = client.post(address, typed | {"words": ""})
    assert wrong.status_code == 422
    assert "Aoife" in wrong.content.decode()
    assert client.post(address, typed).status_code == 302
    assert "Phone was flat" in text_of(client.get(reverse("hire:lapsed_list")))
    assert "Phone was flat" in text_of(client.get(reverse("hire:line_detail", args=[now_line.pk])))


def test_the_supervisor_sees_it_and_says_why(now_line, desk):
    token = "token-of-a-supervisor-0000000000"
    CustomerLinkFactory(line=now_line, token=token)
    client = Client()
    page = text_of(client.get(reverse("hire:customer_page", args=[token])))
    assert "Pre-starts nobody signed" in page
    assert "Nobody has said why." in page
    key = lapsed_of([now_line], at=timezone.now())[now_line.pk][0].key
    answer = client.post(
        reverse("hire:link_said", args=[token]), {"shift": key, "name": "Ken", "words": "Done on paper"}
    )
    assert answer.status_code == 302
    page = text_of(client.get(reverse("hire:customer_page", args=[token])))
    assert "Ken," in page
    assert "Done on paper" in page
    assert yard_day(timezone.now())
