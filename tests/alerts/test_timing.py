"""When a notice may go and who is next, against tables: quiet hours, weekends, the days the clocks change."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from fleet.alerts.timing import Hours, available_at, is_last_step, is_working, next_up, steps

ADELAIDE = ZoneInfo("Australia/Adelaide")
HOURS = Hours(
    zone=ADELAIDE,
    quiet_from=time(18),
    quiet_until=time(6),
    digest_at=time(6, 30),
    working_days=frozenset(range(6)),
    stop_after=(timedelta(minutes=15), timedelta(minutes=45)),
)


def local(words):
    """A local time of the yard, as in "2026-12-01 02:10"."""
    return datetime.fromisoformat(words).replace(tzinfo=ADELAIDE).astimezone(UTC)


# Tuesday 1 December 2026. In 2026 summer time ends on Sunday 5 April at 3 am and begins on Sunday 4 October at 2 am.
FIRST = [
    ("stop", "2026-12-01 02:10", "2026-12-01 02:10"),
    ("stop", "2026-12-06 14:00", "2026-12-06 14:00"),
    ("today", "2026-12-01 05:59", "2026-12-01 06:00"),
    ("today", "2026-12-01 06:00", "2026-12-01 06:00"),
    ("today", "2026-12-01 17:59", "2026-12-01 17:59"),
    ("today", "2026-12-01 18:00", "2026-12-02 06:00"),
    ("today", "2026-12-01 23:59", "2026-12-02 06:00"),
    ("today", "2026-12-05 18:00", "2026-12-07 06:00"),
    ("today", "2026-12-06 10:00", "2026-12-07 06:00"),
    ("soon", "2026-12-01 06:29", "2026-12-01 06:30"),
    ("soon", "2026-12-01 06:30", "2026-12-01 06:30"),
    ("soon", "2026-12-01 06:31", "2026-12-02 06:30"),
    ("soon", "2026-12-05 10:00", "2026-12-07 06:30"),
    ("today", "2026-04-04 19:00", "2026-04-06 06:00"),
    ("soon", "2026-04-04 10:00", "2026-04-06 06:30"),
    ("today", "2026-10-03 19:00", "2026-10-05 06:00"),
    ("soon", "2026-10-03 10:00", "2026-10-05 06:30"),
]


@pytest.mark.parametrize(("rank", "found", "told"), FIRST)
def test_each_rank_waits_for_its_hour(rank, found, told):
    assert available_at(rank, at=local(found), hours=HOURS) == local(told)


@pytest.mark.parametrize(("rank", "found", "told"), FIRST)
def test_what_is_available_stays_so(rank, found, told):
    """Asked again at its own time, a notice is not put off once more."""
    moment = available_at(rank, at=local(found), hours=HOURS)
    assert available_at(rank, at=moment, hours=HOURS) == moment


EVERY_DAY = Hours(
    zone=ADELAIDE, quiet_from=time(18), quiet_until=time(2, 30), digest_at=time(2, 30), working_days=frozenset(range(7)),
    stop_after=(timedelta(minutes=15), timedelta(minutes=45)),
)  # fmt: skip


@pytest.mark.parametrize(
    ("found", "told"),
    [
        pytest.param(
            "2026-10-03T15:30:00+00:00", "2026-10-03T17:00:00+00:00", id="2.30 am is skipped: 3.30 am"
        ),
        pytest.param("2026-10-03T17:00:00+00:00", "2026-10-03T17:00:00+00:00", id="at that time itself"),
        pytest.param(
            "2026-04-04T15:00:00+00:00", "2026-04-04T16:00:00+00:00", id="2.30 am comes twice: the first"
        ),
        pytest.param(
            "2026-04-04T16:30:00+00:00", "2026-04-05T17:00:00+00:00", id="between the two: tomorrow"
        ),
    ],
)
def test_a_digest_in_the_hour_the_clocks_change_comes_once(found, told):
    assert available_at("soon", at=datetime.fromisoformat(found), hours=EVERY_DAY) == datetime.fromisoformat(
        told
    )


@pytest.mark.parametrize(
    ("rank", "found", "due"),
    [
        ("stop", "2026-12-01 02:10", ["2026-12-01 02:10", "2026-12-01 02:25", "2026-12-01 02:55"]),
        ("today", "2026-12-01 10:00", ["2026-12-01 10:00", "2026-12-02 10:00"]),
        ("today", "2026-12-01 19:00", ["2026-12-02 06:00", "2026-12-03 06:00"]),
        ("today", "2026-12-05 10:00", ["2026-12-05 10:00", "2026-12-07 10:00"]),
        ("today", "2026-10-03 10:00", ["2026-10-03 10:00", "2026-10-05 10:00"]),
        ("today", "2026-04-04 10:00", ["2026-04-04 10:00", "2026-04-06 10:00"]),
        ("soon", "2026-12-01 10:00", ["2026-12-02 06:30"]),
    ],
)
def test_each_step_up_the_line_has_its_time(rank, found, due):
    assert steps(rank, at=local(found), hours=HOURS) == tuple(local(words) for words in due)


def test_a_quarter_of_an_hour_is_one_over_the_change_of_the_clocks():
    before = datetime(2026, 10, 3, 16, 25, tzinfo=UTC)
    first, second, third = steps("stop", at=before, hours=HOURS)
    assert (second - first, third - first) == (timedelta(minutes=15), timedelta(minutes=45))


@pytest.mark.parametrize(
    ("moment", "at_work"),
    [
        ("2026-12-01 06:00", True),
        ("2026-12-01 05:59", False),
        ("2026-12-01 18:00", False),
        ("2026-12-06 10:00", False),
    ],
)
def test_when_the_yard_is_at_work(moment, at_work):
    assert is_working(local(moment), hours=HOURS) is at_work


@pytest.mark.parametrize(
    "wrong",
    [
        {"working_days": frozenset()},
        {"quiet_from": time(5)},
        {"quiet_from": time(6)},
        {"digest_at": time(5, 59)},
        {"digest_at": time(18)},
    ],
)
def test_hours_that_would_never_tell_are_refused(wrong):
    with pytest.raises(ValueError, match=r"working day|Quiet hours|digest"):
        Hours(**vars(HOURS) | wrong)


def test_a_rank_nobody_knows_is_an_error():
    with pytest.raises(KeyError):
        available_at("some day", at=local("2026-12-01 10:00"), hours=HOURS)


LINE = {"on_call": ["teo", "bruna"], "of_role": ["bruna", "carl"], "managers": ["noor"]}
EVERYBODY = {"teo", "bruna", "carl", "noor"}


@pytest.mark.parametrize(
    "case",
    [
        pytest.param(("stop", False, [], EVERYBODY, {}, "teo"), id="a stop: first on call"),
        pytest.param(("stop", False, ["teo"], EVERYBODY, {}, "bruna"), id="then second on call"),
        pytest.param(("stop", False, ["teo"], EVERYBODY, {"on_call": ["teo"]}, "bruna"), id="then the role"),
        pytest.param(("stop", True, ["teo", "bruna"], EVERYBODY, {}, "noor"), id="last the fleet manager"),
        pytest.param(("stop", True, ["noor"], EVERYBODY, {}, None), id="who is not told twice"),
        pytest.param(("stop", False, [], EVERYBODY, {"on_call": []}, "bruna"), id="an empty roster: the role"),
        pytest.param(("stop", False, [], EVERYBODY, {"on_call": [], "of_role": []}, "noor"), id="nobody else"),
        pytest.param(("stop", False, [], {"bruna"}, {}, "bruna"), id="who can be reached comes first"),
        pytest.param(("stop", False, [], set(), {}, "teo"), id="nobody can: the first, on screen"),
        pytest.param(("today", False, [], EVERYBODY, {}, "bruna"), id="today: of the role, who is on call"),
        pytest.param(("today", False, [], EVERYBODY, {"on_call": ["teo", "carl"]}, "carl"), id="not another role's"),
        pytest.param(("today", True, ["bruna"], EVERYBODY, {}, "noor"), id="today, a day later"),
        pytest.param(("soon", False, [], EVERYBODY, {"on_call": []}, "bruna"), id="soon: the role"),
        pytest.param(("soon", False, [], set(), {"on_call": [], "of_role": [], "managers": []}, None), id="nobody"),
    ],
)  # fmt: skip
def test_who_is_next_up_the_line(case):
    rank, is_last, told, reachable, changes, who = case
    found = next_up(rank=rank, is_last=is_last, reachable=reachable, told=told, **LINE | changes)
    assert found == who


def test_the_last_step_is_the_fleet_managers():
    assert [is_last_step("stop", step, hours=HOURS) for step in range(3)] == [False, False, True]
    assert [is_last_step("today", step, hours=HOURS) for step in range(2)] == [False, True]
