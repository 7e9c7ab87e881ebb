"""What the tablet's list says of each cart: what wants walking, and which second looks this person may give."""

from datetime import timedelta

import pytest

from hire.models.agreements import StandDown
from inspections.reference import reference_for
from people.roles import Role
from people.yard import yard_day
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.servicing import NOW, defect_of, line_of

HOUR = timedelta(hours=1)


@pytest.fixture
def listed(people):
    walk.edition()

    def inner(*, role=Role.YARD_HAND, at=NOW):
        document = reference_for(people[role], csrf="", at=at)
        return {cart["fleet_number"]: cart for cart in document["carts"]}

    return inner


@pytest.mark.parametrize(
    ("hire", "where", "due"),
    [
        pytest.param(None, "yard", [], id="nobody wants it"),
        pytest.param({"starts_at": NOW + 30 * HOUR}, "yard", ["pre_hire"], id="leaves tomorrow"),
        pytest.param(
            {"starts_at": NOW + 3 * HOUR}, "yard", ["pre_hire", "gate_out"], id="leaves in three hours"
        ),
        pytest.param(
            {"starts_at": NOW - 30 * HOUR, "out_at": NOW - 30 * HOUR}, "road", ["daily"], id="at work"
        ),
        pytest.param(
            {"starts_at": NOW - 30 * HOUR, "out_at": NOW - 30 * HOUR}, "yard", ["as_returned"], id="driven in"
        ),
    ],
)
def test_what_wants_walking(listed, hire, where, due):
    cart = CartFactory(where_kind=where)
    if hire:
        line_of(cart, **hire)

    assert listed()[cart.fleet_number]["purposes_due"] == due


def test_a_pre_start_is_due_until_this_shifts_is_signed(listed, people):
    """NOW is half past seven on a Tuesday morning, the shift that of the day."""
    carts = [CartFactory(where_kind="road", tyres=True) for _ in range(5)]
    fresh, stale, stood_down, their_book, just_out = carts
    out = {"starts_at": NOW - 50 * HOUR, "out_at": NOW - 50 * HOUR}
    lines = {
        cart: line_of(cart, **out, pre_start_book="theirs" if cart == their_book else "ours")
        for cart in carts[:4]
    }
    line_of(just_out, starts_at=NOW - HOUR, out_at=NOW - HOUR)
    hand = people[Role.YARD_HAND]
    walk.sign(fresh, "daily", by=hand, at=NOW - HOUR)
    walk.sign(stale, "daily", by=hand, at=NOW - 20 * HOUR)
    StandDown.objects.create(
        line=lines[stood_down], on=yard_day(NOW), why="Rain", told_at=NOW, told_by_words="Site"
    )
    due = {cart: listed()[cart.fleet_number]["purposes_due"] for cart in carts}
    assert due == {fresh: [], stale: ["daily"], stood_down: [], their_book: [], just_out: []}


def test_a_second_look_is_shown_to_whoever_may_give_it(listed, people):
    cart = CartFactory()
    fitter = people[Role.FITTER]
    done = defect_of(cart, state="repaired", repaired_by=fitter)
    defect_of(cart)

    def looks(role):
        return [
            one["second_look"]
            for one in listed(role=role)[cart.fleet_number]["defects"]
            if one["second_look"]
        ]

    assert looks(Role.YARD_HAND) == [f"/workshop/{done.pk}/"]
    assert looks(Role.FITTER) == []
