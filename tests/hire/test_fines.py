"""Fines and tolls: plate and time, the hire that had the cart, who drove, what is passed on and at what fee."""

import csv
import io
from datetime import datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions import fines as acts
from hire.actions.fines import Notice
from hire.models.fines import Driver, Fine
from people.journal.models import Entry
from people.refusals import NotAllowed
from tests.factories.fleet import CartFactory
from tests.factories.hire import LineFactory
from tests.factories.money import BODY, AgreedTermsFactory, DriverFactory, FineFactory
from tests.factories.people import StaffFactory
from tests.factories.wet import OperatorFactory, wet_out
from tests.pages import text_of

pytestmark = pytest.mark.django_db

ADELAIDE = ZoneInfo("Australia/Adelaide")
MINUTE = timedelta(minutes=1)


def at(day, hour=15, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ADELAIDE)


@pytest.fixture
def cart():
    return CartFactory(fleet_number="WC-44", plate="S555 AAB")


@pytest.fixture
def line(cart):
    """Out from Monday 2 March at six to Tuesday 10 March at four, at a fee of 45 for what is passed on."""
    line = LineFactory(
        cart=cart, starts_at=at(2, 6), ends_at=at(10), out_at=at(2, 6), came_back_at=at(10, 16)
    )
    AgreedTermsFactory(line=line, body=BODY | {"fine_fee": "45.00"})
    return line


def notice(**more):
    return Notice(
        **{
            "kind": "toll", "issuer": "Ridge Motorway", "notice_number": "RM-1", "plate": "s555aab", "happened_at": at(5, 7, 40),
            "place_words": "Ridge gantry", "amount": Decimal("8.40"), "way": "paid",
        } | more
    )  # fmt: skip


@pytest.mark.parametrize(
    "happened_at", [at(2, 6), at(10, 16) - MINUTE], ids=["at the handover", "a minute before it was back"]
)
def test_the_hire_that_had_the_cart_is_found_and_charged(desk, line, happened_at):
    fine = acts.record_fine(notice=notice(happened_at=happened_at), by=desk, at=at(20))
    assert fine.line == line
    charged = [(one.what, one.unit_price) for one in line.beside.order_by("unit_price")]
    assert charged == [
        ("Toll, notice RM-1", Decimal("8.40")),
        ("Passing on toll, notice RM-1", Decimal("45.00")),
    ]
    assert Entry.objects.filter(event="hire.fine.written", subject_id=line.pk).exists()


def test_who_is_named_to_the_issuer_pays_the_fee_alone(desk, line):
    acts.record_fine(notice=notice(kind="fine", way="nominated", amount=Decimal(400)), by=desk, at=at(20))
    assert [one.unit_price for one in line.beside.all()] == [Decimal(45)]


def test_without_a_fee_agreed_none_is_charged(desk, cart):
    line = LineFactory(cart=cart, starts_at=at(2, 6), ends_at=at(10), out_at=at(2, 6))
    acts.record_fine(notice=notice(way="nominated"), by=desk, at=at(20))
    assert not line.beside.exists()


@pytest.mark.parametrize(
    ("happened_at", "words"),
    [
        pytest.param(at(2, 6) - MINUTE, "It next left on H", id="a minute before the handover"),
        pytest.param(at(10, 16), "It was back from H", id="as it came back"),
    ],
)
def test_a_cart_that_was_with_nobody_is_told_in_words(desk, line, happened_at, words):
    with pytest.raises(acts.WithNobody, match=f"WC-44 was with nobody on hire.*{words}.*the yard’s own"):
        acts.record_fine(notice=notice(happened_at=happened_at), by=desk, at=at(20))
    assert not Fine.objects.exists()


def test_wrong_plates_times_to_come_and_notices_written_twice_are_refused(desk, line):
    with pytest.raises(acts.NoSuchPlate, match="No cart of the yard carries XYZ 1"):
        acts.record_fine(notice=notice(plate="XYZ 1"), by=desk, at=at(20))
    # A cart never registered has no plate, and no plate finds none of those.
    with pytest.raises(acts.NoSuchPlate):
        acts.record_fine(notice=notice(plate=" "), by=desk, at=at(20))
    with pytest.raises(acts.NotThen, match="still to come"):
        acts.record_fine(notice=notice(), by=desk, at=at(5, 7))
    with pytest.raises(NotAllowed):
        acts.record_fine(notice=notice(), by=StaffFactory(role="fitter"), at=at(20))
    acts.record_fine(notice=notice(), by=desk, at=at(20))
    with pytest.raises(acts.WrittenAlready, match="written down already"):
        acts.record_fine(notice=notice(notice_number="rm-1"), by=desk, at=at(20))
    assert line.beside.count() == 2
    with pytest.raises(IntegrityError, match="hire_fine_has_been"), transaction.atomic():
        FineFactory(line=line, amount=Decimal(-1))


