"""What the demo yard charges: three rate cards, what was agreed for each hire, the dockets made, a cart kept for a caller."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from functools import partial
from uuid import uuid4

from config.demo.story import Script, World
from config.demo.wet import WET
from hire.actions import disputes, fines, money
from hire.actions.agreed_hours import agree_hours
from hire.actions.deposits import record_deposit
from hire.actions.disputes import Said
from hire.actions.holidays import decide_day
from hire.actions.pencils import pencil_cart
from hire.actions.quotes import Recipient, write_quote
from hire.actions.worked_days import say_worked
from hire.charge_facts import card_for, cards_in_force
from hire.models.agreements import Line
from hire.models.money import Docket
from hire.models.pencils import Pencil
from hire.quote_body import Offer
from hire.quote_facts import Asked, card_asked, of_pencil
from hire.quote_words import NOT_INCLUDED, NOT_INCLUDED_WET
from hire.suiting import Enquiry, Needs
from hire.swaps import line_now
from people.yard import yard_day, yard_policy

# From so many litres: a day, a week, four weeks, an hour over, an hour with an operator.
PRICES = (
    (0, 290, 1450, 5000, 42, 150),
    (13_000, 360, 1800, 6200, 48, 165),
    (17_000, 430, 2150, 7400, 55, 185),
)
NAMES = ("Carts under 13,000 L", "Carts from 13,000 L", "Carts from 17,000 L")
WAIVER_EXCLUDES = (
    "Tyres and rims, glass, strikes overhead, misuse, water over the axles, carts left unlocked."
)
NOTICES = (
    ("toll", "Callabar Toll Road", "14.60", "paid"),
    ("fine", "Redgum Flat Council", "310", "nominated"),
)
PENCILLED = "WC-12"
# Agreed by a week of five days; nobody signed a pre-start at the week's end, and its foreman speaks for the Saturday alone.
FIVE_DAYS, SATURDAY = "WC-12", 5


def _card(world: World, n: int, at: datetime) -> None:
    litres, day, week, four_weeks, hour, wet = PRICES[n]
    rates = {1: Decimal(day), 7: Decimal(week), 28: Decimal(four_weeks)}
    typed = {
        "rates": rates, "days_in_week": 7, "hours_in_day": Decimal(10), "clock": "engine", "pool": "whole hire",
        "hour_price": Decimal(hour), "holidays": "charged", "rain_told_by": time(7), "rain_most_hours": Decimal(1),
        "rain_cap_days": 5, "closed_calls": "open day", "cover": "waiver", "waiver_day": Decimal(day // 10),
        "excess": Decimal(2500), "waiver_excludes": WAIVER_EXCLUDES, "fine_fee": Decimal(45), "tax_pct": Decimal(10), **WET, "wet_hour_price": wet,
        "fuel_price": Decimal("1.985"), "wash_free_hours": Decimal(1), "wash_mud_price": Decimal(85),
        "wash_clay_price": Decimal(110), "wash_chemical_price": Decimal(150), "tyre_call_out": Decimal(120),
    }  # fmt: skip
    money.set_card(
        name=NAMES[n], cart=None, litres_from=litres, typed=typed, starts_on=yard_day(at), by=world.people["noor"], at=at
    )  # fmt: skip


def prices(world: World) -> None:
    """Before anything is promised."""
    for n in range(len(PRICES)):
        _card(world, n, world.when(-30, 8, n))


def agree(world: World, line: Line, at: datetime) -> None:
    """The rate of its card, by the best rate, as the desk agrees it when it promises the cart."""
    card = card_for(line.cart_id, line.cart.tank_capacity_l, cards_in_force(on=yard_day(at)))
    if card is None:
        return
    rates = card.terms("best rate").rates
    typed = dict(card.body) | {"rates": rates}
    if line.agreement.leaves_by == "float":
        typed |= {"delivery_price": Decimal(380), "collection_price": Decimal(380)}
    if line.cart.fleet_number == FIVE_DAYS:
        typed |= {"days_in_week": 5, "rates": {1: rates[1], 5: rates[7], 20: rates[28]}}
    money.agree_terms(
        line=line, rule="best rate", typed=typed, card_name=card.name, by=world.people["dot"], at=at
    )


def _bill(world: World, at: datetime) -> None:
    """The week's dockets: what is back is charged to its end, and the long hire to last Sunday."""
    for line in Line.objects.for_list().filter(back_at__isnull=False).order_by("back_at"):
        if line_now(line) == line:
            money.make_docket(line=line, by=world.people["dot"], at=at)
    money.make_docket(
        line=world.lines["WC-05"], through=yard_day(at) - timedelta(days=1), set_off=Decimal(500), by=world.people["dot"], at=at
    )  # fmt: skip


