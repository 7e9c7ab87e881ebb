"""Alerts of tyres by their wear and of wheel nuts: one growing alert each, raised and cleared at different lines."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from servicing.models.tyres import TyreForecast
from servicing.tyre_forecasts import make_tyre_forecasts
from servicing.wheel_watch import retorques_due, tyres_due
from tests.factories.fleet import CartFactory, MeterReadingFactory, TreadReadingFactory
from tests.factories.servicing import NOW, RetorqueFactory, worn_steadily

pytestmark = pytest.mark.django_db
TODAY, DAY = date(2026, 12, 1), timedelta(days=1)


@pytest.fixture
def fitting():
    found = worn_steadily(CartFactory())
    make_tyre_forecasts(at=NOW)
    return found


def down_in(days):
    on = TODAY + days * DAY
    TyreForecast.objects.update(on_change_out=on, on_change_out_low=on - DAY, on_change_out_high=on + DAY)


# The yard's lead is 21 days (common practice, no source); an open alert stays until it is more than 10 days beyond.
@pytest.mark.parametrize(
    ("days", "found"), [(21, [False]), (22, [True]), (31, [True]), (32, []), (-3, [False])]
)
def test_a_forecast_raises_inside_the_lead_and_keeps_a_little_beyond(fitting, days, found):
    down_in(days)
    conditions = list(tyres_due(NOW))
    assert [one.only_keeps for one in conditions] == found
    for one in conditions:
        assert (one.rank, one.subject_id, one.evidence_at) == ("soon", fitting.pk, NOW)
        assert "by its wear the tyre at axle 2 left outer is to be changed out about" in one.what
        assert "6 depth readings, the last today" in one.how_we_know


def test_the_line_it_clears_at_is_not_the_line_it_is_raised_at(fitting):
    def open_alerts(days):
        down_in(days)
        sweep(at=NOW)
        return Alert.objects.open().filter(rule="servicing.tyre_due").count()

    assert [open_alerts(days) for days in (25, 20, 25, 31, 32, 25)] == [0, 1, 1, 1, 0, 0]


def test_it_grows_in_rank_as_depth_takes_over(fitting):
    down_in(5)
    sweep(at=NOW)
    alert = Alert.objects.get(rule="servicing.tyre_due")
    assert alert.rank == "soon"
    TreadReadingFactory(fitting=fitting, depth_mm=Decimal("2.9"), read_at=NOW)
    sweep(at=NOW)
    again = Alert.objects.get(rule="servicing.tyre_due")
    assert (again.pk, again.rank) == (alert.pk, "today")


@pytest.mark.parametrize(
    ("changes", "rank"),
    [
        ({"fitted_at": NOW - timedelta(minutes=29)}, None),
        ({"fitted_at": NOW - timedelta(minutes=30)}, "today"),
        ({"first": True}, None),
        ({"first": True, "run": "39.9"}, None),
        ({"first": True, "run": "40.0"}, "today"),
        ({"first": True, "run": "80.0"}, "stop"),
        ({"run": "80.0"}, "stop"),
        ({"replaced_at": NOW}, None),
    ],
)
def test_nuts_are_told_when_they_wait_and_stop_when_overdue(changes, rank):
    run = changes.pop("run", None) if (changes := dict(changes)) else None
    cart = CartFactory(fleet_number="WC-47")
    task = RetorqueFactory(cart=cart, km_at_fitting=Decimal(41000), **changes)
    if run:
        MeterReadingFactory(cart=cart, kind="km", value=Decimal(41000) + Decimal(run), read_at=NOW)
    found = list(retorques_due(NOW))
    assert [one.rank for one in found] == ([rank] if rank else [])
    for one in found:
        assert (one.subject_kind, one.subject_id, one.cart_id) == ("retorque", task.pk, cart.pk)
        assert one.what.startswith("WC-47: Wheel nuts at axle 2 left")
        assert "BS AU 50" in one.how_we_know


def test_a_cart_that_left_the_fleet_is_told_of_no_more():
    RetorqueFactory(cart=CartFactory(retired_on=date(2026, 6, 1)))
    assert list(retorques_due(NOW)) == []


@pytest.mark.parametrize("rule", [tyres_due, retorques_due])
def test_thirty_carts_cost_one_query(rule):
    for _ in range(30):
        cart = CartFactory(layout="4x2", gear=())
        worn_steadily(cart)
        RetorqueFactory(cart=cart)
    make_tyre_forecasts(at=NOW)
    down_in(3)
    with CaptureQueriesContext(connection) as queries:
        assert len(list(rule(NOW))) == 30
    assert len(queries) == 1
