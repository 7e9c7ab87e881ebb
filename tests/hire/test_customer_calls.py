"""A breakdown and an off-hire through the customer's link: told at once, counted, and nobody else's business."""

import uuid
from datetime import timedelta
from functools import partial

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from fleet.alerts.models import Alert
from fleet.alerts.rules import rules
from fleet.models.defects import Defect
from hire.actions.breakdowns import Report, alert_at_once, report_breakdown
from hire.actions.off_hire import NotOnHire, PickUp
from hire.actions.site import FREE_TRIES_OF_LINK, HireOver, TooManyTries
from hire.actions.swap import swap_cart
from hire.models.breakdowns import Breakdown
from hire.models.off_hire import OffHire
from hire.watch import breakdowns
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.outbox.models import Message
from people.roles import Role
from tests.at_once import at_once
from tests.factories.fleet import CartFactory
from tests.factories.hire import CustomerFactory, CustomerLinkFactory, LineFactory, OffHireFactory
from tests.outbox import deliver
from tests.pages import queries_of, small_photo, text_of

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
TOKEN, OTHER_TOKEN = "token-of-aoife-000000000000000", "token-of-a-rival-00000000000000"


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def line(db, now):
    return LineFactory(
        cart__fleet_number="RG07",
        starts_at=now - 3 * DAY,
        ends_at=now + 4 * DAY,
        out_at=now - 3 * DAY,
        agreement__customer=CustomerFactory(name="Merrin Civil"),
    )


@pytest.fixture
def link(line, now):
    return CustomerLinkFactory(line=line, token=TOKEN, made_at=now)


def report(**changed):
    told = {
        "report_id": uuid.uuid4(),
        "words": "Pump shaft sheared",
        "can_be_driven": False,
        "phone": "0491 570 110",
    }
    return Report(**told | changed)


def typed(**changed):
    return {
        "report_id": uuid.uuid4(), "words": "Pump shaft sheared", "can_be_driven": "no", "phone": "0491 570 110",
        "station": "right_side",
    } | changed  # fmt: skip


def send(client, token=TOKEN, **changed):
    return client.post(reverse("hire:link_breakdown", args=[token]), typed(**changed))


@pytest.mark.parametrize(
    ("can_be_driven", "grade"),
    [pytest.param(False, "do_not_use", id="no"), pytest.param(True, "by_date", id="yes")],
)
def test_it_is_a_defect_at_once_graded_by_whether_it_can_be_driven(link, now, can_be_driven, grade):
    breakdown, _ = report_breakdown(link=link, report=report(can_be_driven=can_be_driven), at=now)
    defect = Defect.objects.get()
    assert breakdown.defect == defect
    assert (defect.grade, defect.state, defect.told_by) == (grade, "reported", None)
    assert defect.told_by_words == "Aoife Merrin, Merrin Civil"
    assert defect.title == "Broken down: Pump shaft sheared"
    assert defect.words.startswith("Pump shaft sheared. It ")
    assert "Where on the cart was not told." in defect.words
    assert (defect.second_look_always, defect.may_be_passed) == (True, False)


def test_it_is_in_the_journals_and_the_watch_is_asked_to_look(link, line, now):
    breakdown, _ = report_breakdown(link=link, report=report(), at=now)
    entries = Entry.objects.filter(event="hire.breakdown.reported", subject_id=line.pk)
    assert {entry.chain for entry in entries} == {"yard", f"cart:{line.cart_id}"}
    assert Message.objects.filter(kind="hire.breakdown", subject_id=breakdown.pk).exists()
    assert list(faults_in_journal()) == []


def test_the_stop_is_raised_at_once_and_says_whom_to_ring(link, line, now):
    breakdown, _ = report_breakdown(link=link, report=report(), at=now)
    deliver(now, "hire.breakdown")
    alert_at_once(breakdown.pk, now)
    alert = Alert.objects.get(rule="hire.breakdown", cleared_at=None)
    assert (alert.rank, alert.cart_id, alert.for_role) == ("stop", line.cart_id, Role.WORKSHOP_MANAGER)
    assert "RG07 has broken down at Saltbush Road widening: Pump shaft sheared" in alert.what
    assert "Ring 0491 570 110. It cannot be driven." in alert.how_we_know
    assert "hire.breakdown" in rules()


