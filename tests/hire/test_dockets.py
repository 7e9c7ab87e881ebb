"""Rate cards, terms agreed, running charges and dockets: from the records of a hire to the cent, by docs/charges.md."""

import io
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pikepdf
import pytest
from django.db import IntegrityError, connection, transaction
from django.urls import reverse

from fleet.photos import store
from hire.actions import money
from hire.charge_facts import card_for, charges_to, hire_days
from hire.docket_files import make_docket_file
from hire.models.agreements import StandDown
from hire.models.loads import LoadUndone
from hire.models.money import AgreedTerms, DocketFile, RateCard
from hire.terms_text import parse_rates
from people.journal.models import Entry
from people.refusals import NotAllowed
from tests.factories.fleet import CartFactory
from tests.factories.hire import LineFactory, LoadFactory, OffHireFactory
from tests.factories.inspections import sign
from tests.factories.money import (
    BODY,
    AgreedTermsFactory,
    BesideChargeFactory,
    DocketFactory,
    RateCardFactory,
)
from tests.factories.people import StaffFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db

ADELAIDE = ZoneInfo("Australia/Adelaide")
DAY = timedelta(days=1)
OUT = datetime(2026, 3, 2, 6, tzinfo=ADELAIDE)
TYPED = BODY | {"rates": {1: Decimal(290), 7: Decimal(1450), 28: Decimal(5000)}}


def out_line(*, called_off=None, back_at=None, **kwargs):
    """A cart handed over on Monday 2 March 2026 at six for three weeks and a day."""
    ends = datetime(2026, 3, 23, 15, tzinfo=ADELAIDE)
    line = LineFactory(starts_at=OUT, ends_at=ends, out_at=OUT, came_back_at=back_at, **kwargs)
    if called_off:
        OffHireFactory(line=line, called_at=called_off, stops_at=called_off, made_at=called_off)
    return line


def at(day, hour=15):
    return datetime(2026, 3, day, hour, tzinfo=ADELAIDE)


def test_three_weeks_and_a_day_to_the_cent(desk):
    """The first row of "Whole hires" in docs/charges.md: 4,640.00, tax 464.00."""
    line = out_line(called_off=at(23))
    AgreedTermsFactory(line=line)
    docket = money.make_docket(line=line, by=desk, at=at(24))
    assert (docket.net, docket.tax, docket.total) == (
        Decimal("4640.00"),
        Decimal("464.00"),
        Decimal("5104.00"),
    )
    assert (docket.through, docket.is_last) == (date(2026, 3, 23), True)
    assert "3 × 1,450.00" in docket.body["lines"][0]["working"]
    assert Entry.objects.filter(event="hire.docket.made", subject_id=line.pk).exists()


def test_interim_dockets_add_up_to_the_whole(desk):
    line = out_line()
    AgreedTermsFactory(line=line, rule="as agreed")
    first = money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(9))
    second = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    OffHireFactory(line=line, called_at=at(23), stops_at=at(23), made_at=at(23))
    last = money.make_docket(line=line, by=desk, at=at(24))
    assert first.net + second.net + last.net == Decimal("4557.14")
    with pytest.raises(money.NothingToCharge):
        money.make_docket(line=line, by=desk, at=at(25))


def test_rain_told_and_what_is_beside_it_are_in_the_charges(desk):
    line = out_line(called_off=at(23))
    AgreedTermsFactory(line=line)
    StandDown.objects.create(
        line=line, on=date(2026, 3, 10), why="Rain", told_at=at(10, 6), told_by_words="Site office"
    )
    BesideChargeFactory(line=line)
    docket = money.make_docket(line=line, by=desk, at=at(24))
    # 21 days are three weeks; two trips at 180.
    assert docket.net == Decimal(4350 + 360)


def test_a_charge_struck_out_comes_back_on_the_next_docket(desk):
    line = out_line()
    AgreedTermsFactory(line=line)
    beside = BesideChargeFactory(line=line)
    first = money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(9))
    money.strike_beside(beside=beside, why="Their own float", by=desk, at=at(10))
    with pytest.raises(money.StruckAlready):
        money.strike_beside(beside=beside, why="Again", by=desk, at=at(10))
    second = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    assert first.net == Decimal(1450 + 360)
    assert second.net == Decimal(1450 - 360)


