"""The tablet judges a value exactly as the yard does: both read the same table of cases."""

import json
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page

from inspections.limits import limit_from

pytestmark = pytest.mark.journey

SHARED = Path(__file__).resolve().parent.parent / "inspections" / "limit_cases.json"
CASES: list[dict[str, Any]] = json.loads(SHARED.read_text(encoding="utf-8"))["cases"]

JUDGE = """async (cases) => {
    const { keeps } = await import("/static/capture/limits.js");
    return cases.map((one) => {
        try { return keeps(one.limit, one.value); } catch (error) {
            if (error instanceof RangeError) return null;
            throw error;
        }
    });
}"""


def test_every_shared_case_comes_out_alike_on_the_tablet(modules: Page) -> None:
    judged = modules.evaluate(JUDGE, CASES)
    assert dict(zip((case["name"] for case in CASES), judged, strict=True)) == {
        case["name"]: case["keeps"] for case in CASES
    }


def test_the_tablet_says_a_limit_in_the_yards_words(modules: Page) -> None:
    limits = [case["limit"] for case in CASES if case["keeps"] is not None]
    said = modules.evaluate(
        """async (limits) => {
            const { limitWords } = await import("/static/capture/words.js");
            return limits.map(limitWords);
        }""",
        limits,
    )
    assert said == [limit_from(limit).words for limit in limits]
