"""Deposits, and who bears damage: asked, taken, given back, set off after the tax, never more out than is held."""

from datetime import date, datetime
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, connection, transaction
from django.urls import reverse

from hire.actions import money
from hire.actions.deposits import (
    MoreThanDue,
    MoreThanHeld,
    WrongDocket,
    left_to_pay,
    record_deposit,
    standing_deposit,
)
from hire.deposits import deposit_of
from hire.docket_files import docket_html
from hire.models.deposits import DepositEntry
from hire.terms_words import terms_words
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from tests.at_once import at_once
from tests.factories.hire import LineFactory
from tests.factories.money import BODY, AgreedTermsFactory, DepositEntryFactory, DocketFactory
from tests.factories.people import StaffFactory
from tests.pages import text_of

ADELAIDE = ZoneInfo("Australia/Adelaide")
WAIVED = BODY | {
    "cover": "waiver", "waiver_day": "12.00", "excess": "2500.00", "waiver_excludes": "Tyres, glass, misuse",
}  # fmt: skip


def at(day, hour=15):
    return datetime(2026, 3, day, hour, tzinfo=ADELAIDE)


def out_line(body=BODY):
    line = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6))
    AgreedTermsFactory(line=line, body=body)
    return line


def step(agreement, kind, amount, by, **more):
    return record_deposit(
        agreement=agreement, kind=kind, amount=Decimal(amount), words="Card, receipt 1182", by=by, at=at(3), **more
    )  # fmt: skip


def test_what_stands_of_a_deposit():
    found = deposit_of([("asked", Decimal(500)), ("taken", Decimal(300)), ("asked", Decimal(400))])
    assert (found.held, found.to_take, bool(found)) == (300, 100, True)
    assert not deposit_of([])
    with pytest.raises(ValueError, match="not lost"):
        deposit_of([("lost", Decimal(1))])


@pytest.mark.django_db
def test_never_more_goes_out_than_is_held(desk):
    line = out_line()
    agreement = line.agreement
    with pytest.raises(MoreThanHeld, match=r"0\.00 of the deposit .* There is nothing to give"):
        step(agreement, "given_back", 1, desk)
    step(agreement, "asked", 500, desk)
    step(agreement, "taken", 500, desk)
    docket = money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(9))
    step(agreement, "set_off", 300, desk, docket=docket)
    with pytest.raises(MoreThanHeld, match=r"200\.00 .* is held.*Give 200\.00 or less"):
        step(agreement, "given_back", "200.01", desk)
    step(agreement, "given_back", 200, desk)
    assert standing_deposit(agreement).held == 0
    assert left_to_pay(docket) == Decimal("1295.00")
    assert Entry.objects.filter(subject_id=agreement.pk, event__startswith="hire.deposit.").count() == 4


@pytest.mark.django_db
def test_it_is_set_off_against_a_docket_of_its_own_agreement_up_to_what_is_due(desk):
    line = out_line()
    step(line.agreement, "taken", 5000, desk)
    docket = money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(9))
    for wrong in (None, DocketFactory()):
        with pytest.raises(WrongDocket, match="Choose a docket of H"):
            step(line.agreement, "set_off", 1, desk, docket=wrong)
    with pytest.raises(WrongDocket, match="Only what is set off"):
        step(line.agreement, "taken", 1, desk, docket=docket)
    with pytest.raises(MoreThanDue, match=r"1,595\.00 is left to pay"):
        step(line.agreement, "set_off", "1595.01", desk, docket=docket)
    with pytest.raises(MoreThanHeld, match="above zero"):
        step(line.agreement, "taken", 0, desk)
    with pytest.raises(NotAllowed):
        step(line.agreement, "taken", 1, StaffFactory(role="yard_hand"))


