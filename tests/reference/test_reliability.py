"""Outside checks of the mean times and of availability: each line of the page carries its row and that row's status."""

import re
from pathlib import Path

import pytest

from servicing.reliability import (
    availability,
    mean_time_between,
    mean_time_to_repair,
    operational_availability,
    survival,
)

PAGE = Path(__file__).parents[2] / "docs" / "reliability.md"


def worked_rows() -> list[list[str]]:
    section = PAGE.read_text(encoding="utf-8").split("## Worked table\n")[1]
    rows = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row] for row in rows[2:]]


def reckoned(asked: str, given: list[float | None]) -> float | None:
    first, second = given
    match asked:
        case "mean time between":
            return mean_time_between(operating_hours=first, failures=int(second)).hours
        case "mean time to repair":
            return mean_time_to_repair(repair_hours=first, repairs=int(second)).hours
        case "inherent availability":
            return availability(mean_time_between_hours=first, mean_time_to_repair_hours=second)
        case "operational availability":
            return operational_availability(up_hours=first, down_hours=second)
    return survival(hours=first, mean_time_between_hours=second)


@pytest.mark.parametrize("row", worked_rows(), ids=lambda row: " ".join(row[:2]))
def test_the_worked_table_comes_out_as_printed(row: list[str]) -> None:
    asked, inputs, expected, _row = row
    given = [None if word == "none" else float(word) for word in re.findall(r"none|[\d.]+", inputs)]
    found = reckoned(asked, given)
    if expected == "none":
        assert found is None
    else:
        places = len(expected.partition(".")[2])
        assert f"{found:.{places}f}" == expected


def test_the_worked_case_of_the_common_definition() -> None:
    """RE-03 VERIFIED-S: 10,000 h, 10 failures, 5 h to repair each; recomputed in full."""
    between = mean_time_between(operating_hours=10_000, failures=10)
    to_repair = mean_time_to_repair(repair_hours=50, repairs=10)
    assert (between.hours, to_repair.hours) == (1000, 5)
    found = availability(mean_time_between_hours=between.hours, mean_time_to_repair_hours=to_repair.hours)
    assert found == pytest.approx(200 / 201, rel=1e-12)


def test_a_mean_is_no_life() -> None:
    """RE-06 COMPUTED: survival to the mean is exp(-1), 36.8 %, whatever the mean."""
    assert survival(hours=412, mean_time_between_hours=412) == pytest.approx(0.367879441, rel=1e-8)
