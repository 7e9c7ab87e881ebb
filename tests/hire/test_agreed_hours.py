"""A meter that is dead, and hours by the key or by dockets: agreed by both sides, by name, and charged with those words."""

from datetime import date, datetime
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from hire.actions import agreed_hours as acts
from hire.actions import money
from hire.charge_facts import charges_to
from hire.models.agreed_hours import AgreedHours
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.fleet import MeterReadingFactory
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedHoursFactory, AgreedTermsFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
ADELAIDE = ZoneInfo("Australia/Adelaide")
HOURS = {"hours_in_day": "8", "clock": "engine", "pool": "whole hire", "hour_price": "95"}


def at(day, hour=15):
    return datetime(2026, 3, day, hour, tzinfo=ADELAIDE)


@pytest.fixture
def line():
    """Out for the week from Monday the 2nd to Sunday the 8th; its clock stood still from the evening of the 4th."""
    made = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6), cart__fleet_number="WC-61")
    OffHireFactory(line=made, called_at=at(8), stops_at=at(8), made_at=at(8))
    AgreedTermsFactory(line=made, body=BODY | HOURS)
    for day, hour, value in ((2, 6, 1000), (4, 18, 1030), (8, 15, 1030)):
        MeterReadingFactory(cart=made.cart, value=Decimal(value), read_at=at(day, hour))
    return made


def agree(line, desk, *, first=5, last=8, **typed):
    said = {
        "hours": Decimal(44), "how": "estimate", "yard_name": "Noor Haddad", "customer_name": "Aoife Merrin",
        "words": "Their site diary",
    } | typed  # fmt: skip
    return acts.agree_hours(
        line=line, first_on=date(2026, 3, first), last_on=date(2026, 3, last), **said, by=desk, at=at(9)
    )


def over(line):
    found = charges_to(line, line.agreed_terms.get(), through=None)
    return [(one.amount, one.working) for one in found.lines if one.key.startswith("hours")]


def test_the_agreed_hours_are_charged_with_both_names(line, desk):
    assert over(line) == []
    agree(line, desk)
    [(amount, working)] = over(line)
    assert amount == Decimal("1710.00")
    assert working == (
        "the whole hire: 74 h used, 56 allowed (7 days × 8 h): 18 × 95.00; meter dead, 44 h agreed for 5 March 2026 to "
        "8 March 2026 by Noor Haddad for the yard and Aoife Merrin for the customer: Their site diary"
    )
    assert "Aoife Merrin" in Entry.objects.get(event="hire.hours.agreed", chain="yard").text
    assert list(faults_in_journal()) == []


def test_they_stand_in_the_place_of_what_the_clock_showed(line, desk):
    """Of the 30 h read over three days, ten were of the 4th; 50 are agreed for it and the four after."""
    agree(line, desk, first=4, hours=Decimal(50))
    [(amount, working)] = over(line)
    assert "70 h used" in working
    assert amount == 14 * 95


@pytest.mark.parametrize("clock", ["key", "docket"])
def test_a_clock_that_is_no_meter_of_ours_counts_by_what_was_agreed(line, desk, clock):
    AgreedTermsFactory(line=line, body=BODY | HOURS | {"clock": clock}, agreed_at=at(9))
    agree(line, desk, first=2, hours=Decimal(66), how="read")
    found = charges_to(line, line.agreed_terms.first(), through=None)
    assert found.net == Decimal(1450 + 10 * 95)
    assert "meter dead" not in found.lines[1].working


def test_a_docket_made_before_is_put_right_and_again_when_it_is_struck_out(line, desk):
    first = money.make_docket(line=line, by=desk, at=at(9))
    row = agree(line, desk)
    second = money.make_docket(line=line, by=desk, at=at(9))
    assert (first.net, second.net) == (Decimal("1450.00"), Decimal("1710.00"))
    acts.strike_hours(agreed=row, why="It ran after all", by=desk, at=at(9))
    assert money.make_docket(line=line, by=desk, at=at(9)).net == Decimal("-1710.00")
    with pytest.raises(acts.StruckAlready, match="struck out already"):
        acts.strike_hours(agreed=row, why="Again", by=desk, at=at(9))


@pytest.mark.parametrize(
    ("typed", "refusal", "sentence"),
    [
        ({"first": 1}, acts.NotThoseDays, "The hire began on 2 March 2026"),
        ({"last": 9}, acts.NotThoseDays, "No one cart"),
        ({"first": 8, "last": 7}, acts.NotThoseDays, "last day is before the first"),
        ({"hours": Decimal("96.01")}, acts.TooManyHours, "has 96 hours"),
        ({"customer_name": " noor haddad "}, acts.BothNames, "Give two names"),
    ],
)
def test_what_is_refused(line, desk, typed, refusal, sentence):
    with pytest.raises(refusal, match=sentence):
        agree(line, desk, **typed)


def test_no_day_is_agreed_twice_and_only_by_the_desk(line, desk, people):
    row = agree(line, desk)
    with pytest.raises(acts.AgreedAlready, match="Strike those out first"):
        agree(line, desk, first=2, last=5, hours=Decimal(1))
    with pytest.raises(NotAllowed):
        agree(line, people[Role.FITTER], first=2, last=3)
    again = partial(AgreedHoursFactory, line=line, last_on=row.first_on)
    with pytest.raises(IntegrityError, match="hire_agreedhours_once_a_day"), transaction.atomic():
        again(first_on=date(2026, 3, 2))
    with pytest.raises(IntegrityError, match="hire_agreedhours_both_names"), transaction.atomic():
        again(first_on=date(2026, 3, 5), struck_at=at(9), customer_name="")
    with pytest.raises(IntegrityError, match="hire_agreedhours_in_order"), transaction.atomic():
        AgreedHoursFactory(first_on=date(2026, 3, 2), last_on=date(2026, 3, 2), hours=Decimal("-0.01"))


def test_the_desk_agrees_hours_by_hand(line, desk, client):
    client.force_login(desk)
    address = reverse("hire:agreed_hours_add", args=[line.pk])
    assert 'value="Aoife Merrin"' in text_of(client.get(address))
    typed = {
        "how": "estimate", "first_on": "2026-03-05", "last_on": "2026-03-08", "hours": "120", "yard_name": "Noor Haddad",
        "customer_name": "Aoife Merrin", "words": "Their site diary",
    }  # fmt: skip
    answer = client.post(address, typed)
    assert answer.status_code == 422
    assert "120 are too many" in text_of(answer)
    page = text_of(client.post(address, typed | {"hours": "40"}, follow=True))
    assert "5 Mar 2026 to 8 Mar 2026: 40 h, Noor Haddad and Aoife Merrin" in page
    assert "1,330.00" in page
    row = AgreedHours.objects.get()
    page = text_of(client.post(reverse("hire:agreed_hours_strike", args=[row.pk]), follow=True))
    assert "Written down by mistake" in page
