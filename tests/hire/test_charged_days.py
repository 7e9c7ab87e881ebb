"""Which days are charged: stood down, cut off, across clock changes and by calendar months."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from hire.charges import (
    Hire,
    StandDown,
    StandDownTerms,
    best_rate,
    charge,
)
from tests.factories.charges import (
    ADELAIDE,
    BEST,
    CARD,
    ENGINE,
    broken,
    hire,
    rain,
    read,
    utc,
)


@pytest.mark.parametrize(
    ("claims", "terms", "days", "note"),
    [
        pytest.param([rain(10)], {}, 21, None, id="told in time"),
        pytest.param([rain(10, 7)], {}, 21, None, id="told on the stroke"),
        pytest.param(
            [rain(10, 8)], {}, 22, "told on 10 March 2026 at 08:00, after 07:00 that day", id="late"
        ),
        pytest.param(
            [replace(rain(10), told_at=None)], {}, 22, "nobody told the yard by 07:00", id="not told"
        ),
        pytest.param([rain(10, 23)], {"told_by": None}, 21, None, id="no hour asked"),
        pytest.param([rain(10, worked_hours=Decimal(2))], {}, 21, None, id="two hours on the clock"),
        pytest.param([rain(10, worked_hours=Decimal("2.1"))], {}, 22, "gained 2.1 h, over 2", id="it worked"),
        pytest.param([rain(10), rain(11)], {"cap_days": 1}, 21, "cap of 1 day is used", id="over the cap"),
        pytest.param([rain(10)], {"cap_days": 0}, 22, "cap of 0 days is used", id="no rain at all"),
        pytest.param([broken(10)], {"cap_days": 0}, 21, None, id="a breakdown has no cap"),
        pytest.param([broken(10, 11)], {}, 22, "notice came on 11 March 2026", id="before notice"),
        pytest.param([broken(11, 10)], {}, 21, None, id="the day after notice"),
        pytest.param([broken(10, lost_hours=Decimal(4))], {}, 21, None, id="at the threshold"),
        pytest.param([broken(10, lost_hours=Decimal("3.9"))], {}, 22, "3.9 h lost, under 4", id="under it"),
        pytest.param([broken(10, cause="tyres")], {}, 22, "caused by tyres", id="tyres"),
        pytest.param([broken(10, cause="misuse")], {}, 22, "caused by misuse", id="misuse"),
        pytest.param([replace(broken(10), told_at=None)], {}, 22, "no notice was given", id="no notice"),
        pytest.param([rain(30)], {}, 22, None, id="after the hire"),
    ],
)
def test_a_day_is_taken_off_or_noted(claims, terms, days, note):
    found = charge(hire(22, stand_downs=claims), terms=replace(BEST, stand_down=StandDownTerms(**terms)))
    assert found.hire_days == days
    assert [note in each for each in found.notes] == ([True] if note else [])


def test_the_hour_of_notice_is_that_of_the_place():
    told = datetime(2026, 3, 9, 20, 31, tzinfo=UTC)
    late = StandDown(date(2026, 3, 10), "rain", told)
    assert charge(hire(22, stand_downs=[late]), terms=BEST).notes[0].endswith("07:00 that day.")
    assert (
        charge(hire(22, stand_downs=[replace(late, told_at=told - timedelta(minutes=1))]), terms=BEST).notes
        == ()
    )


def test_hours_of_a_stood_down_day_do_not_count():
    daily = [read(2, 6, 1000), *(read(day, 18, 1000 + 8 * (day - 1)) for day in range(2, 9))]
    by_day = replace(BEST, hours=replace(ENGINE, pool="day"))
    assert len(charge(hire(7, readings=daily, stand_downs=[rain(4)]), terms=by_day).lines) == 1


@pytest.mark.parametrize(
    ("out_at", "off_at", "days"),
    [
        pytest.param(utc(2026, 4, 4, 13, 30), utc(2026, 4, 5, 14, 29), 1, id="a day of 25 hours"),
        pytest.param(utc(2026, 4, 4, 13, 29), utc(2026, 4, 5, 14, 30), 2, id="its edges, half-open"),
        pytest.param(utc(2026, 10, 3, 14, 30), utc(2026, 10, 4, 13, 29), 1, id="a day of 23 hours"),
        pytest.param(utc(2026, 10, 3, 14, 29), utc(2026, 10, 4, 13, 31), 3, id="and its edges"),
        pytest.param(utc(2026, 10, 3, 14, 30), utc(2026, 10, 4, 13, 30), 1, id="from midnight to midnight"),
    ],
)
def test_days_are_those_of_the_place(out_at, off_at, days):
    one = Hire(out_at, off_at, ADELAIDE)
    assert charge(one, terms=BEST).hire_days == days


def test_an_off_hire_in_the_hour_that_comes_twice_is_not_before_its_handover():
    handed_over = datetime(2026, 4, 5, 2, 45, tzinfo=ADELAIDE)
    called = datetime(2026, 4, 5, 2, 15, fold=1, tzinfo=ADELAIDE)
    assert charge(Hire(handed_over, called, ADELAIDE), terms=BEST).hire_days == 1
    with pytest.raises(ValueError, match="before the handover"):
        Hire(called, handed_over, ADELAIDE)


@given(st.dates(date(2026, 1, 1), date(2028, 12, 31)), st.integers(1, 400))
@settings(max_examples=60)
def test_calendar_months_run_to_the_same_day_of_the_next(first, days):
    out_at = datetime.combine(first, time(6), tzinfo=ADELAIDE)
    last = first + timedelta(days=days - 1)
    one = Hire(out_at, datetime.combine(last, time(15), tzinfo=ADELAIDE), ADELAIDE)
    costs = []
    for months in range(15):
        inside = min(max((first + relativedelta(months=months) - first).days, 0), days)
        rest = best_rate(days=days - inside, rates=CARD).total if inside < days else 0
        costs.append(months * Decimal(4700) + rest)
    terms = replace(BEST, month="calendar", month_price=Decimal(4700))
    assert charge(one, terms=terms).net == min(costs)


def test_a_cut_off_stops_the_day_of_the_call():
    early = replace(BEST, cut_off=time(16))
    assert (charge(hire(3), terms=early).hire_days, charge(hire(3), terms=BEST).hire_days) == (2, 3)
