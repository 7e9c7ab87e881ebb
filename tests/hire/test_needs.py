"""When each cart is next wanted: the hire it is out on, else its next promise not yet over."""

from datetime import timedelta

from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.needs import next_need
from hire.promises import window_of
from tests.factories.fleet import CartFactory
from tests.factories.hire import LineFactory, OffHireFactory

DAY = timedelta(days=1)


def need_of(cart, at):
    return next_need([cart], at=at).get(cart.pk)


def test_a_cart_nobody_asked_for_has_no_need(db, at):
    assert need_of(CartFactory(), at) is None


def test_the_soonest_promise_counts_with_its_window_and_label(db, at):
    cart = CartFactory()
    LineFactory(cart=cart, starts_at=at + 20 * DAY)
    soonest = LineFactory(
        cart=cart, starts_at=at + 5 * DAY, agreement__leaves_by="float", agreement__works_on="site"
    )
    need = need_of(cart, at)
    assert need.window == window_of(soonest)
    assert need.label == f"{soonest.agreement.customer.name}, Saltbush Road widening"
    assert (need.record_kind, need.record_id, need.is_out) == ("hire_line", soonest.pk, False)


def test_a_promise_that_runs_and_has_not_left_still_counts_until_it_is_over(db, at):
    line = LineFactory(starts_at=at - 2 * DAY, ends_at=at + DAY)
    assert need_of(line.cart, at).record_id == line.pk
    assert need_of(line.cart, at + DAY) is None


def test_what_a_cart_is_out_on_comes_first_however_late(db, at):
    cart = CartFactory()
    late = LineFactory(cart=cart, starts_at=at - 20 * DAY, ends_at=at - 10 * DAY, out_at=at - 20 * DAY)
    LineFactory(cart=cart, starts_at=at - DAY, ends_at=at + DAY)
    need = need_of(cart, at)
    assert (need.record_id, need.is_out) == (late.pk, True)


def test_what_is_cancelled_or_back_is_no_need(db, at):
    cart = CartFactory()
    LineFactory(cart=cart, starts_at=at + DAY, cancelled_at=at)
    LineFactory(
        cart=cart, starts_at=at - 5 * DAY, ends_at=at + DAY, out_at=at - 5 * DAY, came_back_at=at - DAY
    )
    assert need_of(cart, at) is None


def test_a_cart_called_off_owes_no_pre_start_until_the_call_is_taken_back(db, at):
    out_at = at - 3 * DAY
    line = LineFactory(starts_at=out_at, ends_at=at + DAY, out_at=out_at)
    assert need_of(line.cart, at).shift_from is not None
    call = OffHireFactory(line=line)
    need = need_of(line.cart, at)
    assert (need.is_out, need.shift_from) == (True, None)
    call.cancelled_at, call.cancelled_why = at, "Rang for the other cart"
    call.save()
    assert need_of(line.cart, at).shift_from is not None


def test_one_query_however_many_carts(db, at):
    lines = [LineFactory(starts_at=at + n * DAY) for n in range(1, 12)]
    for carts in ([lines[0].cart], [line.cart for line in lines]):
        with CaptureQueriesContext(connection) as seen:
            assert set(next_need(carts, at=at)) == {cart.pk for cart in carts}
        assert len(seen) == 1