def drove(line, desk, from_at, until_at=None, name="Kit Arden"):
    return acts.write_driver(
        line=line, name=name, licence="SA 1, MR", from_at=from_at, until_at=until_at, told_by_words="Aoife", by=desk, at=at(20)
    )  # fmt: skip


def test_who_drove_is_written_down_by_spells(desk, line):
    drove(line, desk, at(2, 6), at(5, 7, 40))
    drove(line, desk, at(5, 7, 40), name="Sol Pryce")
    assert [each.name for each in line.drivers.at(at(5, 7, 40))] == ["Sol Pryce"]
    assert [each.name for each in line.drivers.at(at(5, 7, 39))] == ["Kit Arden"]
    entry = Entry.objects.filter(event="hire.driver.written").first()
    assert "SA 1" not in entry.text


@pytest.mark.parametrize(
    ("from_at", "until_at", "words"),
    [
        (at(2, 5), None, "was handed over"),
        (at(5), at(5), "until after they began"),
        (at(10, 16), None, "a time it was out"),
        (at(21), None, "a time it was out"),
    ],
)
def test_nobody_drove_a_cart_that_was_not_out(desk, line, from_at, until_at, words):
    with pytest.raises(acts.NotThen, match=words):
        drove(line, desk, from_at, until_at)
    with pytest.raises(acts.NotThen, match="has not left"):
        drove(LineFactory(), desk, from_at)
    assert not Driver.objects.exists()
    with pytest.raises(IntegrityError, match="hire_driver_in_order"), transaction.atomic():
        DriverFactory(line=line, until_at=datetime(2020, 1, 1, tzinfo=ADELAIDE))


def test_a_notice_by_hand_names_who_had_it_and_who_drove(client, desk, line):
    client.force_login(desk)
    drivers = reverse("hire:driver_write", args=[line.pk])
    typed = {
        "name": "Kit Arden",
        "licence": "SA 1, MR",
        "from_at": "2026-03-02T06:00",
        "told_by_words": "Aoife",
    }
    assert client.post(drivers, typed | {"from_at": "2026-03-01T06:00"}).status_code == 422
    assert "Kit Arden" in text_of(client.post(drivers, typed, follow=True))
    form = {name: value for name, value in vars(notice()).items() if name != "answer_by"}
    form |= {"happened_at": "2026-03-01T07:40", "amount": "8.40"}
    wrong = client.post(reverse("hire:fine_add"), form)
    assert wrong.status_code == 422
    assert "was with nobody" in wrong.content.decode()
    sheet = text_of(
        client.post(reverse("hire:fine_add"), form | {"happened_at": "2026-03-05T07:40"}, follow=True)
    )
    for words in (
        line.agreement.customer.name,
        line.agreement.customer.address,
        "Kit Arden",
        "Licence SA 1, MR",
    ):
        assert words in sheet
    driver = line.drivers.get()
    for _ in range(2):
        assert client.post(reverse("hire:driver_strike", args=[driver.pk])).status_code == 302
    assert "Not written down" in text_of(client.get(reverse("hire:fine_detail", args=[line.fines.get().pk])))
    assert Entry.objects.filter(event="hire.driver.struck").exists()


def test_the_list_is_narrowed_saved_and_asks_as_much_for_many(
    client, desk, line, django_assert_max_num_queries
):
    client.force_login(desk)
    address = reverse("hire:fine_list")
    assert "No fine or toll here" in text_of(client.get(address))
    one = FineFactory(line=line)
    FineFactory(kind="fine", plate="OTHER")
    rows = list(
        csv.DictReader(io.StringIO(client.get(f"{address}?q=wc-44&as=csv").content.decode("utf-8-sig")))
    )
    assert [row["Notice"] for row in rows] == [one.notice_number]
    with django_assert_max_num_queries(12) as few:
        client.get(address)
    FineFactory.create_batch(20)
    with django_assert_max_num_queries(len(few)):
        client.get(address)


@pytest.mark.django_db
def test_the_sheet_names_the_operator_of_a_wet_hire(client, desk):
    now = timezone.now()
    turn = wet_out(at=now, operator=OperatorFactory(name="Kit Moran", firm="Moran Plant"))
    fine = FineFactory(line=turn.line, happened_at=now - timedelta(days=2), made_at=now)
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:fine_detail", args=[fine.pk])))
    assert "Our operator then" in page
    assert "Kit Moran" in page
    assert "The customer knows" not in page
