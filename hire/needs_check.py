"""Carts set against the gear their own hire asks for: a cart goes with limits only where the hire does not need that gear."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from uuid import UUID

from fleet.gear import GEAR
from fleet.models.carts import Cart
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from hire.availability import builds
from hire.models.agreements import Line
from hire.site_check import split
from hire.suiting import Build
from people.roles import DESK, WORKSHOP

ISOLATED, NOT_FITTED = "hire.gear_isolated", "hire.gear_not_fitted"
CODES = frozenset({ISOLATED, NOT_FITTED})
OR_ELSE = "or hire desk: send another cart, or change what is asked of it"
CLEAR = {
    ISOLATED: f"Workshop: repair it and lift the limit; {OR_ELSE}",
    NOT_FITTED: f"Workshop: fit it and record it; {OR_ELSE}",
}
SHORT = {
    ISOLATED: "gear the hire asks for is isolated",
    NOT_FITTED: "gear the hire asks for is not fitted",
}


def _lacking(line: Line, build: Build) -> Iterator[tuple[str, str]]:
    for kind in sorted(line.gear, key=lambda one: GEAR[one]):
        name = GEAR[kind].lower()
        if kind not in build.gear:
            yield NOT_FITTED, f"{line.agreement.number} asks for its {name}, and none is fitted."
        elif kind in build.isolated:
            yield (
                ISOLATED,
                f"{line.agreement.number} asks for its {name}, and that is isolated and tagged: it may not go with that limit.",
            )


def _findings(line: Line, build: Build, window: Window) -> Findings:
    record, stops = Record("hire_line", line.pk), window.asks_gate and not line.is_out
    return split(
        Blocker(code, sentence, record, DESK | WORKSHOP, CLEAR[code], weight=42)
        if stops
        else Caution(code, sentence, record, None, SHORT[code], weight=60)
        for code, sentence in _lacking(line, build)
    )


def findings(carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime) -> dict[UUID, Findings]:
    """Of the carts asked about for a hire: the gear it asks for that is isolated, or not there. No query where no hire asks, one
    where none asks for gear, four else, however many carts."""
    hires = [window.line_id for window in windows.values() if window.line_id]
    if not hires:
        return {}
    asking = Line.objects.filter(pk__in=hires).exclude(gear=[]).select_related("agreement")
    lines = {line.cart_id: line for line in asking}
    theirs = [cart for cart in carts if cart.pk in lines]
    kinds = builds(theirs) if theirs else {}
    return {pk: _findings(lines[pk], build, windows[pk]) for pk, build in kinds.items()}
