"""Weekly copies of pre-starts in a book or system that is not ours: what is wanted, sent, late, shown, and kept for good."""

import io
from datetime import date, time, timedelta

import pytest
from django.db import DatabaseError, IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from fleet.models.photos import Photo
from hire.actions.copies import (
    MOST_PAGES,
    CopyIsHere,
    KeptWithUs,
    NoPages,
    NotItsWeek,
    PageRefused,
    TooManyPages,
    keep_copy,
    say_no_copy,
    send_copy_by_link,
)
from hire.actions.off_hire import NotOnHire
from hire.actions.site import FREE_TRIES_OF_LINK, TooManyTries
from hire.copies import copied_lines, copy_weeks, missing_weeks, weeks_on_hire
from hire.copy_watch import copies_late
from hire.dispute_pack import pack_files
from hire.models.agreements import Line, StandDown
from hire.models.copies import PreStartCopy
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import at_local
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, PhotoFactory
from tests.factories.hire import CustomerLinkFactory, LineFactory, OffHireFactory
from tests.pages import saved, small_photo, text_of
from tests.photo_samples import camera_jpeg

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
# Handed over on Wednesday 25 November 2026; the week of Monday the 30th is the second.
FIRST, SECOND, THIRD = date(2026, 11, 23), date(2026, 11, 30), date(2026, 12, 7)
LEFT = at_local(date(2026, 11, 25), time(6))
AT = at_local(date(2026, 12, 9), time(12))
TOKEN = "token-of-a-book-of-their-own-000"


def theirs(**more):
    about = {
        "starts_at": LEFT,
        "ends_at": LEFT + 60 * DAY,
        "out_at": LEFT,
        "agreement__pre_start_book": "theirs",
    }
    return LineFactory(**about | more)


def states(line, at=AT):
    return [(week.on, week.state, week.shifts) for week in copy_weeks([line], at=at)[line.pk]]


def test_a_week_is_wanted_once_it_is_over_and_late_some_days_after():
    line = theirs()
    # The day it left has its gate-out check: Thursday and Friday of the first week are owed.
    assert states(line, at_local(date(2026, 11, 27), time(12))) == [(FIRST, "running", 2)]
    assert states(line, at_local(date(2026, 11, 29), time(23, 59))) == [(FIRST, "running", 2)]
    assert states(line, at_local(SECOND, time(0))) == [(FIRST, "wanted", 2)]
    assert states(line, at_local(date(2026, 12, 2), time(23, 59)))[-1] == (FIRST, "wanted", 2)
    assert states(line, at_local(date(2026, 12, 3), time(0)))[-1] == (FIRST, "late", 2)
    assert states(line) == [(THIRD, "running", 3), (SECOND, "wanted", 5), (FIRST, "late", 2)]
    assert [week.on for week in missing_weeks([line], at=AT)] == [FIRST, SECOND]


def test_a_week_nobody_worked_or_all_signed_with_us_owes_no_copy(hand):
    stood, signed = theirs(), theirs()
    walk.edition()
    for n in range(5):
        on = SECOND + n * DAY
        StandDown.objects.create(line=stood, on=on, why="Rain", told_at=AT, told_by_words="Col")
        walk.sign(signed.cart, "daily", by=hand, at=at_local(on, time(6)))
    assert [on for on, *_ in states(stood)] == [THIRD, FIRST]
    assert [on for on, *_ in states(signed)] == [THIRD, FIRST]


def test_it_ends_with_the_hire_and_is_asked_for_a_month():
    line = theirs()
    OffHireFactory(line=line, called_at=LEFT + 3 * DAY, made_at=LEFT + 3 * DAY, stops_at=LEFT + 3 * DAY)
    assert states(line) == [(FIRST, "late", 2)]
    assert weeks_on_hire(line, at=AT) == [FIRST]
    Line.objects.filter(pk=line.pk).update(back_at=LEFT + 3 * DAY)
    ours = LineFactory(starts_at=LEFT, out_at=LEFT)
    assert list(copied_lines(at=LEFT + 33 * DAY)) == [line]
    assert list(copied_lines(at=LEFT + 35 * DAY)) == []
    assert weeks_on_hire(ours, at=AT) == []


def kept(line, desk, **more):
    return keep_copy(
        **{"line": line, "week_on": FIRST, "photos": [PhotoFactory()], "sent_by_words": "Dara", "by": desk, "at": AT} | more
    )  # fmt: skip


def test_pages_are_kept_once_and_for_good(people, desk):
    line, page = theirs(), PhotoFactory()
    [row] = kept(line, desk, photos=[page, page])
    assert kept(line, desk, photos=[page]) == []
    assert states(line)[-1] == (FIRST, "sent", 2)
    [entry] = Entry.objects.filter(event="hire.pre_start_copy.kept")
    assert page.original_sha256 in entry.text
    with pytest.raises(DatabaseError), transaction.atomic():
        PreStartCopy.objects.filter(pk=row.pk).update(sent_by_words="x")
    with pytest.raises(DatabaseError), transaction.atomic():
        PreStartCopy.objects.filter(pk=row.pk).delete()
    for role in set(Role) - DESK:
        with pytest.raises(NotAllowed):
            kept(line, people[role])


