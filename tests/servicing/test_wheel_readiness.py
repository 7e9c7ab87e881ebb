"""What tyres and wheel nuts say of a cart before it goes, and of what must never be passed."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models.wheels import Tyre
from fleet.readiness import Window, readiness
from people.yard import yard_policy
from servicing import due
from servicing.models.tyres import TyreForecast
from servicing.tyre_forecasts import make_tyre_forecasts
from servicing.wheel_due import made_before, too_old_on
from tests.factories.fleet import CartFactory, MeterReadingFactory, TreadReadingFactory, TyreFittingFactory
from tests.factories.servicing import NOW, RetorqueFactory, worn_steadily

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def answer(cart, *, starts=NOW + HOUR, days=7, at=NOW):
    window = Window(starts, starts + days * DAY, asks_gate=False)
    return readiness(cart, window=window, at=at)


def blockers(cart, **kwargs):
    return {one.code: one for one in answer(cart, **kwargs).blockers}


def cautions(cart, **kwargs):
    return {one.code: one for one in answer(cart, **kwargs).cautions}


@pytest.fixture
def uk(monkeypatch):
    """The yard under the United Kingdom's rule set."""
    policy = yard_policy()
    uk_policy = type(policy)(**vars(policy) | {"rule_set": "uk"})
    for module in ("due", "wheel_due", "tyre_limits", "tyre_pages"):
        monkeypatch.setattr(f"servicing.{module}.yard_policy", lambda: uk_policy)


@pytest.mark.parametrize(
    ("on_change_out", "is_told"),
    [
        (date(2026, 12, 8), False),
        (date(2026, 12, 7), True),
        (date(2026, 12, 3), True),
        (date(2026, 12, 1), True),
    ],
)
def test_a_tyre_that_will_be_down_inside_the_window_is_a_caution(on_change_out, is_told):
    cart = CartFactory()
    fitting = worn_steadily(cart)
    make_tyre_forecasts(at=NOW)
    TyreForecast.objects.update(
        on_change_out=on_change_out, on_change_out_low=on_change_out - 2 * DAY, on_change_out_high=on_change_out + 8 * DAY
    )  # fmt: skip
    found = cautions(cart).get("tyre.forecast")
    assert (found is not None) == is_told
    if found is not None:
        assert found.record.id == fitting.pk
    if on_change_out == date(2026, 12, 3):
        assert (
            found.sentence
            == "Tyre at axle 2 left outer: change out about 3 Dec (1 Dec to 11 Dec) by its wear."
        )
        assert found.due_at is not None
    if on_change_out == date(2026, 12, 1):
        assert "Measure it before it leaves" in found.sentence
        assert found.due_at is None


def test_a_tyre_that_stops_the_cart_by_depth_is_not_told_twice():
    cart = CartFactory()
    fitting = worn_steadily(cart)
    make_tyre_forecasts(at=NOW)
    TyreForecast.objects.update(on_change_out=date(2026, 12, 2))
    TreadReadingFactory(fitting=fitting, depth_mm=Decimal("2.9"), read_at=NOW)
    assert "tyre.change_out" in blockers(cart)
    assert "tyre.forecast" not in cautions(cart)


def test_a_pair_that_is_not_alike_is_one_caution():
    cart = CartFactory()
    worn_steadily(cart, "2LO"), worn_steadily(cart, "2LI", make="Emu")
    make_tyre_forecasts(at=NOW)
    [found] = [one for one in answer(cart).cautions if one.code == "tyre.pair"]
    assert found.sentence.startswith("Duals at axle 2 left: The two are not of one make")


# TY-10 VERIFIED-S: no tyre older than 10 years on a front axle (UK).
def test_ten_years_are_counted_to_the_day():
    assert too_old_on(date(2016, 12, 1)) == date(2026, 12, 2)
    assert too_old_on(date(2016, 2, 29)) == date(2026, 3, 1)
    assert too_old_on(date(2018, 2, 28)) == date(2028, 2, 29)
    for made_on in (
        date(2016, 2, 28),
        date(2016, 2, 29),
        date(2016, 3, 1),
        date(2018, 2, 28),
        date(2016, 12, 31),
    ):
        for days in range(-2, 3):
            on = too_old_on(made_on) + days * DAY
            assert (made_on < made_before(on)) == (on >= too_old_on(made_on)), (made_on, on)


