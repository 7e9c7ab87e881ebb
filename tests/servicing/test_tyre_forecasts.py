"""The stored forecasts: every tyre on a cart, by km its odometer showed, leaning on the yard's own tyres while readings are few."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from psycopg.types.range import Range

from fleet.models.carts import Meter
from servicing.models.tyres import FleetWear, TyreForecast
from servicing.odometer import odometers
from servicing.tread import forecast
from servicing.tyre_cost import cost_per_1000_km
from servicing.tyre_forecasts import make_tyre_forecasts
from tests.factories.fleet import CartFactory, MeterReadingFactory, TreadReadingFactory, TyreFittingFactory
from tests.factories.servicing import NOW, line_of, worn_steadily

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def made(fitting):
    make_tyre_forecasts(at=NOW)
    return TyreForecast.objects.get(fitting=fitting)


def test_a_steady_tyre_has_its_day_by_what_its_cart_runs():
    # 0.25 mm in 1,000 km, 14.5 mm at 30,000 km, change out at 3.0: 46,000 km on; 150 km a day are 306 days.
    row = made(worn_steadily(CartFactory()))
    assert row.basis == "readings"
    assert row.wear_mm_per_1000_km == pytest.approx(0.25, abs=0.03)
    assert (row.readings_count, row.last_depth_mm, row.last_km) == (6, Decimal("13.8"), 30000)
    alone = forecast(
        readings=[(22500 + 1500 * n, float(round(Decimal(16) - Decimal("0.375") * (n + 1), 1))) for n in range(6)], limit_mm=3.0
    )  # fmt: skip
    assert row.km_change_out == pytest.approx(alone.km_at_limit)
    assert row.km_change_out_low == pytest.approx(alone.km_at_limit_low)
    assert row.km_per_day == pytest.approx(150)
    days = int((alone.km_at_limit - 30000) // 150)
    assert row.on_change_out == date(2026, 12, 1) + timedelta(days=days)
    assert row.on_change_out_low < row.on_change_out < row.on_change_out_high
    assert row.km_legal > row.km_change_out
    assert row.fleet_wear is None


def test_without_km_the_forecast_says_so():
    row = made(worn_steadily(CartFactory(), is_km_read=False))
    assert (row.are_km_known, row.basis, row.km_change_out, row.on_change_out) == (
        False,
        "too few",
        None,
        None,
    )
    assert row.readings_count == 6


def test_a_tyre_never_measured_has_a_row_that_says_nothing():
    row = made(TyreFittingFactory())
    assert (row.readings_count, row.last_read_at, row.basis, row.km_change_out) == (0, None, "too few", None)


def test_a_depth_read_far_from_any_km_is_left_out():
    cart = CartFactory()
    fitting = worn_steadily(cart, until=NOW - 40 * DAY)
    TreadReadingFactory(fitting=fitting, depth_mm=Decimal("9.0"), read_at=NOW - 30 * DAY)
    row = made(fitting)
    assert (row.readings_count, row.last_depth_mm, row.last_km) == (7, Decimal("9.0"), 30000)
    assert row.wear_mm_per_1000_km == pytest.approx(0.25, abs=0.03)


def test_few_readings_lean_on_five_tyres_of_that_axle_and_the_page_can_say_which():
    for number in range(5):
        worn_steadily(CartFactory(), wear=Decimal("0.2") + Decimal(number) / 50)
    lone = worn_steadily(CartFactory(), readings=1, km=5000)
    steer = worn_steadily(CartFactory(), "1L", readings=1, km=5000)
    make_tyre_forecasts(at=NOW)
    rate = FleetWear.objects.get(steers=False, duty="")
    assert rate.tyres_count == 5
    assert rate.wear_mm_per_1000_km == pytest.approx(0.24, abs=0.02)
    row = TyreForecast.objects.get(fitting=lone)
    assert (row.basis, row.fleet_wear, row.wear_mm_per_1000_km) == ("fleet", rate, rate.wear_mm_per_1000_km)
    assert TyreForecast.objects.get(fitting=steer).basis == "too few"


def test_road_and_site_are_compared_like_with_like():
    for works_on, wear in (("road", "0.15"), ("site", "0.45")):
        for _ in range(5):
            cart = CartFactory()
            line_of(cart, starts_at=NOW - 30 * DAY, out_at=NOW - 30 * DAY, works_on=works_on)
            worn_steadily(cart, wear=Decimal(wear))
    cart = CartFactory()
    line_of(cart, starts_at=NOW - 30 * DAY, out_at=NOW - 30 * DAY, works_on="site")
    row = made(worn_steadily(cart, readings=1))
    assert (row.fleet_wear.duty, row.fleet_wear.tyres_count) == ("site", 5)
    assert row.wear_mm_per_1000_km == pytest.approx(0.45, abs=0.03)


def test_four_tyres_make_no_rate_and_a_rate_goes_with_its_tyres():
    fittings = [worn_steadily(CartFactory()) for _ in range(5)]
    make_tyre_forecasts(at=NOW)
    assert FleetWear.objects.count() == 1
    fittings[0].tread_readings.all().delete()
    make_tyre_forecasts(at=NOW)
    assert not FleetWear.objects.exists()


def test_made_twice_it_is_the_same_and_a_tyre_taken_off_has_none():
    stays, goes = worn_steadily(CartFactory()), worn_steadily(CartFactory())
    make_tyre_forecasts(at=NOW)
    before = list(TyreForecast.objects.order_by("pk").values())
    make_tyre_forecasts(at=NOW)
    assert list(TyreForecast.objects.order_by("pk").values()) == before
    goes.period = Range(goes.period.lower, NOW, "[)")
    goes.save()
    assert make_tyre_forecasts(at=NOW) == 1
    assert [row.fitting for row in TyreForecast.objects.all()] == [stays]


def test_one_cart_is_made_again_alone_with_the_fleet_s_rate_as_it_was():
    for _ in range(5):
        worn_steadily(CartFactory())
    make_tyre_forecasts(at=NOW)
    one = worn_steadily(CartFactory(), readings=1)
    assert make_tyre_forecasts(at=NOW, cart_id=one.wheel_position.cart_id) == 1
    assert TyreForecast.objects.get(fitting=one).basis == "fleet"
    assert TyreForecast.objects.count() == 6


def test_an_odometer_changed_on_the_way_goes_on_where_the_old_one_stopped():
    cart = CartFactory()
    old = cart.meters.get(kind="km")
    for days, value in ((40, 88_000), (30, 89_500)):
        MeterReadingFactory(meter=old, value=Decimal(value), read_at=NOW - days * DAY)
    old.removed_at = NOW - 30 * DAY
    old.save()
    new = Meter.objects.create(cart=cart, kind="km", fitted_at=NOW - 30 * DAY)
    for days, value in ((30, 10), (20, 1_510)):
        MeterReadingFactory(meter=new, value=Decimal(value), read_at=NOW - days * DAY)
    odometer = odometers([cart.pk])[cart.pk]
    assert odometer.km == (-1490, 10, 10, 1510)
    assert odometer.at(NOW - 35 * DAY) == pytest.approx(-740)
    assert odometer.at(NOW - 17 * DAY) == 1510
    assert odometer.at(NOW - 16 * DAY) is None
    assert odometer.at(NOW - 44 * DAY) is None


def test_a_pair_that_is_not_alike_is_noted_on_both():
    cart = CartFactory()
    outer, inner = worn_steadily(cart, "2LO"), worn_steadily(cart, "2LI", make="Emu")
    lone = worn_steadily(cart, "2RO")
    make_tyre_forecasts(at=NOW)
    words = {row.fitting_id: row.pair_words for row in TyreForecast.objects.all()}
    assert "not of one make" in words[outer.pk] == words[inner.pk]
    assert words[lone.pk] == ""


def test_queries_do_not_grow_with_the_tyres():
    def queries():
        with CaptureQueriesContext(connection) as seen:
            make_tyre_forecasts(at=NOW)
        return len(seen)

    worn_steadily(CartFactory())
    few = queries()
    for _ in range(6):
        cart = CartFactory()
        for code in ("1L", "1R", "2LO"):
            worn_steadily(cart, code)
    # The fleet's rate is written now, and nothing else.
    assert queries() <= few + 1


def test_the_database_refuses_a_spread_upside_down():
    row = made(worn_steadily(CartFactory()))
    with pytest.raises(IntegrityError, match="servicing_tyreforecast_low_first"), transaction.atomic():
        TyreForecast.objects.filter(pk=row.pk).update(km_change_out_low=row.km_change_out + 1)


def test_cost_by_the_distance():
    # 15 mm to wear at 0.25 mm per 1,000 km are 60,000 km; 720.00 over 60 is 12.00.
    known = {"cost": Decimal(720), "new_depth_mm": Decimal(18), "change_out_mm": Decimal(3)}
    assert cost_per_1000_km(**known, wear_mm_per_1000_km=0.25) == Decimal(12)
    assert cost_per_1000_km(**known, wear_mm_per_1000_km=0.0) is None
    assert cost_per_1000_km(**known | {"new_depth_mm": Decimal(3)}, wear_mm_per_1000_km=0.25) is None
    with pytest.raises(ValueError, match="below zero"):
        cost_per_1000_km(**known | {"cost": Decimal(-1)}, wear_mm_per_1000_km=0.25)


def test_no_day_is_put_before_the_last_reading():
    # By its line it was down to 3.0 mm some 25 days ago; but its odometer says that only of the day it was last read.
    row = made(worn_steadily(CartFactory(), new=Decimal("4.5"), wear=Decimal("0.3")))
    assert row.km_change_out < row.last_km
    assert row.on_change_out == row.on_change_out_low == date(2026, 12, 1)


def test_the_database_refuses_two_rates_of_one_kind_and_one_that_wears_nothing():
    known = {"steers": True, "duty": "", "tyres_count": 5, "made_at": NOW}
    FleetWear.objects.create(**known, wear_mm_per_1000_km=0.2, spread_mm_per_1000_km=0.1)
    for changes, constraint in (
        ({}, "servicing_fleetwear_once"),
        ({"duty": "road", "wear_mm_per_1000_km": 0.0}, "servicing_fleetwear_above_zero"),
        ({"duty": "site", "spread_mm_per_1000_km": 0.0}, "servicing_fleetwear_above_zero"),
    ):
        rate = {"wear_mm_per_1000_km": 0.2, "spread_mm_per_1000_km": 0.1} | known | changes
        with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
            FleetWear.objects.create(**rate)