def test_what_is_refused(desk):
    line = theirs()
    for week in (FIRST - 7 * DAY, THIRD + 7 * DAY, FIRST + DAY):
        with pytest.raises(NotItsWeek):
            kept(line, desk, week_on=week)
    with pytest.raises(NoPages):
        kept(line, desk, photos=[])
    kept(line, desk, photos=PhotoFactory.create_batch(MOST_PAGES))
    with pytest.raises(TooManyPages):
        kept(line, desk)
    with pytest.raises(KeptWithUs):
        kept(LineFactory(starts_at=LEFT, out_at=LEFT), desk)
    with pytest.raises(NotOnHire):
        kept(theirs(out_at=None), desk)


def test_that_none_will_come_is_written_once_and_a_late_page_still_counts(people, desk):
    line = theirs()
    facts = {"line": line, "week_on": FIRST, "why": "The book was lost", "told_by_words": "Dara", "at": AT}
    say_no_copy(**facts, by=desk)
    assert states(line)[-1] == (FIRST, "none", 2)
    assert Entry.objects.filter(event="hire.pre_start_copy.none").count() == 1
    with pytest.raises(CopyIsHere):
        say_no_copy(**facts, by=desk)
    with pytest.raises(NotAllowed):
        say_no_copy(**facts, by=people[Role.FITTER])
    kept(line, desk)
    assert states(line)[-1] == (FIRST, "sent", 2)


def test_the_database_holds_it_too(desk):
    line, link = theirs(), CustomerLinkFactory()
    whole = {
        "line": line,
        "week_on": FIRST,
        "photo": PhotoFactory(),
        "sent_by_words": "x",
        "at": AT,
        "by": desk,
    }
    PreStartCopy.objects.create(**whole)
    none = {"photo": None, "why_none": "Lost"}
    for changed, name in (
        ({}, "page_once"), ({"week_on": FIRST + DAY}, "from_monday"), ({"by": None}, "by_one"), ({"link": link}, "by_one"),
        ({"why_none": "x"}, "or_says_why"), ({"photo": None}, "or_says_why"), (none | {"by": None, "link": link}, "or_says_why"),
    ):  # fmt: skip
        with pytest.raises(IntegrityError, match=f"hire_prestartcopy_{name}"), transaction.atomic():
            PreStartCopy.objects.create(**whole | changed)


def test_the_alert_is_told_once_a_hire_and_goes_when_the_page_is_here(desk):
    line = theirs()
    for at in (at_local(date(2026, 12, 2), time(12)), at_local(date(2026, 12, 3), time(6)), AT, AT + 5 * DAY):
        sweep(at=at)
    [alert] = Alert.objects.filter(rule="hire.copy_late")
    assert (alert.raised_at, alert.cleared_at) == (at_local(date(2026, 12, 3), time(6)), None)
    assert alert.subject_id == line.pk
    assert "for the weeks of 23 November, 30 November" in alert.what
    kept(line, desk, at=AT + 5 * DAY)
    kept(line, desk, week_on=SECOND, at=AT + 5 * DAY)
    sweep(at=AT + 5 * DAY + timedelta(hours=1))
    alert.refresh_from_db()
    assert alert.cleared_at is not None


def test_queries_do_not_grow_with_the_hires(desk):
    lines = [theirs(cart=CartFactory()) for _ in range(9)]
    for line in lines:
        kept(line, desk)

    def cost(act):
        with CaptureQueriesContext(connection) as queries:
            act()
        return len(queries)

    assert cost(lambda: copy_weeks(lines[:1], at=AT)) == cost(lambda: copy_weeks(lines, at=AT)) == 12
    many = cost(lambda: list(copies_late(AT)))
    Line.objects.filter(pk__in=[line.pk for line in lines[1:]]).update(back_at=LEFT + DAY)
    assert cost(lambda: list(copies_late(AT))) == many


@pytest.fixture
def now_line(db):
    """Out for three weeks by the real clock, and worked every day, so that weeks are missing whatever today is."""
    now = timezone.now()
    return theirs(
        cart=CartFactory(fleet_number="RG61"), starts_at=now - 21 * DAY, out_at=now - 21 * DAY, ends_at=now + 30 * DAY,
        agreement__days_in_week=7,
    )  # fmt: skip


