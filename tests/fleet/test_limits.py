"""Goes with limits: gear a hire may do without is isolated, and nothing else is."""

import pytest

from fleet.actions.holds import lift_limit, set_limit
from fleet.actions.limits import LimitGone, NotIsolable, end_limits_of
from fleet.actions.locks import AgainstARule
from fleet.actions.passes import window_of
from fleet.gear import GEAR, MAY_BE_ISOLATED
from fleet.models.standing import Limit
from fleet.readiness import readiness
from people.refusals import NotAllowed
from people.roles import MANAGERS, Role
from tests.factories.fleet import DefectFactory, LimitFactory
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db


def isolate(defect, by, at, **changes):
    said = {
        "how_isolated": "Air off, valve tied",
        "tag_number": "L7",
        "words": "Cannon isolated: not for use.",
    }
    return set_limit(defect=defect, by=by, at=at, **said | changes)


def cannon(**changes):
    return DefectFactory(title="Cannon cracked", station="tank_top", place="", gear="cannon", **changes)


def stops(cart, at):
    answer = readiness(cart, window=window_of(cart, at=at), at=at)
    return [blocker.code for blocker in answer.blockers if blocker.code.startswith("defect.")], [
        limit.sentence for limit in answer.limits
    ]


def test_an_isolated_cannon_no_longer_stops_the_cart(people, at):
    defect = cannon()
    assert stops(defect.cart, at) == (["defect.do_not_use"], [])
    limit = isolate(defect, people[Role.WORKSHOP_MANAGER], at)
    assert (limit.gear, limit.set_at) == ("cannon", at)
    assert stops(defect.cart, at) == ([], ["Cannon isolated: not for use."])
    assert entries_of(defect.cart)[0][1]["tag_number"] == "L7"
    lift_limit(limit=limit, by=people[Role.FLEET_MANAGER], at=at)
    assert stops(defect.cart, at) == (["defect.do_not_use"], [])
    assert events_of(defect.cart) == ["fleet.limit.set", "fleet.limit.lifted"]


@pytest.mark.parametrize("gear", ["", *sorted(GEAR.keys() - MAY_BE_ISOLATED)])
def test_gear_no_hire_may_do_without_is_not_isolated(people, at, gear):
    with pytest.raises(NotIsolable):
        isolate(DefectFactory(gear=gear), people[Role.FLEET_MANAGER], at)
    assert not Limit.objects.exists()


def test_brakes_and_emergency_stops_are_not_among_what_may_be_isolated():
    assert not MAY_BE_ISOLATED & {
        "air_brakes",
        "emergency_stop",
        "extinguisher",
        "rops",
        "reversing_alarm",
        "beacon",
    }


def test_a_closed_defect_limits_nothing(people, at):
    with pytest.raises(NotIsolable, match="is closed"):
        isolate(cannon(state="verified"), people[Role.FLEET_MANAGER], at)


def test_a_defect_has_one_limit(people, at):
    defect = cannon()
    isolate(defect, people[Role.FLEET_MANAGER], at)
    with pytest.raises(AgainstARule, match="already covers"):
        isolate(defect, people[Role.FLEET_MANAGER], at)


@pytest.mark.parametrize("field", ["how_isolated", "tag_number", "words"])
def test_a_limit_says_how_with_which_tag_and_what_is_printed(people, at, field):
    with pytest.raises(AgainstARule) as refused:
        isolate(cannon(), people[Role.FLEET_MANAGER], at, **{field: " "})
    assert refused.value.field == field


@pytest.mark.parametrize("role", sorted(set(Role) - MANAGERS))
def test_only_a_manager_sets_or_lifts_a_limit(people, at, role):
    with pytest.raises(NotAllowed):
        isolate(cannon(), people[role], at)
    with pytest.raises(NotAllowed):
        lift_limit(limit=LimitFactory(), by=people[role], at=at)


def test_a_limit_is_lifted_once(people, at):
    limit = LimitFactory()
    lift_limit(limit=limit, by=people[Role.FLEET_MANAGER], at=at)
    with pytest.raises(LimitGone):
        lift_limit(limit=limit, by=people[Role.FLEET_MANAGER], at=at)


def test_closing_a_defect_ends_its_limits_and_no_other(at):
    limit, other = LimitFactory(), LimitFactory()
    end_limits_of(defect=limit.defect, at=at)
    assert list(Limit.objects.filter(lifted_at=None)) == [other]
