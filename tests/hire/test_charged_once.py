"""A hire is charged once, credited once, and its paper says what it rests on, whatever is called back, replaced or agreed anew."""

import csv
import io
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from hire.actions import daily, disputes, money
from hire.actions.agreements import cancel_line
from hire.actions.disputes import NotThatMuch, Said
from hire.docket_files import docket_html
from hire.models.agreements import StandDown
from hire.models.money import Docket
from hire.terms_text import parse_rates
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory, BesideChargeFactory
from tests.factories.wet import DailyDocketFactory, WetHireFactory, wet_out

pytestmark = pytest.mark.django_db
ADELAIDE = ZoneInfo("Australia/Adelaide")
WET = {"wet_hour_price": "165.25", "wet_overtime_after": "8", "wet_overtime": "1.5"}


def at(day, hour=15):
    return datetime(2026, 3, day, hour, tzinfo=ADELAIDE)


def out_line(number="WC-71", **body):
    """Out since Monday 2 March 2026 at six."""
    line = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6), cart__fleet_number=number)
    AgreedTermsFactory(line=line, body=BODY | body, agreed_at=at(1))
    return line


def swapped(line, day, *, out_at=None):
    other = LineFactory(
        agreement=line.agreement,
        starts_at=at(day, 12),
        ends_at=at(23),
        out_at=out_at,
        cart__fleet_number="WC-72",
    )
    OffHireFactory(
        line=line, called_at=at(day, 12), stops_at=at(day, 12), made_at=at(day, 12), replaced_by=other, replaced_why="Pump seized"
    )  # fmt: skip
    return other


def test_a_swap_called_back_before_the_other_cart_left_is_not_charged_anew(desk):
    """Charged up to the swap; the other cart's line is cancelled: the three days stay charged, once."""
    line = out_line()
    other = swapped(line, 4)
    docket = money.make_docket(line=other, by=desk, at=at(5))
    assert (docket.net, docket.line) == (Decimal(870), line)
    assert "WC-71" in docket_html(docket) and "WC-72" not in docket_html(docket)
    cancel_line(line=other, why="It was mended on site", by=desk, at=at(5))
    with pytest.raises(money.NothingToCharge):
        money.make_docket(line=line, by=desk, at=at(6))


def test_a_docket_of_a_swapped_hire_names_both_carts_and_says_the_tax_rate(desk):
    line = out_line()
    swapped(line, 4, out_at=at(4, 15))
    paper = docket_html(money.make_docket(line=line, by=desk, at=at(8)))
    assert "WC-71, from 2 Mar 2026 06:00 to 4 Mar 2026 12:00" in paper
    assert "WC-72, from 4 Mar 2026 15:00" in paper
    assert "Tax, 10 % of the net" in paper
    alone = docket_html(money.make_docket(line=out_line("WC-73", tax_pct="8.25"), by=desk, at=at(8)))
    assert "Handed over" in alone and "Tax, 8.25 % of the net" in alone


def test_a_day_before_the_docket_made_last_is_refused(desk):
    line = out_line()
    first = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    with pytest.raises(money.ChargedBeyond, match=rf"{first.number} charged up to 15 Mar 2026 already"):
        money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(16))
    BesideChargeFactory(line=line)
    again = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    assert again.net == 360
    OffHireFactory(line=line, called_at=at(8), stops_at=at(8), made_at=at(16))
    over = money.make_docket(line=line, through=date(2026, 3, 10), by=desk, at=at(17))
    assert (over.net, over.through) == (Decimal(1450 - 2900), date(2026, 3, 8))


