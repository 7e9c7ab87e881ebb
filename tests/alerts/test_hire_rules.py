"""Pre-starts owed by the hire's own day, and pre-hire checks that will not hold at the gate."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from fleet.models.carts import Cart
from hire.models.agreements import Line, StandDown
from hire.shifts import LOOK_BACK, Hours, Work, last_owed_shift, running_shift
from hire.watch import pre_hires_missing, pre_starts_lapsed
from people.roles import Role
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.inspections import sign
from tests.factories.servicing import NOW, line_of


def adelaide(day, hour, minute=0, *, month=12, utc_offset_min=630):
    """A local time of 2026; UTC+10:30 in summer time, UTC+9:30 out of it."""
    return datetime(2026, month, day, hour, minute, tzinfo=UTC) - timedelta(minutes=utc_offset_min)


def hours(zone="Australia/Adelaide", shifts_a_day=1):
    return Hours(ZoneInfo(zone), shifts_a_day, by=time(9), second_at=time(18))


def out_since(moment, zone="Australia/Adelaide"):
    return moment, hours(zone)


def owed(line, at, *stood_down):
    moment, its_hours = line
    found = last_owed_shift(work(its_hours, moment, stood_down, at), at=at)
    return found.shift.on if found else None


def work(its_hours, moment, stood_down, at):
    return Work(its_hours, moment, at - LOOK_BACK, stood_down=frozenset(stood_down))


WEEKS_AGO = adelaide(10, 10, month=11)


@pytest.mark.parametrize(
    ("at", "day"),
    [
        pytest.param(adelaide(1, 8, 59), date(2026, 11, 30), id="before the hour yesterday's is owed"),
        pytest.param(adelaide(1, 9), date(2026, 12, 1), id="at the hour today's"),
        pytest.param(adelaide(1, 23, 59), date(2026, 12, 1), id="late that night still today's"),
        pytest.param(adelaide(2, 0), date(2026, 12, 1), id="midnight clears nothing"),
        pytest.param(adelaide(2, 8, 59), date(2026, 12, 1), id="nor does the next morning"),
    ],
)
def test_a_pre_start_is_owed_from_its_hour_until_the_next_one_is(at, day):
    assert owed(out_since(WEEKS_AGO), at) == day


def test_the_day_it_was_handed_over_owes_none():
    line = out_since(adelaide(1, 6))

    assert owed(line, adelaide(1, 10)) is None
    assert owed(line, adelaide(2, 8, 59)) is None
    assert owed(line, adelaide(2, 9)) == date(2026, 12, 2)


def test_a_cart_that_has_not_left_owes_none():
    assert owed(out_since(None), adelaide(1, 10)) is None


def test_a_stood_down_day_is_not_owed_and_the_day_before_it_still_is():
    line = out_since(WEEKS_AGO)

    assert owed(line, adelaide(1, 10), date(2026, 12, 1)) == date(2026, 11, 30)
    assert owed(out_since(adelaide(30, 6, month=11)), adelaide(1, 10), date(2026, 12, 1)) is None


def test_the_day_and_hour_are_the_hire_s_own():
    perth = out_since(WEEKS_AGO, "Australia/Perth")

    # 9 am in Adelaide is 6.30 am in Perth (UTC+8).
    assert owed(perth, adelaide(1, 9)) == date(2026, 11, 30)
    assert owed(perth, datetime(2026, 12, 1, 1, 0, tzinfo=UTC)) == date(2026, 12, 1)


def test_the_hour_holds_on_the_days_the_clocks_change():
    line = out_since(datetime(2026, 3, 1, tzinfo=UTC))
    # Summer time ends on 5 April 2026 at 3 am and begins on 4 October at 2 am in South Australia.
    assert owed(line, adelaide(5, 8, 59, month=4, utc_offset_min=570)) == date(2026, 4, 4)
    assert owed(line, adelaide(5, 9, month=4, utc_offset_min=570)) == date(2026, 4, 5)
    assert owed(line, adelaide(4, 8, 59, month=10)) == date(2026, 10, 3)
    assert owed(line, adelaide(4, 9, month=10)) == date(2026, 10, 4)


def night_and_day(at, *stood_down, since=None, ask=last_owed_shift):
    found = ask(work(hours(shifts_a_day=2), since or WEEKS_AGO, stood_down, at), at=at)
    shift = getattr(found, "shift", found)
    return shift and (shift.words, shift.on.day)


@pytest.mark.parametrize(
    ("at", "shift"),
    [
        pytest.param(
            adelaide(1, 8, 59), ("night shift", 30), id="before the day's hour last night's is owed"
        ),
        pytest.param(adelaide(1, 9), ("day shift", 1), id="from its hour the day's"),
        pytest.param(adelaide(1, 20, 59), ("day shift", 1), id="in the evening still the day's"),
        pytest.param(adelaide(1, 21), ("night shift", 1), id="twelve hours later the night's"),
        pytest.param(adelaide(2, 3), ("night shift", 1), id="midnight clears nothing"),
    ],
)
def test_a_cart_at_work_day_and_night_owes_one_for_each_shift(at, shift):
    assert night_and_day(at) == shift


def test_a_stood_down_day_takes_both_its_shifts():
    assert night_and_day(adelaide(1, 22), date(2026, 12, 1)) == ("night shift", 30)


def test_the_shift_it_was_handed_over_in_owes_none():
    assert night_and_day(adelaide(1, 20), since=adelaide(1, 7)) is None
    assert night_and_day(adelaide(1, 21), since=adelaide(1, 7)) == ("night shift", 1)
    # Handed over within the hour before the night shift: its gate-out check is that shift's.
    assert night_and_day(adelaide(1, 22), since=adelaide(1, 17, 30)) is None


@pytest.mark.parametrize(
    ("at", "shift"),
    [
        (adelaide(1, 4, 59), ("night shift", 30)),
        (adelaide(1, 5), ("day shift", 1)),
        (adelaide(1, 16, 59), ("day shift", 1)),
        (adelaide(1, 17), ("night shift", 1)),
        (adelaide(2, 4, 59), ("night shift", 1)),
    ],
)
def test_the_shift_that_runs_takes_what_is_signed_within_the_hour_before_it(at, shift):
    assert night_and_day(at, ask=running_shift) == shift


def test_no_pre_start_is_wanted_for_a_shift_stood_down_or_handed_over_in():
    assert night_and_day(adelaide(1, 10), date(2026, 12, 1), ask=running_shift) is None
    assert night_and_day(adelaide(1, 10), since=adelaide(1, 7), ask=running_shift) is None
    assert running_shift(work(hours(), None, (), TEN), at=TEN) is None


def lapsed(at):
    return list(pre_starts_lapsed(at))


TEN = adelaide(1, 10)


@pytest.fixture
def out_line(db):
    return line_of(CartFactory(), starts_at=WEEKS_AGO, out_at=WEEKS_AGO)


def test_a_cart_at_work_without_its_pre_start_is_told_to_the_hire_desk(out_line):
    (found,) = lapsed(TEN)

    assert (found.subject_kind, found.subject_id, found.for_role) == (
        "hire_line",
        out_line.pk,
        Role.HIRE_DESK,
    )
    assert found.due_at == adelaide(1, 9)
    assert (
        found.what
        == f"{out_line.cart.fleet_number} has no pre-start for Tuesday 1 December at Saltbush Road widening."
    )
    assert "None has been signed on this hire." in found.how_we_know


def test_today_s_pre_start_clears_it_and_yesterday_s_does_not(out_line, people):
    sign(out_line.cart, "daily", by=people[Role.YARD_HAND], at=adelaide(30, 6, month=11))
    assert len(lapsed(TEN)) == 1

    sign(out_line.cart, "daily", by=people[Role.YARD_HAND], at=adelaide(1, 6))

    assert lapsed(TEN) == []
    assert lapsed(adelaide(2, 8, 59)) == []
    assert len(lapsed(adelaide(2, 9))) == 1


def test_another_check_is_no_pre_start(out_line, people):
    sign(out_line.cart, "gate_out", by=people[Role.YARD_HAND], at=adelaide(1, 6))

    assert len(lapsed(TEN)) == 1


def test_a_stood_down_day_clears_it(db):
    line = line_of(CartFactory(), starts_at=adelaide(30, 6, month=11), out_at=adelaide(30, 6, month=11))
    assert len(lapsed(TEN)) == 1

    StandDown.objects.create(
        line=line, on=date(2026, 12, 1), why="Rain", told_at=TEN, told_by_words="Site office"
    )

    assert lapsed(TEN) == []


@pytest.mark.parametrize("book", ["theirs", "system"])
def test_a_hire_that_keeps_its_own_book_raises_none(db, book):
    line_of(CartFactory(), starts_at=WEEKS_AGO, out_at=WEEKS_AGO, pre_start_book=book)

    assert lapsed(TEN) == []


def test_a_cart_that_is_back_owes_none(out_line):
    Line.objects.filter(pk=out_line.pk).update(back_at=adelaide(30, 17, month=11))

    assert lapsed(TEN) == []


def test_one_alert_goes_through_the_night_as_one_row(out_line):
    sweep(at=TEN)
    first = Alert.objects.get(rule="hire.pre_start_lapsed")
    for at in (adelaide(1, 23, 59), adelaide(2, 0, 1), adelaide(2, 9, 1)):
        sweep(at=at)

    kept = Alert.objects.get(rule="hire.pre_start_lapsed")
    assert (kept.pk, kept.raised_at, kept.cleared_at) == (first.pk, TEN, None)
    assert "Wednesday 2 December" in kept.what


def missing(at=NOW):
    return [one.subject_id for one in pre_hires_missing(at)]


@pytest.mark.django_db
@pytest.mark.parametrize(("hours", "told"), [(25, False), (24, True), (1, True), (-2, True)])
def test_a_cart_due_out_without_a_pre_hire_check_is_told_a_day_ahead(hours, told):
    line = line_of(CartFactory(), starts_at=NOW + timedelta(hours=hours))

    assert missing() == ([line.pk] if told else [])


@pytest.mark.django_db
def test_what_is_told_names_the_cart_the_hour_and_the_fault():
    line = line_of(CartFactory(), starts_at=NOW + timedelta(hours=3))

    (found,) = pre_hires_missing(NOW)

    assert found.for_role == Role.WORKSHOP_MANAGER
    assert (
        found.what == f"{line.cart.fleet_number} leaves today 10.30 am and its pre-hire check does not hold."
    )
    assert found.how_we_know == "No pre-hire check has been signed."
    assert found.due_at == line.promised.lower


@pytest.fixture
def checked(people):
    """A cart leaving in twenty hours whose pre-hire check was signed two hours ago."""
    line = line_of(CartFactory(), starts_at=NOW + timedelta(hours=20))
    sign(line.cart, "pre_hire", by=people[Role.YARD_HAND], at=NOW - timedelta(hours=2))
    return line


def test_a_check_that_holds_raises_none(checked):
    assert missing() == []


def test_a_cart_moved_since_its_check_is_told(checked):
    Cart.objects.filter(pk=checked.cart_id).update(last_moved_at=NOW - timedelta(hours=1))

    (found,) = pre_hires_missing(NOW)
    assert found.how_we_know.startswith("The cart has moved since its pre-hire check")


def test_a_cart_worked_on_since_its_check_is_told(checked):
    DefectFactory(
        cart=checked.cart,
        state="repaired",
        told_at=NOW - timedelta(hours=4),
        repaired_at=NOW - timedelta(hours=1),
    )

    (found,) = pre_hires_missing(NOW)
    assert found.how_we_know.startswith("The cart was worked on since its pre-hire check")


def test_a_check_that_will_be_too_old_at_the_gate_is_told(people):
    line = line_of(CartFactory(), starts_at=NOW + timedelta(hours=20))
    # The yard's limit is 72 hours: 52 hours old now, 72 at the gate.
    sign(line.cart, "pre_hire", by=people[Role.YARD_HAND], at=NOW - timedelta(hours=52))
    assert missing() == [line.pk]

    later = line_of(CartFactory(), starts_at=NOW + timedelta(hours=20))
    sign(later.cart, "pre_hire", by=people[Role.YARD_HAND], at=NOW - timedelta(hours=51))
    assert missing() == [line.pk]


def test_a_cart_that_has_left_or_a_cancelled_hire_asks_for_none(db):
    line_of(CartFactory(), starts_at=NOW - timedelta(hours=2), out_at=NOW - timedelta(hours=1))
    cancelled = line_of(CartFactory(), starts_at=NOW + timedelta(hours=2))
    Line.objects.filter(pk=cancelled.pk).update(cancelled_at=NOW)

    assert missing() == []
