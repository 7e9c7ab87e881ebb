"""Papers that lapse, carts at work with meters nobody reads, carts that are not back."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models.carts import MeterReading
from fleet.watch import meters_unread, papers_lapse
from hire.watch import returns_overdue
from people.yard import yard_day
from tests.factories.fleet import CartFactory, DocumentFactory
from tests.factories.servicing import NOW, line_of

pytestmark = pytest.mark.django_db
TODAY, DAY = yard_day(NOW), timedelta(days=1)


def paper(days_left, **kwargs):
    return DocumentFactory(expires_on=TODAY + days_left * DAY, **kwargs)


@pytest.mark.parametrize(
    ("days_left", "rank"), [(31, None), (30, "soon"), (8, "soon"), (7, "today"), (0, "today"), (-3, "today")]
)
def test_a_paper_is_told_of_in_its_lead_time(days_left, rank):
    paper(days_left, kind="registration")
    assert [one.rank for one in papers_lapse(NOW)] == ([rank] if rank else [])


def test_the_newest_paper_of_a_kind_counts():
    cart = CartFactory()
    paper(-3, kind="registration", cart=cart)
    paper(300, kind="registration", cart=cart)
    assert list(papers_lapse(NOW)) == []


def test_a_paper_of_the_yard_is_one_alert():
    CartFactory.create_batch(3)
    paper(3, kind="insurance", cart=None)
    [condition] = papers_lapse(NOW)
    assert condition.cart_id is None
    assert "The yard’s insurance" in condition.what


def read(cart, days_ago):
    MeterReading.objects.create(
        meter=cart.meters.get(kind="engine_hours"),
        value=100,
        read_at=NOW - days_ago * DAY,
        source_kind="t",
        source_id=cart.pk,
    )


@pytest.mark.parametrize(("days", "told"), [(6, False), (7, False), (8, True)])
def test_a_cart_at_work_is_chased_for_its_meters(days, told):
    cart = CartFactory()
    line_of(cart, starts_at=NOW - 20 * DAY, out_at=NOW - 20 * DAY)
    read(cart, days)
    assert bool(list(meters_unread(NOW))) == told


def test_a_cart_in_the_yard_is_not_chased_nor_one_that_just_left():
    line_of(CartFactory(), starts_at=NOW + 20 * DAY)
    line_of(CartFactory(), starts_at=NOW - 2 * DAY, out_at=NOW - 2 * DAY)
    assert list(meters_unread(NOW)) == []


def test_a_cart_not_back_is_told_of_with_who_waits_for_it():
    cart = CartFactory()
    line_of(cart, starts_at=NOW - 8 * DAY, out_at=NOW - 8 * DAY)
    line_of(cart, starts_at=NOW + DAY, customer__name="Yarrow Shire")
    [condition] = returns_overdue(NOW)
    assert "is still out" in condition.what
    assert "Yarrow Shire" in condition.if_not


def test_a_cart_a_little_late_or_not_yet_due_is_not():
    line_of(CartFactory(), starts_at=NOW - 7 * DAY - timedelta(hours=1), out_at=NOW - 7 * DAY)
    line_of(CartFactory(), starts_at=NOW - 3 * DAY, out_at=NOW - 3 * DAY)
    assert list(returns_overdue(NOW)) == []


@pytest.mark.parametrize("find", [papers_lapse, meters_unread, returns_overdue])
def test_queries_do_not_grow(find):
    def one():
        cart = CartFactory()
        line_of(cart, starts_at=NOW - 20 * DAY, out_at=NOW - 20 * DAY)
        paper(3, kind="registration", cart=cart)

    one()
    with CaptureQueriesContext(connection) as few:
        list(find(NOW))
    for _ in range(4):
        one()
    with CaptureQueriesContext(connection) as many:
        list(find(NOW))
    assert len(few) == len(many)
