"""A cut tyre is charged by the tread it left with, if that was read not long before: else a named person says why it counts."""

from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.models.carts import MeterReading
from hire.back_decisions import decidables
from hire.back_record import read_record
from hire.charging.money import day_words
from hire.models.money import BesideCharge
from people.yard import yard_day
from tests.factories.back import DAY, returned_line, wrong
from tests.factories.fleet import MeterReadingFactory, TreadReadingFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
GLANCE = "wheels-at-a-glance-left-rear-wheels"


def proposals(line):
    return {one.proposal.key: one for one in decidables(read_record(line))}


def aged(line, *, days):
    """The tread of 2LO, read so long before it left and not since."""
    fitting = line.cart.wheel_positions.get(code="2LO").fittings.get()
    fitting.tread_readings.all().delete()
    TreadReadingFactory(fitting=fitting, depth_mm=Decimal(12), read_at=line.handed_over_at - days * DAY)


@pytest.mark.parametrize("days", [14, 15])
def test_a_depth_read_long_before_it_left_is_charged_only_with_a_reason(hand, desk, client, at, days):
    old = f"{days} days old" if days > 14 else ""
    line = returned_line(hand=hand, at=at, found={GLANCE: wrong("Cut to the cord", "do_not_use")})
    aged(line, days=days)
    (found,) = [one.proposal for one in proposals(line).values()]
    tyre = next(one for one in found.tyres if one.code == "2LO")
    assert (tyre.old, tyre.read_on) == (old, yard_day(line.handed_over_at - days * DAY))
    client.force_login(desk)
    address = reverse("hire:back_decide", args=[line.pk, found.key])
    assert ("too old to charge by" in text_of(client.get(address))) is bool(old)
    typed = {"outcome": "charged", "tyre": "2LO", "fitted_cost": "600", "words": "Cut"}
    if old:
        refused = client.post(address, typed)
        assert (refused.status_code, "old_why" in refused.context["form"].errors) == (422, True)
        typed["old_why"] = "It stood in the shed"
    client.post(address, typed)
    [charged] = BesideCharge.objects.all()
    assert f"read on {day_words(tyre.read_on)}" in charged.decision.working
    assert (f"counts as {desk.full_name} says: It stood in the shed" in charged.decision.working) is bool(old)


def test_a_depth_read_many_km_before_it_left_is_too_old(hand, at):
    line = returned_line(hand=hand, at=at, found={GLANCE: wrong("Cut to the cord", "do_not_use")})
    aged(line, days=5)
    shown = MeterReading.objects.filter(
        meter__cart=line.cart_id, meter__kind="km", read_at__lte=line.handed_over_at
    )
    last = shown.order_by("read_at").last()
    early = MeterReadingFactory(
        cart=line.cart, meter=last.meter, value=last.value - 1001, read_at=line.handed_over_at - 6 * DAY
    )

    def old():
        (found,) = [one.proposal for one in proposals(line).values()]
        return next(one for one in found.tyres if one.code == "2LO").old

    assert old() == "1,001 km old"
    MeterReading.objects.filter(pk=early.pk).update(value=last.value - 1000)
    assert old() == ""