def test_it_clears_once_the_cart_is_back_swapped_or_found_sound(link, line, desk, now):
    breakdown, _ = report_breakdown(link=link, report=report(), at=now)
    assert [one.subject_id for one in breakdowns(now)] == [breakdown.defect_id]
    OffHireFactory(line=line, called_at=now)
    assert list(breakdowns(now)), "called off it still stands there broken"
    OffHire.objects.all().delete()
    swap_cart(
        line=line, cart=CartFactory(), swapped_at=now, called_by_words="Aoife", why="Shaft",
        pick_up=PickUp("a", "b", "c"), by=desk, at=now,
    )  # fmt: skip
    assert list(breakdowns(now)) == []
    OffHire.objects.all().delete()
    assert list(breakdowns(now))
    Defect.objects.update(state="no_fault_found", closed_at=now)
    assert list(breakdowns(now)) == []
    Defect.objects.update(state="reported", closed_at=None)
    line.back_at = now
    line.save()
    assert list(breakdowns(now)) == []


def test_a_long_report_fits_into_its_alert(link, now):
    report_breakdown(link=link, report=report(words="Pump " * 80), at=now)
    [condition] = breakdowns(now)
    assert condition.what.endswith("…")
    assert max(len(words) for words in (condition.what, condition.how_we_know, condition.if_not)) <= 240


def test_one_form_sent_twice_is_one_report_and_another_links_is_its_own(link, line, now):
    sent = report()
    first, _ = report_breakdown(link=link, report=sent, at=now)
    again, _ = report_breakdown(link=link, report=sent, at=now + HOUR)
    assert first == again
    other = CustomerLinkFactory(line=LineFactory(out_at=now - DAY), made_at=now)
    theirs, _ = report_breakdown(link=other, report=sent, at=now)
    assert theirs.line == other.line
    assert Breakdown.objects.count() == Defect.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_one_form_sent_twice_at_once_is_one_report(now):
    link, sent = CustomerLinkFactory(line=LineFactory(out_at=now - DAY), made_at=now), report()
    one, two = at_once(*[partial(report_breakdown, link=link, report=sent, at=now)] * 2)
    assert one == two
    assert (Breakdown.objects.count(), Defect.objects.count()) == (1, 1)


def test_nothing_breaks_down_before_it_left_or_after_it_is_back(link, line, now):
    waiting = CustomerLinkFactory(line=LineFactory(), made_at=now)
    with pytest.raises(NotOnHire):
        report_breakdown(link=waiting, report=report(), at=now)
    line.back_at = now
    line.save()
    with pytest.raises(HireOver):
        report_breakdown(link=link, report=report(), at=now)
    assert not Defect.objects.exists()


def test_a_link_that_sends_on_and_on_has_to_wait(client, link, now):
    for _ in range(FREE_TRIES_OF_LINK + 1):
        report_breakdown(link=link, report=report(), at=now)
    with pytest.raises(TooManyTries, match="ring the yard"):
        report_breakdown(link=link, report=report(), at=now)
    answer = send(client)
    assert answer.status_code == 429
    assert "Pump shaft sheared" in text_of(answer)


def test_the_page_leads_with_the_number_to_ring(client, link, settings):
    page = text_of(client.get(reverse("hire:customer_page", args=[TOKEN])))
    assert page.index(f"tel:{settings.YARD_ON_CALL}") < page.index("On hire since")
    assert f"tel:{settings.YARD_ON_CALL}" in text_of(client.get(reverse("hire:link_breakdown", args=[TOKEN])))


def test_reported_with_a_photo_and_seen_on_the_hires_page(client, link):
    answer = client.post(reverse("hire:link_breakdown", args=[TOKEN]), typed() | {"photo": small_photo()})
    assert answer.status_code == 302
    assert not answer.cookies
    defect = Defect.objects.get()
    assert (defect.station, defect.photos.count()) == ("right_side", 1)
    page = text_of(client.get(answer["Location"]))
    assert "Pump shaft sheared" in page
    assert "rings 0491 570 110" in page
    assert "could not be taken in" not in page