def test_quantity_times_price_in_the_file_makes_the_amount(client, desk):
    """10 h: 8 x 165.25, and 2 x 165.25 x 1.5 = 495.75, at 247.875 an hour."""
    turn = wet_out(at=at(6, 18), days=4)
    AgreedTermsFactory(line=turn.line, body=BODY | WET | {"rates": {}})
    DailyDocketFactory(
        turn=turn, on=date(2026, 3, 3), starts_at=at(3, 6), finishes_at=at(3, 16), breaks=timedelta(0)
    )
    docket = money.make_docket(line=turn.line, by=desk, at=at(6, 18))
    client.force_login(desk)
    saved = client.get(f"{reverse('hire:docket_detail', args=[docket.pk])}?as=csv").content.decode(
        "utf-8-sig"
    )
    rows = [row for row in csv.DictReader(io.StringIO(saved)) if row["Quantity"]]
    assert [row["Price each"] for row in rows] == ["165.25", "247.875"]
    for row in rows:
        assert Decimal(row["Quantity"]) * Decimal(row["Price each"]) == Decimal(row["Amount"])


def test_a_struck_charge_comes_back_by_its_name(desk):
    line = out_line()
    beside = BesideChargeFactory(line=line)
    money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(9))
    money.strike_beside(beside=beside, why="x", by=desk, at=at(10))
    second = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    assert [one["what"] for one in second.body["lines"]][1:] == ["No longer charged: Delivery"]
    assert str(beside.pk) not in docket_html(second)


def daily_of(turn, *, replaces=None, finish=16, desk=None):
    if replaces is None:
        return DailyDocketFactory(
            turn=turn, on=date(2026, 3, 3), starts_at=at(3, 6), finishes_at=at(3, finish), breaks=timedelta(0)
        )
    day = daily.Day(on=replaces.on, starts_at=replaces.starts_at, finishes_at=at(3, finish))
    return daily.make_daily(
        line=turn.line, operator=turn.operator, day=day, signed=daily.Signed("Aoife"), replaces=replaces, why="Left at two",
        by=desk, at=at(7),
    )  # fmt: skip


def disputed(docket, desk):
    return disputes.open_dispute(
        docket=docket, line_no=1, said=Said("Too many", "Aoife", "phone", at(7)), by=desk, at=at(7)
    )


@pytest.fixture
def wet(desk):
    turn = wet_out(at=at(6, 18), days=4)
    AgreedTermsFactory(line=turn.line, body=BODY | WET | {"rates": {}})
    first = daily_of(turn)
    return turn, first, money.make_docket(line=turn.line, by=desk, at=at(6, 18))


def test_what_was_given_up_of_a_replaced_daily_docket_is_not_credited_besides(desk, wet):
    """8 h at 165.25 given up whole; then the day is written anew as 8 h: it is charged, and credited no more than once."""
    turn, first, docket = wet
    disputes.decide_dispute(dispute=disputed(docket, desk), outcome="given_up", words="x", by=desk, at=at(7))
    assert money.make_docket(line=turn.line, by=desk, at=at(7)).net == Decimal("-1322.00")
    other = daily_of(turn, replaces=first, finish=14, desk=desk)
    last = money.make_docket(line=turn.line, by=desk, at=at(8))
    whats = {one["what"]: Decimal(one["amount"]) for one in last.body["lines"]}
    assert whats[
        "No longer credited: Given up: Cart and operator, 3 March 2026, " + docket.number
    ] == Decimal("1322.00")
    assert sum(one.net for one in Docket.objects.all()) == Decimal("1322.00")
    assert any(other.number in one["working"] for one in last.body["lines"])


def test_a_replaced_daily_docket_is_not_given_up_besides(desk, wet):
    turn, first, docket = wet
    dispute = disputed(docket, desk)
    other = daily_of(turn, replaces=first, finish=14, desk=desk)
    with pytest.raises(NotThatMuch, match=f"{other.number} took the place"):
        disputes.decide_dispute(dispute=dispute, outcome="given_up", words="x", by=desk, at=at(8))
    disputes.decide_dispute(dispute=dispute, outcome="stands", words="Written anew", by=desk, at=at(8))


def test_a_hire_that_goes_wet_is_not_charged_by_the_day_besides(desk):
    line = out_line()
    assert money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(9)).net == 1450
    WetHireFactory(line=line)
    AgreedTermsFactory(line=line, body=BODY | WET | {"rates": {}}, agreed_at=at(9, 16))
    second = money.make_docket(line=line, by=desk, at=at(10))
    [back] = second.body["lines"]
    assert (back["what"], second.net) == ("No longer charged: hire by the day", -1450)
    with pytest.raises(money.NothingToCharge):
        money.make_docket(line=line, by=desk, at=at(11))


