"""Outside checks of least tread depth: each line carries its published row and that row's status."""

from decimal import Decimal
from pathlib import Path

import pytest

from fleet.tread_limits import legal_limit

PAGE = Path(__file__).parents[2] / "docs" / "tread-limits.md"

PUBLISHED = [
    # TY-01, 49 CFR 393.75(b), VERIFIED-P
    pytest.param("us", "steer", "3.175", "4/32 in", "TY-01", id="TY-01 VERIFIED-P US steer"),
    # TY-02, 49 CFR 393.75(c), VERIFIED-P
    pytest.param("us", "other", "1.5875", "2/32 in", "TY-02", id="TY-02 VERIFIED-P US other"),
    # TY-07, Construction and Use Regulations 1986 reg 27, VERIFIED-P
    pytest.param("uk", "steer", "1.0", "1.0 mm", "TY-07", id="TY-07 VERIFIED-P UK steer"),
    pytest.param("uk", "other", "1.0", "1.0 mm", "TY-07", id="TY-07 VERIFIED-P UK other"),
    # TY-09, Heavy Vehicle (Vehicle Standards) National Regulation, VERIFIED-S
    pytest.param("au", "steer", "1.5", "1.5 mm", "TY-09", id="TY-09 VERIFIED-S AU steer"),
    pytest.param("au", "other", "1.5", "1.5 mm", "TY-09", id="TY-09 VERIFIED-S AU other"),
]


@pytest.mark.parametrize(("rule_set", "position", "depth_mm", "as_written", "row"), PUBLISHED)
def test_published_depth(rule_set: str, position: str, depth_mm: str, as_written: str, row: str) -> None:
    limit = legal_limit(rule_set=rule_set, position=position)
    assert limit.depth_mm == Decimal(depth_mm)
    assert limit.as_written == as_written
    assert limit.source.startswith(f"{row}, ")
    assert limit.is_met_by(Decimal(depth_mm))
    assert not limit.is_met_by(Decimal(depth_mm) - Decimal("0.0001"))


def test_the_page_prints_the_depths_that_are_used() -> None:
    lines = [line for line in PAGE.read_text(encoding="utf-8").splitlines() if line.startswith("|")]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]
    assert len(rows) == len(PUBLISHED)
    for rule_set, position, as_written, depth_mm, where, row, _status in rows:
        limit = legal_limit(rule_set=rule_set, position=position)
        assert (limit.as_written, limit.depth_mm) == (as_written, Decimal(depth_mm))
        assert limit.measured_where.startswith(where)
        assert limit.source.startswith(f"{row}, ")
