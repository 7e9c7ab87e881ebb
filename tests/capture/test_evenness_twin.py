"""The tablet judges a test of heads exactly as the yard does: the same figures to the last bit, and the same words."""

import math
from decimal import Decimal
from typing import Any

import pytest
from django.template.defaultfilters import floatformat
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Page

from fleet.water.evenness import Catch, judge

pytestmark = pytest.mark.journey

JUDGE = """async (tests) => {
    const { judge, tenths, percent } = await import("/static/capture/evenness.js");
    return tests.map(({ catches, ...by }) => {
        const found = judge(catches, by);
        const figures = (numbers) => numbers.map(tenths);
        return found && {
            heads: found.heads.map((one) => [one.flow, one.nominal, one.off_new, one.advice]),
            pct: [found.christiansen_pct, found.low_quarter_pct, found.low_quarter_heads],
            sentences: found.sentences,
            shown: figures([found.christiansen_pct, found.low_quarter_pct, ...found.heads.map((one) => one.flow)]),
            off: found.heads.map((one) => percent(one.off_new)),
        };
    });
}"""


def decimals(low: str, high: str, places: int) -> st.SearchStrategy[str]:
    return st.decimals(Decimal(low), Decimal(high), places=places).map(lambda one: f"{one:f}")


# Most catches lie about a head's flow when new, and many at a limit itself, where a verdict turns.
LITRES = (
    decimals("0", "9999.99", 2) | decimals("30", "50", 2) | st.sampled_from(("36", "44", "40", "38", "0"))
)
SECONDS = decimals("0.1", "9999.9", 1) | st.sampled_from(("15", "15.0", "30"))
LISTED = decimals("0.1", "999.9", 1) | st.just("160.0")
PRESSURE = decimals("0.1", "1999.9", 1) | st.sampled_from(("200", "200.0", "50"))


@st.composite
def measured(draw: st.DrawFn) -> dict[str, Any]:
    heads = draw(st.lists(st.tuples(st.sampled_from("AB"), LISTED, LITRES, SECONDS), min_size=1, max_size=12))
    return {
        "catches": [
            {"name": f"Head {n}", "nozzle": nozzle, "nominal_l_min": listed, "litres": litres, "seconds": seconds}
            for n, (nozzle, listed, litres, seconds) in enumerate(heads, start=1)
        ],
        "pressure_kpa": draw(PRESSURE),
        "head_kpa": draw(PRESSURE),
        "tolerance_pct": draw(st.sampled_from(("10", "7", "5.5", "25")) | decimals("0.1", "99.9", 1)),
    }  # fmt: skip


def by_the_yard(test: dict[str, Any]) -> dict[str, Any] | None:
    rows = [
        Catch(one["name"], one["nozzle"], *(Decimal(one[figure]) for figure in ("nominal_l_min", "litres", "seconds")))
        for one in test["catches"]
    ]  # fmt: skip
    given = {name: Decimal(test[name]) for name in ("pressure_kpa", "head_kpa", "tolerance_pct")}
    try:
        found = judge(rows, **given)
    except ValueError:
        return None
    figures = [found.christiansen_pct, found.low_quarter_pct, *(one.flow_l_min for one in found.heads)]
    return {
        "heads": [[one.flow_l_min, one.nominal_l_min, one.off_new, one.advice] for one in found.heads],
        "pct": [found.christiansen_pct, found.low_quarter_pct, found.low_quarter_heads],
        "sentences": list(found.sentences),
        "shown": [floatformat(one, 1) for one in figures],
        "off": [str(round(one.off_new * 100)) for one in found.heads],
    }


@settings(
    max_examples=40,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(drawn=st.lists(measured(), min_size=10, max_size=40))
def test_any_test_comes_to_the_same_on_both_sides(modules: Page, drawn: list[dict[str, Any]]) -> None:
    assert modules.evaluate(JUDGE, drawn) == [by_the_yard(one) for one in drawn]


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    drawn=st.lists(
        st.lists(
            st.floats(-1e6, 1e6) | st.sampled_from((1.0, 2.0**-53, -(2.0**-53), 2.0**-106)), max_size=12
        ),
        min_size=10,
        max_size=60,
    )
)
def test_a_sum_is_rounded_once_as_the_yards(modules: Page, drawn: list[list[float]]) -> None:
    sums = modules.evaluate(
        """async (lists) => {
            const { total } = await import("/static/capture/evenness.js");
            return lists.map(total);
        }""",
        drawn,
    )
    assert sums == [math.fsum(numbers) for numbers in drawn]
