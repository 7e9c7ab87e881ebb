"""What the demo's sites ask, who their people are, a cart turned away, packs sent and sent back, and what runs short."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial

from django.conf import settings

from config.demo.story import Script, World
from fleet.actions.equipment import record_document
from fleet.actions.photos import keep_photo
from hire.actions import contacts, copies, letters, packs, sites
from hire.actions.bookings import make_booking
from hire.actions.customers import change_customer
from hire.actions.gate import valid_certificate
from hire.actions.orders import set_order
from hire.actions.said import record_said
from hire.copies import weeks_on_hire
from hire.lapsed import lapsed_of
from hire.models.contacts import Contact
from hire.site_rules import Asked, PaperAsked

PIT = Asked(
    gear={"rops": "must", "two_way_radio": "must", "spill_kit": "asked"}, papers={"registration": PaperAsked("must"), "plant_risk": PaperAsked("asked", 365)},
    least_tread_mm=Decimal(5), tread_how="asked", notes="Call on channel 14 at the crib hut before the ramp.",
)  # fmt: skip
MINE = Asked(
    gear={"rops": "must", "fire_suppression": "asked"}, papers={"wash_down": PaperAsked("must", 14), "noise": PaperAsked("must", 730)},
    extinguisher="dry_chemical", extinguisher_kg=Decimal(9), extinguisher_how="must", noise_db=Decimal(85), noise_how="must",
    axles="Steer 6.0 t and drive 16.5 t at most on the haul road bridge; a weighbridge ticket is asked for.",
    notes="Papers five working days ahead to the plant office.",
)  # fmt: skip
# Customer, name, rights, email, gets certificates.
PEOPLE = (
    (0, "Jo Renfrew", "supervisor", "site@callabar.example", True), (0, "Lil Osgood", "accounts", "accounts@callabar.example", False),
    (0, "Jo Tarrant", "operator", "", False), (5, "Dara Quill", "supervisor", "gate@greyfell.example", True),
    (5, "Bea Nolan", "accounts", "pay@greyfell.example", False),
)  # fmt: skip
# Cart, kind, number, days ago.
PAPERS = (
    ("WC-02", "noise", "82.4 dB(A) at 7 m", 120), ("WC-02", "plant_risk", "PR-202", 90), ("WC-17", "noise", "84.0 dB(A) at 7 m", 300),
    ("WC-17", "wash_down", "WD-171", 3), ("WC-11", "plant_risk", "PR-211", 400), ("WC-01", "plant_risk", "PR-201", 60),
)  # fmt: skip
PACKED, TURNED = "WC-02", "WC-17"
LATE = "WC-07"
# On a hire that keeps its own book, in place of a cart that broke.
TOOK_ITS_PLACE = "WC-04"


def book(world: World) -> None:
    """The customers' people and the papers of some carts, as they stood four weeks ago."""
    at, noor = world.when(-28, 9), world.people["noor"]
    for customer, name, rights, email, _ in PEOPLE:
        contacts.add_contact(
            customer=world.customers[customer], name=name, rights=rights, email=email, gets_papers=False, by=world.people["dot"], at=at
        )  # fmt: skip
    for cart, kind, number, ago in PAPERS:
        record_document(
            cart=world.carts[cart], kind=kind, number=number, issued_on=world.today - timedelta(days=ago), expires_on=None, by=noor,
            at=world.when(-min(ago, 28), 10),
        )  # fmt: skip


def _sets(world: World, at: datetime) -> None:
    change_customer(customer=world.customers[5], by=world.people["dot"], at=at, asks_order_number=True)
    dot = world.people["dot"]
    for customer, site, asked in ((0, "Callabar pit", PIT), (5, "Mine haul road", MINE)):
        sites.write_site_set(
            customer=world.customers[customer], site=site, asked=asked, why="Their plant standard, sent with the order", by=dot, at=at
        )  # fmt: skip


def _turned_away(world: World, at: datetime) -> None:
    turned = sites.Turned(
        at=at - timedelta(hours=5), failed="gear", gear="flag", words="No flag on a mast, and the gate would not have it without one.",
        told_by_words="Gate officer at Mine Gate 2", whose_cost="yard", done_words="Flag and mast taken out by ute and fitted at the gate, 2 h lost.",
    )  # fmt: skip
    row = sites.record_turned_away(line=world.lines[TURNED], turned=turned, by=world.people["dot"], at=at)
    customer = world.customers[5]
    old = sites.newest_issue(customer, "Mine haul road")
    if old is not None:
        asked = Asked(**vars(MINE) | {"gear": {**MINE.gear, "flag": "must"}})
        sites.write_site_set(
            customer=customer, site=old.site, asked=asked, why="Turned away: no flag on a mast", issue=old.issue, turned_away=row,
            by=world.people["dot"], at=at,
        )  # fmt: skip


