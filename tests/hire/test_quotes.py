"""Quotes: written once and frozen, sent once, and the hire that comes of one is charged as it said."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from smtplib import SMTPRecipientsRefused
from uuid import uuid4
from zoneinfo import ZoneInfo

import pikepdf
import pytest
from django.core import mail
from django.db import DatabaseError, IntegrityError, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.photos import store
from hire.actions import money, quotes
from hire.actions.agreements import make_agreement
from hire.actions.bookings import make_booking, promise_bookings
from hire.actions.letters import NoMailServer
from hire.actions.terms import NotChargeable
from hire.letter_sending import NotReady
from hire.models.agreements import Line, shifts_said
from hire.models.money import AgreedTerms
from hire.models.quotes import Quote, QuoteFile, QuoteLetter, QuoteTaken
from hire.quote_facts import Asked, of_booking, of_pencil
from hire.quote_files import make_quote_file
from hire.quote_sending import send_quote
from hire.suiting import Enquiry
from hire.watch_quotes import quotes_stuck
from people.journal.models import Entry
from people.outbox.models import Message
from people.refusals import NotAllowed
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, BookingFactory, CustomerFactory, OffHireFactory, PencilFactory
from tests.factories.money import RateCardFactory
from tests.factories.people import StaffFactory
from tests.factories.quotes import CALLER, quote_of, typed_of
from tests.inspections.certificate_files import pages_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
ADELAIDE = ZoneInfo("Australia/Adelaide")
MONDAY = datetime(2026, 12, 7, 6, tzinfo=ADELAIDE)
BOTH_WAYS = {"delivery_price": "180", "collection_price": "180"}
HOURS = {"hours_in_day": "8", "hour_price": "95", "pool": "week", "clock": "pump"}
WET = {"wet_hour_price": "165", "wet_overtime_after": "8", "wet_sunday": "2"}
WORDS = {
    "place_of_work": "Saltbush Road widening",
    "leaves_by": "road",
    "works_on": "road",
    "order_number": "",
}


def promised(quote, *, by, at=AT, shift=None, customer=None, **kwargs):
    return make_agreement(
        customer=customer or quote.customer or CustomerFactory(), pre_start_book="ours", cart=quote.cart,
        starts_at=quote.period.lower, ends_at=quote.period.upper, quote=quote, by=by, at=at, **WORDS,
        **shifts_said(shift or quote.shift), **kwargs,
    )  # fmt: skip


def hired(line):
    """Handed over, called off and back exactly as promised."""
    first, last = line.promised.lower, line.promised.upper
    Line.objects.filter(pk=line.pk).update(handed_over_at=first, back_at=last)
    line = Line.objects.for_list().get(pk=line.pk)
    OffHireFactory(line=line, called_at=last, stops_at=last, made_at=last)
    return line


def test_the_first_worked_quote_to_the_cent_and_its_docket_the_same(desk):
    quote = quote_of(starts_at=MONDAY, **BOTH_WAYS)
    assert (quote.net, quote.tax, quote.total) == (Decimal(1810), Decimal(181), Decimal(1991))
    line = hired(promised(quote, by=desk))
    first = money.make_docket(line=line, through=date(2026, 12, 9), by=desk, at=MONDAY + 30 * DAY)
    last = money.make_docket(line=line, by=desk, at=MONDAY + 30 * DAY)
    assert first.net + last.net == quote.net
    assert [one["what"] for one in quote.body["lines"]][1:] == ["Delivery", "Collection"]


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rule=st.sampled_from(["best rate", "as agreed", "fixed", "agreed minimum"]), days=st.integers(1, 40),
    shift=st.sampled_from(["day", "night", "both"]),
    more=st.sampled_from(
        [{}, {"days_in_week": "5"}, {"waiver_day": "29"}, {"month": "calendar", "month_price": "5200", "fixed_by": "month"}]
    ),
)  # fmt: skip
def test_a_hire_made_from_a_quote_is_charged_as_quoted(desk, rule, days, shift, more):
    """Nothing happens: the docket of the whole is the quote, its tax too."""
    with transaction.atomic():
        body = BOTH_WAYS | {"minimum_days": "3"} | more
        quote = quote_of(starts_at=MONDAY, days=days, shift=shift, rule=rule, **body)
        assert quote.terms["shifts"] == ("2" if shift == "both" else "1")
        docket = money.make_docket(line=hired(promised(quote, by=desk)), by=desk, at=MONDAY + 90 * DAY)
        assert (docket.net, docket.tax, docket.total) == (quote.net, quote.tax, quote.total)
        transaction.set_rollback(True)


def test_it_is_numbered_one_after_the_other_and_told_once(desk):
    first, second = quote_of(by=desk), quote_of(by=desk)
    assert [first.number, second.number] == ["Q2026-00001", "Q2026-00002"]
    [entry] = Entry.objects.filter(event="hire.quote.written", subject_id=first.pk, chain="yard")
    assert "Q2026-00001" in entry.text
    assert Message.objects.filter(kind="hire.quote_file", subject_id=first.pk).count() == 1


def test_one_form_sent_twice_is_one_quote(desk):
    form_id, cart = uuid4(), CartFactory()
    first = quote_of(form_id=form_id, cart=cart, by=desk, send=True)
    again = quote_of(form_id=form_id, cart=cart, by=desk, send=True)
    assert (again.pk, Quote.objects.count(), QuoteLetter.objects.count()) == (first.pk, 1, 1)
    assert Entry.objects.filter(event="hire.quote.written", chain="yard").count() == 1


def test_a_later_card_changes_nothing_of_it(desk):
    cart = CartFactory()
    card = RateCardFactory(cart=cart)
    quote = quote_of(cart=cart, by=desk)
    assert (quote.card, quote.body["card"]["name"]) == (card, "Any cart, dry")
    was = (quote.total, quote.body, quote.terms)
    money.set_card(
        name="Dearer", cart=cart, litres_from=0, typed=typed_of(rates={"1": "400", "7": "2000"}), starts_on=AT.date(), by=desk,
        at=AT,
    )  # fmt: skip
    quote = Quote.objects.get(pk=quote.pk)
    assert (quote.total, quote.body, quote.terms) == was
    line = promised(quote, by=desk, at=AT + DAY)
    agreed = AgreedTerms.objects.get(line=line)
    assert (agreed.rule, agreed.body, agreed.card_name) == ("best rate", quote.terms, "Any cart, dry")
    assert agreed.words == f"As quoted, {quote.number}"


def test_nobody_rewrites_one():
    quote = quote_of()
    for change in (
        lambda: Quote.objects.filter(pk=quote.pk).update(total=1, net=1, tax=0),
        lambda: Quote.objects.filter(pk=quote.pk).delete(),
    ):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


def test_a_quote_that_does_not_add_up_or_names_no_rule_is_refused_by_the_database():
    quote = quote_of()
    for wrong in ({"total": Decimal(1)}, {"rule": ""}, {"to_name": ""}):
        quote.pk, quote.number, quote.form_id = uuid4(), f"Q2026-9{len(wrong)}", uuid4()
        for name, value in wrong.items():
            setattr(quote, name, value)
        with pytest.raises(IntegrityError), transaction.atomic():
            quote.save(force_insert=True)


@pytest.mark.parametrize(
    ("given", "refusal", "words"),
    [
        pytest.param({"rule": ""}, NotChargeable, "Choose the rate rule with the customer", id="no rule"),
        pytest.param({"stands_days": -1}, quotes.RunsOutAtOnce, "run out already", id="run out already"),
        pytest.param({"rule": "fixed", "fixed_by": "month"}, NotChargeable, "price of a month", id="a month without a price"),
        pytest.param({"carried_by": "km", "delivery_price": "2"}, NotChargeable, "km of the way", id="no way"),
        pytest.param({"send": True, "to": quotes.Recipient("Wren")}, quotes.NobodyToSendTo, "email address", id="no address"),
    ],
)  # fmt: skip
def test_what_makes_no_quote_is_refused(given, refusal, words):
    with pytest.raises(refusal, match=words):
        quote_of(**given)
    assert not Quote.objects.exists()


def test_the_desk_alone_writes_and_sends():
    with pytest.raises(NotAllowed):
        quote_of(by=StaffFactory(role="fitter"))
    with pytest.raises(NotAllowed):
        quotes.send_quote_again(quote=quote_of(), to=CALLER, by=StaffFactory(role="yard_hand"), at=AT)


def test_a_wet_quote_asks_for_the_price_of_an_hour_and_a_dry_one_keeps_none(desk):
    enquiry = Enquiry(MONDAY, MONDAY + timedelta(days=6, hours=10), is_wet=True)
    asked = Asked(enquiry, CartFactory(fleet_number="WC-9"))
    with pytest.raises(NotChargeable, match="WC-9 goes with an operator"):
        quote_of(asked=asked)
    wet = quote_of(asked=asked, **WET)
    assert (wet.net, wet.body["minimum"]) == (Decimal(10560), "8 h a docket")
    assert quote_of(**WET).terms["wet_hour_price"] == ""
    with pytest.raises(quotes.NotAsQuoted, match="was for wet hire"):
        promised(wet, by=desk)
    line = promised(wet, by=desk, wants=["induction"])
    assert line.agreed_terms.get().terms().wet.hour_price == Decimal(165)


def test_what_is_not_as_quoted_is_refused_whole(desk):
    quote = quote_of(customer=CustomerFactory(name="Merrin Civil"), by=desk)
    with pytest.raises(quotes.NotAsQuoted, match="was written for Merrin Civil"):
        promised(quote, by=desk, customer=CustomerFactory())
    with pytest.raises(quotes.NotAsQuoted, match="was for work by day"):
        promised(quote, by=desk, shift="both")
    assert not Line.objects.exists()
    assert not QuoteTaken.objects.exists()


def test_one_that_ran_out_is_promised_and_says_so(desk):
    quote = quote_of(stands_days=2, by=desk)
    assert not quote.has_run_out(on=quote.valid_until)
    line = promised(quote, by=desk, at=AT + 3 * DAY)
    assert "which had run out on 3 Dec 2026" in line.agreed_terms.get().words
    entry = Entry.objects.get(event="hire.agreement.made", subject_id=line.pk, chain="yard")
    assert "quote_had_run_out" in entry.text
    assert quote.number in entry.text


def test_a_booking_made_of_one_keeps_it_to_its_hire(desk):
    quote = quote_of(customer=CustomerFactory(), starts_at=MONDAY, shift="both", by=desk)
    booking = make_booking(
        customer=quote.customer, **WORDS, **shifts_said("both"), starts_at=quote.period.lower, ends_at=quote.period.upper,
        quote=quote, by=desk, at=AT,
    )  # fmt: skip
    [line] = promise_bookings(chosen={booking: quote.cart}, by=desk, at=AT)
    assert (line.quoted.quote, line.agreed_terms.get().body) == (quote, quote.terms)


def test_a_booking_quoted_since_begins_with_the_newest(desk):
    booking = BookingFactory()
    quote_of(asked=of_booking(booking), by=desk)
    quote = quote_of(asked=of_booking(booking), rule="as agreed", by=desk, at=AT + DAY)
    assert (quote.cart, quote.customer, quote.place_of_work) == (
        None,
        booking.customer,
        booking.place_of_work,
    )
    [line] = promise_bookings(chosen={booking: CartFactory()}, by=desk, at=AT + DAY)
    assert line.agreed_terms.get().rule == "as agreed"


def test_a_booking_nobody_quoted_has_no_terms(desk):
    [line] = promise_bookings(chosen={BookingFactory(): CartFactory()}, by=desk, at=AT)
    assert not line.agreed_terms.exists()


def test_a_pencil_is_quoted_as_it_was_asked():
    pencil = PencilFactory(shift="both")
    quote = quote_of(asked=of_pencil(pencil))
    assert (quote.cart, quote.shift, quote.period) == (pencil.cart, "both", pencil.period)
    assert Quote.objects.of_pencil(pencil) == quote


def test_its_pdf_says_what_every_quote_prints_on_one_sheet():
    quote = quote_of(starts_at=MONDAY, deposit=Decimal(500), **BOTH_WAYS, **HOURS)
    make_quote_file(quote.pk, AT)
    make_quote_file(quote.pk, AT)
    raw = store.open(QuoteFile.objects.get(quote=quote).stored_name).read()
    [page] = pages_of(raw)
    page = " ".join(page.split())
    for words in (
        quote.number, "Wren Aldous", "Saltbush Road widening", quote.cart.fleet_number,
        "7 hire days, every day", "four weeks, 28 hire days, at 5,000.00", "8 h a day; 95.00 an hour over",
        "over each week from the handover", "pump hours", "Best rate: the least the days can be covered for",
        "7 days as 1 week: 1 × 1,450.00", "Delivery", "Collection", "Tax, 10 % of the net", "1,991.00", "500.00",
        "Not included: Fuel and water.", "No cart is promised by a quote", "the gate decides",
    ):  # fmt: skip
        assert words in page, words
    with pikepdf.open(BytesIO(raw)) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.docinfo.Title) == f"Quote {quote.number}"


def test_a_way_for_no_price_is_not_included():
    assert quote_of(delivery_price="180").body["carriage"] == "collection"
    assert quote_of().body["carriage"] == "delivery and collection"
    assert quote_of(**BOTH_WAYS).body["carriage"] == ""


def test_it_is_sent_once_with_its_file():
    quote = quote_of(send=True)
    letter = quote.letters.get()
    with pytest.raises(NotReady, match="no file yet"):
        send_quote(letter.pk, AT)
    make_quote_file(quote.pk, AT)
    send_quote(letter.pk, AT)
    send_quote(letter.pk, AT)
    [sent] = mail.outbox
    assert sent.to == ["wren@aldous.example"]
    [(name, content, kind)] = sent.attachments
    assert (name, kind, content[:5]) == (f"{quote.number}.pdf", "application/pdf", b"%PDF-")
    letter.refresh_from_db()
    assert (letter.sent_at, letter.file_sha256) == (AT, quote.file.sha256)
    assert Entry.objects.filter(event="hire.quote.sent", subject_id=quote.pk, chain="yard").count() == 1


def test_an_address_the_server_refuses_is_a_letter_that_came_back(monkeypatch):
    quote = quote_of(send=True)
    make_quote_file(quote.pk, AT)

    def refuse(*args, **kwargs):
        raise SMTPRecipientsRefused({"wren@aldous.example": (550, b"No such person")})

    monkeypatch.setattr("hire.quote_sending.EmailMessage.send", refuse)
    send_quote(quote.letters.get().pk, AT)
    assert quote.letters.get().came_back_words == "The mail server refused the address: 550 No such person"


def test_a_quote_that_did_not_get_there_is_told_until_it_is_sent_anew(desk, monkeypatch):
    minute = timedelta(minutes=1)
    quote = quote_of(send=True)
    assert list(quotes_stuck(AT + 15 * minute)) == []
    [condition] = quotes_stuck(AT + 16 * minute)
    assert (condition.subject_kind, condition.subject_id) == ("quote", quote.pk)
    assert condition.what == f"{quote.number} did not get to Wren Aldous, wren@aldous.example."
    QuoteLetter.objects.update(came_back_at=AT + minute, came_back_words="No such person")
    [condition] = quotes_stuck(AT + 2 * minute)
    assert "No such person" in condition.how_we_know
    assert list(quotes_stuck(AT + 15 * DAY)) == []
    quotes.send_quote_again(quote=quote, to=CALLER, by=desk, at=AT + 3 * minute)
    assert list(quotes_stuck(AT + 4 * minute)) == []


def test_a_yard_without_a_mail_server_writes_and_does_not_send(settings):
    settings.MAIL_IS_SET = False
    with pytest.raises(NoMailServer):
        quote_of(send=True)
    assert quote_of().number
