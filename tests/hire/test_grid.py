"""The grid of hires: where a stretch stands in its days, what it says, and what it costs."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.grid import DAY_WIDTH, Scale, grid
from people.yard import day_bounds, yard_day, yard_policy
from tests.factories.fleet import CartFactory
from tests.factories.hire import LineFactory, PencilFactory
from tests.factories.services import VisitFactory
from tests.pages import queries_of, text_of

pytestmark = pytest.mark.django_db

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
ADELAIDE = ZoneInfo("Australia/Adelaide")
MONDAY = date(2026, 11, 30)
AT = datetime(2026, 12, 2, 10, tzinfo=ADELAIDE)
SCALE = Scale(MONDAY, 14)


def local(day, hour=0):
    return datetime(2026, 12, day, hour, tzinfo=ADELAIDE)


def bars(cart):
    [row] = grid([cart], SCALE, at=AT)
    return row.bars


def test_a_promise_stands_from_its_hour_to_its_hour():
    line = LineFactory(starts_at=local(3, 6), ends_at=local(5, 18))
    [bar] = bars(line.cart)
    assert (bar.kind, bar.x, bar.width) == ("promised", 3.25 * DAY_WIDTH, 2.5 * DAY_WIDTH)
    assert line.agreement.customer.name in bar.words
    assert bar.url == reverse("hire:line_detail", args=[line.pk])


def test_what_lies_over_the_edge_is_cut_at_it():
    line = LineFactory(
        starts_at=local(1) - 9 * DAY, ends_at=local(1), out_at=local(1) - 9 * DAY, came_back_at=local(1, 12)
    )
    [bar] = bars(line.cart)
    assert (bar.kind, bar.x, bar.width) == ("past", 0, 1.5 * DAY_WIDTH)


def test_a_cart_out_past_its_day_reaches_to_now():
    line = LineFactory(starts_at=local(1) - 9 * DAY, ends_at=local(1), out_at=local(1) - 9 * DAY)
    [bar] = bars(line.cart)
    assert bar.width == pytest.approx(SCALE.x(AT))
    assert bar.words.endswith("past its day")


def test_a_pencil_and_a_workshop_day_stand_beside_it():
    cart = CartFactory()
    PencilFactory(cart=cart, made_at=AT - HOUR, period=(local(6), local(8)), expires_at=AT + HOUR)
    VisitFactory(cart=cart, on=date(2026, 12, 10), words="250-hour service")
    assert [bar.kind for bar in bars(cart)] == ["pencil", "visit"]
    assert "250-hour service" in bars(cart)[1].words


def test_a_cancelled_hire_is_gone():
    assert not bars(LineFactory(starts_at=local(3), cancelled_at=AT).cart)


def test_a_day_of_the_clock_change_is_as_wide_as_any():
    """4 October 2026 has 23 hours in Adelaide."""
    scale = Scale(date(2026, 10, 4), 7)
    start, end = day_bounds(date(2026, 10, 4))
    assert (scale.x(start), scale.x(end)) == (0, DAY_WIDTH)
    assert scale.x(start + 11.5 * HOUR) == pytest.approx(DAY_WIDTH / 2)


def test_the_days_the_yard_is_closed_are_shaded(monkeypatch):
    """By its own week and its own list, whatever a weekend is elsewhere."""
    policy = replace(
        yard_policy(), working_days=frozenset({0, 1, 2, 5}), closed_days=frozenset({date(2026, 12, 8)})
    )
    monkeypatch.setattr("hire.grid.yard_policy", lambda: policy)
    assert [tick.on.day for tick in SCALE.ticks() if tick.is_rest] == [3, 4, 6, 8, 10, 11, 13]


def test_a_name_is_cut_to_its_bar():
    line = LineFactory(starts_at=local(3), ends_at=local(5), agreement__customer__name="Callabar Quarries")
    [bar] = bars(line.cart)
    assert bar.label == "Calla…"


def test_the_page_shows_it_and_costs_the_same_for_three_carts_and_thirty(client, desk):
    client.force_login(desk)
    now = timezone.now()

    def add(number):
        for _ in range(number):
            LineFactory(starts_at=now + DAY)
            VisitFactory(cart=CartFactory(), on=yard_day(now) + DAY)

    url = reverse("hire:hire_grid")
    add(3)
    first = queries_of(client, url)
    add(27)
    assert queries_of(client, url) == first
    assert "promised to Earthmoving" in client.get(url).content.decode()


@pytest.mark.parametrize(
    "query", ["since=never", "days=7000", "since=0001-01-01", "since=9999-12-31", "cart=zzz"]
)
def test_an_address_that_makes_no_sense_still_shows_a_page(client, desk, query):
    client.force_login(desk)
    CartFactory()
    answer = client.get(f"{reverse('hire:hire_grid')}?{query}")
    assert answer.status_code == 200
    assert "Grid of hires" in text_of(answer)