def swapped(broken, *, stops_at, out_at=None, came_back_at=None):
    """The line whose cart takes the broken one's place; out_at: None while it has not left."""
    starts_at = out_at or stops_at
    other = LineFactory(
        agreement=broken.agreement,
        starts_at=starts_at,
        ends_at=at(23),
        out_at=out_at,
        came_back_at=came_back_at,
    )
    OffHireFactory(
        line=broken, called_at=stops_at, stops_at=stops_at, made_at=stops_at, replaced_by=other, replaced_why="Pump seized"
    )  # fmt: skip
    return other


def test_a_cart_and_the_one_it_was_swapped_for_are_one_hire(desk):
    """Three days and four are the one week they are on site, whichever of the two lines the docket is asked for at."""
    broken = out_line()
    AgreedTermsFactory(line=broken)
    other = swapped(broken, stops_at=at(4, 12), out_at=at(4, 15), came_back_at=at(8))
    docket = money.make_docket(line=broken, by=desk, at=at(16))
    assert (docket.line, docket.net, docket.body["hire_days"]) == (other, Decimal(1450), 7)
    with pytest.raises(money.NothingToCharge):
        money.make_docket(line=other, by=desk, at=at(16))


def test_days_with_neither_cart_on_site_are_free_and_earlier_dockets_count(desk):
    """Out on Monday the 2nd; broken on Thursday the 5th; the other from Sunday the 8th to the 10th: four days and three."""
    broken = out_line()
    AgreedTermsFactory(line=broken)
    assert money.make_docket(line=broken, through=date(2026, 3, 3), by=desk, at=at(4)).net == Decimal(580)
    other = swapped(broken, stops_at=at(5), out_at=at(8, 6), came_back_at=at(10))
    docket = money.make_docket(line=other, by=desk, at=at(16))
    assert docket.body["hire_days"] == 7
    assert docket.net == Decimal(1450) - Decimal(580)


def test_until_the_other_cart_has_left_the_hire_is_charged_to_the_swap_and_is_not_over(desk):
    broken = out_line()
    AgreedTermsFactory(line=broken)
    swapped(broken, stops_at=at(4))
    docket = money.make_docket(line=broken, by=desk, at=at(9))
    assert (docket.through, docket.net, docket.is_last) == (date(2026, 3, 4), Decimal(870), False)


def test_a_day_outside_the_week_is_charged_when_a_load_or_a_pre_start_says_it_worked(desk, hand):
    """Out from Monday the 2nd to Sunday the 8th by a week of five days."""
    line = out_line(called_off=at(8))
    AgreedTermsFactory(line=line, body=BODY | {"days_in_week": 5})
    agreed = line.agreed_terms.get()
    assert charges_to(line, agreed, through=None).hire_days == 5
    LoadFactory(line=line, taken_at=at(7, 10), told_at=at(7, 10))
    LoadUndone.objects.create(
        load=LoadFactory(line=line, taken_at=at(8, 10), told_at=at(8, 10)), undone_at=at(8, 11), by=desk
    )
    found = charges_to(line, agreed, through=None)
    assert found.hire_days == 6
    assert [note for note in found.notes if "the cart worked" in note] == [
        "7 March 2026 is charged though it is none of the week, or a free holiday: the cart worked."
    ]
    sign(line.cart, "daily", by=hand, at=at(8, 7))
    assert charges_to(line, agreed, through=None).hire_days == 7


def test_the_return_stops_the_charge_where_nobody_called(desk):
    line = out_line(back_at=at(8))
    AgreedTermsFactory(line=line)
    assert money.make_docket(line=line, by=desk, at=at(9)).net == Decimal(1450)


@pytest.mark.parametrize(
    ("facts", "refusal"),
    [
        ({"rule": ""}, money.NotChargeable),
        ({"rule": "best rate", "typed": TYPED | {"rates": {}}}, money.NotChargeable),
        ({"rule": "best rate", "typed": TYPED | {"rates": {0: Decimal(1)}}}, money.NotChargeable),
        ({"rule": "best rate", "typed": TYPED | {"rates": {7: Decimal(-1)}}}, money.NotChargeable),
        ({"rule": "agreed minimum"}, money.NotChargeable),
    ],
)
def test_terms_that_make_no_sense_are_refused(desk, facts, refusal):
    with pytest.raises(refusal):
        money.agree_terms(**{"line": out_line(), "typed": TYPED, "by": desk, "at": at(3)} | facts)
    assert not AgreedTerms.objects.exists()


