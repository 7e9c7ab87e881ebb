"""The demo yard loads under every rule set: what it records of extinguishers and axles is what that rule set knows."""

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest

from config.demo.extinguishers import LEFT, extinguisher, looked_at, looks, stamped
from config.demo.story import Script, World
from config.demo.walking import Walker, figure
from config.demo.weights import GROUPS, LAW, plates
from config.demo.yard import CARTS
from fleet.actions.weights import record_plates
from fleet.extinguisher_kinds import due_for
from inspections.derived import meter_of
from inspections.library import library
from inspections.limits import keeps
from people.roles import Role
from people.yard import COUNTRIES, yard_policy
from servicing.extinguishers import REGIMES, due_dates
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory

TODAY = date(2026, 3, 2)
NOW = datetime.combine(TODAY, time(9), UTC)


@pytest.fixture(params=sorted(COUNTRIES))
def world(request, settings, db):
    settings.YARD_RULE_SET = request.param
    yard_policy.cache_clear()
    world = World(now=NOW, walker=Walker(seed=20))
    world.people["bruna"] = StaffFactory(role=Role.WORKSHOP_MANAGER)
    yield world
    yard_policy.cache_clear()


def test_every_rule_set_has_its_law_in_the_demo():
    assert set(LAW) == set(COUNTRIES) == set(REGIMES)
    assert {name for groups in GROUPS.values() for name, *_ in groups} == set(LAW["au"])


@pytest.mark.parametrize("regime", REGIMES)
@pytest.mark.parametrize("left", [-4, 5, 18, 160])
@pytest.mark.parametrize("today", [TODAY, date(2026, 8, 31), date(2028, 2, 29)])
def test_a_tag_is_stamped_so_that_its_service_falls_due_when_it_is_told(regime, left, today):
    kind, on = stamped(regime, left=left, today=today)
    events = [(kind, on), *((look, today - timedelta(days=12)) for look in looks(regime))]
    due = due_dates(
        regime=regime, agent="dry_chemical", made_on=date(today.year - 2, 1, 1), events=events, on=today
    )
    first = next(one for one in due if one.kind in {kind, "routine_6_month"})
    # Months are of the calendar.
    assert abs((first.on - today).days - left) <= 3
    assert all(one.on > today for one in due if one != first)


@pytest.mark.parametrize("rule_set", sorted(COUNTRIES))
def test_every_figure_of_a_walk_round_is_a_good_one_in_the_unit_of_its_rule_set(rule_set):
    """A walk-round of the demo finds fault where its story says so, nowhere else."""
    asked = [one for one in library() if one.answer == "measure" and not one.limit_from and not meter_of(one)]
    assert asked
    for check in asked:
        limit = check.limit_for(rule_set)
        value = figure(check, limit, rule_set)
        assert limit is None or keeps(limit, value), check.key
        assert check.unit_for(rule_set) != "bar" or Decimal(value) < 12


def test_what_the_demo_records_of_extinguishers_is_taken(world):
    for n, number in enumerate((*LEFT, "WC-01")):
        world.carts[number] = CartFactory(fleet_number=number)
        extinguisher(world, world.carts[number], n, world.when(-28, 8))
    script = Script()
    looked_at(world, script)
    script.play(until=NOW)
    past = [
        number
        for number, cart in world.carts.items()
        if any(one.on <= TODAY for one in due_for(cart.extinguishers.get(), on=TODAY))
    ]
    assert past == ["WC-03"]


@pytest.mark.parametrize("axles", sorted(GROUPS))
def test_what_the_demo_records_of_axles_is_taken(world, axles):
    plan = next(one for one in CARTS if one.axles == axles)
    row = record_plates(cart=CartFactory(), details=plates(plan, NOW), by=world.people["bruna"], at=NOW)
    assert row.rule_set == yard_policy().rule_set
