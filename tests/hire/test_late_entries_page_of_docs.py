"""The worked table of docs/late-entries.md, row by row against the gate-out rule."""

from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from fleet.readiness import Window
from inspections import standing
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory

pytestmark = pytest.mark.django_db

PAGE = Path(__file__).parents[2] / "docs" / "late-entries.md"
ADELAIDE = ZoneInfo("Australia/Adelaide")
SAYS = {"good": "", "too old": "is too old", "none was signed": "No gate-out check has been signed"}


def rows():
    section = (
        PAGE.read_text(encoding="utf-8").split("## The gate-out check by its hours\n")[1].split("\n## ")[0]
    )
    found = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [tuple(cell.strip() for cell in row) for row in found[2:]]


@pytest.mark.parametrize(("signed", "left", "entered", "says"), rows())
def test_the_worked_table(hand, signed, left, entered, says):
    signed_at, left_at, entered_at = (
        datetime.fromisoformat(one).replace(tzinfo=ADELAIDE) for one in (signed, left, entered)
    )
    assert left_at <= entered_at
    cart = CartFactory()
    walk.sign(cart, "gate_out", by=hand, at=signed_at)
    window = Window(left_at, left_at.replace(year=2027))
    found = standing.findings([cart], windows={cart.pk: window}, at=left_at)[cart.pk].blockers
    [said] = [one.sentence for one in found if one.code == "walk_round.gate_out"] or [""]
    assert SAYS[says] in said
    assert bool(said) is (says != "good")
