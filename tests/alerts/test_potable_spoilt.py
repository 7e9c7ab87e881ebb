"""A cart out for drinking water that was filled with something else on that hire: told at once, once, until its cause is gone."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from hire.actions.gate import bring_back
from hire.actions.loads import Teller, record_load, undo_load
from hire.models.agreements import Agreement
from hire.watch_water import potable_spoilt
from people.roles import Role
from tests.factories.hire import LineFactory, LoadFactory
from tests.factories.water import WaterCarriedFactory, potable_cart
from tests.factories.wet import DailyDocketFactory, wet_out

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


def out(at, water="potable", **made):
    starts = at - 4 * DAY
    return LineFactory(
        **{"cart": potable_cart(), "starts_at": starts, "out_at": starts, "agreement__water": water} | made
    )


def tap(line, source, *, by, at, point="Weir Street"):
    return record_load(
        line=line, load_id=uuid.uuid4(), fill_point=point, litres=9000, source=source, taken_at=at, teller=Teller(by=by), at=at,
    )  # fmt: skip


def test_it_is_a_stop_that_says_which_water_and_whom_to_ring(hand, at):
    line = out(at)
    tap(line, "bore", by=hand, at=at)
    [told] = potable_spoilt(at)
    assert (told.subject_id, told.cart_id, told.rank) == (line.pk, line.cart_id, "stop")
    number, who = line.cart.fleet_number, line.agreement.customer
    assert told.what.startswith(
        f"{number} is out for drinking water at Saltbush Road widening and was filled with other water: bore"
    )
    assert f"on hire {line.agreement.number}, 1 load from " in told.how_we_know
    assert told.act == "Ring them: nobody drinks from it"
    assert told.if_not == f"Somebody drinks it. {who.name}: {who.phone}. Another cart has to go."


def test_it_is_raised_once_and_cleared_when_the_load_is_taken_back(hand, at):
    line = out(at, agreement__place_of_work="x" * 120, agreement__customer__name="y" * 80)
    load = tap(line, "bore", by=hand, at=at)
    sweep(at=at)
    sweep(at=at + HOUR / 4)
    alert = Alert.objects.get(rule="hire.potable_spoilt")
    assert alert.cleared_at is None
    undo_load(load=load, teller=Teller(by=hand), at=at + HOUR / 3)
    sweep(at=at + HOUR / 2)
    alert.refresh_from_db()
    assert alert.cleared_at == at + HOUR / 2


def test_it_ends_with_the_return_and_where_any_water_is_agreed(hand, at):
    line, other = out(at), out(at)
    for one in (line, other):
        tap(one, "dam", by=hand, at=at)
    assert len(list(potable_spoilt(at))) == 2
    bring_back(line=line, where_words="Wash bay", keys_words="Board", water="dam", by=hand, at=at + HOUR)
    Agreement.objects.filter(pk=other.agreement_id).update(water="any")
    assert list(potable_spoilt(at + 2 * HOUR)) == []


def test_a_daily_docket_tells_it_too(at):
    turn = wet_out(at=at, cart=potable_cart(), agreement__water="potable")
    assert list(potable_spoilt(at)) == []
    DailyDocketFactory(line=turn.line, water_source="recycled")
    assert [one.subject_id for one in potable_spoilt(at)] == [turn.line.pk]


def test_potable_water_another_hires_and_the_yards_own_fill_are_no_such_thing(hand, at):
    line = out(at)
    tap(line, "potable", by=hand, at=at)
    tap(out(at, "any"), "bore", by=hand, at=at)
    before = out(at - 30 * DAY, cart=line.cart, came_back_at=at - 20 * DAY)
    LoadFactory(line=before, taken_at=at - 25 * DAY, source="bore")
    WaterCarriedFactory(cart=line.cart, source="bore", filled_at=at - 40 * DAY)
    assert list(potable_spoilt(at)) == []


def test_it_costs_the_same_for_three_and_thirty(hand, at):
    def cost():
        with CaptureQueriesContext(connection) as queries:
            found = list(potable_spoilt(at))
        return len(found), len(queries)

    def add(count):
        for _ in range(count):
            LoadFactory(line=out(at), taken_at=at, source="bore")

    add(3)
    few, queries = cost()
    add(27)
    assert (few, cost()) == (3, (30, queries))
