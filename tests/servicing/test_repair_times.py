"""What a repair is expected to take: the worked table of docs/workshop.md, and the table rebuilt from the yard's own jobs."""

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from fleet.models.defects import DefectStep
from people.roles import Role
from servicing.actions import repairs
from servicing.actions.learning import rebuild_repair_times
from servicing.models.jobs import RepairTime, TimeOnJob
from servicing.repair_times import PRIOR_COUNTS_AS, WORKING_DAY, estimate, time_taken
from tests.factories.fleet import DefectFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW

MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
PAGE = Path(__file__).resolve().parents[2] / "docs/workshop.md"


def worked_rows():
    """(what past repairs took, prior, expected, middle half), minutes, from the page's worked table."""
    table = PAGE.read_text().split("## How long a repair is expected to take")[1].split("\n## ")[0]
    rows = [line.strip("|").split("|") for line in table.splitlines() if re.match(r"\| *(none|[0-9])", line)]
    for taken, prior, expected, middle in ([cell.strip() for cell in row] for row in rows):
        numbers = [] if taken == "none" else [int(one) for one in taken.split(", ")]
        low, _, high = middle.partition(" to ")
        yield numbers, int(prior), float(expected), (float(low), float(high)) if high else None


@pytest.mark.parametrize(("taken", "prior", "expected", "middle"), list(worked_rows()))
def test_the_worked_table(taken, prior, expected, middle):
    found = estimate(taken=[one * MINUTE for one in taken], prior=prior * MINUTE)

    assert found.expected / MINUTE == pytest.approx(expected, abs=0.05)
    assert found.repairs == len(taken)
    if middle is None:
        assert found.low is None
        assert found.high is None
    else:
        assert (found.low / MINUTE, found.high / MINUTE) == pytest.approx(middle, abs=0.05)


def test_there_is_a_worked_table():
    assert len(list(worked_rows())) >= 5


def test_many_repairs_leave_little_of_what_is_usual():
    assert estimate(taken=[90 * MINUTE] * 95, prior=30 * MINUTE).expected == 87 * MINUTE
    assert PRIOR_COUNTS_AS == 5


def test_stretches_add_up_and_each_is_a_working_day_at_most():
    assert time_taken([(NOW, NOW + HOUR), (NOW + 2 * HOUR, NOW + 4 * HOUR)]) == 3 * HOUR
    assert time_taken([(NOW, NOW + WORKING_DAY)]) == WORKING_DAY
    assert time_taken([(NOW, NOW + 60 * HOUR)]) == WORKING_DAY
    assert time_taken([]) == timedelta(0)
    with pytest.raises(ValueError, match="before it starts"):
        time_taken([(NOW, NOW - MINUTE)])


@pytest.mark.parametrize(("taken", "prior"), [([timedelta(0)], HOUR), ([HOUR], timedelta(0))])
def test_a_repair_takes_some_time(taken, prior):
    with pytest.raises(ValueError, match="some time"):
        estimate(taken=taken, prior=prior)


def done(check_key, *, start, took, clocked=None):
    """A closed defect of a check, begun and done by its steps; clocked: what its fitter put down."""
    defect = DefectFactory(grade="by_date", state="verified", check_key=check_key)
    for state, at in (("in_repair", start), ("repaired", start + took)):
        DefectStep(defect=defect, at=at, by_words="Fitter", after_state=state, after_grade="by_date").save(
            force_insert=True
        )
    if clocked:
        TimeOnJob.objects.create(
            defect=defect, by=defect.repaired_by, started_at=start, ended_at=start + clocked
        )
    return defect


@pytest.mark.django_db
def test_the_table_is_rebuilt_from_time_put_down_else_from_begun_to_done():
    done("hose-weeps", start=NOW, took=3 * HOUR, clocked=HOUR)
    done("hose-weeps", start=NOW, took=2 * HOUR)
    done("", start=NOW, took=HOUR)
    RepairTime.objects.create(check_key="gone", grade="watch", expected_minutes=5, repairs=1, made_at=NOW)

    assert rebuild_repair_times(at=NOW) == 1

    # Median 90 min of 2, drawn towards 2 h, 1 h and 30 min as if those were 5 more.
    found = dict(RepairTime.objects.values_list("grade", "expected_minutes"))
    assert found == {"do_not_use": 112, "by_date": 69, "watch": 48}
    assert set(RepairTime.objects.values_list("check_key", "repairs", "low_minutes")) == {
        ("hose-weeps", 2, None)
    }
    assert rebuild_repair_times(at=NOW + HOUR) == 1
    assert RepairTime.objects.count() == 3


@pytest.mark.django_db
def test_a_repair_sent_back_counts_both_its_stretches(people):
    fitter, other = people[Role.FITTER], StaffFactory(role="fitter")
    defect = DefectFactory(grade="watch", state="assessed", check_key="belt-frayed")
    version = 1
    for act, by, after, words in (
        (repairs.start_repair, fitter, 0, None),
        (repairs.record_repair, fitter, 60, "Belt."),
        (repairs.send_back, other, 90, "Squeals."),
        (repairs.record_repair, fitter, 120, "Tightened."),
        (repairs.give_second_look, other, 150, ""),
    ):
        typed = {} if words is None else {"words": words}
        act(defect=defect, version=version, by=by, at=NOW + after * MINUTE, **typed)
        version += 1

    rebuild_repair_times(at=NOW + HOUR)

    # 60 and 30 minutes: 90, drawn towards 30: (90 + 5 x 30) / 6.
    assert RepairTime.objects.get(grade="watch").expected_minutes == 40


@pytest.mark.django_db
def test_many_repairs_cost_as_many_queries_as_few():
    def cost(count):
        for number in range(count):
            done(f"check-{number % 3}", start=NOW, took=HOUR)
        with CaptureQueriesContext(connection) as queries:
            rebuild_repair_times(at=NOW)
        return len([one for one in queries if "FETCH" not in one["sql"]])

    assert cost(3) == cost(27)


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("wrong", "rule"),
    [
        ({"expected_minutes": 0}, "servicing_repairtime_takes_some_time"),
        ({}, "servicing_repairtime_one_a_check_and_grade"),
    ],
)
def test_the_database_keeps_one_time_a_check_and_grade_and_it_is_some(wrong, rule):
    row = {"check_key": "a", "grade": "watch", "expected_minutes": 5, "repairs": 1, "made_at": NOW}
    RepairTime.objects.create(**row)

    with pytest.raises(IntegrityError, match=rule):
        RepairTime.objects.create(**row | ({"check_key": "b"} | wrong if wrong else {}))
