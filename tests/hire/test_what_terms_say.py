"""What the agreed terms say beside the price: rain told in time, calls on closed days, public holidays, waiver or own cover."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions import money
from hire.actions.holidays import DayDecided, decide_day, take_day_back
from hire.actions.off_hire import PickUp, call_off
from hire.actions.stand_downs import StoodDown, ToldLater, stand_down
from hire.charge_facts import charges_to
from hire.checks import holiday_region_is_known
from hire.public_holidays import yard_holidays
from hire.screens import charge_words
from hire.terms_text import terms_from
from hire.terms_words import terms_words
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.yard import yard_policy
from tests.factories.hire import LineFactory
from tests.factories.money import BODY, AgreedTermsFactory, StandDownFactory, YardDayFactory
from tests.factories.people import StaffFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db

ADELAIDE = ZoneInfo("Australia/Adelaide")
PICK_UP = PickUp("North gate", "Site office", "The customer, until pick-up")
CUP_DAY = date(2026, 3, 9)


def at(day, hour=15, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ADELAIDE)


def out_line(**body):
    """Out on Monday 2 March 2026 at six for three weeks and a day, by these terms."""
    line = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6))
    AgreedTermsFactory(line=line, body=BODY | body)
    return line


def test_a_docket_never_charges_a_day_to_come(desk):
    line = out_line()
    with pytest.raises(money.StillToCome, match=r"10 Mar 2026 is still to come.*Give today or a day before"):
        money.make_docket(line=line, through=date(2026, 3, 10), by=desk, at=at(9))
    assert money.make_docket(line=line, through=date(2026, 3, 9), by=desk, at=at(9)).through == CUP_DAY


@pytest.mark.parametrize(
    ("told", "worked", "body", "note"),
    [
        pytest.param(at(10, 6), None, {}, None, id="nothing asked"),
        pytest.param(at(10, 6), None, {"rain_told_by": "06:00:00"}, None, id="on the stroke"),
        pytest.param(
            at(10, 6, 1), None, {"rain_told_by": "06:00"}, "told on 10 March 2026 at 06:01", id="late"
        ),
        pytest.param(at(10, 6), "1.0", {"rain_most_hours": "1.0"}, None, id="an hour on the clock"),
        pytest.param(at(10, 6), "1.1", {"rain_most_hours": "1.0"}, "gained 1.1 h, over 1", id="it worked"),
        pytest.param(at(10, 6), "2.0", {}, None, id="two hours where nothing is said"),
        pytest.param(at(10, 6), None, {"minimum_days": "9"}, "inside the minimum", id="inside the minimum"),
        pytest.param(at(10, 6), None, {"rain_cap_days": "0"}, "cap of 0 days", id="over the cap"),
    ],
)
def test_rain_counts_by_what_was_agreed_and_written_down(desk, told, worked, body, note):
    line = out_line(**body)
    facts = StoodDown(
        told_at=told, worked_hours=worked and Decimal(worked), customer_words="Bogged", yard_words="Seen"
    )
    row = stand_down(
        line=line, on=date(2026, 3, 10), why="Rain", told_by_words="Aoife", facts=facts, by=desk, at=at(11)
    )
    assert (row.told_at, row.made_at, row.made_by) == (told, at(11), desk)
    assert "Bogged" in Entry.objects.get(event="hire.line.stood_down").text
    docket = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    assert docket.body["hire_days"] == (14 if note else 13)
    assert [note in each for each in docket.body["notes"]] == ([True] if note else [])


def test_what_a_rain_day_costs_says_what_it_rests_on(desk):
    line = out_line(rain_told_by="07:00", rain_price="120")
    StandDownFactory(line=line, on=date(2026, 3, 10), told_at=at(10, 6, 30), worked_hours=Decimal("0.5"))
    docket = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    assert docket.body["lines"][1]["working"] == (
        "1 day stood down × 120.00, in place of the day's hire; told 06:30 (by 07:00), 0.5 h on the clock (at most 2)"
    )


def test_nobody_was_told_at_a_time_to_come(desk):
    line = out_line()
    with pytest.raises(ToldLater, match="still to come"):
        stand_down(
            line=line, on=date(2026, 3, 10), why="Rain", told_by_words="A", facts=StoodDown(told_at=at(11)), by=desk, at=at(10)
        )  # fmt: skip
    with pytest.raises(IntegrityError, match="hire_standdown_hours_of_a_day"), transaction.atomic():
        StandDownFactory(line=line, on=date(2026, 3, 10), worked_hours=Decimal("24.1"))


@pytest.mark.parametrize(
    ("called", "rule", "stops", "words"),
    [
        pytest.param(at(8, 9), "", at(8, 9), "stopped with the call", id="a Sunday like any day"),
        pytest.param(
            at(8, 9), "open day", at(10, 14), "on a day the yard is closed", id="a Sunday, then Cup day"
        ),
        pytest.param(at(7, 15), "open day", at(10, 14), "after the yard’s cut-off", id="late on a Saturday"),
        pytest.param(at(6, 9), "open day", at(6, 9), "stopped with the call", id="in time on an open day"),
    ],
)
def test_a_call_on_a_closed_day_counts_as_agreed(desk, called, rule, stops, words):
    line = out_line(closed_calls=rule)
    call = call_off(line=line, called_at=called, called_by_words="Aoife", pick_up=PICK_UP, by=desk, at=called)
    assert call.stops_at == stops
    assert words in charge_words(call, at=at(20))


def test_the_forms_say_the_rule_that_was_agreed(client, desk):
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:off_hire_call", args=[out_line(closed_calls="open day").pk])))
    assert "the next day it is open" in page


@pytest.mark.parametrize(
    ("free", "called", "days"),
    [("", at(9, 6), 8), ("09:00", at(9, 8), 7), ("09:00", at(9, 9), 8), ("09:00", at(9, 15), 9)],
)
def test_the_day_of_the_call_is_free_before_the_hour_agreed(desk, free, called, days):
    line = out_line(free_call_before=free)
    call_off(line=line, called_at=called, called_by_words="Aoife", pick_up=PICK_UP, by=desk, at=called)
    agreed = line.agreed_terms.get()
    assert charges_to(line, agreed, through=date(2026, 3, 15)).hire_days == days
    words = dict(terms_words(agreed.body, rule=agreed.rule))
    assert words["The day it is called off"] == (
        "not charged when called before 09:00" if free else "charged"
    )


@pytest.mark.parametrize(
    ("body", "days"),
    [({}, 14), ({"holidays": "charged"}, 14), ({"holidays": "free"}, 13), ({"holidays": "free", "holiday_region": "NSW"}, 14)],
)  # fmt: skip
def test_a_public_holiday_is_charged_or_not_as_agreed(body, days):
    line = out_line(**body)
    agreed = line.agreed_terms.get()
    assert charges_to(line, agreed, through=date(2026, 3, 15)).hire_days == days


def test_the_yard_adds_and_strikes_days_of_its_own(desk):
    year = {"first": date(2026, 1, 1), "last": date(2026, 12, 31)}
    show = decide_day(on=date(2026, 3, 13), kind="added", what="Show day", by=desk, at=at(2))
    decide_day(on=CUP_DAY, kind="struck", what="We work", by=desk, at=at(2))
    days = yard_holidays(**year)
    assert days[date(2026, 3, 13)] == "Show day"
    assert CUP_DAY not in days
    line = out_line(holidays="free")
    assert charges_to(line, line.agreed_terms.get(), through=date(2026, 3, 15)).hire_days == 13
    for on, kind in ((date(2026, 3, 13), "added"), (date(2026, 3, 12), "struck"), (CUP_DAY, "added")):
        with pytest.raises(DayDecided):
            decide_day(on=on, kind=kind, what="Again", by=desk, at=at(2))
    take_day_back(day=show, by=desk, at=at(3))
    take_day_back(day=show, by=desk, at=at(3))
    assert date(2026, 3, 13) not in yard_holidays(**year)
    assert Entry.objects.filter(event="hire.holiday.taken_back").count() == 1
    with pytest.raises(NotAllowed):
        decide_day(on=CUP_DAY, kind="added", what="x", by=StaffFactory(role="yard_hand"), at=at(2))
    with pytest.raises(IntegrityError, match="hire_yardday_once"), transaction.atomic():
        YardDayFactory(on=CUP_DAY)


def test_a_region_the_country_does_not_have_stops_the_start(settings):
    settings.YARD_HOLIDAY_REGION = "TX"
    yard_policy.cache_clear()
    try:
        assert "knows ACT" in holiday_region_is_known(None)[0].msg
    finally:
        yard_policy.cache_clear()
    settings.YARD_HOLIDAY_REGION = "SA"
    assert holiday_region_is_known(None) == []
    yard_policy.cache_clear()


def test_the_holidays_have_a_page(client, desk):
    client.force_login(desk)
    address = reverse("hire:holiday_list")
    page = text_of(client.get(f"{address}?year=2026"))
    assert "Adelaide Cup Day" in page
    typed = {"on": "2026-03-13", "kind": "added", "what": "Show day"}
    assert "Show day" in text_of(client.post(address, typed, follow=True))
    assert client.post(address, typed).status_code == 422
    saved = client.get(f"{address}?year=2026&as=csv").content.decode("utf-8-sig")
    assert "2026-03-13,Show day,A holiday here: Show day" in saved
    assert client.get(f"{address}?year=99999999999").status_code == 200


def test_waiver_or_own_cover_never_both(client, desk):
    assert terms_from(BODY | {"cover": "waiver", "waiver_day": "12"}, rule="best rate").waiver_day == 12
    with pytest.raises(ValueError, match="or the hirer’s own cover"):
        terms_from(BODY | {"cover": "own", "waiver_day": "12"}, rule="best rate")
    with pytest.raises(ValueError, match="not both"):
        terms_from(BODY | {"waiver_pct": "8", "waiver_day": "12"}, rule="best rate")


def test_a_stand_down_is_told_by_hand(client, desk):
    client.force_login(desk)
    now = timezone.now()
    line = LineFactory(starts_at=now - timedelta(days=3), out_at=now - timedelta(days=3))
    on = now - timedelta(days=1)
    form = {
        "on": f"{on:%Y-%m-%d}", "kind": "rain", "why": "Rain", "told_by_words": "Aoife", "told_at": "2099-01-01T06:00",
        "worked_hours": "0.5", "customer_words": "Bogged", "yard_words": "We saw it",
    }  # fmt: skip
    address = reverse("hire:line_stand_down", args=[line.pk])
    answer = client.post(address, form)
    assert answer.status_code == 422
    assert "0.5" in answer.content.decode()
    assert client.post(address, form | {"told_at": f"{on:%Y-%m-%d}T05:00"}).status_code == 302
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "0.5 h on the clock" in page
    assert "They say: Bogged" in page
