"""docs/pre-starts.md: which shifts owe a pre-start, by the table; what the table cannot say; and what is read for it."""

import re
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings
from django.db import connection
from django.test.utils import CaptureQueriesContext

from hire.cart_use import Read
from hire.lapsed import lapsed_of
from hire.models.agreements import Line
from hire.models.holidays import YardDay
from hire.models.worked_days import WorkedDay
from hire.owed_facts import Out, weeks_of, works_of
from hire.promises import next_needs
from hire.shifts import LOOK_BACK, Hours, Work, lapsed_shifts, last_owed_shift, running_shift
from hire.watch import pre_starts_lapsed
from people.yard import at_local
from tests.factories.fleet import CartFactory, MeterReadingFactory
from tests.factories.hire import AT, LineFactory, LoadFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "pre-starts.md").read_text()
ZONE = ZoneInfo("Australia/Adelaide")
MONDAY = date(2026, 11, 30)
NAMES = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
KINDS = {"engine": "engine_hours", "pump": "pump_hours", "km": "km"}
DAY = timedelta(days=1)


def table():
    part = PAGE.split("## One week")[1].split("\n## ")[0]
    lines = [line for line in part.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def day(name):
    return MONDAY + (7 * DAY if name == "Mon+7" else NAMES.index(name) * DAY)


def moment(name, clock):
    return datetime.combine(day(name), time.fromisoformat(clock), ZONE).astimezone(UTC)


def work(**more):
    hours = Hours(ZONE, 1, by=time(9), second_at=time(18))
    left = moment("Mon", "06:00") - DAY
    return Work(**{"hours": hours, "handed_over_at": left, "since": left - 7 * DAY} | more)


def on_record(text):
    found = {
        "signed": (),
        "reads": (),
        "used_at": (),
        "holidays": set(),
        "stood_down": set(),
        "worked_on": set(),
    }
    for said in filter(None, text.split("; ")):
        match said.split():
            case ["signed", days, clock]:
                first, _, last = days.partition("-")
                names = NAMES[NAMES.index(first) : NAMES.index(last or first) + 1]
                found["signed"] += tuple(moment(name, clock) for name in names)
            case ["read", name, clock, kind, value]:
                found["reads"] += (Read(kind, KINDS[kind], moment(name, clock), Decimal(value)),)
            case ["load", name, clock]:
                found["used_at"] += (moment(name, clock),)
            case ["holiday" | "down" | "worked" as what, name]:
                where = {"holiday": "holidays", "down": "stood_down", "worked": "worked_on"}[what]
                found[where].add(day(name))
            case _:
                raise AssertionError(said)
    return found


ASKED = moment("Mon+7", "06:30")


@pytest.mark.parametrize("row", table(), ids=" ".join)
def test_each_week_has_lapsed_as_the_table_says(row):
    _, in_week, text, lapsed = row
    found = lapsed_shifts(work(days_in_week=int(in_week), **on_record(text)), at=ASKED)
    assert [NAMES[one.shift.on.weekday()] for one in reversed(found)] == lapsed.split()


def test_every_setting_it_names_has_the_default_it_says():
    named = dict(re.findall(r"`(YARD_\w+)`, (\d+)", PAGE))
    assert len(named) == 4
    assert {name: str(getattr(settings, name)) for name in named} == named


def test_it_says_what_the_day_off_was_used_for():
    found = lapsed_shifts(
        work(days_in_week=5, **on_record("signed Mon-Fri 06:00; read Sat 06:00 km 10; read Sat 16:00 km 40")), at=ASKED
    )  # fmt: skip
    assert [one.why for one in found] == ["its odometer rose by 30"]


def test_a_day_off_wants_none_on_the_phone_until_the_cart_is_used():
    saturday, off = moment("Sat", "08:00"), work(days_in_week=5)
    assert running_shift(off, at=saturday) is None
    assert running_shift(work(days_in_week=6), at=saturday).on == day("Sat")
    used = replace(off, used_at=(moment("Sat", "07:00"),))
    assert running_shift(used, at=saturday).on == day("Sat")
    # What comes later is not known yet.
    assert running_shift(replace(off, used_at=(moment("Sun", "07:00"),)), at=saturday) is None


def test_over_a_weekend_off_it_is_fridays_that_is_owed():
    off = work(days_in_week=5)
    for name, clock in (("Fri", "09:00"), ("Sat", "12:00"), ("Sun", "23:59"), ("Mon+7", "08:59")):
        assert last_owed_shift(off, at=moment(name, clock)).shift.on == day("Fri")
    assert last_owed_shift(off, at=moment("Mon+7", "09:00")).shift.on == day("Mon+7")


def test_night_and_day_the_meter_excuses_the_shift_it_stood_in():
    twice = work(hours=Hours(ZONE, 2, by=time(9), second_at=time(18)), handed_over_at=moment("Tue", "04:00"))
    reads = on_record(
        "read Tue 16:30 engine 100.0; read Wed 06:00 engine 100.2; read Wed 16:30 engine 108.0"
    )["reads"]
    found = lapsed_shifts(replace(twice, reads=reads), at=moment("Wed", "16:45"))
    assert [(one.shift.words, one.shift.on.day) for one in found] == [("day shift", 2), ("day shift", 1)]
    said = replace(twice, days_in_week=1, worked_on=frozenset({day("Wed")}))
    assert [one.shift.words for one in lapsed_shifts(said, at=moment("Thu", "04:00"))] == ["day shift"]


# From here on, what is read.

NOON = at_local(date(2026, 12, 7), time(12))


def out(**more):
    left = at_local(MONDAY, time(6)) - DAY
    return LineFactory(**{"starts_at": left, "out_at": left, "ends_at": left + 60 * DAY} | more)


def lapsed_days(line, at=NOON):
    return sorted(one.shift.on for one in lapsed_of([line], at=at)[line.pk])


def weekdays(line, at=NOON):
    return " ".join(NAMES[on.weekday()] for on in lapsed_days(line, at))


@pytest.mark.django_db
def test_the_week_is_of_the_terms_else_the_agreement_else_the_yard():
    line = out()
    assert weekdays(line) == "Mon Tue Wed Thu Fri Mon"
    line.agreement.days_in_week = 6
    line.agreement.save()
    assert weekdays(Line.objects.for_list().get(pk=line.pk)) == "Mon Tue Wed Thu Fri Sat Mon"
    AgreedTermsFactory(line=line, body=BODY | {"days_in_week": ""})
    assert weeks_of([Out.of(line)])[line.pk].said == "agreement"
    AgreedTermsFactory(line=line, body=BODY | {"days_in_week": "7"}, agreed_at=AT + DAY)
    assert weekdays(line) == "Mon Tue Wed Thu Fri Sat Sun Mon"
    assert weeks_of([Out.of(line)])[line.pk].words == "every day, as its terms agree; not on public holidays"


@pytest.mark.django_db
def test_a_cart_swapped_in_keeps_the_week_agreed_for_the_other():
    broke = out()
    AgreedTermsFactory(line=broke, body=BODY | {"days_in_week": "7"})
    took = out(agreement=broke.agreement)
    OffHireFactory(line=broke, replaced_by=took, replaced_why="Broke")
    assert weeks_of([Out.of(took)])[took.pk].days == 7


@pytest.mark.django_db
def test_public_holidays_of_its_region_and_days_the_yard_struck_count(desk):
    # 1 May 2026 is a Friday; 6 April was Easter Monday everywhere, 2 March was Labour Day in Western Australia alone.
    left = at_local(date(2026, 2, 26), time(6))
    line = LineFactory(starts_at=left, out_at=left, ends_at=left + 90 * DAY)
    at = at_local(date(2026, 3, 3), time(8))
    assert lapsed_days(line, at) == [date(2026, 2, 27), date(2026, 3, 2)]
    AgreedTermsFactory(line=line, body=BODY | {"days_in_week": "5", "holiday_region": "WA"})
    assert lapsed_days(line, at) == [date(2026, 2, 27)]
    YardDay.objects.create(on=date(2026, 3, 2), kind="struck", what="We work", made_at=at, made_by=desk)
    assert lapsed_days(line, at) == [date(2026, 2, 27), date(2026, 3, 2)]


@pytest.mark.django_db
def test_loads_readings_and_words_on_record_are_read(desk):
    saturday = date(2026, 12, 5)
    loaded, read, told, nothing = out(), out(), out(), out()
    LoadFactory(line=loaded, taken_at=at_local(saturday, time(9)))
    # Long before the two weeks: the last reading before them is looked at too.
    MeterReadingFactory(cart=read.cart, value="100.0", read_at=at_local(date(2026, 11, 1), time(9)))
    MeterReadingFactory(cart=read.cart, value="100.0", read_at=at_local(saturday, time(6)))
    MeterReadingFactory(cart=read.cart, value="107.0", read_at=at_local(saturday, time(17)))
    WorkedDay.objects.create(
        line=told, on=saturday, told_by_words="Aoife", told_at=NOON - DAY, made_at=NOON, made_by=desk
    )
    assert weekdays(loaded) == weekdays(told) == "Mon Tue Wed Thu Fri Sat Mon"
    assert weekdays(read) == "Sat Mon"
    assert weekdays(nothing) == "Mon Tue Wed Thu Fri Mon"
    used = next(one for one in lapsed_of([read], at=NOON)[read.pk] if one.shift.on == saturday)
    assert used.why == "its engine hours rose by 7.0"


@pytest.mark.django_db
def test_the_watch_says_why_and_is_still_over_a_weekend():
    line = out(starts_at=at_local(date(2026, 12, 4), time(6)), out_at=at_local(date(2026, 12, 4), time(6)))
    sunday = at_local(date(2026, 12, 6), time(12))
    assert list(pre_starts_lapsed(sunday)) == []
    assert next_needs([line.cart], at=sunday)[line.cart_id].shift_from is None
    LoadFactory(line=line, taken_at=sunday - timedelta(hours=3))
    [found] = pre_starts_lapsed(sunday)
    assert "Sunday 6 December" in found.what
    assert "a load of water was put down" in found.how_we_know
    assert next_needs([line.cart], at=sunday)[line.cart_id].shift_from == at_local(date(2026, 12, 6), time(0))


@pytest.mark.django_db
def test_queries_do_not_grow_with_the_hires():
    lines = [out(cart=CartFactory()) for _ in range(12)]
    for line in lines:
        LoadFactory(line=line, taken_at=NOON - DAY)
        AgreedTermsFactory(line=line, body=BODY | {"days_in_week": "5", "holiday_region": "SA"})

    def cost(act):
        with CaptureQueriesContext(connection) as queries:
            act()
        return len(queries)

    def read(some):
        works_of([Out.of(line) for line in some], since=NOON - LOOK_BACK, at=NOON)

    assert cost(lambda: read(lines[:1])) == cost(lambda: read(lines)) == 10
    assert cost(lambda: read([])) == 0
    carts = [line.cart for line in lines]
    assert cost(lambda: next_needs(carts[:2], at=NOON)) == cost(lambda: next_needs(carts, at=NOON))
    many = cost(lambda: list(pre_starts_lapsed(NOON)))
    Line.objects.filter(pk__in=[line.pk for line in lines[2:]]).update(back_at=NOON)
    assert cost(lambda: list(pre_starts_lapsed(NOON))) == many