@pytest.mark.parametrize(
    ("code", "made_on", "is_held", "is_told"),
    [
        ("1L", date(2016, 11, 30), True, False),
        ("1L", date(2016, 12, 1), False, True),
        ("1L", date(2016, 12, 8), False, False),
        ("1L", None, False, False),
        ("2LO", date(2010, 1, 1), False, False),
    ],
)
def test_an_old_front_tyre_stops_a_cart_in_the_united_kingdom(uk, code, made_on, is_held, is_told):
    cart = CartFactory()
    TyreFittingFactory(cart=cart, code=code, tyre__made_on=made_on)
    held = blockers(cart).get("tyre.age")
    assert (held is not None, "tyre.age" in cautions(cart)) == (is_held, is_told)
    if held is not None:
        assert not held.passed_by


def test_elsewhere_an_old_front_tyre_is_a_caution():
    cart = CartFactory()
    TyreFittingFactory(cart=cart, code="1L", tyre__made_on=date(2016, 11, 30))
    assert "tyre.age" not in blockers(cart)
    assert cautions(cart)["tyre.age"].due_at is None
    Tyre.objects.update(made_on=date(2016, 12, 1))
    assert "tyre.age" not in cautions(cart)


def test_nuts_not_checked_in_the_yard_stop_the_cart_and_nobody_passes_that():
    task = RetorqueFactory()
    held = blockers(task.cart)["retorque.outstanding"]
    assert held.sentence == "Wheel nuts at axle 2 left: check them again now, before it leaves."
    assert (held.passed_by, held.record.kind, held.record.id) == (frozenset(), "retorque", task.pk)
    early = RetorqueFactory(fitted_at=NOW)
    assert "from today 8.00 am" in blockers(early.cart)["retorque.outstanding"].sentence


def test_the_check_on_the_road_is_a_caution_that_names_who_and_by_when():
    task = RetorqueFactory(first=True)
    assert not blockers(task.cart)
    found = cautions(task.cart)["retorque.second"]
    assert "by M. Doyle, Callabar, 40 to 80 km after fitting, or by today 3.30 pm" in found.sentence
    assert found.due_at == task.shift_ends_at


@pytest.mark.parametrize(("run", "is_overdue"), [("79.9", False), ("80.0", True)])
def test_overdue_it_stops_the_cart_again(run, is_overdue):
    cart = CartFactory()
    task = RetorqueFactory(cart=cart, first=True, km_at_fitting=Decimal(41000))
    MeterReadingFactory(cart=cart, kind="km", value=Decimal(41000) + Decimal(run), read_at=NOW)
    held = blockers(cart).get("retorque.overdue")
    assert (held is not None) == is_overdue
    if held is not None:
        assert (held.passed_by, "80 km since" in held.sentence) == (frozenset(), True)
        assert task.second_for in held.sentence


def test_closed_or_replaced_it_says_nothing():
    done = RetorqueFactory(first=True)
    type(done).objects.filter(pk=done.pk).update(
        second_at=NOW, second_by_words="M. Doyle", second_nm=600, second_nuts=10
    )
    replaced = RetorqueFactory(replaced_at=NOW)
    for task in (done, replaced):
        assert not blockers(task.cart)
        assert "retorque.second" not in cautions(task.cart)


def test_many_carts_cost_as_many_queries_as_one():
    def queries(carts):
        windows = {cart.pk: Window(NOW, NOW + DAY) for cart in carts}
        with CaptureQueriesContext(connection) as seen:
            due.findings(carts, windows=windows, at=NOW)
        return len(seen)

    carts = [CartFactory() for _ in range(5)]
    for cart in carts:
        worn_steadily(cart, "2LO")
        worn_steadily(cart, "2LI", make="Emu")
        TyreFittingFactory(cart=cart, code="1L", tyre__made_on=date(2001, 1, 1))
        RetorqueFactory(cart=cart)
    make_tyre_forecasts(at=NOW)
    assert queries(carts[:1]) == queries(carts) <= 8


def test_asked_of_many_carts_each_hears_only_of_its_own(monkeypatch):
    monkeypatch.setattr("servicing.wheel_due.NAMED", 1)
    asked, other = RetorqueFactory(), RetorqueFactory(first=True)
    worn_steadily(other.cart, "2RO"), worn_steadily(other.cart, "2RI", make="Emu")
    make_tyre_forecasts(at=NOW)
    carts = [asked.cart, CartFactory()]
    windows = {cart.pk: Window(NOW, NOW + DAY) for cart in carts}
    found = due.findings(carts, windows=windows, at=NOW)
    assert {cart_id for cart_id, one in found.items() if one.blockers or one.cautions} == {asked.cart_id}
