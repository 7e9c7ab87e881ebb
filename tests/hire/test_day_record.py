"""A day claimed as stood down is set beside what the yard's own records say of it: loads, pre-starts, dockets and clocks."""

import uuid
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from hire.actions.breakdowns import Report, report_breakdown
from hire.charge_facts import charges_to
from hire.charging.clock import Advance, gained_on
from hire.day_record import day_records
from hire.models.stand_downs import StandDownClaim
from hire.shifts import Hours, hours_left
from tests.factories.fleet import MeterReadingFactory
from tests.factories.hire import CustomerLinkFactory, LineFactory, LoadFactory
from tests.factories.money import AgreedTermsFactory, StandDownClaimFactory, StandDownFactory
from tests.factories.wet import DailyDocketFactory
from tests.pages import text_of
from tests.worked import tables

ADELAIDE = ZoneInfo("Australia/Adelaide")
DAY = date(2026, 3, 10)


def at(day, hour=6, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ADELAIDE)


def gain(since, until, hours, clock="engine"):
    return Advance(clock, since, until, Decimal(hours), out_from=at(2))


@pytest.mark.parametrize(
    ("gains", "bounds"),
    [
        pytest.param([gain(at(9, 18), at(11, 6), "0")], (0, 0), id="stood from evening to morning"),
        pytest.param([gain(at(10, 0), at(11, 0), "6.4")], (Fraction("6.4"), Fraction("6.4")), id="midnight to midnight"),
        pytest.param([gain(at(9, 18), at(10, 18), "7")], None, id="not read after it"),
        pytest.param([gain(at(9, 18), at(11, 6), "14")], (2, 14), id="some of it for certain"),
        pytest.param(
            [gain(at(9, 18), at(10, 5), "0"), gain(at(10, 5), at(10, 18), "3.2"), gain(at(10, 18), at(11, 6), "0")],
            (Fraction("3.2"), Fraction("3.2")), id="read at both ends of its work",
        ),
        pytest.param([gain(at(9, 18), at(11, 6), "37")], None, id="more than there was time for"),
        pytest.param([gain(at(9, 18), at(11, 6), "0", "pump")], None, id="another clock"),
        pytest.param([], None, id="never read"),
    ],
)  # fmt: skip
def test_what_a_clock_gained_on_a_day(gains, bounds):
    assert gained_on(gains, DAY, ADELAIDE, clock="engine") == bounds


@pytest.mark.parametrize("row", tables("charges.md", "Hours lost by a breakdown")[0], ids=" ".join)
def test_what_is_lost_runs_from_the_notice_to_the_end_of_the_days_work(row):
    worked, told, lost = row
    shifts, is_night = {"by day": (1, False), "by night": (1, True), "day and night": (2, False)}[worked]
    hours = Hours(ADELAIDE, shifts, by=time(7), second_at=time(18), is_night=is_night)
    left = hours_left(datetime.fromisoformat(told).replace(tzinfo=ADELAIDE), DAY, hours)
    assert ("the whole day" if left is None else f"{left / timedelta(hours=1):g}") == lost


@pytest.fixture
def line(db):
    return LineFactory(starts_at=at(2), ends_at=at(23), out_at=at(2), cart__fleet_number="RG07")


def read(line, moment, value):
    MeterReadingFactory(cart=line.cart, value=Decimal(value), read_at=moment)


def test_the_agree_page_shows_the_day_and_fills_in_what_the_clock_is_certain_of(client, desk, line):
    for moment, value in ((at(9, 18), 8200), (at(10, 5), 8200), (at(10, 18), 8203.2), (at(11), 8203.2)):
        read(line, moment, value)
    for hour in (8, 11):
        LoadFactory(line=line, taken_at=at(10, hour), litres=12000)
    LoadFactory(line=line, taken_at=at(11, 8))
    claim = StandDownClaimFactory(line=line, on=DAY, told_at=at(10), made_at=at(10), worked_hours=None)
    client.force_login(desk)
    shown = text_of(client.get(reverse("hire:claim_agree", args=[claim.pk])))
    assert (
        "Our own records of 10 March 2026: 2 loads, 24,000 L; no pre-start signed; the engine clock gained 0 h from 9 March 2026 "
        "18:00 to 10 March 2026 05:00; the engine clock gained 3.2 h"
    ) in shown
    assert "3.2 h of it on that day." in shown
    assert 'value="3.2"' in shown


def test_a_day_with_no_record_says_so_and_fills_in_nothing(client, desk, line):
    claim = StandDownClaimFactory(line=line, on=DAY, told_at=at(10), made_at=at(10), worked_hours=None)
    client.force_login(desk)
    shown = text_of(client.get(reverse("hire:claim_agree", args=[claim.pk])))
    assert "Our own records of 10 March 2026: no load; no pre-start signed; no clock read around it." in shown


def test_the_desk_reads_the_last_days_before_it_stands_one_down(client, desk, line):
    client.force_login(desk)
    shown = text_of(client.get(reverse("hire:line_stand_down", args=[line.pk])))
    assert shown.count("Our own records of") == 7


def test_records_of_many_days_take_the_same_queries(line):
    def queries(days):
        with CaptureQueriesContext(connection) as found:
            records = day_records(line, days)
        assert len(records) == len(days)
        return len(found)

    for day in range(3, 20):
        LoadFactory(line=line, taken_at=at(day, 8))
        read(line, at(day, 18), 8200 + day)
    assert queries([date(2026, 3, 10)]) == queries([date(2026, 3, day) for day in range(3, 20)])


def test_a_breakdown_late_in_the_day_claims_what_was_left_of_it(line):
    link = CustomerLinkFactory(line=line, token="token-of-aoife-000000000000000", made_at=at(3))
    report = Report(uuid.uuid4(), "Pump shaft sheared", can_be_driven=False, phone="0491 570 110")
    report_breakdown(link=link, report=report, at=at(10, 16, 30))
    assert StandDownClaim.objects.get().lost_hours == Decimal("1.5")


def test_a_docket_says_that_a_day_stood_down_has_loads_on_record(line):
    agreed = AgreedTermsFactory(line=line)
    StandDownFactory(line=line, on=DAY, told_at=at(10, 5))
    StandDownFactory(line=line, on=date(2026, 3, 11), told_at=at(11, 5))
    words = "10 March 2026 is stood down for rain, though"
    assert not [note for note in charges_to(line, agreed, through=date(2026, 3, 12)).notes if words in note]
    LoadFactory(line=line, taken_at=at(10, 8), litres=12000)
    notes = charges_to(line, agreed, through=date(2026, 3, 12)).notes
    assert f"{words} 1 load of 12,000 L of that day is on record." in notes
    assert not [note for note in notes if "11 March 2026 is stood down" in note]
    assert not [note for note in charges_to(line, agreed, through=date(2026, 3, 9)).notes if words in note]


def test_a_docket_says_that_a_day_stood_down_has_a_signed_daily_docket(db):
    signed = DailyDocketFactory()
    unsigned = DailyDocketFactory(
        line=signed.line,
        operator=signed.operator,
        on=signed.on + timedelta(days=1),
        unsigned_why="Nobody there",
    )
    agreed = AgreedTermsFactory(line=signed.line)
    for one in (signed, unsigned):
        StandDownFactory(line=signed.line, on=one.on, told_at=one.starts_at)
    notes = [
        note for note in charges_to(signed.line, agreed, through=unsigned.on).notes if "is stood down" in note
    ]
    assert len(notes) == 1
    assert f"though the signed daily docket {signed.number} of that day is on record." in notes[0]