def test_nothing_is_charged_before_a_rate_is_agreed_or_the_cart_left(desk):
    with pytest.raises(money.NoTermsAgreed, match="Agree it first"):
        money.make_docket(line=out_line(), by=desk, at=at(9))
    waiting = LineFactory()
    AgreedTermsFactory(line=waiting)
    with pytest.raises(money.NotChargeable, match="before the cart is handed over"):
        money.make_docket(line=waiting, by=desk, at=at(9))
    with pytest.raises(money.NotChargeable, match="has not left"):
        money.charge_beside(
            line=waiting, what="Fuel", quantity=Decimal(1), unit="L", unit_price=Decimal(2), by=desk, at=at(9)
        )


def test_only_the_desk_and_managers_touch_money():
    hand, line = StaffFactory(role="yard_hand"), out_line()
    with pytest.raises(NotAllowed):
        money.make_docket(line=line, by=hand, at=at(9))
    with pytest.raises(NotAllowed):
        money.agree_terms(line=line, rule="best rate", typed=TYPED, by=hand, at=at(9))
    with pytest.raises(NotAllowed):
        money.set_card(
            name="X", cart=None, litres_from=0, typed=TYPED, starts_on=date(2026, 3, 1), by=hand, at=at(9)
        )


def test_new_prices_end_the_card_in_force_and_what_was_agreed_stands(desk):
    old = RateCardFactory()
    new = money.set_card(
        name="Any cart, dry", cart=None, litres_from=0, typed=TYPED | {"rates": {1: Decimal(310)}}, starts_on=date(2026, 7, 1),
        by=desk, at=at(9),
    )  # fmt: skip
    old.refresh_from_db()
    assert (old.ends_on, new.ends_on) == (date(2026, 7, 1), None)
    with pytest.raises(money.NotChargeable, match="Start the new prices after it"):
        money.set_card(
            name="X", cart=None, litres_from=0, typed=TYPED, starts_on=date(2026, 6, 30), by=desk, at=at(9)
        )


def test_the_carts_own_card_counts_then_the_one_of_most_litres():
    cart = CartFactory(tank_capacity_l=15_000)
    any_cart, large = RateCardFactory(), RateCardFactory(litres_from=15_000)
    RateCardFactory(litres_from=18_000)
    cards = list(RateCard.objects.all())
    assert card_for(cart.pk, 14_999, cards) == any_cart
    assert card_for(cart.pk, 15_000, cards) == large
    own = RateCardFactory(cart=cart)
    assert card_for(cart.pk, 15_000, [*cards, own]) == own


@pytest.mark.parametrize(
    ("starts", "ends", "in_week", "days"),
    [
        (at(2, 6), at(23, 15), 7, 22),
        (at(2, 6), datetime(2026, 3, 9, 0, tzinfo=ADELAIDE), 7, 7),
        (at(2, 6), at(15, 15), 5, 10),
        (at(2, 6), at(2, 7), 7, 1),
        (at(7, 6), at(8, 6), 5, 1),
    ],
)
def test_hire_days_of_a_period(starts, ends, in_week, days):
    assert hire_days(starts, ends, zone=ADELAIDE, in_week=in_week) == days


@pytest.mark.parametrize("text", ["7", "7:", "week: 1450", "7: much", "7: 10\n7: 11", "7: NaN"])
def test_a_rate_that_is_none_is_told(text):
    with pytest.raises(ValueError, match=r"is no rate|two prices"):
        parse_rates(text)


def test_rates_are_read_with_their_commas():
    assert parse_rates("1: 290\n\n 7 : 1,450.00 ") == {1: Decimal(290), 7: Decimal("1450.00")}


