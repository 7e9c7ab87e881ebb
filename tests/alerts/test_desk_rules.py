"""What the desk is told ahead: bookings without a cart, sites without a pack, order numbers that run low. Each at its boundary."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from hire.actions.orders import ValueWithoutOrder, set_order
from hire.order_use import order_uses
from hire.site_rules import Asked, PaperAsked
from hire.watch_desk import bookings_near, orders_low, packs_due
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.hire import BookingFactory, LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory, DocketFactory
from tests.factories.sites import SiteSetFactory
from tests.factories.wet import DailyDocketFactory, wet_out

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.mark.parametrize(("days", "count"), [(0, 1), (6, 1), (7, 0)])
def test_a_booking_within_five_working_days_wants_its_cart(at, days, count):
    """The yard works Monday to Saturday: from Tuesday 1 December to Monday the 7th."""
    BookingFactory(starts_at=at + days * DAY + timedelta(minutes=1), made_at=at - DAY)
    assert len(list(bookings_near(at))) == count


def test_a_booking_that_ended_or_is_over_wants_none(at, people):
    BookingFactory(starts_at=at - 9 * DAY, made_at=at - 10 * DAY)
    BookingFactory(
        starts_at=at + DAY, made_at=at - DAY, ended_at=at, ended_how="cancelled", cancelled_why="x"
    )
    assert list(bookings_near(at)) == []


def test_the_yard_says_how_many_days(at, monkeypatch):
    from dataclasses import replace  # noqa: PLC0415 - beside its one use

    from people.yard import yard_policy  # noqa: PLC0415 - as above

    BookingFactory(starts_at=at + 2 * DAY, made_at=at - DAY)
    policy = replace(yard_policy(), booking_lead_days=1)
    monkeypatch.setattr("hire.watch_desk.yard_policy", lambda: policy)
    assert list(bookings_near(at)) == []


def test_an_alert_of_a_booking_leads_to_where_its_cart_is_chosen(client, people, at):
    booking = BookingFactory(starts_at=at + DAY, made_at=at - DAY)
    sweep(at=at)
    alert = Alert.objects.get(rule="hire.booking_near")
    assert "has no cart yet" in alert.what
    client.force_login(people[Role.HIRE_DESK])
    answer = client.get(reverse("hire:booking_open", args=[booking.pk]))
    assert answer["Location"] == reverse("hire:booking_list")


def test_a_site_without_its_pack(at):
    line = LineFactory(starts_at=at + 2 * DAY)
    SiteSetFactory(
        customer=line.agreement.customer, asked=Asked(papers={"registration": PaperAsked("asked")})
    )
    [condition] = packs_due(at)
    assert condition.subject_id == line.pk
    assert "has no site pack for" in condition.what


def ordered(value, **line):
    made = LineFactory(agreement__order_value=value, **line)
    AgreedTermsFactory(line=made)
    return made


@pytest.mark.parametrize(("value", "low"), [("1812.50", True), ("1812.51", False)])
def test_an_order_runs_low_from_its_part_of_the_value(at, value, low):
    """A week out by 1,450 a week: 1,450 of 1,812.50 is 80 in a hundred."""
    out_at = at - 6 * DAY
    line = ordered(Decimal(value), starts_at=out_at, ends_at=at + 30 * DAY, out_at=out_at)
    [one] = order_uses(at=at)
    assert (one.line, one.on_dockets, one.about) == (line, Decimal(0), Decimal(1450))
    assert len(list(orders_low(at))) == low


def test_what_is_on_a_docket_is_not_counted_twice(at):
    out_at = at - 6 * DAY
    line = ordered(Decimal(1800), starts_at=out_at, ends_at=at + 30 * DAY, out_at=out_at)
    docket = DocketFactory(line=line, through=date(2026, 11, 30))
    [one] = order_uses(at=at)
    assert one.on_dockets == docket.net
    assert one.about == Decimal(290)


def wet_ordered(at, value="20000", **body):
    """Out five days, a cart and operator at 165 an hour, eight hours at least; no rate by the day."""
    turn = wet_out(at=at, agreement__order_value=Decimal(value))
    AgreedTermsFactory(line=turn.line, body=BODY | {"rates": {}, "wet_hour_price": "165"} | body)
    return turn


def test_wet_hire_counts_by_its_daily_dockets_and_the_least_of_a_day_without_one(at):
    """From 26 November to today, 1 December: six days of 1,320, of which the first has a docket of 9 h."""
    turn = wet_ordered(at)
    [one] = order_uses(at=at)
    assert one.about == 6 * 8 * 165
    DailyDocketFactory(turn=turn)
    DailyDocketFactory(turn=turn, on=date(2026, 11, 27), unsigned_why="Nobody there", travel_hours=Decimal(1))
    [one] = order_uses(at=at)
    assert one.about == 4 * 8 * 165 + 2 * 9 * 165


def test_wet_hire_by_day_and_night_owes_two_shifts_and_its_week_is_kept(at):
    turn = wet_ordered(at, days_in_week="5", wet_night="1.25")
    turn.line.agreement.shifts_a_day = 2
    turn.line.agreement.save()
    DailyDocketFactory(turn=turn, is_night=True)
    [one] = order_uses(at=at)
    # 28 and 29 November are a Saturday and a Sunday: four days of two shifts, one of them worked by night.
    assert one.about == 7 * 8 * 165 + 9 * 165 * Decimal("1.25")


def test_one_hire_without_a_rate_by_the_day_leaves_the_others_watched(at):
    wet_ordered(at, value="1")
    out_at = at - 6 * DAY
    dry = ordered(Decimal(1800), starts_at=out_at, ends_at=at + 30 * DAY, out_at=out_at)
    assert dry.pk in {condition.subject_id for condition in orders_low(at)}
    assert len(list(orders_low(at))) == 2


def swapped(at, **terms):
    """Out six days, swapped three days ago, the other cart out since."""
    out_at, swapped_at = at - 6 * DAY, at - 3 * DAY
    line = ordered(Decimal(9000), starts_at=out_at, ends_at=at + 30 * DAY, out_at=out_at)
    other = LineFactory(
        agreement=line.agreement, starts_at=swapped_at, ends_at=at + 30 * DAY, out_at=swapped_at
    )
    OffHireFactory(line=line, called_at=swapped_at, replaced_by=other, replaced_why="Pump shaft")
    if terms:
        AgreedTermsFactory(line=other, body=BODY | terms)
    return line, other


def test_a_swapped_cart_goes_on_by_what_was_agreed_of_the_first(at):
    line, _ = swapped(at)
    [one] = order_uses(at=at)
    # Seven days of one hire, a week: not two lots of four and the day of the swap twice.
    assert (one.line, one.about) == (line, Decimal(1450))


def test_what_was_agreed_after_the_swap_counts_for_all_of_it(at):
    swapped(at, rates={"1": "200.00"})
    [one] = order_uses(at=at)
    assert one.about == 7 * 200


def test_a_docket_before_the_swap_takes_its_days_from_both_carts(at):
    line, _ = swapped(at)
    docket = DocketFactory(line=line, through=date(2026, 11, 27))
    [one] = order_uses(at=at)
    # From the 28th to 1 December.
    assert (one.on_dockets, one.about) == (docket.net, Decimal(4 * 290))


def test_a_docket_after_the_swap_has_the_days_of_the_first_cart_too(at):
    _, other = swapped(at)
    docket = DocketFactory(line=other, through=date(2026, 11, 30))
    [one] = order_uses(at=at)
    assert (one.on_dockets, one.about) == (docket.net, Decimal(290))


def test_an_order_without_a_value_or_with_nothing_open_is_not_watched(at):
    LineFactory()
    ordered(Decimal(1), starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - DAY)
    assert order_uses(at=at) == []


def test_queries_do_not_grow(at):
    def cost(count):
        for _ in range(count):
            line = ordered(Decimal(10), starts_at=at - 6 * DAY, out_at=at - 6 * DAY)
            SiteSetFactory(
                customer=line.agreement.customer, asked=Asked(papers={"noise": PaperAsked("must")})
            )
            BookingFactory(starts_at=at + DAY, made_at=at - DAY)
            LineFactory(agreement__customer=line.agreement.customer, starts_at=at + DAY)
            DailyDocketFactory(turn=wet_ordered(at))
            swapped(at)
        with CaptureQueriesContext(connection) as queries:
            for rule in (bookings_near, orders_low, packs_due):
                list(rule(at))
        return len(queries)

    assert cost(2) == cost(10)


def test_an_order_number_is_written_down_with_its_value(people, at):
    agreement = LineFactory().agreement
    desk = people[Role.HIRE_DESK]
    set_order(agreement=agreement, order_number="PO 7", order_value=Decimal(500), by=desk, at=at)
    agreement.refresh_from_db()
    assert (agreement.order_number, agreement.order_value) == ("PO 7", Decimal(500))
    assert Entry.objects.filter(event="hire.order.set").count() == 1
    with pytest.raises(ValueWithoutOrder):
        set_order(agreement=agreement, order_number="", order_value=Decimal(5), by=desk, at=at)
    with pytest.raises(NotAllowed):
        set_order(agreement=agreement, order_number="x", order_value=None, by=people[Role.FITTER], at=at)
    agreement.order_number = ""
    with pytest.raises(IntegrityError, match="order_value_of_an_order"), transaction.atomic():
        agreement.save()
