"""When wheel nuts are checked again after a wheel was off, in two steps: standing in the yard, and after the first km.

The first check clears the gate; the second travels with the cart, to a named person. One check more is no proof: in a published
trial some nuts still lost torque after it (WN-07). The torque itself is the maker's figure for that wheel and stud.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType
from typing import Literal

State = Literal["settling", "first_due", "running", "second_due", "overdue", "done"]

SETTLE = timedelta(minutes=30)
SETTLE_SOURCE = "WN-01, BS AU 50 Part 2 s 7a:1995"
# Published examples, never a setting: (what, ft-lb, N-m, source).
EXAMPLES = (
    ("hub-piloted M22 × 1.5", (450, 500), (610, 678), "WN-04, a truck maker's maintenance manual"),
    ("20 mm stud-piloted", (280, 310), (380, 420), "WN-05, a truck maker's maintenance manual"),
)


@dataclass(frozen=True, slots=True)
class KmRule:
    """From how many km after fitting the second check may be done, and from how many it is overdue."""

    due_km: int
    overdue_km: int
    source: str


KM_RULES: Mapping[str, KmRule] = MappingProxyType(
    {
        "uk": KmRule(40, 80, SETTLE_SOURCE),
        # Nothing Australian was found: the yard goes by the UK figures.
        "au": KmRule(
            40,
            80,
            "WN-01, the UK's figures of BS AU 50 Part 2 s 7a:1995; in Australia common practice, no source",
        ),
        "us": KmRule(80, 160, "WN-03, a truck maker's maintenance manual, 50 to 100 miles"),
    }
)


@dataclass(frozen=True, slots=True)
class Standing:
    """How a re-torque stands. step: the check that is next, 0 when both are done. km_run: since fitting, None: not known."""

    state: State
    step: int
    from_at: datetime
    km_run: float | None
    rule: KmRule

    @property
    def holds_cart(self) -> bool:
        return self.step == 1 or self.state == "overdue"


def km_run(km_at_fitting: float | None, km_now: float | None) -> float | None:
    """The km since the wheel was fitted; None when either is not known, or the odometer was changed between."""
    if km_at_fitting is None or km_now is None or km_now < km_at_fitting:
        return None
    return km_now - km_at_fitting


def standing(
    *,
    rule_set: str,
    fitted_at: datetime,
    first_at: datetime | None,
    second_at: datetime | None,
    shift_ends_at: datetime | None,
    run_km: float | None,
    at: datetime,
) -> Standing:
    """How a re-torque stands at an instant.

    run_km: km since fitting, None: not known; shift_ends_at: the end of the first shift after fitting, by which the second
    check is due however few km were run. Where km are not known the check is overdue once that shift has ended. ValueError for
    an unknown rule set or km below zero. Source: WN-01 VERIFIED-S, WN-03 VERIFIED-P; docs/retorque.md.
    """
    if rule_set not in KM_RULES:
        raise ValueError(f"{rule_set!r} is not a rule set: use one of {', '.join(sorted(KM_RULES))}.")
    if run_km is not None and not run_km >= 0:
        raise ValueError("km run can't be below zero.")
    rule, from_at = KM_RULES[rule_set], fitted_at + SETTLE
    is_over_km = run_km is not None and run_km >= rule.overdue_km
    if first_at is None:
        state: State = "overdue" if is_over_km else "first_due" if at >= from_at else "settling"
        return Standing(state, 1, from_at, run_km, rule)
    if second_at is not None:
        return Standing("done", 0, from_at, run_km, rule)
    has_ended = shift_ends_at is not None and at >= shift_ends_at
    if is_over_km or (run_km is None and has_ended):
        state = "overdue"
    elif run_km is not None and (run_km >= rule.due_km or (has_ended and run_km > 0)):
        state = "second_due"
    else:
        state = "running"
    return Standing(state, 2, from_at, run_km, rule)