def test_the_daily_docket_of_the_day_of_the_call_is_charged(desk):
    """Called off at seven; the hour before which a call frees its day is of hire by the day alone."""
    turn = wet_out(at=at(6, 18), days=4)
    AgreedTermsFactory(line=turn.line, body=BODY | WET | {"rates": {}, "free_call_before": "08:00:00"})
    DailyDocketFactory(
        turn=turn, on=date(2026, 3, 5), starts_at=at(5, 4), finishes_at=at(5, 7), breaks=timedelta(0)
    )
    OffHireFactory(line=turn.line, called_at=at(5, 7), stops_at=at(5, 7), made_at=at(5, 7))
    docket = money.make_docket(line=turn.line, by=desk, at=at(6, 18))
    assert (docket.net, docket.body["notes"]) == (Decimal("1322.00"), [])


@pytest.mark.parametrize(
    "text", ["7: 1.450,00", "7: 1,45", "7: 14,50.00", "7: 1 450", "7: 1_450", "7: 1e3", "7: 1450.005", "7: -1", "7: ١٤٥٠", "-7: 10"]
)  # fmt: skip
def test_a_price_written_another_way_is_not_read_as_another_amount(text):
    with pytest.raises(ValueError, match="is no rate"):
        parse_rates(text)


def test_a_day_without_a_cart_is_not_charged_for_rain_told_late(desk):
    """Swapped on the 4th at noon, the other out on the 7th; rain on the 5th was told late: no cart was there all the same."""
    line = out_line(rain_told_by="07:00")
    StandDown.objects.create(
        line=line, on=date(2026, 3, 5), why="Rain", told_at=at(5, 9), told_by_words="Col"
    )
    swapped(line, 4, out_at=at(7, 6))
    docket = money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(9))
    assert docket.body["hire_days"] == 5


def days_given_up(docket, desk, *days):
    dispute = disputes.open_dispute(
        docket=docket,
        line_no=1,
        said=Said("We rang on the 13th", "Aoife", "phone", at(16)),
        by=desk,
        at=at(16),
    )
    return disputes.decide_dispute(
        dispute=dispute, outcome="part", given_up=Decimal(290) * len(days), days=[date(2026, 3, day) for day in days],
        words="They rang", by=desk, at=at(17),
    )  # fmt: skip


def call_found(line):
    """The call of the 13th comes to light on the 18th."""
    return OffHireFactory(line=line, called_at=at(13), stops_at=at(13), made_at=at(18))


def test_days_given_up_that_a_call_written_down_later_frees_are_credited_once(desk):
    """Charged to the 15th; the 13th, 14th and 15th given up; then the call of the 13th: twelve days, less the 13th."""
    line = out_line(rates={"1": "290.00"})
    docket = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    days_given_up(docket, desk, 13, 14, 15)
    call_found(line)
    last = money.make_docket(line=line, by=desk, at=at(19))
    assert docket.net + last.net == 11 * 290
    assert any(
        "14 March 2026 to 15 March 2026 are after the last day of the hire" in one
        for one in last.body["notes"]
    )


def test_days_that_a_call_freed_are_not_given_up_besides(desk):
    line = out_line(rates={"1": "290.00"})
    docket = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    call_found(line)
    with pytest.raises(
        disputes.CreditedAlready, match="14 March 2026 is taken off the hire already: the hire ended"
    ):
        days_given_up(docket, desk, 14)
    last = money.make_docket(line=line, by=desk, at=at(19))
    assert docket.net + last.net == 12 * 290


def test_days_given_up_that_the_minimum_pays_for_stay_given_up(desk):
    line = out_line(rates={"1": "290.00"}, minimum_days="20")
    docket = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    days_given_up(docket, desk, 14, 15)
    call_found(line)
    last = money.make_docket(line=line, by=desk, at=at(19))
    assert docket.net + last.net == 18 * 290
