"""The daily docket of a wet hire: who may write it, what cannot be, how it is signed, replaced and never changed."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, connection, transaction

from hire.actions import daily
from hire.daily_days import days_without
from hire.daily_facts import missing_days
from hire.models.agreements import StandDown
from hire.models.daily import DailyDocket, DailySignature
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.hire import CustomerLinkFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory, YardDayFactory
from tests.factories.wet import (
    DailyDocketFactory,
    DailySignatureFactory,
    OperatorFactory,
    TurnFactory,
    wet_out,
)

pytestmark = pytest.mark.django_db
ADELAIDE = ZoneInfo("Australia/Adelaide")
# A Friday evening; the cart left on Sunday morning.
AT = datetime(2026, 11, 27, 18, tzinfo=ADELAIDE)
ON = AT.date()
SIGNED = daily.Signed("Aoife Merrin")
NOBODY = daily.Signed(nobody_why="Gate shut at four")


def clock(hour, minute=0, on=ON):
    return datetime(on.year, on.month, on.day, hour, minute, tzinfo=ADELAIDE)


WORKED = daily.Day(
    on=ON, starts_at=clock(6), finishes_at=clock(16, 30), breaks=timedelta(minutes=30), travel_hours=Decimal("1.5"),
    standby_hours=Decimal(2), standby_why="Grader broken", loads=9, water_words="Dam 2", fuel_l=Decimal(80),
)  # fmt: skip


def short(start, finish, on=ON):
    """A day without breaks, its hours whole."""
    return daily.Day(on=on, starts_at=clock(start, on=on), finishes_at=clock(finish, on=on))


@pytest.fixture
def turn():
    return wet_out(at=AT)


def make(turn, by, day=WORKED, signed=SIGNED, at=AT, **said):
    return daily.make_daily(
        **{"line": turn.line, "operator": turn.operator, "day": day, "signed": signed, "by": by, "at": at}
        | said
    )


def test_a_day_worked_and_signed(turn, desk):
    docket = make(turn, desk)
    assert (docket.number, docket.hours, docket.is_signed) == ("W2026-00001", Decimal("10.00"), True)
    assert docket.signature.kind == "typed" and docket.signature.held_by == desk
    assert make(turn, desk, short(6, 9, on=ON - timedelta(1))).number == "W2026-00002"
    assert Entry.objects.filter(event="hire.daily_docket.made", subject_id=turn.line.pk).count() == 4


def test_drawn_it_is_kept_as_drawn_and_a_torn_drawing_is_refused(turn, desk):
    drawn = daily.Signed("Aoife", "[[[1,2,0],[3,4,20]]]")
    with pytest.raises(daily.SignatureWanting, match="whole"):
        make(turn, desk, signed=daily.Signed("Aoife", "[[[1,2]"))
    assert make(turn, desk, signed=drawn).signature.kind == "drawn"


def test_nobody_to_sign_says_why_and_a_signature_has_a_name(turn, desk):
    with pytest.raises(daily.SignatureWanting):
        make(turn, desk, signed=daily.Signed(" "))
    docket = make(turn, desk, signed=NOBODY)
    assert not docket.is_signed and docket.unsigned_why == "Gate shut at four"
    assert DailyDocket.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"on": ON + timedelta(1)}, "on"),
        ({"on": ON - timedelta(6)}, "on"),
        ({"starts_at": None}, "starts_at"),
        ({"on": ON - timedelta(1)}, "starts_at"),
        ({"finishes_at": clock(6)}, "finishes_at"),
        ({"finishes_at": clock(18, 1)}, "finishes_at"),
        ({"breaks": timedelta(hours=10, minutes=30)}, "breaks"),
        ({"standby_hours": Decimal("10.01")}, "standby_hours"),
        ({"standby_why": " "}, "standby_why"),
        ({"cancelled_late": True}, "cancelled_late"),
    ],
)
def test_a_day_that_cannot_be_is_refused(turn, desk, changed, field):
    with pytest.raises(daily.DayUnclear) as refused:
        make(turn, desk, replace(WORKED, **changed))
    assert refused.value.field == field


def test_no_day_after_the_call_that_ended_the_hire(turn, desk):
    OffHireFactory(
        line=turn.line, called_at=AT - timedelta(2), stops_at=AT - timedelta(2), made_at=AT - timedelta(2)
    )
    with pytest.raises(daily.DayUnclear, match="over by then"):
        make(turn, desk)


def test_a_night_runs_over_midnight_and_the_clock_change_counts(desk):
    """Clocks went forward at two on 4 October 2026: ten to six is seven hours."""
    at = datetime(2026, 10, 4, 7, tzinfo=ADELAIDE)
    turn = wet_out(at=at)
    saturday, sunday = date(2026, 10, 3), date(2026, 10, 4)
    night = daily.Day(saturday, clock(22, on=saturday), clock(6, on=sunday), is_night=True)
    assert make(turn, desk, night, at=at).hours == Decimal("7.00")


def test_cancelled_late_has_no_hours(turn, desk):
    docket = make(turn, desk, daily.Day(on=ON, cancelled_late=True))
    assert (docket.hours, docket.starts_at) == (0, None)


def test_overtime_is_reckoned_by_the_agreed_rate(turn, desk):
    assert make(turn, desk).overtime_hours is None
    AgreedTermsFactory(line=turn.line, body=BODY | {"wet_hour_price": "165", "wet_overtime_after": "8"})
    again = make(turn, desk, replaces=DailyDocket.objects.get(), why="Finish")
    assert again.overtime_hours == Decimal("2.00")


def test_the_operator_writes_their_own_and_nobody_elses(people):
    hand = people[Role.YARD_HAND]
    turn = wet_out(at=AT, operator=OperatorFactory(staff=hand))
    other = TurnFactory(line=turn.line, operator=OperatorFactory(), shift=2)
    assert make(turn, hand, signed=NOBODY).made_by == hand
    with pytest.raises(NotAllowed):
        make(other, hand)
    with pytest.raises(NotAllowed):
        make(turn, people[Role.FITTER])
    hand.is_active = False
    hand.save()
    with pytest.raises(NotAllowed):
        daily.sign_daily(docket=DailyDocket.objects.get(), signed=SIGNED, by=hand, at=AT)


def test_an_operator_who_was_not_put_down_has_no_docket(turn, desk):
    with pytest.raises(daily.NotWithTheCart):
        make(turn, desk, operator=OperatorFactory())
    early = replace(
        WORKED, on=ON - timedelta(1), starts_at=clock(6) - timedelta(1), finishes_at=clock(16) - timedelta(1)
    )
    turn.period = type(turn.period)(clock(5), turn.period.upper)
    turn.save()
    with pytest.raises(daily.NotWithTheCart):
        make(turn, desk, early)


def test_one_docket_a_day_and_nobody_in_two_places(turn, desk):
    first = make(turn, desk, short(6, 16))
    with pytest.raises(daily.DocketThere, match=first.number):
        make(turn, desk, short(16, 17))
    turn.period = type(turn.period)(turn.period.lower, clock(12))
    turn.save()
    other = wet_out(at=AT, operator=OperatorFactory())
    there = TurnFactory(
        line=other.line, operator=turn.operator, shift=2, starts_at=clock(12), ends_at=clock(20)
    )
    with pytest.raises(daily.DayUnclear, match=first.number):
        make(there, desk, short(15, 17))
    assert make(there, desk, short(16, 17)).number


def test_a_change_is_another_docket_in_its_place(turn, desk):
    first = make(turn, desk)
    with pytest.raises(daily.DayUnclear, match="what was wrong"):
        make(turn, desk, replaces=first)
    second = make(turn, desk, replace(WORKED, loads=10), NOBODY, replaces=first, why="One load more")
    assert list(DailyDocket.objects.standing()) == [second]
    with pytest.raises(daily.DocketThere, match="replaced already"):
        make(turn, desk, replaces=first, why="Again")
    with pytest.raises(daily.DocketThere, match=second.number):
        daily.sign_daily(docket=first, signed=SIGNED, by=desk, at=AT)
    third = make(turn, desk, replaces=second, why="It was nine")
    assert list(DailyDocket.objects.standing()) == [third]
    # A docket of another hire takes no place here.
    elsewhere = DailyDocketFactory(turn=wet_out(at=AT))
    with pytest.raises(daily.DocketThere):
        make(turn, desk, replaces=elsewhere, why="x")


def test_it_is_signed_later_once_by_phone_or_link(turn, desk):
    docket = make(turn, desk, signed=NOBODY)
    link = CustomerLinkFactory(line=turn.line, for_words="Aoife Merrin")
    signature = daily.sign_daily(docket=docket, signed=SIGNED, link=link, at=AT)
    assert (signature.link, signature.held_by) == (link, None)
    with pytest.raises(daily.DocketThere, match="Aoife Merrin"):
        daily.sign_daily(docket=docket, signed=SIGNED, by=desk, at=AT)
    entry = Entry.objects.filter(event="hire.daily_docket.signed").first()
    assert "Aoife Merrin, by the customer’s link" in entry.by_words


def test_sealed_it_is_never_changed(turn, desk):
    docket = make(turn, desk)
    for table in ("hire_dailydocket", "hire_dailysignature"):
        with (
            pytest.raises(IntegrityError, match="sealed"),
            transaction.atomic(),
            connection.cursor() as cursor,
        ):
            cursor.execute(f"DELETE FROM {table}")  # noqa: S608 - two names of our own
    assert DailyDocket.objects.get().pk == docket.pk


def again(**said):
    first = DailyDocketFactory()
    DailyDocketFactory(
        **{"turn": None, "line": first.line, "operator": first.operator, "on": first.on} | said
    )


def signature(**said):
    docket = DailyDocketFactory(unsigned_why="Gate shut")
    DailySignatureFactory(**{"docket": docket} | said)


@pytest.mark.parametrize(
    ("act", "name"),
    [
        (again, "hire_dailydocket_one_a_day"),
        (lambda: DailyDocketFactory(breaks=timedelta(hours=10)), "hire_dailydocket_worked_or_cancelled"),
        (lambda: DailyDocketFactory(cancelled_late=True), "hire_dailydocket_worked_or_cancelled"),
        (lambda: DailyDocketFactory(fuel_l=-1), "hire_dailydocket_not_below_zero"),
        (lambda: DailyDocketFactory(standby_hours=1), "hire_dailydocket_standby_says_why"),
        (lambda: DailyDocketFactory(replaces_why="x"), "hire_dailydocket_replaces_with_why"),
        (lambda: signature(name=""), "hire_dailysignature_whole"),
        (lambda: signature(kind="drawn"), "hire_dailysignature_whole"),
        (lambda: signature(held_by=None), "hire_dailysignature_one_way"),
    ],
)
def test_the_database_refuses_round_the_forms(act, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        act()
    assert DailySignature.objects.count() <= 1


# Days without a docket.


def days(have=(), *, stood=(), in_week=7, shifts=1):
    found = days_without(
        first=date(2026, 11, 27), last=date(2026, 11, 30), in_week=in_week, shifts_a_day=shifts, off=stood, have=set(have),
    )  # fmt: skip
    return [(on.day, shift) for on, shift in found]


def test_days_of_the_week_that_are_neither_stood_down_nor_written():
    friday, monday = date(2026, 11, 27), date(2026, 11, 30)
    assert days() == [(27, ""), (28, ""), (29, ""), (30, "")]
    assert days([(friday, True)], in_week=5) == [(30, "")]
    assert days(stood=[monday], in_week=6) == [(27, ""), (28, "")]
    assert days([(friday, False), (monday, False), (monday, True)], in_week=5, shifts=2) == [(27, "night")]


def test_the_missing_days_of_a_hire_up_to_yesterday(turn, desk):
    make(turn, desk)
    StandDown.objects.create(
        line=turn.line, on=date(2026, 11, 24), why="Rain", told_at=AT, told_by_words="Site"
    )
    DailyDocketFactory(turn=turn, on=date(2026, 11, 23), unsigned_why="Gate shut")
    # The 22nd is a Sunday, and this yard's hires work from Monday to Saturday unless somebody says otherwise.
    assert [one.on.day for one in missing_days([turn.line], at=AT)] == [26, 25]
    YardDayFactory(on=date(2026, 11, 25))
    assert [one.on.day for one in missing_days([turn.line], at=AT)] == [26]
    turn.line.agreement.days_in_week = 7
    turn.line.agreement.save()
    assert [one.on.day for one in missing_days([turn.line], at=AT)] == [26, 22]
    AgreedTermsFactory(line=turn.line, body=BODY | {"days_in_week": "5"})
    assert [one.on.day for one in missing_days([turn.line], at=AT)] == [26]
