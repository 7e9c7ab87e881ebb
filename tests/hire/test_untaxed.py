"""A charge on which no tax falls: its own part of the net, on docket, paper and file, and taken back as it was charged."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse

from hire.actions import back, money
from hire.actions.fines import Notice, record_fine
from hire.charge_facts import billed
from hire.charges import GivenUp, Item, charge
from hire.charging.back import Typed
from hire.docket_files import docket_html
from hire.models.money import BesideCharge
from people.journal.models import Entry
from tests.factories.back import back_line
from tests.factories.charges import BEST, hire
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory
from tests.pages import text_of

ADELAIDE = ZoneInfo("Australia/Adelaide")
TENTH = replace(BEST, tax_rate=Decimal("0.1"))
FINE = Item("fine", "Fine", Decimal(1), "notice", Decimal(240), is_taxed=False)


def at(day, hour=15):
    return datetime(2026, 3, day, hour, tzinfo=ADELAIDE)


def shown(found):
    return [(line.amount, line.is_taxed) for line in found.lines], found.tax, found.untaxed_or_none


def test_a_fine_that_is_struck_out_comes_back_without_tax():
    first = charge(hire(2, extras=[FINE]), terms=TENTH, through=date(2026, 3, 2))
    assert shown(first) == ([(290, True), (240, False)], Decimal("29.00"), 240)
    second = charge(hire(2), terms=TENTH, earlier=[first.billed])
    assert shown(second) == ([(290, True), (-240, False)], Decimal("29.00"), -240)


def test_what_is_given_up_of_it_is_credited_without_tax():
    first = charge(hire(2, extras=[FINE]), terms=TENTH, through=date(2026, 3, 2))
    given_up = GivenUp("dispute 1", "Fine", Decimal(100), "said so", of="fine")
    of_hire = GivenUp("dispute 2", "Hire", Decimal(50), "said so", of="hire")
    second = charge(hire(2, extras=[FINE, given_up, of_hire]), terms=TENTH, earlier=[first.billed])
    assert shown(second) == ([(290, True), (-100, False), (-50, True)], Decimal("24.00"), -100)


def test_a_fine_that_changes_later_stays_untaxed():
    first = charge(hire(2, extras=[FINE]), terms=TENTH, through=date(2026, 3, 2))
    dearer = replace(FINE, unit_price=Decimal(250))
    second = charge(hire(2, extras=[dearer]), terms=TENTH, earlier=[first.billed])
    assert shown(second) == ([(290, True), (10, False)], Decimal("29.00"), 10)


def test_a_docket_with_none_says_nothing_of_it():
    assert charge(hire(2), terms=TENTH).untaxed_or_none is None


@pytest.fixture
def line(db):
    """Two days out, 580.00 by the card, 10 % tax."""
    made = LineFactory(starts_at=at(2, 6), ends_at=at(4), out_at=at(2, 6))
    OffHireFactory(line=made, called_at=at(3), stops_at=at(3), made_at=at(3))
    AgreedTermsFactory(line=made, body=BODY | {"fine_fee": "35"})
    return made


def test_the_desk_says_that_no_tax_falls_on_a_charge(line, desk, client):
    client.force_login(desk)
    typed = {"what": "Site levy", "quantity": "1", "unit": "piece", "unit_price": "40"}
    client.post(reverse("hire:beside_add", args=[line.pk]), typed)
    client.post(
        reverse("hire:beside_add", args=[line.pk]), typed | {"what": "Stamp duty", "is_untaxed": "on"}
    )
    assert dict(BesideCharge.objects.values_list("what", "is_taxed")) == {
        "Site levy": True,
        "Stamp duty": False,
    }
    page = text_of(client.get(reverse("hire:charges", args=[line.pk])))
    assert "Stamp duty: 1 piece at 40.00, not taxed" in page
    assert 'Of this taxed</th><td class="amount">620.00' in page
    assert 'Not taxed</th><td class="amount">40.00' in page
    docket = money.make_docket(line=line, by=desk, at=at(9))
    assert (docket.net, docket.tax, docket.total) == (660, 62, 722)
    assert (docket.body["taxed"], docket.body["untaxed"]) == ("620.00", "40.00")
    paper = " ".join(docket_html(docket).split())
    assert "1 piece × 40.00. Not taxed." in paper
    assert "Tax, 10 % of what is taxed" in paper
    detail = reverse("hire:docket_detail", args=[docket.pk])
    assert 'Not taxed</th><td class="amount">40.00' in text_of(client.get(detail))
    rows = client.get(detail, {"as": "csv"}).content.decode().splitlines()
    assert [row.split(",")[2] for row in rows if ",40.00,," in row] == ["Not taxed"]
    assert [row.rsplit(",", 1)[1] for row in rows if "Stamp duty" in row] == ["no"]


def test_a_docket_all_taxed_has_no_parts(line, desk, client):
    docket = money.make_docket(line=line, by=desk, at=at(9))
    assert "untaxed" not in docket.body
    assert "Tax, 10 % of the net" in docket_html(docket)
    client.force_login(desk)
    assert "Of this taxed" not in text_of(client.get(reverse("hire:docket_detail", args=[docket.pk])))


def test_a_line_from_before_it_was_asked_is_taxed(line, desk):
    """Dockets made before say nothing of tax in their lines: what comes back of them is taxed, as it was charged."""
    docket = money.make_docket(line=line, by=desk, at=at(9))
    for one in docket.body["lines"]:
        del one["is_taxed"]
    [before] = billed([docket])
    assert before.untaxed == frozenset()


@pytest.mark.parametrize(("kind", "taxed"), [("fine", [False, True]), ("toll", [True, True])])
def test_a_fine_is_not_taxed_and_its_fee_is(line, desk, kind, taxed):
    notice = Notice(
        kind, "Roads office", "N-77", line.cart.plate, at(2, 9), "Weir Street", Decimal(240), "paid"
    )
    record_fine(notice=notice, by=desk, at=at(9))
    rows = BesideCharge.objects.order_by("told_at", "-unit_price")
    assert list(rows.values_list("is_taxed", flat=True)) == taxed
    entries = Entry.objects.filter(chain="yard", event="hire.beside.charged")
    assert entries.count() == 2


def test_damage_may_be_charged_without_tax(desk, at):
    found, dent = back_line(at=at)
    AgreedTermsFactory(line=found, agreed_at=at - timedelta(days=1))
    key = f"defect-{dent.pk}"
    decision = back.charge_found(
        line=found, key=key, typed=Typed(amount=Decimal(100)), words="Board", is_taxed=False, by=desk, at=at
    )
    assert decision.beside.is_taxed is False
    docket = money.make_docket(line=found, by=desk, at=at)
    assert docket.body["untaxed"] == "100.00"
