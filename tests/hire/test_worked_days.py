"""Days outside the week agreed: what the clocks prove, what they cannot tell, and what a named person says instead."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from fleet.models.carts import Meter
from hire.actions import money
from hire.actions import worked_days as acts
from hire.charge_facts import charges_to
from hire.models.worked_days import WorkedDay
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from tests.factories.fleet import MeterReadingFactory
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory, WorkedDayFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
ADELAIDE = ZoneInfo("Australia/Adelaide")
FIVE_DAYS = BODY | {"days_in_week": "5", "rates": {"1": "290.00"}}


def at(day, hour=15, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ADELAIDE)


@pytest.fixture
def line():
    """Out from Monday the 2nd to Sunday the 8th by a week of five days."""
    made = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6), cart__fleet_number="WC-61")
    OffHireFactory(line=made, called_at=at(8), stops_at=at(8), made_at=at(8))
    AgreedTermsFactory(line=made, body=FIVE_DAYS)
    return made


def read(line, moment, value, kind="engine_hours"):
    Meter.objects.get_or_create(cart=line.cart, kind=kind, removed_at=None, defaults={"fitted_at": at(1)})
    MeterReadingFactory(cart=line.cart, kind=kind, value=Decimal(value), read_at=moment)


def charged(line):
    return charges_to(line, line.agreed_terms.get(), through=None)


def notes(line):
    return [note for note in charged(line).notes if "none of the week" in note]


def test_two_readings_on_a_saturday_between_which_the_clock_went_on_charge_it(line):
    read(line, at(7, 7, 10), "8200.0", kind="pump_hours")
    read(line, at(7, 15), "8203.2", kind="pump_hours")
    assert charged(line).hire_days == 6
    assert notes(line) == [
        "7 March 2026 is charged though it is none of the week, or a free holiday: the cart worked, for the pump clock gained "
        "3.2 h from 7 March 2026 07:10 to 7 March 2026 15:00."
    ]


def test_readings_over_the_week_end_charge_nothing_and_say_why(line):
    read(line, at(6, 17), "8200.0")
    read(line, at(8, 14), "8204.5")
    assert charged(line).hire_days == 5
    assert notes(line) == [
        "7 March 2026 and 8 March 2026 are not charged, being none of the week, or a free holiday: the engine clock gained 4.5 h "
        "from 6 March 2026 17:00 to 8 March 2026 14:00, and it cannot be told when."
    ]


@pytest.mark.parametrize(("value", "days"), [("8210.0", 5), ("8210.1", 6)])
def test_the_reading_after_the_call_counts_with_all_the_time_since(line, value, days):
    """Read on Sunday at 12 and on Monday at one: 10 hours are outside the hire, which ended on Sunday at 15."""
    read(line, at(8, 12), "8200.0")
    read(line, at(9, 1), value)
    assert charged(line).hire_days == days


def test_what_it_gained_in_the_yard_before_it_left_is_not_the_hires(line):
    line.handed_over_at = at(7, 12)
    line.save()
    read(line, at(7, 6), "8200.0")
    read(line, at(7, 13), "8203.0")
    assert charged(line).hire_days == 0
    assert "cannot be told" in notes(line)[0]


def test_each_cart_of_a_swap_is_read_by_its_own_clock(desk, line):
    other = LineFactory(
        agreement=line.agreement, starts_at=at(8), ends_at=at(23), out_at=at(8, 16), came_back_at=at(14)
    )
    call = line.off_hires.get()
    call.replaced_by, call.replaced_why = other, "Pump seized"
    call.save()
    read(other, at(14, 7), "3000.0")
    read(other, at(14, 14), "3005.0")
    read(line, at(14, 6), "8300.0")
    read(line, at(14, 15), "8305.0")
    found = charges_to(other, line.agreed_terms.get(), through=None)
    assert found.hire_days == 11
    assert [note for note in found.notes if "engine clock gained 5 h from 14 March 2026 07:00" in note]


def test_a_named_person_says_so_and_takes_it_back_by_the_next_docket(desk, line):
    first = money.make_docket(line=line, by=desk, at=at(9))
    say = partial(
        acts.say_worked,
        line=line,
        on=date(2026, 3, 7),
        told_by_words="Aoife Merrin, foreman",
        told_at=at(9, 8),
    )
    row = say(words="Two loads on the haul road", by=desk, at=at(9))
    second = money.make_docket(line=line, by=desk, at=at(10))
    assert (first.net, second.net) == (Decimal(1450), Decimal(290))
    assert (
        "7 March 2026 is charged though it is none of the week, or a free holiday: the cart worked, as told by Aoife "
        "Merrin, foreman on 9 March 2026."
    ) in second.body["notes"]
    with pytest.raises(acts.SaidAlready, match="WC-61 is written down as worked on 7 March 2026"):
        say(by=desk, at=at(10))
    acts.strike_worked(worked=row, why="It was the 14th", by=desk, at=at(11))
    with pytest.raises(acts.StruckAlready):
        acts.strike_worked(worked=row, why="x", by=desk, at=at(11))
    assert money.make_docket(line=line, by=desk, at=at(12)).net == -Decimal(290)
    say(by=desk, at=at(12))
    events = Entry.objects.filter(chain="yard", event__startswith="hire.worked_day").values_list(
        "event", flat=True
    )
    assert sorted(events) == ["hire.worked_day.said"] * 2 + ["hire.worked_day.struck"]
    assert list(faults_in_journal()) == []


def test_a_day_before_a_swap_is_written_down_of_the_cart_that_was_out(desk, line):
    other = LineFactory(agreement=line.agreement, starts_at=at(8), ends_at=at(23), out_at=at(8, 16))
    call = line.off_hires.get()
    call.replaced_by, call.replaced_why = other, "Pump seized"
    call.save()
    say = partial(acts.say_worked, line=other, told_by_words="Aoife", told_at=at(9), by=desk, at=at(16))
    assert say(on=date(2026, 3, 7)).line == line
    assert say(on=date(2026, 3, 14)).line == other


@pytest.mark.parametrize(
    ("changed", "refusal"),
    [
        ({"on": date(2026, 3, 1)}, acts.NotThatDay),
        ({"on": date(2026, 3, 9)}, acts.NotThatDay),
        ({"told_at": at(20)}, acts.SaidLater),
    ],
    ids=["before it left", "after the call", "said in days to come"],
)
def test_a_day_out_of_the_hire_or_words_to_come_are_refused(desk, line, changed, refusal):
    asked = {"on": date(2026, 3, 7), "told_by_words": "Aoife", "told_at": at(9)} | changed
    with pytest.raises(refusal):
        acts.say_worked(line=line, **asked, by=desk, at=at(10))
    assert not WorkedDay.objects.exists()


def test_the_desk_alone_writes_it_down(hand, line):
    with pytest.raises(NotAllowed):
        acts.say_worked(line=line, on=date(2026, 3, 7), told_by_words="x", told_at=at(9), by=hand, at=at(10))
    with pytest.raises(NotAllowed):
        acts.strike_worked(worked=WorkedDayFactory(line=line), why="x", by=hand, at=at(10))


def test_the_database_has_a_day_once_and_by_somebody():
    row = WorkedDayFactory()
    for make, name in (
        (lambda: WorkedDayFactory(line=row.line), "hire_workedday_once_a_day"),
        (lambda: WorkedDayFactory(told_by_words=""), "hire_workedday_said_by_somebody"),
        (
            lambda: WorkedDayFactory(told_at=row.made_at + timedelta(minutes=1)),
            "hire_workedday_said_by_somebody",
        ),
    ):
        with pytest.raises(IntegrityError, match=name), transaction.atomic():
            make()
    row.struck_at, row.struck_why = row.made_at, "Wrong cart"
    row.save()
    WorkedDayFactory(line=row.line)


def test_it_is_said_on_the_page_of_charges_and_struck_there(client, desk, line):
    client.force_login(desk)
    read(line, at(6, 17), "8200.0")
    read(line, at(8, 14), "8204.5")
    charges = reverse("hire:charges", args=[line.pk])
    assert "it cannot be told when" in text_of(client.get(charges))
    typed = {
        "on": "2026-03-20",
        "told_by_words": "Aoife Merrin",
        "told_at": "2026-03-09T08:00",
        "words": "Two loads",
    }
    page = client.post(reverse("hire:worked_day_add", args=[line.pk]), typed)
    assert page.status_code == 422
    assert "Aoife Merrin" in page.content.decode()
    page = text_of(
        client.post(reverse("hire:worked_day_add", args=[line.pk]), typed | {"on": "2026-03-07"}, follow=True)
    )
    assert "the cart worked, as told by Aoife Merrin on 9 March 2026" in page
    assert "8 March 2026 is not charged" in page
    strike = reverse("hire:worked_day_strike", args=[WorkedDay.objects.get().pk])
    assert "no longer charged on that word" in text_of(client.post(strike, follow=True))
    assert "is struck out already" in text_of(client.post(strike, follow=True))
