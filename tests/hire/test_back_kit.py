"""The kit that went out with a cart, counted when it is back."""

from decimal import Decimal

import pytest

from hire.actions import back as acts
from hire.back_decisions import decidables
from hire.back_record import read_record
from hire.charging.back import Typed
from people.refusals import NotAllowed
from tests.factories.back import DAY, back_line
from tests.factories.hire import LineFactory

pytestmark = pytest.mark.django_db


def proposed(line):
    """What of the kit stands to be decided."""
    found = (one.proposal for one in decidables(read_record(line)))
    return {one.key: one.what for one in found if one.kind == "kit"}


def test_kit_that_does_not_come_back_is_proposed_and_may_be_found_again(hand, desk, at):
    line, _ = back_line(at=at)
    lost = {1: ("missing", "Left at the main"), 2: ("back", ""), 3: ("back", "")}
    assert proposed(line) == {}
    acts.count_kit(line=line, counted=lost, by=hand, at=at)
    assert list(proposed(line).values()) == ["Standpipe SP-14, missing"]
    assert (
        acts.charge_found(line=line, key="kit-1", typed=Typed(amount=Decimal(380)), by=desk, at=at).kind
        == "kit"
    )
    acts.count_kit(line=line, counted=lost | {1: ("back", "")}, by=hand, at=at + DAY)
    assert proposed(line) == {}


@pytest.mark.parametrize(
    "counted",
    [
        {},
        {1: "back", 2: "back"},
        {1: "back", 2: "back", 3: "lost"},
        {1: "back", 2: "back", 3: "back", 4: "back"},
    ],
)
def test_each_thing_of_the_list_is_counted(hand, at, counted):
    with pytest.raises(acts.NotCounted):
        acts.count_kit(
            line=back_line(at=at)[0], counted={n: (state, "") for n, state in counted.items()}, by=hand, at=at
        )


def test_those_at_the_gate_count_what_went_out(people, hand, at):
    with pytest.raises(NotAllowed):
        acts.count_kit(line=back_line(at=at)[0], counted={}, by=people["fitter"], at=at)
    nothing = LineFactory(starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at)
    with pytest.raises(acts.NothingWentOut):
        acts.count_kit(line=nothing, counted={}, by=hand, at=at)
