"""What a cart hired in earned of a hire on which it was swapped: each docket line shared to the cent, by days or by whose it is."""

from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from hire.actions import disputes, money
from hire.actions.disputes import Said
from hire.hired_in import cost_of
from hire.swap_income import docket_parts
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory, BesideChargeFactory, DocketFactory
from tests.factories.owners import HireInFactory
from tests.factories.wet import DailyDocketFactory
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db
ADELAIDE = ZoneInfo("Australia/Adelaide")


def at(day, hour=15):
    return datetime(2026, 3, day, hour, tzinfo=ADELAIDE)


def swapped(*, back=True, **first):
    """Out from 2 March; broken on the 4th; the other from the 4th at 16, called off on the 10th: 3 days and 6 of 9."""
    line = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6), came_back_at=at(5), **first)
    other = LineFactory(
        agreement=line.agreement,
        starts_at=at(4),
        ends_at=at(23),
        out_at=at(4, 16),
        came_back_at=at(11) if back else None,
    )
    OffHireFactory(
        line=line, called_at=at(4), stops_at=at(4), made_at=at(4), replaced_by=other, replaced_why="Pump seized"
    )  # fmt: skip
    if back:
        OffHireFactory(line=other, called_at=at(10), stops_at=at(10), made_at=at(10))
    return line, other


def told(line, parts):
    return [(part.what, part.days, part.of_days, part.share) for part in parts[line.pk]]


def shares(lines):
    """By key of the docket line, what each of the two carts has of it."""
    parts = docket_parts(lines)
    rows = zip(*(parts[line.pk] for line in lines), strict=True)
    found = [(one.docket, one.amount, one.share, other.share) for one, other in rows]
    assert all(amount == mine + theirs for _, amount, mine, theirs in found)
    return found


def test_a_hire_is_shared_by_the_days_each_cart_was_on_site(desk):
    """One docket before the swap, of the first cart alone; the next brings a day of it and six of the other."""
    line, other = swapped()
    AgreedTermsFactory(line=line)
    BesideChargeFactory(line=line, unit_price=Decimal(100))
    first = money.make_docket(line=line, through=date(2026, 3, 3), by=desk, at=at(12, 9))
    second = money.make_docket(line=other, by=desk, at=at(12))
    assert (first.net, second.net) == (Decimal(580 + 200), Decimal(2030 - 580))
    parts = docket_parts([line, other])
    # A week and two days, 2,030; the seven new days alone are a week, 1,450.
    assert told(line, parts) == [
        ("Hire, 2 March 2026 to 3 March 2026", 2, 2, Decimal(580)),
        ("Delivery", None, None, Decimal(200)),
        ("Hire, 4 March 2026 to 10 March 2026", 1, 7, Decimal("207.14")),
    ]
    assert told(other, parts)[-1] == ("Hire, 4 March 2026 to 10 March 2026", 6, 7, Decimal("1242.86"))
    assert told(other, parts)[1] == ("Delivery", None, None, Decimal(0))


def test_what_a_dispute_gave_up_is_of_the_cart_that_had_the_day(desk):
    line, other = swapped()
    AgreedTermsFactory(line=line)
    docket = money.make_docket(line=other, by=desk, at=at(12))
    said = Said("It stood", "Aoife", "phone", at(12))
    for days, amount in (([date(2026, 3, 3)], 200), ([], 90)):
        dispute = disputes.open_dispute(docket=docket, line_no=1, said=said, by=desk, at=at(12))
        disputes.decide_dispute(
            dispute=dispute,
            outcome="part",
            given_up=Decimal(amount),
            days=days,
            words="x",
            by=desk,
            at=at(13),
        )
    money.make_docket(line=other, by=desk, at=at(14))
    assert sorted(row[1:] for row in shares([line, other])) == [
        (-200, -200, 0),
        (-90, -30, -60),
        (Decimal(2030), Decimal("676.67"), Decimal("1353.33")),
    ]


def body_line(key, amount, unit="hire"):
    return {
        "key": key, "what": key, "quantity": "1", "unit": unit, "unit_price": amount, "amount": amount, "working": key
    }  # fmt: skip


def docket_of(line, through, *lines, made_at):
    net = sum(Decimal(one["amount"]) for one in lines)
    body = {"lines": list(lines), "notes": [], "hire_days": 1, "early_return_credit": "0.00"}
    return DocketFactory(
        line=line, through=through, body=body, net=net, tax=Decimal(0), total=net, made_at=made_at
    )