def test_the_customer_sends_a_photo_through_the_link(now_line):
    for rights in ("supervisor", "operator"):
        CustomerLinkFactory(line=now_line, token=TOKEN + rights, rights=rights, for_words="Dara Quill")
    client, address = Client(), reverse("hire:link_copy", args=[TOKEN + "operator"])
    page = text_of(client.get(reverse("hire:customer_page", args=[TOKEN + "operator"])))
    assert "Your pre-start book" in page
    assert "Late since" in page
    oldest = missing_weeks([now_line], at=timezone.now())[0].on
    assert f'value="{oldest}" selected' in text_of(client.get(address))
    typed = {"week": f"{oldest}", "name": "Bo Lang"}
    wrong = client.post(address, typed)
    assert wrong.status_code == 422
    assert "Bo Lang" in text_of(wrong)
    no_photo = client.post(address, typed | {"photos": io.BytesIO(b"%PDF-1.4 no photo")})
    assert no_photo.status_code == 422
    assert "Photo 1 of 1 was not taken in" in text_of(no_photo)
    assert (
        client.post(address, typed | {"photos": [small_photo(), small_photo(colour="blue")]}).status_code
        == 302
    )
    rows = PreStartCopy.objects.filter(line=now_line, week_on=oldest)
    assert {(row.sent_by_words, row.by, row.link.rights) for row in rows} == {("Bo Lang", None, "operator")}
    assert rows.count() == 2
    page = text_of(client.get(reverse("hire:customer_page", args=[TOKEN + "supervisor"])))
    assert "2 pages here" in page
    assert "by the link for Dara Quill" in Entry.objects.get(event="hire.pre_start_copy.kept").text


def test_a_link_takes_no_photo_in_that_it_may_not_keep():
    line = theirs()
    link = CustomerLinkFactory(line=line, token=TOKEN, for_words="Dara Quill")
    sent = {"link": link, "files": [camera_jpeg()], "name": "Bo", "at": AT}
    with pytest.raises(NotItsWeek):
        send_copy_by_link(**sent, week_on=FIRST - 7 * DAY)
    assert not Photo.objects.exists()
    with pytest.raises(PageRefused):
        send_copy_by_link(**sent | {"files": [b"none"]}, week_on=FIRST)
    with pytest.raises(TooManyPages):
        send_copy_by_link(**sent | {"files": [b"none"] * (MOST_PAGES + 1)}, week_on=FIRST)
    with pytest.raises(TooManyTries):
        for _ in range(FREE_TRIES_OF_LINK):
            send_copy_by_link(**sent, week_on=FIRST)
    assert PreStartCopy.objects.count() == 1


def test_a_hire_kept_with_us_shows_and_takes_no_copy():
    now = timezone.now()
    line = LineFactory(starts_at=now - 9 * DAY, out_at=now - 9 * DAY)
    CustomerLinkFactory(line=line, token=TOKEN)
    assert "Your pre-start book" not in text_of(Client().get(reverse("hire:customer_page", args=[TOKEN])))
    assert "No week is wanted" in text_of(Client().get(reverse("hire:link_copy", args=[TOKEN])))


def test_the_desk_sees_what_is_missing_and_keeps_it(client, desk, now_line):
    client.force_login(desk)
    lapsed = reverse("hire:lapsed_list")
    missing = missing_weeks([now_line], at=timezone.now())
    page = client.get(lapsed)
    assert [week.on for week in page.context["weeks"]] == [week.on for week in missing]
    assert len(missing) >= 2
    rows = saved(client, lapsed, table="weeks")
    assert [row["Week from"] for row in rows] == [f"{week.on}" for week in missing]
    assert "No week’s copy is missing." in text_of(client.get(lapsed, {"q": "nobody"}))
    oldest, after = missing[0].on, missing[1].on
    address = reverse("hire:copy_keep", args=[now_line.pk])
    assert f'value="{after}" selected' in text_of(client.get(address, {"week": f"{after}"}))
    typed = {"week": f"{oldest}", "sent_by_words": ""}
    # A fault elsewhere keeps the photo that came.
    back = client.post(address, typed | {"photos": small_photo()})
    assert back.status_code == 422
    photo = Photo.objects.get()
    done = client.post(address, typed | {"sent_by_words": "Dara Quill", "kept_photos": [f"{photo.pk}"]})
    assert done.status_code == 302
    none = reverse("hire:copy_none", args=[now_line.pk])
    assert client.post(none, {"week": f"{after}", "told_by_words": "Dara", "why": ""}).status_code == 422
    assert (
        client.post(none, {"week": f"{after}", "told_by_words": "Dara", "why": "Book lost"}).status_code
        == 302
    )
    page = text_of(client.get(reverse("hire:line_detail", args=[now_line.pk])))
    assert reverse("fleet:photo", args=[photo.pk]) in page
    assert "None will come: Book lost" in page
    assert [week.on for week in client.get(lapsed).context["weeks"]] == [week.on for week in missing[2:]]


def test_the_dispute_pack_has_the_pages(desk):
    line = theirs()
    kept(line, desk)
    say_no_copy(line=line, week_on=SECOND, why="Book lost", told_by_words="Dara", by=desk, at=AT)
    files = {file.path: file for file in pack_files(line, at=AT)}
    [page] = [file for path, file in files.items() if path.startswith("photos-pre-starts/")]
    assert "Monday 23 November to Sunday 29 November, sent by Dara" in page.words
    record = files["hire.html"].read().decode()
    assert "Copies of their pre-starts" in record
    assert "none will come, Book lost" in record
