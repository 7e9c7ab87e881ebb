"""Which day a cart comes in: one that costs no booking, or what must give. Common practice, no source: docs/services.md."""

from datetime import date, timedelta
from pathlib import Path

import pytest

from servicing.workshop_days import Job, Stay, suggest_day, together, working_days

# A Wednesday.
TODAY = date(2026, 11, 25)


def job(due, latest=None, minutes=120, key="service"):
    return Job(key, due, latest or due, minutes)


def day(visit, stays=(), taken=(), day_minutes=480, closed=frozenset()):
    found = suggest_day(
        visit, stays=stays, on=TODAY, taken_minutes=dict(taken), day_minutes=day_minutes, closed=closed
    )
    return found.kind, found.on


def stay(first, last, *, is_out=False, label="Callabar"):
    return Stay(first, last, label, is_out)


def test_the_last_free_working_day_before_it_falls_due():
    # 13 December is a Sunday.
    assert day([job(date(2026, 12, 13))]) == ("free", date(2026, 12, 11))


def test_the_day_it_falls_due_still_counts():
    assert day([job(date(2026, 12, 11))]) == ("free", date(2026, 12, 11))


def test_a_hire_in_the_way_is_stepped_round():
    away = stay(date(2026, 12, 3), date(2026, 12, 20))
    assert day([job(date(2026, 12, 11))], [away]) == ("free", date(2026, 12, 2))


def test_a_full_day_is_stepped_round_but_a_long_visit_may_have_an_empty_one():
    full = {date(2026, 12, 11): 400}
    assert day([job(date(2026, 12, 11))], taken=full) == ("free", date(2026, 12, 10))
    assert day([job(date(2026, 12, 11), minutes=900)], taken=full) == ("free", date(2026, 12, 10))


def test_a_day_the_yard_is_shut_is_stepped_round():
    assert day([job(date(2026, 12, 25))], closed=frozenset({date(2026, 12, 25)})) == (
        "free",
        date(2026, 12, 24),
    )


def test_where_none_is_free_the_first_within_what_it_may_wait():
    away = stay(TODAY, date(2026, 12, 14))
    assert day([job(date(2026, 12, 11), date(2026, 12, 20))], [away]) == ("late", date(2026, 12, 15))


def test_where_that_is_taken_too_something_must_give_and_is_named():
    away = stay(TODAY, date(2026, 12, 30), is_out=True)
    found = suggest_day([job(date(2026, 12, 11))], stays=[away], on=TODAY, taken_minutes={}, day_minutes=480)
    assert (found.kind, found.on, found.gives) == ("gives", date(2026, 12, 11), (away,))


def test_a_cart_out_without_end_is_never_free():
    away = stay(TODAY - timedelta(days=9), None, is_out=True)
    assert day([job(date(2026, 12, 11), date(2026, 12, 20))], [away])[0] == "gives"


def test_what_has_run_out_takes_the_next_free_day():
    away = stay(TODAY, TODAY + timedelta(days=1))
    assert day([job(date(2026, 11, 20))], [away]) == ("past", date(2026, 11, 27))


def test_due_this_weekend_with_no_working_day_left():
    saturday = date(2026, 11, 28)
    found = suggest_day([job(saturday)], stays=[], on=saturday, taken_minutes={}, day_minutes=480)
    assert (found.kind, found.on) == ("none", None)


@pytest.mark.parametrize(("apart", "visits"), [(14, 1), (15, 2)])
def test_jobs_within_two_weeks_of_the_first_are_one_visit(apart, visits):
    first = date(2026, 12, 1)
    assert len(together([job(first + timedelta(days=apart), key="b"), job(first, key="a")])) == visits


def test_a_chain_of_jobs_does_not_drag_the_first_along():
    days = [date(2026, 12, 1), date(2026, 12, 10), date(2026, 12, 20)]
    assert [[one.due_on for one in visit] for visit in together(job(day) for day in days)] == [
        days[:2],
        days[2:],
    ]


def test_one_visit_is_held_to_its_earliest_due_and_its_earliest_latest_day():
    away = stay(TODAY, date(2026, 12, 14))
    jobs = [
        job(date(2026, 12, 11), date(2026, 12, 12), key="a"),
        job(date(2026, 12, 12), date(2026, 12, 30), key="b"),
    ]
    assert day(jobs, [away])[0] == "gives"


def test_working_days_leave_out_weekends():
    assert [one.day for one in working_days(date(2026, 11, 27), date(2026, 12, 1))] == [27, 30, 1]


def test_a_visit_without_a_job_is_refused():
    with pytest.raises(ValueError, match="at least one job"):
        suggest_day([], stays=[], on=TODAY, taken_minutes={}, day_minutes=480)


def worked_rows():
    lines = Path("docs/services.md").read_text(encoding="utf-8").split("| falls due |")[1].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[: lines.index("")]]


@pytest.mark.parametrize("row", worked_rows(), ids=lambda row: f"{row[0]} {row[4]}")
def test_the_worked_table_of_the_page_is_true(row):
    due, latest, hire, on, kind = row
    ends = [date.fromisoformat(day) for day in hire.split(" to ")] if hire != "none" else []
    stays = [stay(*ends)] if ends else []
    found = day([job(date.fromisoformat(due), date.fromisoformat(latest))], stays)
    assert found == (kind, date.fromisoformat(on))