def _pack(world: World, at: datetime) -> None:
    dot, line = world.people["dot"], world.lines[PACKED]
    pack = packs.make_pack(line=line, by=dot, at=at)
    packs.record_sent(pack=pack, sent_at=at, to_words="Dara Quill, plant office", how="portal", by=dot, at=at)
    packs.record_answer(
        pack=pack, answered_at=at + timedelta(hours=4), answer="back", why="No wash-down paper in it", told_by_words="Dara Quill",
        by=dot, at=at + timedelta(hours=5),
    )  # fmt: skip


def _orders(world: World, at: datetime) -> None:
    dot = world.people["dot"]
    for cart, value in (("WC-05", Decimal(2600)), ("WC-01", Decimal(9000))):
        about = world.lines[cart].agreement
        set_order(agreement=about, order_number=about.order_number, order_value=value, by=dot, at=at)


def _booked(world: World, at: datetime) -> None:
    starts = world.when(3, 6)
    make_booking(
        customer=world.customers[1], place_of_work="Weir Street works", order_number="PO-7240", leaves_by="road", works_on="road",
        litres=13_000, gear=("dribble_bar",), starts_at=starts, ends_at=starts + timedelta(days=9), by=world.people["dot"], at=at,
    )  # fmt: skip
    # At the pit, whose set asks for a rollover frame and a radio; the cart goes with an operator.
    make_booking(
        customer=world.customers[0], place_of_work="Callabar pit", order_number="PO-3391", leaves_by="float", works_on="site",
        litres=10_000, is_wet=True, starts_at=starts + timedelta(days=4), ends_at=starts + timedelta(days=18),
        by=world.people["dot"], at=at,
    )  # fmt: skip
    # Drinking water, for which one tank of the yard will do.
    make_booking(
        customer=world.customers[3], place_of_work="Yarrow show grounds", order_number="PO-118", leaves_by="road", works_on="road",
        litres=7000, water="potable", starts_at=starts + timedelta(days=20), ends_at=starts + timedelta(days=24),
        by=world.people["dot"], at=at,
    )  # fmt: skip


def _said(world: World, at: datetime) -> None:
    line = world.lines[LATE]
    line.refresh_from_db()
    lapsed = lapsed_of([line], at=at)[line.pk]
    if lapsed:
        record_said(
            line=line, shift=lapsed[-1].key, said_at=at, said_by_words="Amir Doyle, by phone", words="Driver changed over and had no link.",
            by=world.people["dot"], at=at,
        )  # fmt: skip


def _copy(world: World, at: datetime) -> None:
    """The page of the week in which the cart was swapped came; the weeks before did not."""
    line = world.lines[TOOK_ITS_PLACE]
    line.refresh_from_db()
    page = keep_photo(raw=world.walker.picture(), expected_sha256=None, by=world.people["dot"], at=at)
    copies.keep_copy(
        line=line, week_on=weeks_on_hire(line, at=at)[-1], photos=[page], sent_by_words="Dara Quill", by=world.people["dot"], at=at
    )  # fmt: skip


def _wanting(world: World, at: datetime) -> None:
    """From now on: letters of past weeks would all be sent at once."""
    for _, name, _, _, gets in PEOPLE:
        if gets:
            contacts.change_contact(
                contact=Contact.objects.get(name=name), gets_papers=True, by=world.people["dot"], at=at
            )


def _letter(world: World, at: datetime) -> None:
    """The certificate of the cart that leaves next, where the demo has somewhere to send it."""
    line = world.lines["WC-11"]
    certificate = valid_certificate(line)
    who = Contact.objects.to_mail().filter(customer=world.customers[0])
    if settings.MAIL_IS_SET and certificate is not None:
        letters.send_papers(
            line=line, contacts=list(who), certificate=certificate, by=world.people["dot"], at=at
        )


def at_their_sites(world: World, script: Script) -> None:
    script.at(world.when(-3, 16), partial(_sets, world))
    script.at(world.when(-2, 12), partial(_turned_away, world))
    script.at(world.when(-1, 8, 30), partial(_pack, world))
    script.at(world.when(-1, 14), partial(_orders, world))
    script.at(world.when(-1, 14, 30), partial(_booked, world))
    script.at(world.when(-1, 15, 30), partial(_said, world))
    script.at(world.when(-1, 15, 40), partial(_copy, world))
    script.at(world.now - timedelta(minutes=2), partial(_wanting, world))
    script.at(world.now - timedelta(minutes=1), partial(_letter, world))