def _saturday(world: World, at: datetime) -> None:
    line = world.lines[FIVE_DAYS]
    days = (world.today + timedelta(days=n) for n in range(-14, -7))
    on = next(day for day in days if day.weekday() == SATURDAY)
    say_worked(
        line=line, on=on, told_by_words=f"{line.agreement.customer.contact_name}, by phone", told_at=at,
        words="Two loads on the access road before the pour", by=world.people["dot"], at=at,
    )  # fmt: skip


def _dead_meter(world: World, at: datetime) -> None:
    """Three days of a hire whose hour meter stood still."""
    line, last = world.lines[FIVE_DAYS], yard_day(at) - timedelta(days=4)
    agree_hours(
        line=line, first_on=last - timedelta(days=2), last_on=last, hours=Decimal(27), how="estimate",
        yard_name=world.people["dot"].full_name, customer_name=line.agreement.customer.contact_name,
        words="Nine hours a day by their site diary; the loads tapped agree", by=world.people["dot"], at=at,
    )  # fmt: skip


def _deposit(world: World, at: datetime) -> None:
    """Taken for the long hire, and some of it set off; asked for on another."""
    long_hire, other = world.lines["WC-05"].agreement, world.lines["WC-15"].agreement
    for agreement, kind, amount, words in (
        (long_hire, "asked", 2000, "By the yard’s terms for a new account"),
        (long_hire, "taken", 2000, "Bank transfer, seen in the account"),
        (other, "asked", 1000, "By phone to the shire’s office"),
    ):
        record_deposit(
            agreement=agreement, kind=kind, amount=Decimal(amount), words=words, by=world.people["dot"], at=at
        )


def _own_days(world: World, at: datetime) -> None:
    year = yard_day(at).year
    decide_day(
        on=date(year, 10, 14), kind="added", what="Redgum Flat show day", by=world.people["noor"], at=at
    )


def _argue(world: World, at: datetime) -> None:
    """One line argued about and half of it given up; another still open."""
    dot, noor = world.people["dot"], world.people["noor"]
    floated = (
        Docket.objects.filter(line__agreement__leaves_by="float")
        .select_related("line__agreement__customer")
        .first()
    )
    long_hire = world.lines["WC-05"].dockets.first()
    if floated is None or long_hire is None:
        return
    number = next(n for n, line in enumerate(floated.body["lines"], start=1) if line["key"] == "collection")
    contact = floated.line.agreement.customer.contact_name
    dispute = disputes.open_dispute(
        docket=floated, line_no=number, by=dot, at=at,
        said=Said("We brought it back on our own float on the last day.", contact, "phone", at - timedelta(minutes=30)),
    )  # fmt: skip
    disputes.add_words(
        dispute=dispute, side="ours", by=dot, at=at,
        said=Said("The run sheet has our driver going for it.", dot.full_name, "record", at),
    )  # fmt: skip
    disputes.decide_dispute(
        dispute=dispute,
        outcome="part",
        given_up=Decimal(190),
        words="Half each: the driver was ours",
        by=noor,
        at=at,
    )
    _rained_off(world, at)
    contact = world.lines["WC-05"].agreement.customer.contact_name
    disputes.open_dispute(
        docket=long_hire, line_no=1, by=dot, at=at,
        said=Said("Two of those days it stood for want of an operator.", contact, "email", at - timedelta(hours=1)),
    )  # fmt: skip


def _rained_off(world: World, at: datetime) -> None:
    """A day of a past hire on which it rained and nobody told the yard in time."""
    docket = world.lines["WC-06"].dockets.select_related("line__agreement__customer").first()
    if docket is None:
        return
    contact = docket.line.agreement.customer.contact_name
    dispute = disputes.open_dispute(
        docket=docket, line_no=1, by=world.people["dot"], at=at,
        said=Said("It rained all day and the cart stood. We forgot to ring.", contact, "phone", at - timedelta(hours=2)),
    )  # fmt: skip
    disputes.decide_dispute(
        dispute=dispute, outcome="part", given_up=Decimal(240), days=[docket.through - timedelta(days=2)],
        words="The gauge at the yard had 18 mm", by=world.people["noor"], at=at,
    )  # fmt: skip


