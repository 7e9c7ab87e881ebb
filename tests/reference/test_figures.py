"""The worked tables of docs/figures.md come out as printed."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from hire.figures import Inputs, metered, reckon

PAGE = Path(__file__).parents[2] / "docs" / "figures.md"
START = datetime(2026, 6, 1, tzinfo=UTC)
END = START + timedelta(hours=100)


def tables(heading: str) -> list[list[list[str]]]:
    section = PAGE.read_text(encoding="utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    found, rows = [], []
    for line in [*section.splitlines(), ""]:
        if line.startswith("|"):
            rows.append([cell.strip() for cell in line.strip("|").split("|")])
        elif rows:
            found.append(rows[2:])
            rows = []
    return found


@pytest.mark.parametrize("row", tables("One meter over a period")[0], ids=lambda row: row[0])
def test_one_meter_over_a_period(row: list[str]) -> None:
    _case, words, expected = row
    pairs = [pair.split(":") for pair in words.split()]
    read = [(START + timedelta(hours=int(hour)), float(value)) for hour, value in pairs]
    edges = {
        "before": max((point for point in read if point[0] <= START), default=None),
        "first": min((point for point in read if point[0] > START), default=None),
        "last": max((point for point in read if point[0] <= END), default=None),
        "after": min((point for point in read if point[0] > END), default=None),
    }
    gained = metered(**edges, start=START, end=END)
    assert ("none" if gained is None else f"{gained:g}") == expected


def inputs() -> dict[str, Inputs]:
    found = {}
    for name, fleet, out, down, engine, told, looks, jobs, cost in tables("Worked table")[0]:
        (second_looks, look_hours), (repairs, job_hours) = (pair.split(" in ") for pair in (looks, jobs))
        found[name] = Inputs(
            fleet_hours=float(fleet),
            hire_hours=float(out),
            down_hours=float(down),
            engine_hours=None if engine == "none" else float(engine),
            told=int(told),
            second_looks=int(second_looks),
            second_look_hours=float(look_hours),
            repairs=int(repairs),
            repair_hours=float(job_hours),
            cost=None if cost == "none" else Decimal(cost),
        )
    return found


def printed(value: object, places: int) -> str:
    return "none" if value is None else f"{value:.{places}f}"


@pytest.mark.parametrize("row", tables("Worked table")[1], ids=lambda row: row[0])
def test_a_cart_and_a_class_come_out_as_printed(row: list[str]) -> None:
    names, *expected = row
    one = reckon([inputs()[name] for name in names.split(" and ")])
    nothing = f"no defects in {one.between.over_hours:g}"
    assert [
        printed(one.utilisation, 4),
        nothing if one.between.hours is None else printed(one.between.hours, 2),
        printed(one.to_second_look.hours, 2),
        printed(one.to_repair.hours, 2),
        printed(one.could_work, 4),
        printed(one.cost_per_hour, 2),
    ] == expected
