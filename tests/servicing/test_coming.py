"""What the coming weeks say of a cart that may go on with a defect, and of one that may not."""

from datetime import timedelta

import pytest

from people.yard import yard_day
from servicing.coming import coming
from tests.factories.fleet import CartFactory, DefectFactory, LimitFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db

UNTIL = yard_day(NOW) + timedelta(weeks=8)


def item_of(defect):
    [item] = [
        one for one in coming([defect.cart], until=UNTIL, at=NOW)[defect.cart_id] if one.kind == "defect"
    ]
    return item


def do_not_use(**kwargs):
    return DefectFactory(
        cart=CartFactory(), grade="do_not_use", state="assessed", told_at=NOW - timedelta(days=3), **kwargs
    )


def test_a_cart_with_a_do_not_use_stays_and_its_repair_waits_for_nothing():
    item = item_of(do_not_use())
    assert item.why == "Do not use: the cart stays until it is repaired."
    assert item.latest_on == yard_day(NOW)


def test_with_its_gear_isolated_the_cart_goes_and_the_repair_may_wait():
    defect = do_not_use(gear="cannon")
    LimitFactory(defect=defect)
    item = item_of(defect)
    assert (
        item.why
        == "Do not use. Its gear is isolated and tagged: the cart goes without it until it is repaired."
    )
    assert (item.on, item.latest_on) == (yard_day(NOW), UNTIL)


def test_a_limit_lifted_counts_for_nothing():
    defect = do_not_use(gear="cannon")
    LimitFactory(defect=defect, lifted_at=NOW - timedelta(days=1))
    assert "the cart stays" in item_of(defect).why
