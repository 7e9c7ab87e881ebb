"""When nuts are checked again and when that is overdue: the page's table, its boundaries, and what no table may hold."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from servicing.retorque import EXAMPLES, KM_RULES, SETTLE, km_run, standing

PAGE = Path(__file__).parents[2] / "docs" / "retorque.md"
FITTED = datetime(2026, 12, 1, 8, 0, tzinfo=UTC)


def rows(start):
    lines = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith(start)]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def clock(words):
    return None if words == "–" else datetime.fromisoformat(f"2026-12-01T{words}:00+00:00")


def stands(**changes):
    return standing(
        **{
            "rule_set": "uk",
            "fitted_at": FITTED,
            "first_at": FITTED + timedelta(minutes=35),
            "second_at": None,
            "shift_ends_at": FITTED + timedelta(hours=10),
            "run_km": 0.0,
            "at": FITTED + timedelta(hours=1),
        }
        | changes
    )


def test_the_page_s_worked_table_is_what_comes_out():
    worked = rows("| worked")
    assert len(worked) == 12
    for name, at, first, km, state, step, holds in worked:
        found = stands(at=clock(at), first_at=clock(first), run_km=None if km == "–" else float(km))
        assert (found.state, str(found.step), found.holds_cart) == (state, step, holds == "yes"), name


def test_the_page_s_km_are_the_rule_s():
    published = [row for start in ("| uk", "| au", "| us") for row in rows(start)]
    assert len(published) == len(KM_RULES) == 3
    for rule_set, due, overdue, source, _status in published:
        rule = KM_RULES[rule_set]
        assert (rule.due_km, rule.overdue_km) == (int(due), int(overdue))
        assert source.split(",", maxsplit=1)[0].split(";")[0] in rule.source


@pytest.mark.parametrize(
    ("rule_set", "run", "state"),
    [("us", 79.9, "running"), ("us", 80.0, "second_due"), ("us", 159.9, "second_due"), ("us", 160.0, "overdue"),
     ("au", 40.0, "second_due"), ("au", 80.0, "overdue")],
)  # fmt: skip
def test_each_rule_set_has_its_own_km(rule_set, run, state):
    assert stands(rule_set=rule_set, run_km=run).state == state


def test_both_done_is_done_whatever_was_run():
    found = stands(second_at=FITTED + timedelta(hours=3), run_km=500.0)
    assert (found.state, found.step, found.holds_cart) == ("done", 0, False)


@pytest.mark.parametrize(
    ("before", "now", "run"),
    [(100.0, 150.5, 50.5), (100.0, 100.0, 0.0), (None, 5.0, None), (5.0, None, None), (90_000.0, 12.0, None)],
)
def test_km_run_are_known_only_between_two_readings_of_one_meter(before, now, run):
    assert km_run(before, now) == run


@pytest.mark.parametrize("changes", [{"rule_set": "nz"}, {"run_km": -1.0}, {"run_km": float("nan")}])
def test_what_cannot_be_is_refused(changes):
    with pytest.raises(ValueError, match=r"rule set|below zero"):
        stands(**changes)


def test_wn_rows_verified_are_the_figures_used():
    # WN-01 VERIFIED-S: 30 min standing, or 40-80 km. WN-03 VERIFIED-P: 50-100 miles, 80-160 km.
    assert timedelta(minutes=30) == SETTLE
    assert (KM_RULES["us"].due_km, KM_RULES["us"].overdue_km) == (
        round(50 * 1.609344),
        round(100 * 1.609344) - 1,
    )
    # WN-04, WN-05 VERIFIED-P: lbf-ft and N-m of one row are the same torque.
    for _what, pound_feet, newton_metres, _source in EXAMPLES:
        for one, other in zip(pound_feet, newton_metres, strict=True):
            assert one * 1.3558 == pytest.approx(other, rel=0.005)