@pytest.mark.parametrize(
    ("pool", "mine"),
    [("whole hire", "30.00"), ("bill period", "15.00"), ("week", "38.57"), ("day", "0.00")],
)
def test_hours_over_are_shared_by_their_pool(pool, mine):
    """90.00: over all nine days; over the six of this docket, one of them the first cart's; the week to the 8th; one day."""
    line, other = swapped()
    AgreedTermsFactory(line=line, body=BODY | {"pool": pool})
    docket_of(line, date(2026, 3, 3), body_line("hire", "10.00"), made_at=at(4, 9))
    on, through = ("2026-03-08", date(2026, 3, 10)) if pool == "week" else ("2026-03-10", date(2026, 3, 10))
    if pool == "bill period":
        on, through = "2026-03-09", date(2026, 3, 9)
    docket_of(other, through, body_line(f"hours {on}", "90.00"), made_at=at(11))
    assert shares([line, other])[-1][1:3] == (Decimal(90), Decimal(mine))


def test_each_charge_that_is_one_carts_own_is_so_wholly():
    line, other = swapped()
    mine, theirs = BesideChargeFactory(line=line), BesideChargeFactory(line=other)
    daily, later = DailyDocketFactory(line=line), DailyDocketFactory(line=other)
    expected = {
        f"beside {mine.pk}": True, f"beside {theirs.pk}": False, f"docket {daily.number}": True,
        f"docket {later.number} overtime": False, f"docket {daily.number} travel": True, "rain 2026-03-03": True,
        "rain 2026-03-06": False,
    }  # fmt: skip
    lines = [body_line(key, "33.33") for key in expected]
    docket_of(other, date(2026, 3, 10), *lines, body_line("hire", "-90.00", "correction"), made_at=at(12))
    *found, correction = shares([line, other])
    assert [mine == Decimal("33.33") for _, _, mine, _ in found] == list(expected.values())
    assert correction[1:] == (-90, -30, -60)


def test_before_the_other_has_left_it_is_all_of_the_first(desk):
    line = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6))
    other = LineFactory(agreement=line.agreement, starts_at=at(4), ends_at=at(23))
    OffHireFactory(
        line=line, called_at=at(4), stops_at=at(4), made_at=at(4), replaced_by=other, replaced_why="Pump seized"
    )  # fmt: skip
    AgreedTermsFactory(line=line)
    docket = money.make_docket(line=line, by=desk, at=at(8))
    assert docket.line == line
    assert [row[2:] for row in shares([line, other])] == [(Decimal(870), 0)]


def test_the_page_of_a_cart_hired_in_counts_its_own_part_and_shows_the_working(client, desk):
    line, other = swapped(cart__fleet_number="HX-7")
    AgreedTermsFactory(line=line)
    docket = money.make_docket(line=other, by=desk, at=at(12))
    hire_in = HireInFactory(cart=line.cart, starts_at=at(1), ends_at=at(6))
    hire_ins = [hire_in, HireInFactory(cart=other.cart, starts_at=at(1), ends_at=at(20))]
    earned = [cost_of(each, at=at(12)).lines[0].charged for each in hire_ins]
    assert earned == [Decimal("676.67"), Decimal("1353.33")]
    client.force_login(desk)
    address = reverse("hire:hire_in_detail", args=[hire_in.pk])
    page = text_of(client.get(address))
    assert "Hires on which a cart was swapped" in page
    assert "3 of 9 days" in page
    assert "676.67" in page
    [row] = saved(client, address, table="shares")
    assert (row["Docket"], row["Days of this cart"], row["Earned by this cart"]) == (
        docket.number,
        "3",
        "676.67",
    )


def test_many_swapped_hires_cost_no_more_queries_than_few(client, desk):
    hire_in = HireInFactory(starts_at=at(1), ends_at=at(30))
    client.force_login(desk)
    page = reverse("hire:hire_in_detail", args=[hire_in.pk])

    def add(number):
        for _ in range(number):
            line, other = swapped(cart=hire_in.cart)
            AgreedTermsFactory(line=line)
            daily = DailyDocketFactory(line=other)
            BesideChargeFactory(line=line)
            docket_of(other, date(2026, 3, 10), body_line(f"docket {daily.number}", "10.00"), made_at=at(12))

    add(3)
    few = queries_of(client, page)
    add(12)
    assert queries_of(client, page) == few