def test_the_desk_reads_it_on_the_hire(client, link, line, desk, now):
    breakdown, _ = report_breakdown(link=link, report=report(), at=now)
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "It cannot be driven. Ring 0491 570 110. Open with the workshop." in page
    assert reverse("servicing:defect_detail", args=[breakdown.defect_id]) in page


def test_a_photo_that_is_none_loses_no_report(client, link):
    no_photo = SimpleUploadedFile("x.jpg", b"not a photo", "image/jpeg")
    answer = client.post(
        reverse("hire:link_breakdown", args=[TOKEN]), typed() | {"photo": no_photo}, follow=True
    )
    assert Breakdown.objects.count() == 1
    assert "The photo could not be taken in." in text_of(answer)


@pytest.mark.parametrize(
    "wrong",
    [{"words": ""}, {"phone": ""}, {"can_be_driven": ""}, {"report_id": "x"}, {"station": "roof"}, {"words": "a\x00b"}],
)  # fmt: skip
def test_a_faulty_report_comes_back_with_what_was_typed(client, link, wrong):
    answer = send(client, **wrong)
    assert answer.status_code == 422
    assert ("Pump shaft sheared" in text_of(answer)) is ("words" not in wrong)
    assert not Defect.objects.exists()


def test_off_hired_through_the_link_it_shows_the_number_and_what_stops_the_charge(client, link, line):
    address = reverse("hire:link_off_hire", args=[TOKEN])
    assert "at 2.00 pm the next day" in text_of(client.get(address))
    sent = {"pick_up_words": "North gate", "keys_words": "Site office", "risk_words": "The yard"}
    page = text_of(client.post(address, sent, follow=True))
    call = OffHire.objects.get()
    assert (call.line, call.link, call.made_by) == (line, link, None)
    # Who holds the risk is not the customer's to write.
    assert call.risk_words == "The customer, until it is picked up"
    assert f"Off-hire {call.number}" in page
    assert "the charge stop" in page.lower()
    assert address not in page
    again = client.post(address, sent)
    assert again.status_code == 422
    assert call.number in text_of(again)


def test_another_customers_link_sees_and_does_nothing_of_it(client, link, line, now):
    CustomerLinkFactory(line=LineFactory(out_at=now - DAY), token=OTHER_TOKEN, made_at=now)
    send(client)
    OffHireFactory(line=line)
    page = text_of(client.get(reverse("hire:customer_page", args=[OTHER_TOKEN])))
    assert "Pump shaft" not in page
    assert OffHire.objects.get().number not in page
    client.post(reverse("hire:link_off_hire", args=[OTHER_TOKEN]), {"pick_up_words": "x", "keys_words": "y"})
    assert OffHire.objects.exclude(line=line).count() == 1
    for name in ("link_breakdown", "link_off_hire"):
        for method in ("get", "post"):
            gone = getattr(client, method)(reverse(f"hire:{name}", args=["never-made-000000000"]))
            assert gone.status_code == 404
            assert gone["Referrer-Policy"] == "no-referrer"


def test_the_watch_costs_the_same_for_one_breakdown_and_for_ten(now, django_assert_num_queries, db):
    def add(number):
        for _ in range(number):
            link = CustomerLinkFactory(line=LineFactory(out_at=now - DAY), made_at=now)
            report_breakdown(link=link, report=report(), at=now)

    add(1)
    with django_assert_num_queries(1):
        list(breakdowns(now))
    add(9)
    with django_assert_num_queries(1):
        assert len(list(breakdowns(now))) == 10


def test_the_customers_page_costs_the_same_with_more_to_show(client, link, line, now):
    report_breakdown(link=link, report=report(), at=now)
    address = reverse("hire:customer_page", args=[TOKEN])
    few = queries_of(client, address)
    for _ in range(3):
        report_breakdown(link=link, report=report(), at=now)
    assert queries_of(client, address) == few