def test_the_database_keeps_money_whole(desk):
    for make, name in (
        (lambda: DocketFactory(total=Decimal(1)), "hire_docket_adds_up"),
        (lambda: BesideChargeFactory(quantity=Decimal(0)), "hire_besidecharge_not_below_zero"),
        (lambda: RateCardFactory(ends_on=date(2025, 1, 1)), "hire_ratecard_in_order"),
        (lambda: RateCardFactory(cart=CartFactory(), litres_from=5), "hire_ratecard_cart_or_litres"),
        (lambda: [RateCardFactory(), RateCardFactory()], "hire_ratecard_one_in_force"),
    ):
        with pytest.raises(IntegrityError, match=name), transaction.atomic():
            make()


def test_a_docket_is_never_changed(desk):
    docket = DocketFactory()
    with (
        pytest.raises(Exception, match=r"sealed|written once"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("UPDATE hire_docket SET net = 0, total = 29 WHERE id = %s", [docket.pk])


def test_its_file_is_made_once_and_says_what_it_comes_to(desk):
    line = out_line(called_off=at(23))
    AgreedTermsFactory(line=line)
    docket = money.make_docket(line=line, by=desk, at=at(24))
    make_docket_file(docket.pk, at(24))
    make_docket_file(docket.pk, at(25))
    kept = DocketFile.objects.get()
    with pikepdf.open(io.BytesIO(store.open(kept.stored_name).read())) as pdf:
        assert len(pdf.pages) == 1


def test_the_desk_agrees_a_rate_charges_and_makes_a_docket_by_hand(client, desk):
    client.force_login(desk)
    RateCardFactory()
    line = out_line(called_off=at(23))
    page = client.get(reverse("hire:terms_agree", args=[line.pk])).content.decode()
    assert "7: 1,450.00" in page
    form = {name: value for name, value in BODY.items() if name != "rates"} | {"rates": "1: 290\n7: 1,450"}
    assert client.post(reverse("hire:terms_agree", args=[line.pk]), form).status_code == 422
    wrong = client.post(
        reverse("hire:terms_agree", args=[line.pk]), form | {"rule": "best rate", "rates": "7 much"}
    )
    assert wrong.status_code == 422
    assert "is no rate" in wrong.content.decode()
    assert (
        client.post(reverse("hire:terms_agree", args=[line.pk]), form | {"rule": "best rate"}).status_code
        == 302
    )
    charged = {"what": "Delivery", "quantity": "2", "unit": "trip", "unit_price": "180"}
    assert client.post(reverse("hire:beside_add", args=[line.pk]), charged).status_code == 302
    page = text_of(client.get(reverse("hire:charges", args=[line.pk])))
    assert "4,640.00" in page
    assert "5,500.00" in page
    page = text_of(client.post(reverse("hire:docket_make", args=[line.pk]), {"through": ""}, follow=True))
    assert "Hire docket D" in page
    docket = line.dockets.get()
    saved = client.get(f"{reverse('hire:docket_detail', args=[docket.pk])}?as=csv").content.decode(
        "utf-8-sig"
    )
    assert "Total,,,,5500.00" in saved
    assert client.get(reverse("hire:docket_file", args=[docket.pk])).status_code == 404
    make_docket_file(docket.pk, at(24))
    assert client.get(reverse("hire:docket_file", args=[docket.pk]))["Content-Type"] == "application/pdf"


def test_prices_are_set_by_hand_and_shown_to_a_caller(client, desk):
    client.force_login(desk)
    CartFactory(fleet_number="WC-70")
    typed = {name: value for name, value in BODY.items() if name != "rates"} | {
        "name": "Any cart, dry", "cart": "", "litres_from": "", "starts_on": "2026-01-01", "rates": "1: 290\n7: 1,450\n28: 5,000",
    }  # fmt: skip
    assert client.post(reverse("hire:rate_set"), typed | {"litres_from": "-1"}).status_code == 422
    assert client.post(reverse("hire:rate_set"), typed).status_code == 302
    assert "1,450.00" in text_of(client.get(reverse("hire:rate_list")))
    asked = {
        "starts_at": "2027-03-01T06:00",
        "ends_at": "2027-03-22T15:00",
        "leaves_by": "road",
        "works_on": "site",
    }
    page = text_of(client.get(reverse("hire:enquiry"), asked))
    assert "4,640.00" in page
    assert "22 days, before tax" in page
    card = RateCard.objects.get()
    assert client.post(reverse("hire:rate_end", args=[card.pk])).status_code == 302