@pytest.mark.django_db
def test_a_docket_prints_what_is_set_off_after_the_tax_and_the_waiver(desk):
    line = out_line(WAIVED)
    step(line.agreement, "taken", 500, desk)
    with pytest.raises(MoreThanHeld):
        money.make_docket(line=line, through=date(2026, 3, 8), set_off=Decimal(501), by=desk, at=at(9))
    assert not line.dockets.exists()
    docket = money.make_docket(line=line, through=date(2026, 3, 8), set_off=Decimal(200), by=desk, at=at(9))
    # A week at 1,450, seven days of waiver at 12, tax 10 %.
    assert (docket.net, docket.total) == (Decimal("1534.00"), Decimal("1687.40"))
    assert docket.body["deposit"] == {"held": "300.00", "set_off": "200.00", "to_pay": "1487.40"}
    paper = " ".join(docket_html(docket).split())
    for words in (
        "To pay",
        "1,487.40",
        "7 days charged × 12.00",
        "12.00 a day charged; the hirer pays the first 2,500.00",
    ):
        assert words in paper
    assert "Tyres, glass, misuse" in paper


def test_the_hirers_own_cover_is_named_and_costs_nothing():
    words = dict(terms_words(BODY | {"cover": "own", "own_cover": "Ironbark Mutual 8811"}, rule="best rate"))
    assert words["The hirer’s own cover"] == "Ironbark Mutual 8811"
    assert "Damage waiver" not in words


@pytest.mark.django_db
def test_a_step_is_written_once_and_the_database_keeps_it_whole():
    entry = DepositEntryFactory()
    with pytest.raises(IntegrityError, match="hire_depositentry_above_zero"), transaction.atomic():
        DepositEntryFactory(amount=Decimal(0))
    with pytest.raises(IntegrityError, match="hire_depositentry_set_off_names"), transaction.atomic():
        DepositEntryFactory(kind="set_off")
    with (
        pytest.raises(Exception, match=r"sealed|written once"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("UPDATE hire_depositentry SET amount = 1 WHERE id = %s", [entry.pk])


@pytest.mark.django_db(transaction=True)
def test_of_two_who_give_it_back_at_once_one_does():
    desk, agreement = StaffFactory(role="hire_desk"), DepositEntryFactory(amount=Decimal(500)).agreement
    outcomes = at_once(*[partial(step, agreement, "given_back", 500, desk) for _ in range(2)])
    assert {type(one) for one in outcomes} == {DepositEntry, MoreThanHeld}
    assert standing_deposit(agreement).held == 0
    assert list(faults_in_journal()) == []


@pytest.mark.django_db(transaction=True)
def test_of_two_dockets_at_once_each_prints_what_the_other_left_of_the_deposit():
    desk = StaffFactory(role="hire_desk")
    line = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6))
    other = LineFactory(agreement=line.agreement, starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6))
    for one in (line, other):
        AgreedTermsFactory(line=one)
    DepositEntryFactory(agreement=line.agreement)
    made = at_once(
        *[
            partial(money.make_docket, line=one, set_off=Decimal(200), by=desk, at=at(8))
            for one in (line, other)
        ]
    )
    assert sorted(one.body["deposit"]["held"] for one in made) == ["100.00", "300.00"]


@pytest.mark.django_db
def test_the_desk_takes_and_sets_off_a_deposit_by_hand(client, desk):
    client.force_login(desk)
    line = out_line(WAIVED)
    address = reverse("hire:deposit_record", args=[line.pk])
    typed = {"kind": "taken", "amount": "500", "words": "Card, receipt 1182"}
    wrong = client.post(address, typed | {"kind": "given_back"})
    assert wrong.status_code == 422
    assert "receipt 1182" in wrong.content.decode()
    assert "500.00 held" in text_of(client.post(address, typed, follow=True))
    made = {"through": "2026-03-08", "set_off": "200"}
    page = text_of(client.post(reverse("hire:docket_make", args=[line.pk]), made, follow=True))
    assert "To pay</dt><dd>1,487.40" in page
    docket = line.dockets.get()
    saved = client.get(f"{reverse('hire:docket_detail', args=[docket.pk])}?as=csv").content.decode(
        "utf-8-sig"
    )
    assert "Set off from the deposit,,,,-200.00" in saved
    assert "300.00 held" in text_of(client.get(reverse("hire:charges", args=[line.pk])))