def _fined(world: World, at: datetime) -> None:
    """A toll that is passed on, and a fine for which the customer is named; who drove is known for one."""
    dot = world.people["dot"]
    past = (
        Line.objects.for_list().filter(back_at__isnull=False).exclude(cart__plate="").order_by("back_at")[:2]
    )
    for number, line in enumerate(past):
        out_at = line.handed_over_at
        if out_at is None:
            continue
        if number == 0:
            fines.write_driver(
                line=line, name="Kit Arden", licence="SA 118273, MR", from_at=out_at, until_at=None,
                told_by_words=line.agreement.customer.contact_name, by=dot, at=at,
            )  # fmt: skip
        kind, issuer, amount, way = NOTICES[number]
        fines.record_fine(
            notice=fines.Notice(
                kind=kind, issuer=issuer, notice_number=f"{4410 + number}", plate=line.cart.plate,
                happened_at=out_at + timedelta(hours=30 + number), place_words="Callabar turn-off", amount=Decimal(amount),
                way=way, answer_by=yard_day(at) + timedelta(days=21),
            ),
            by=dot, at=at,
        )  # fmt: skip


def _pencil(world: World, at: datetime) -> None:
    starts_at = world.when(9, 6)
    pencil_cart(
        cart=world.carts[PENCILLED], starts_at=starts_at, ends_at=starts_at + timedelta(days=12), caller_words="Ada Kell, Saltbush Solar",
        phone="08 5550 0171", words="Dust on the access road", is_wet=True, shift="night", works_on="site",
        needs=Needs(litres=12_000, gear=frozenset({"cannon"})), expires_at=world.now + timedelta(hours=30),
        by=world.people["dot"], at=at,
    )  # fmt: skip


def _quoted(world: World, at: datetime) -> None:
    """A week by day and night for a customer, cart chosen later, delivered; and the pencilled cart by the hour."""
    customer, starts_at = world.customers[0], world.when(12, 6)
    enquiry = Enquiry(starts_at, starts_at + timedelta(days=6, hours=10), litres=13_000, shift="both")
    asked = Asked(enquiry, customer=customer, place_of_work="Callabar turn-off, stage two")
    card = card_asked(asked)
    if card is None:
        return
    typed = dict(card.body) | {"rates": card.terms("best rate").rates}
    typed |= {"delivery_price": Decimal(380), "collection_price": Decimal(380)}
    stands = yard_day(at) + timedelta(days=yard_policy().quote_days)
    write_quote(
        form_id=uuid4(), asked=asked, to=Recipient(customer.contact_name, customer.phone, customer.email),
        offer=Offer("as agreed", typed, stands, deposit=Decimal(1000), not_included=NOT_INCLUDED), by=world.people["dot"], at=at,
    )  # fmt: skip
    pencil = Pencil.objects.get(ended_at=None, cart=world.carts[PENCILLED])
    asked = of_pencil(pencil)
    card = card_asked(asked)
    if card is not None:
        typed = dict(card.body) | {"rates": card.terms("best rate").rates}
        write_quote(
            form_id=uuid4(), asked=asked, to=Recipient(pencil.caller_words, pencil.phone),
            offer=Offer("best rate", typed, stands, not_included=NOT_INCLUDED_WET), by=world.people["dot"], at=at,
        )  # fmt: skip


def dockets(world: World, script: Script) -> None:
    script.at(world.when(-20, 9), partial(_own_days, world))
    script.at(world.when(-5, 10), partial(_saturday, world))
    script.at(world.when(-5, 11), partial(_dead_meter, world))
    script.at(world.when(-1, 14), partial(_deposit, world))
    script.at(world.when(-1, 15), partial(_bill, world))
    script.at(world.when(-1, 15, 40), partial(_argue, world))
    script.at(world.when(-1, 15, 50), partial(_fined, world))
    script.at(world.when(-1, 16), partial(_pencil, world))
    script.at(world.when(-1, 16, 10), partial(_quoted, world))
