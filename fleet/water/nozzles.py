"""A bar test: each head's flow against new and against its set, and which to clean or replace.

Two published limits differ (X-10): 10 % off the flow when new (SP-06, VERIFIED-P) and 5 % off the set's average (SP-08,
VERIFIED-S). Both are shown; heads are judged by the first alone. docs/spraying.md has it worked. The heads' maker knows better.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from fleet.water.measured import Number, within
from fleet.water.spraying import flow_deviation

OFF_NEW = 0.10
OFF_AVERAGE = 0.05
# From so many worn heads on, the whole set is replaced (SP-07, VERIFIED-S).
SET_AT = 2

Advice = Literal["good", "clean", "replace"]


@dataclass(frozen=True, slots=True)
class Nozzle:
    """One head: shares off new and off the set's average (None: the set gave nothing), and what to do.

    "clean": too little, so it is blocked until cleaned and measured again. "replace": too much, so it is worn.
    """

    name: str
    off_new: float
    off_average: float | None
    advice: Advice
    is_off_average: bool


@dataclass(frozen=True, slots=True)
class BarTest:
    """Heads in the order given; `replace_set` where the worn ones are so many that the set goes."""

    nozzles: tuple[Nozzle, ...]
    average_l_min: float
    replace_set: bool
    sentence: str


def bar_test(
    measured_l_min: Mapping[str, Number], *, nominal_l_min: Number, off_new: Number = OFF_NEW
) -> BarTest:
    """Judge every head of one kind by its measured flow; at the limit itself a head is out.

    measured_l_min: head -> L/min, all at the one pressure for which nominal_l_min is the flow when new. ValueError for no
    heads, a flow below zero, a nominal of zero or less, or a limit outside 0..1.
    """
    if not measured_l_min:
        raise ValueError("A bar test wants at least one head.")
    limit = within(off_new, 0, 1, "The limit", "of the flow when new")
    deviations = {
        name: flow_deviation(measured_l_min=flow, nominal_l_min=nominal_l_min)
        for name, flow in measured_l_min.items()
    }
    average = math.fsum(float(flow) for flow in measured_l_min.values()) / len(measured_l_min)
    nozzles = tuple(
        _judged(name, deviations[name], float(flow), average, limit) for name, flow in measured_l_min.items()
    )
    worn = [each.name for each in nozzles if each.advice == "replace"]
    blocked = [each.name for each in nozzles if each.advice == "clean"]
    return BarTest(nozzles, average, len(worn) >= SET_AT, _sentence(worn, blocked, limit))


def _judged(name: str, off_new: float, flow: float, average: float, limit: float) -> Nozzle:
    off_average = (flow - average) / average if average else None
    advice: Advice = "good"
    if _reaches(off_new, limit):
        advice = "clean" if off_new < 0 else "replace"
    return Nozzle(
        name, off_new, off_average, advice, off_average is None or _reaches(off_average, OFF_AVERAGE)
    )


def _reaches(share: float, limit: float) -> bool:
    """A float a hair under the limit is at it: 3.3 L/min of 3.0 is a tenth over."""
    return abs(share) >= limit * (1 - 1e-9)


def _sentence(worn: list[str], blocked: list[str], limit: float) -> str:
    said = []
    if blocked:
        said.append(f"Clean and measure again: {', '.join(blocked)}.")
    if len(worn) >= SET_AT:
        said.append(f"Replace the whole set: {', '.join(worn)} are worn.")
    elif worn:
        said.append(f"Replace: {worn[0]}.")
    return " ".join(said) or f"Every head is within {limit * 100:g} % of its flow when new."
