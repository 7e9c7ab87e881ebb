"""An extinguisher past its service may be passed on site alone, and only beside a second one in date. Common practice, no
source."""

from datetime import date, timedelta

import pytest

from fleet.readiness import Window, readiness
from people.roles import MANAGERS
from people.yard import yard_day
from tests.factories.fleet import CartFactory, ExtinguisherFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db
TODAY = yard_day(NOW)
IN_DATE = dict.fromkeys(("yearly_service", "extended_service", "routine_12_month", "pressure_test"), TODAY)


def lapsed(cart):
    return ExtinguisherFactory(cart=cart, made_on=date(2024, 1, 1))


def second(cart, **changes):
    return ExtinguisherFactory(cart=cart, serviced=IN_DATE, **changes)


def stops(cart, works_on):
    window = Window(NOW, NOW + timedelta(days=1), works_on=works_on, asks_gate=False)
    return {one.code: one for one in readiness(cart, window=window, at=NOW).blockers}


@pytest.mark.parametrize(
    ("works_on", "beside", "is_passable"),
    [
        pytest.param("site", second, True, id="on site, a second in date"),
        pytest.param("road", second, False, id="on the road"),
        pytest.param("site", lambda _cart: None, False, id="alone"),
        pytest.param("site", lapsed, False, id="the second lapsed too"),
        pytest.param("site", lambda cart: second(cart, is_discharged=True), False, id="the second is used"),
    ],
)
def test_who_may_let_a_cart_go_with_one_past_its_service(works_on, beside, is_passable):
    cart = CartFactory()
    lapsed(cart)
    beside(cart)
    stop = stops(cart, works_on)["extinguisher.due"]
    assert stop.passed_by == (MANAGERS if is_passable else frozenset())


def test_a_used_one_is_never_passed():
    cart = CartFactory()
    ExtinguisherFactory(cart=cart, serviced=IN_DATE, is_discharged=True)
    second(cart)
    assert stops(cart, "site")["extinguisher.discharged"].passed_by == frozenset()
