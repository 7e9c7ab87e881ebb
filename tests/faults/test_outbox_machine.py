"""The page's own outbox in a world that breaks: every seed is one order of kills, lost answers, full disks and wrong clocks.

Exactly once, byte-equal, and no photo off the tablet too early. A failure prints its seed; to play one again:
FAULT_SEED=123 ./run journeys tests/faults/test_outbox_machine.py
"""

import os

import pytest
from playwright.sync_api import Page

from tests.capture.standin import ROOT

pytestmark = pytest.mark.journey

MACHINE = (ROOT / "tests" / "faults" / "outbox_machine.js").read_text(encoding="utf-8")
AT_A_TIME = 500
SCHEDULES = int(os.environ.get("FAULT_SCHEDULES", "20000"))


def test_every_signed_record_arrives_exactly_once(modules: Page) -> None:
    if seed := os.environ.get("FAULT_SEED"):
        assert modules.evaluate(MACHINE, {"only": int(seed)}) == [{"seed": int(seed), "fault": None}]
        return
    for first in range(0, SCHEDULES, AT_A_TIME):
        faults = modules.evaluate(MACHINE, {"from": first, "count": AT_A_TIME})
        assert faults == []
