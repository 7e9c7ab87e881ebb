"""Anybody tags a cart out; a manager frees it, and an incident's hold the fleet manager alone."""

from datetime import timedelta

import pytest

from fleet.actions.holds import AlreadyLifted, TagStillHangs, lift_hold, place_hold
from fleet.actions.locks import AgainstARule
from fleet.models.standing import Hold
from fleet.readiness import Window, readiness
from people.refusals import NotAllowed
from people.roles import MANAGERS, Role
from tests.factories.fleet import CartFactory, HoldFactory, PhotoFactory
from tests.factories.people import StaffFactory
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db


def place(cart, by, at, **changes):
    said = {
        "reason": " Gearbox noise ",
        "tag_number": "114",
        "is_tag_hung": True,
        "keys_words": "Workshop board",
    }
    return place_hold(cart=cart, by=by, at=at, **said | changes)


def lift(hold, by, at, **changes):
    return lift_hold(hold=hold, by=by, at=at, **{"words": "Maker looked at it", "is_tag_off": True} | changes)


def held_by(cart, at):
    answer = readiness(cart, window=Window(at, at + timedelta(days=1)), at=at)
    return [blocker.code for blocker in answer.blockers if blocker.code.startswith("hold.")]


@pytest.mark.parametrize("role", sorted(Role))
def test_anybody_of_the_yard_stops_a_cart(people, at, role):
    cart = CartFactory()
    hold = place(cart, people[role], at, photo=PhotoFactory())
    assert (hold.reason, hold.placed_by, hold.placed_at) == ("Gearbox noise", people[role], at)
    assert held_by(cart, at) == ["hold.manual"]
    [(event, facts)] = entries_of(cart)
    assert (event, facts["tag_number"]) == ("fleet.hold.placed", "114")


def test_the_same_hold_again_is_the_first_and_another_persons_is_its_own(people, at):
    cart, fitter = CartFactory(), people[Role.FITTER]
    first = place(cart, fitter, at)
    assert place(cart, fitter, at) == first
    assert place(cart, people[Role.YARD_HAND], at) != first
    assert place(cart, fitter, at, kind="incident") != first
    assert len(entries_of(cart)) == 3


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"reason": " "}, "reason"),
        ({"keys_words": ""}, "keys_words"),
        ({"tag_number": ""}, "tag_number"),
        ({"kind": "maybe"}, "kind"),
    ],
)
def test_a_hold_says_why_where_the_keys_are_and_which_tag(people, at, changes, field):
    with pytest.raises(AgainstARule) as refused:
        place(CartFactory(), people[Role.FITTER], at, **changes)
    assert refused.value.field == field
    assert not Hold.objects.exists()


def test_somebody_who_left_the_yard_tags_nothing_out(at):
    with pytest.raises(NotAllowed):
        place(CartFactory(), StaffFactory(is_active=False), at)


@pytest.mark.parametrize("role", sorted(Role))
@pytest.mark.parametrize("kind", ["manual", "incident"])
def test_who_frees_a_cart(people, at, role, kind):
    hold, may = HoldFactory(kind=kind), role in MANAGERS if kind == "manual" else role == Role.FLEET_MANAGER
    if may:
        assert lift(hold, people[role], at).lifted_by == people[role]
        assert held_by(hold.cart, at) == []
        assert events_of(hold.cart) == ["fleet.hold.lifted"]
    else:
        with pytest.raises(NotAllowed):
            lift(hold, people[role], at)
        assert held_by(hold.cart, at) == [f"hold.{kind}"]


def test_a_cart_stays_held_while_its_tag_hangs(people, at):
    hold = HoldFactory(tag_number="114")
    with pytest.raises(TagStillHangs, match="tag 114") as refused:
        lift(hold, people[Role.WORKSHOP_MANAGER], at, is_tag_off=False)
    assert refused.value.field == "is_tag_off"
    assert (
        lift(HoldFactory(is_tag_hung=False), people[Role.WORKSHOP_MANAGER], at, is_tag_off=False).lifted_at
        == at
    )


def test_freeing_says_why(people, at):
    with pytest.raises(AgainstARule) as refused:
        lift(HoldFactory(), people[Role.WORKSHOP_MANAGER], at, words="")
    assert refused.value.field == "words"


def test_a_hold_is_lifted_once(people, at):
    hold = HoldFactory()
    lift(hold, people[Role.WORKSHOP_MANAGER], at)
    with pytest.raises(AlreadyLifted, match=people[Role.WORKSHOP_MANAGER].full_name):
        lift(hold, people[Role.FLEET_MANAGER], at)
    assert events_of(hold.cart) == ["fleet.hold.lifted"]


def test_a_hold_lifted_before_it_was_placed_is_refused(people):
    hold = HoldFactory()
    with pytest.raises(AgainstARule, match="after it was placed"):
        lift(hold, people[Role.WORKSHOP_MANAGER], hold.placed_at - timedelta(minutes=1))
