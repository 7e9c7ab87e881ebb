"""A flow and evenness test: litres and seconds of each head at one pressure, judged against its flow when new.

Evenness is that of each head's flow as a share of its own flow when new, so that heads of two nozzles may stand in one test;
for heads of one nozzle it is the evenness of their flows. docs/spraying.md has it worked.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.water.measured import Number, above_zero, not_below_zero, within
from fleet.water.nozzles import Advice, bar_test
from fleet.water.spraying import (
    christiansen_uniformity,
    flow_at_pressure,
    low_quarter_cups,
    low_quarter_uniformity,
)


@dataclass(frozen=True, slots=True)
class Catch:
    """One head: its flow when new at the heads' pressure, and the litres caught in so many seconds."""

    name: str
    nozzle: str
    nominal_l_min: Number
    caught_l: Number
    seconds: Number


@dataclass(frozen=True, slots=True)
class HeadFlow:
    """One head judged: its flow, what it gave when new at the test's pressure, and the share it is off that."""

    name: str
    nozzle: str
    flow_l_min: float
    nominal_l_min: float
    off_new: float
    off_average: float | None
    advice: Advice


@dataclass(frozen=True, slots=True)
class Evenness:
    """Heads in the order given, both uniformities in per cent, the lowest cups counted, and a sentence for each nozzle."""

    heads: tuple[HeadFlow, ...]
    christiansen_pct: float
    low_quarter_pct: float
    low_quarter_heads: int
    sentences: tuple[str, ...]

    @property
    def is_out(self) -> bool:
        return any(head.advice != "good" for head in self.heads)


def flow_l_min(*, caught_l: Number, seconds: Number) -> float:
    """L/min of a catch. ValueError for litres below zero, or seconds of zero or less."""
    return not_below_zero(caught_l, "What was caught") * 60 / above_zero(seconds, "The time of a catch")


def judge(
    catches: Sequence[Catch], *, pressure_kpa: Number, head_kpa: Number, tolerance_pct: Number
) -> Evenness:
    """Each head against its flow when new at the test's pressure (SP-09), by the yard's tolerance; heads of one nozzle are judged
    as a set (SP-06 to SP-08). ValueError without a head, for all of them dry, or what can't be."""
    share = within(tolerance_pct, 0, 100, "The tolerance", "%") / 100
    flows = [
        (
            each,
            flow_l_min(caught_l=each.caught_l, seconds=each.seconds),
            flow_at_pressure(
                flow_l_min=above_zero(each.nominal_l_min, f"The flow when new of {each.name}"),
                pressure_kpa=head_kpa,
                new_pressure_kpa=above_zero(pressure_kpa, "The pressure"),
            ),
        )
        for each in catches
    ]
    shares = [flow / nominal for _, flow, nominal in flows]
    christiansen, low = christiansen_uniformity(shares), low_quarter_uniformity(shares)
    sets: defaultdict[str, dict[str, float]] = defaultdict(dict)
    for (each, _, _), of_new in zip(flows, shares, strict=True):
        sets[each.nozzle][each.name] = of_new
    tests = {nozzle: bar_test(of_it, nominal_l_min=1, off_new=share) for nozzle, of_it in sets.items()}
    judged = {(nozzle, one.name): one for nozzle, test in tests.items() for one in test.nozzles}
    heads = tuple(
        HeadFlow(
            each.name, each.nozzle, flow, nominal, (one := judged[each.nozzle, each.name]).off_new, one.off_average, one.advice
        )
        for each, flow, nominal in flows
    )  # fmt: skip
    sentences = tuple(f"{nozzle}: {test.sentence}" for nozzle, test in tests.items())
    return Evenness(heads, christiansen, low, low_quarter_cups(len(heads)), sentences)
