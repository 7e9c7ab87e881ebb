"""What is on record of a cart gives its road fill, by the newest row of each kind, for many carts at once."""

from datetime import date
from decimal import Decimal

import pytest

from fleet.models.weights import TicketStruck
from fleet.road_fill import BEYOND, ENTER_BOTH, ENTER_SHEET, ENTER_TANK, NOT_MEASURED, road_fill, road_fill_of
from fleet.water.loading import AxleGroup, legal_fill
from fleet.water.road import NoFigure
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.factories.weights import TankMeasuredFactory, TicketFactory, WeightSheetFactory, weighable_cart

pytestmark = pytest.mark.django_db
ON = date(2026, 12, 1)


def test_the_figure_is_that_of_the_pure_module():
    found = road_fill(weighable_cart(), on=ON)
    groups = (AxleGroup("steer", 4397.55, 6000, 0), AxleGroup("drive", 5598.95, 16_500, 5))
    pure = legal_fill(groups=groups, gross_limit_kg=22_500, tank_centroid_m=4.3)
    assert found.litres == int(pure.litres) == 11_446
    assert found.binding_words == "steer axle at 6,000 kg, the law's limit"
    assert found.full_tank_words == "Full tank: not on a public road."
    assert not found.is_weighed
    assert found.source == "from the maker's tare and allowances: not weighed"


def test_a_ticket_counts_over_the_published_tare_and_a_struck_one_for_nothing():
    cart = weighable_cart()
    ticket = TicketFactory(cart=cart)
    assert road_fill(cart, on=ON).litres == 10_357
    TicketStruck.objects.create(
        ticket=ticket, words="Trailer aboard.", struck_at=ticket.recorded_at, struck_by=StaffFactory()
    )
    assert road_fill(cart, on=ON).litres == 11_446


def test_the_newest_row_by_its_day_counts_and_a_day_before_it_sees_the_older():
    cart = weighable_cart()
    TankMeasuredFactory(cart=cart, measured_on=date(2026, 9, 1), middle_m=Decimal("4.40"))
    assert road_fill(cart, on=date(2026, 8, 31)).litres == 11_446
    found = road_fill(cart, on=date(2026, 9, 1))
    assert (found.litres, found.fill.binding) == (12_387, "drive axles")
    assert isinstance(road_fill(cart, on=date(2026, 5, 31)), NoFigure)


def test_tickets_of_the_cart_as_it_was_do_not_count():
    cart = weighable_cart()
    TicketFactory(cart=cart)
    WeightSheetFactory(cart=cart, from_on=date(2026, 10, 1), tickets_from_on=date(2026, 10, 1))
    assert not road_fill(cart, on=ON).is_weighed
    assert road_fill(cart, on=date(2026, 9, 30)).is_weighed


def _beyond():
    cart = weighable_cart()
    WeightSheetFactory(cart=cart, from_on=date(2026, 7, 1), stands_on="trailer", groups=())
    return cart


@pytest.mark.parametrize(
    ("make", "reason", "todo"),
    [
        (CartFactory, NOT_MEASURED, ENTER_BOTH),
        (lambda: TankMeasuredFactory().cart, NOT_MEASURED, ENTER_SHEET),
        (lambda: WeightSheetFactory().cart, NOT_MEASURED, ENTER_TANK),
        (_beyond, BEYOND, "Load it over a weighbridge, group by group."),
    ],
    ids=["nothing", "tank alone", "plates alone", "with a trailer"],
)
def test_a_cart_without_a_figure_says_why_and_what_to_do(make, reason, todo):
    found = road_fill(make(), on=ON)
    assert (found.reason, found.todo) == (reason, todo)


def test_queries_do_not_grow_with_the_carts(django_assert_num_queries):
    """Tanks, sheets, their groups, tickets, axle groups."""
    carts = [weighable_cart() for _ in range(3)]
    TicketFactory(cart=carts[0])
    with django_assert_num_queries(5):
        road_fill_of(carts, on=ON)
    carts += [weighable_cart() for _ in range(9)]
    with django_assert_num_queries(5):
        assert len(road_fill_of(carts, on=ON)) == 12
