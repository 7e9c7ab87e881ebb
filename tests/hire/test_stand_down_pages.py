"""Days stood down on screen: at the desk, on the customer's phone, and proposed by a breakdown."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from hire.actions.breakdowns import Report, report_breakdown
from hire.actions.site import FREE_TRIES_OF_LINK
from hire.models.agreements import StandDown
from hire.models.stand_downs import StandDownClaim
from hire.watch_claims import claims_open
from people.journal.models import Entry
from people.yard import yard_day
from tests.factories.hire import CustomerLinkFactory, LineFactory
from tests.factories.money import StandDownClaimFactory
from tests.pages import text_of

DAY = timedelta(days=1)
TOKEN = "token-of-aoife-000000000000000"


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def line(db, now):
    return LineFactory(starts_at=now - 5 * DAY, out_at=now - 5 * DAY, cart__fleet_number="RG07")


@pytest.fixture
def link(line, now):
    return CustomerLinkFactory(line=line, token=TOKEN, made_at=now)


def page(client, line):
    return text_of(client.get(reverse("hire:line_detail", args=[line.pk])))


def typed(day, **more):
    return {"on": f"{day:%Y-%m-%d}", "kind": "rain", "why": "Rain overnight"} | more


def test_a_claim_is_written_down_agreed_and_struck_out_at_the_desk(client, desk, line, now):
    client.force_login(desk)
    day = yard_day(now - DAY)
    told = typed(day, told_by_words="Col Brandt", told_at=f"{day:%Y-%m-%d}T06:00", agreed="claimed")
    client.post(reverse("hire:line_stand_down", args=[line.pk]), told)
    claim = StandDownClaim.objects.get()
    assert not StandDown.objects.exists()
    assert "claimed, not agreed" in page(client, line)
    agree = reverse("hire:claim_agree", args=[claim.pk])
    assert client.post(agree, {"worked_hours": "25"}).status_code == 422
    client.post(agree, {"worked_hours": "0.5", "yard_words": "Our gauge showed 12 mm"})
    row = StandDown.objects.get()
    assert (str(row.worked_hours), row.told_by_words, row.told_at) == ("0.5", "Col Brandt", claim.told_at)
    assert f"Agreed by {desk.full_name}" in page(client, line)
    assert client.post(agree, {"yard_words": ""}).status_code == 422
    strike = reverse("hire:stand_down_strike", args=[row.pk])
    assert client.post(strike, {"why": ""}).status_code == 422
    client.post(strike, {"why": "It was RG08"})
    assert "Struck out by" in page(client, line)
    assert "It was RG08" in page(client, line)


def test_what_is_agreed_at_once_is_stood_down_at_once_also_when_back(client, desk, line, now):
    client.force_login(desk)
    line.back_at = now - DAY
    line.save(update_fields=["back_at"])
    assert "Stand down a day" in page(client, line)
    told = typed(
        yard_day(now - 2 * DAY), told_by_words="Col", told_at=f"{yard_day(now - 2 * DAY):%Y-%m-%d}T05:00"
    )
    assert client.post(reverse("hire:line_stand_down", args=[line.pk]), told).status_code == 302
    assert StandDown.objects.get().line == line
    late = client.post(
        reverse("hire:line_stand_down", args=[line.pk]), told | {"on": f"{yard_day(now + DAY):%Y-%m-%d}"}
    )
    assert late.status_code == 422
    assert "was not out on" in late.content.decode()


def test_the_supervisor_claims_a_day_on_the_phone_and_reads_the_answer(client, desk, line, link, now):
    address = reverse("hire:link_claim", args=[TOKEN])
    told = typed(yard_day(now), name="Aoife Merrin")
    assert client.post(address, told | {"why": ""}).status_code == 422
    assert client.post(address, told).status_code == 302
    claim = StandDownClaim.objects.get()
    assert (claim.line, claim.link, claim.made_by, claim.told_by_words) == (line, link, None, "Aoife Merrin")
    mine = reverse("hire:customer_page", args=[TOKEN])
    assert "The yard has not answered yet." in text_of(client.get(mine))
    again = client.post(address, told)
    assert again.status_code == 422
    assert "claimed already" in again.content.decode()
    assert "Aoife Merrin" in Entry.objects.filter(event="hire.stand_down.claimed").first().by_words
    client.force_login(desk)
    client.post(reverse("hire:claim_refuse", args=[claim.pk]), {"why": "The meter ran nine hours"})
    client.logout()
    assert "The yard says: The meter ran nine hours" in text_of(client.get(mine))
    for _ in range(FREE_TRIES_OF_LINK):
        last = client.post(address, told | {"on": "2020-01-01"})
    assert last.status_code == 429


def test_a_breakdown_proposes_its_day_and_decides_nothing(client, desk, line, link, now):
    report = Report(uuid.uuid4(), "Pump shaft sheared", can_be_driven=False, phone="0491 570 110")
    breakdown, _ = report_breakdown(link=link, report=report, at=now)
    report_breakdown(link=link, report=report, at=now)
    claim = StandDownClaim.objects.get()
    assert (claim.on, claim.kind, claim.told_at, claim.defect) == (
        yard_day(now),
        "breakdown",
        now,
        breakdown.defect,
    )
    assert not StandDown.objects.exists()
    other = Report(uuid.uuid4(), "And a tyre", can_be_driven=True, phone="0491 570 110")
    assert report_breakdown(link=link, report=other, at=now)[0].pk != breakdown.pk
    assert StandDownClaim.objects.count() == 1
    client.force_login(desk)
    assert "Its defect" in page(client, line)


def test_the_desk_is_told_of_what_waits(line, now):
    def told():
        with CaptureQueriesContext(connection) as queries:
            return [one.what for one in claims_open(now)], len(queries)

    for day in (now - DAY, now):
        StandDownClaimFactory(line=line, on=yard_day(day), told_at=now - DAY, made_at=now)
    [what], few = told()
    assert "RG07 as stood down" in what
    for _ in range(5):
        StandDownClaimFactory(on=yard_day(now), told_at=now - DAY, made_at=now)
    found, many = told()
    assert (len(found), many) == (6, few)
