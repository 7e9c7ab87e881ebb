"""What carts cost the workshop in a period: parts, services and tyres that have a cost, each once."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from servicing.costs import costs_of
from servicing.models.jobs import PartUsed
from tests.factories.fleet import CartFactory, DefectFactory, TyreFactory, TyreFittingFactory
from tests.factories.people import StaffFactory
from tests.factories.services import ServiceDoneFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db
MONTH = {"start": NOW - timedelta(days=30), "end": NOW}


def part(cart, cost, *, quantity=1, days_ago=5, **kwargs):
    PartUsed.objects.create(
        defect=DefectFactory(cart=cart), words="Hose", quantity=quantity, unit_cost=cost, used_by=StaffFactory(role="fitter"),
        used_at=NOW - timedelta(days=days_ago), **kwargs,
    )  # fmt: skip


def test_parts_services_and_tyres_add_up_by_cart():
    cart, other = CartFactory(), CartFactory()
    part(cart, Decimal("12.50"), quantity=2)
    part(cart, None)
    part(cart, Decimal(999), days_ago=40)
    part(cart, Decimal(999), struck_at=NOW, struck_by=StaffFactory(role="fitter"))
    ServiceDoneFactory(cart=cart, done_at=NOW - timedelta(days=2), cost=Decimal(300))
    tyre = TyreFactory(cost=Decimal(720))
    TyreFittingFactory(
        cart=cart,
        code="1L",
        tyre=tyre,
        fitted_at=NOW - timedelta(days=9),
        taken_off_at=NOW - timedelta(days=6),
    )
    # Moved to another cart it is not paid for again.
    TyreFittingFactory(cart=other, code="1L", tyre=tyre, fitted_at=NOW - timedelta(days=6))
    assert costs_of(**MONTH) == {cart.pk: Decimal("1045.00")}


def test_three_queries_however_many_carts():
    for _ in range(3):
        part(CartFactory(), Decimal(10))
    with CaptureQueriesContext(connection) as seen:
        assert len(costs_of(**MONTH)) == 3
    assert len(seen) == 3
