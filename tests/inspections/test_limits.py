"""Limits: the shared cases, and how a limit reads, travels and refuses to be made wrongly."""

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.limits import Limit, decimal_of, decimal_text, keeps, limit_from

CASES: list[dict[str, Any]] = json.loads(
    (Path(__file__).parent / "limit_cases.json").read_text(encoding="utf-8")
)["cases"]


@pytest.mark.parametrize("case", [pytest.param(case, id=case["name"]) for case in CASES])
def test_shared_case(case: dict[str, Any]) -> None:
    if case["keeps"] is None:
        with pytest.raises(ValueError, match=r"\.$"):
            keeps(limit_from(case["limit"]), case["value"])
    else:
        assert keeps(limit_from(case["limit"]), case["value"]) is case["keeps"]


def test_the_shared_cases_cover_every_comparison_three_ways() -> None:
    seen = {(case["limit"]["op"], case["keeps"]) for case in CASES}
    assert {(op, kept) for op in (">=", ">", "<=", "<", "between") for kept in (True, False)} <= seen
    assert sum(case["keeps"] is None for case in CASES) >= 15
    assert len({case["name"] for case in CASES}) == len(CASES) >= 40


@pytest.mark.parametrize(
    ("limit", "words"),
    [
        (Limit(op=">=", value=Decimal("3.0"), unit="mm", grade="do_not_use"), "3.0 mm or more"),
        (Limit(op=">", value=Decimal("1.5875"), unit="mm", grade="do_not_use"), "more than 1.5875 mm"),
        (Limit(op="<=", value=Decimal(80), unit="%", grade="do_not_use"), "80 % or less"),
        (Limit(op="<", value=Decimal(2), unit="psi", grade="do_not_use"), "less than 2 psi"),
        (
            Limit(op="between", value=Decimal(120), high=Decimal(140), unit="psi", grade="by_date"),
            "120 to 140 psi",
        ),
    ],
)
def test_a_limit_reads_as_a_person_says_it(limit: Limit, words: str) -> None:
    assert limit.words == words
    assert limit_from(json.loads(json.dumps(limit.as_content()))) == limit


def test_a_limit_keeps_its_digits_on_the_wire() -> None:
    limit = Limit(op=">=", value=Decimal("3.0"), unit="mm", grade="do_not_use")
    assert limit.as_content() == {
        "op": ">=",
        "value": "3.0",
        "high": None,
        "unit": "mm",
        "grade": "do_not_use",
    }
    assert decimal_text(Decimal("1E+3")) == "1000"


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"op": "="}, "“=” is not a comparison: use one of >=, >, <=, <, between."),
        ({"grade": "bad"}, "“bad” is not a grade: use one of do_not_use, by_date, watch."),
        ({"value": Decimal("NaN")}, "A limit is a number."),
        ({"high": Decimal(4)}, "A limit has a high end when it is “between”, and only then."),
        ({"op": "between"}, "A limit has a high end when it is “between”, and only then."),
        ({"op": "between", "high": Decimal(2)}, "The high end of a limit is below its low end."),
    ],
)
def test_a_limit_that_makes_no_sense_is_refused(wrong: dict[str, Any], sentence: str) -> None:
    good: dict[str, Any] = {"op": ">=", "value": Decimal(3), "unit": "mm", "grade": "do_not_use"}
    with pytest.raises(ValueError, match=r".") as refused:
        Limit(**(good | wrong))
    assert str(refused.value) == sentence


@pytest.mark.parametrize("missing", ["op", "value", "unit", "grade"])
def test_a_limit_with_a_part_missing_is_refused(missing: str) -> None:
    content = {"op": ">=", "value": "3.0", "unit": "mm", "grade": "do_not_use"}
    del content[missing]
    with pytest.raises(ValueError, match=f"The “{missing}” of a limit is missing"):
        limit_from(content)


def test_a_refused_number_is_named_in_the_sentence() -> None:
    with pytest.raises(ValueError, match="“3,0” is not a number: write digits, with a point"):
        decimal_of("3,0")


numbers = st.decimals(allow_nan=False, allow_infinity=False, places=3, min_value=-9999, max_value=9999)


@given(limit=numbers, value=numbers)
def test_each_comparison_and_its_opposite_never_agree(limit: Decimal, value: Decimal) -> None:
    def kept(op: str) -> bool:
        return keeps(Limit(op=op, value=limit, unit="mm", grade="watch"), decimal_text(value))

    assert kept(">=") is not kept("<")
    assert kept("<=") is not kept(">")
    assert (kept(">=") and kept("<=")) is (value == limit)


@given(low=numbers, width=numbers.map(abs), value=numbers)
def test_between_is_both_ends_at_once(low: Decimal, width: Decimal, value: Decimal) -> None:
    high = low + width
    text = decimal_text(value)
    inside = keeps(Limit(op="between", value=low, high=high, unit="", grade="watch"), text)
    over_low = keeps(Limit(op=">=", value=low, unit="", grade="watch"), text)
    under_high = keeps(Limit(op="<=", value=high, unit="", grade="watch"), text)
    assert inside is (over_low and under_high)
