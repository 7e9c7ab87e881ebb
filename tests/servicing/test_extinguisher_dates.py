"""Rules of the extinguisher calendar: what counts from what, month ends, and what is refused."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from servicing.extinguishers import (
    AGENTS,
    INCLUSIONS,
    KIND_WORDS,
    REGIMES,
    due_dates,
    end_of_life,
    kinds_for,
    last_start,
)
from servicing.intervals import add_months

MADE_ON = date(2020, 1, 15)
TODAY = date(2026, 6, 15)
MONTHS = (1, 6, 12, 36, 60, 72, 120, 144)
ALL_PAIRS = [(regime, agent) for regime in REGIMES for agent in AGENTS]


def due(
    regime: str, agent: str, *events: tuple[str, date], made_on: date = MADE_ON, on: date = TODAY
) -> dict[str, date]:
    services = due_dates(regime=regime, agent=agent, made_on=made_on, events=events, on=on)
    return {service.kind: service.on for service in services}


@given(on=st.dates(date(2000, 1, 1), date(2100, 1, 1)), months=st.integers(1, 150))
def test_the_last_start_is_the_last_day_that_ends_in_time(on: date, months: int) -> None:
    start = last_start(on, months)
    assert add_months(start, months) <= on < add_months(start + timedelta(days=1), months)


@pytest.mark.parametrize(("regime", "agent"), ALL_PAIRS)
def test_without_a_record_every_kind_counts_from_manufacture(regime: str, agent: str) -> None:
    found = due(regime, agent)
    assert tuple(sorted(found, key=found.__getitem__)) == kinds_for(regime=regime, agent=agent)
    assert all(day > MADE_ON for day in found.values())


@pytest.mark.parametrize(("regime", "agent"), ALL_PAIRS)
def test_results_come_soonest_first_with_a_source_each(regime: str, agent: str) -> None:
    services = due_dates(regime=regime, agent=agent, made_on=MADE_ON, events=(), on=TODAY)
    days = [service.on for service in services]
    assert days == sorted(days)
    assert all(service.source.startswith("FE-") for service in services)
    assert all(service.kind in KIND_WORDS for service in services)


@pytest.mark.parametrize(("regime", "agent"), ALL_PAIRS)
def test_doing_a_service_moves_it_and_only_what_it_includes(regime: str, agent: str) -> None:
    before = due(regime, agent)
    for kind in before:
        after = due(regime, agent, (kind, TODAY))
        moved = {other for other, day in after.items() if day != before[other]}
        included = {
            k for inclusion in INCLUSIONS[regime] if inclusion.kind == kind for k in inclusion.includes
        }
        assert moved == ({kind} | included) & set(before)
        assert all(after[other] > before[other] for other in moved)


def test_the_latest_of_a_kind_and_of_what_includes_it_counts() -> None:
    yearly_later = (("routine_6_month", date(2026, 1, 10)), ("routine_12_month", date(2026, 3, 10)))
    assert due("au", "foam", *yearly_later)["routine_6_month"] == date(2026, 9, 10)
    six_month_later = (("routine_12_month", date(2026, 1, 10)), ("routine_6_month", date(2026, 3, 10)))
    assert due("au", "foam", *six_month_later)["routine_6_month"] == date(2026, 9, 10)
    assert due("au", "foam", *six_month_later)["routine_12_month"] == date(2027, 1, 10)


def test_the_order_of_the_record_does_not_matter() -> None:
    events = [("routine_6_month", date(2025, month, 5)) for month in (1, 7, 4)]
    assert due("au", "co2", *events) == due("au", "co2", *reversed(events))
    assert due("au", "co2", *events)["routine_6_month"] == date(2026, 1, 5)


@pytest.mark.parametrize(
    ("days_from_today", "expected"),
    [
        pytest.param(-1, date(2026, 12, 14), id="done the day before"),
        pytest.param(0, date(2026, 12, 15), id="done today"),
        pytest.param(1, date(2020, 7, 15), id="done tomorrow is not done yet"),
    ],
)
def test_only_what_is_done_by_the_day_asked_counts(days_from_today: int, expected: date) -> None:
    event = ("routine_6_month", TODAY + timedelta(days=days_from_today))
    assert due("au", "water", event)["routine_6_month"] == expected


def test_an_overdue_day_stays_in_the_past() -> None:
    overdue_on = due("au", "dry_chemical", on=date(2040, 1, 1))["pressure_test"]
    assert overdue_on == date(2025, 1, 15)


def test_the_day_asked_moves_nothing_else() -> None:
    assert due("us", "co2", on=date(2020, 1, 15)) == due("us", "co2", on=date(2035, 1, 1))


def test_ties_put_the_lighter_service_first() -> None:
    services = due_dates(regime="us", agent="co2", made_on=MADE_ON, events=(), on=TODAY)
    assert [service.kind for service in services][-2:] == ["internal_examination", "hydrotest"]
    assert services[-1].on == services[-2].on


def test_a_service_of_another_rule_set_is_ignored() -> None:
    assert due("au", "co2", ("hydrotest", TODAY)) == due("au", "co2")


def test_made_on_a_leap_day() -> None:
    found = due("au", "dry_chemical", made_on=date(2024, 2, 29))
    assert found["routine_12_month"] == date(2025, 2, 28)
    assert found["pressure_test"] == date(2029, 2, 28)


@pytest.mark.parametrize(
    ("regime", "agent", "event", "sentence"),
    [
        pytest.param("nz", "co2", (), "'nz' is not a rule set", id="regime"),
        pytest.param("au", "powder", (), "'powder' is not an extinguisher agent", id="agent"),
        pytest.param("au", "co2", (("poked", TODAY),), "'poked' is not a kind of extinguisher", id="event"),
        pytest.param(
            "au", "co2", (("poked", date(2050, 1, 1)),), "'poked' is not a kind of", id="event in the future"
        ),
    ],
)
def test_an_unknown_word_is_refused_in_a_sentence(
    regime: str, agent: str, event: tuple[tuple[str, date], ...], sentence: str
) -> None:
    with pytest.raises(ValueError, match=sentence):
        due_dates(regime=regime, agent=agent, made_on=MADE_ON, events=event, on=TODAY)


@pytest.mark.parametrize(("regime", "agent"), ALL_PAIRS)
@given(made_on=st.dates(date(1990, 1, 1), date(2030, 12, 31)), done_after=st.integers(0, 4000))
def test_every_due_day_is_dateutils_months_from_its_last_service(
    regime: str, agent: str, made_on: date, done_after: int
) -> None:
    done_on = made_on + timedelta(done_after)
    on = done_on + timedelta(1)
    for kind in kinds_for(regime=regime, agent=agent):
        fresh = due(regime, agent, made_on=made_on, on=on)[kind]
        months = next(m for m in MONTHS if made_on + relativedelta(months=m) == fresh)
        again = due(regime, agent, (kind, done_on), made_on=made_on, on=on)[kind]
        assert again == done_on + relativedelta(months=months)


@given(made_on=st.dates(date(1990, 1, 1), date(2030, 12, 31)))
def test_the_end_of_life_is_dateutils_years_from_manufacture(made_on: date) -> None:
    us = end_of_life(regime="us", agent="dry_chemical", made_on=made_on, is_rechargeable=False)
    assert us.on == made_on + relativedelta(years=12)
    assert end_of_life(regime="uk", agent="co2", made_on=made_on).on == made_on + relativedelta(years=20)


@pytest.mark.parametrize("agent", AGENTS)
def test_no_end_of_life_where_no_row_gives_one(agent: str) -> None:
    assert end_of_life(regime="au", agent=agent, made_on=MADE_ON, is_rechargeable=False) is None
    assert end_of_life(regime="us", agent=agent, made_on=MADE_ON) is None


def test_an_end_of_life_is_no_service() -> None:
    assert "end_of_life" not in KIND_WORDS
    with pytest.raises(ValueError, match="rule set"):
        end_of_life(regime="nz", agent="foam", made_on=MADE_ON)
    with pytest.raises(ValueError, match="agent"):
        end_of_life(regime="uk", agent="halon", made_on=MADE_ON)
