"""Which readings of a cart's clock count for the hours over of its hire: up to the first once the charge stopped."""

from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from hire.actions import money
from hire.charge_facts import charges_to
from tests.factories.fleet import MeterReadingFactory
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
ADELAIDE = ZoneInfo("Australia/Adelaide")
HOURS = BODY | {"hours_in_day": "8.0", "clock": "engine", "pool": "whole hire", "hour_price": "95"}


def at(day, hour=15, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ADELAIDE)


def read(line, moment, value):
    MeterReadingFactory(cart=line.cart, value=Decimal(value), read_at=moment)


def week(*, called=None, back=None, body=HOURS):
    """Out from 2 to 8 March: seven days of eight hours, 56, from 8,200 at the gate."""
    line = LineFactory(starts_at=at(2, 6), ends_at=at(8, 17), out_at=at(2, 6), came_back_at=back)
    agreed = AgreedTermsFactory(line=line, body=body)
    read(line, at(2, 5), 8200)
    if called:
        OffHireFactory(line=line, called_at=called, stops_at=called, made_at=called)
    return line, agreed


def over(line, agreed):
    found = charges_to(line, agreed, through=None)
    return sum((one.quantity for one in found.lines if one.key.startswith("hours")), Decimal(0))


def test_what_is_read_as_it_comes_back_closes_the_hours(desk):
    """Recorded back at half past three, walked twenty minutes later."""
    line, agreed = week(back=at(8, 15, 30))
    read(line, at(8, 15, 50), 8300)
    assert over(line, agreed) == 44


def test_the_drive_home_after_the_charge_stopped_is_not_the_customers(desk):
    """Called off on the 8th, picked up on the 9th with its clock read, home with three hours more."""
    line, agreed = week(called=at(8), back=at(9, 15))
    read(line, at(9, 10), 8260)
    read(line, at(9, 14, 50), 8263)
    assert over(line, agreed) == 4


def test_a_reading_of_the_next_hire_is_not_of_this_one(desk):
    line, agreed = week(back=at(8, 15))
    read(line, at(7, 18), 8250)
    LineFactory(cart=line.cart, starts_at=at(9, 6), ends_at=at(20), out_at=at(9, 6))
    read(line, at(9, 18), 8290)
    assert over(line, agreed) == 0


def test_a_swapped_cart_brings_the_hours_up_to_the_swap(desk):
    """30 h up to the swap at noon of the 4th, as read when it came home on the 6th, and 40 h of the other: 70 of 56."""
    line, agreed = week(back=at(6), body=HOURS | {"pool": "week"})
    other = LineFactory(
        agreement=line.agreement, starts_at=at(4, 12), ends_at=at(8, 17), out_at=at(4, 15), came_back_at=at(8)
    )
    OffHireFactory(
        line=line, called_at=at(4, 12), stops_at=at(4, 12), made_at=at(4, 12), replaced_by=other, replaced_why="Pump seized"
    )  # fmt: skip
    read(line, at(6, 16), 8230)
    read(other, at(4, 14), 500)
    read(other, at(8, 16), 540)
    assert over(other, agreed) == 14


def test_while_it_is_out_all_that_was_read_counts(desk):
    line, agreed = week()
    read(line, at(8, 17), 8270)
    read(line, at(8, 17) + timedelta(hours=40), 8275)
    found = charges_to(line, agreed, through=at(15).date())
    assert not [one for one in found.lines if one.key.startswith("hours")]
    OffHireFactory(line=line, called_at=at(10, 10), stops_at=at(10, 10), made_at=at(10, 10))
    # 75 h of nine days' 72.
    assert over(line, agreed) == 3


def test_hours_nobody_read_are_asked_for_before_the_last_docket_and_named_on_it(desk, sign_in):
    line, _ = week(back=at(8, 15, 30))
    words = "Hours from 2 March 2026 to 8 March 2026 were not read: none counted."
    address = reverse("hire:charges", args=[line.pk])
    shown = text_of(sign_in(desk).get(address))
    assert shown.count(words) == 1
    assert f"{words} This is the last docket of the hire: enter the reading, or agree the hours" in shown
    made = money.make_docket(line=line, by=desk, at=at(9))
    assert words in made.body["notes"]
    settled = text_of(sign_in(desk).get(address))
    assert "Nothing new up to" in settled
    assert words in settled


def test_hours_that_were_read_are_not_asked_for(desk, sign_in):
    line, _ = week(back=at(8, 15, 30))
    read(line, at(8, 15, 20), 8250)
    shown = text_of(sign_in(desk).get(reverse("hire:charges", args=[line.pk])))
    assert "none counted" not in shown
    assert "Make the docket" in shown
