"""Where a customer and a caller meet the road fill: the enquiry, the papers, the customer's page, the gate and the cab card."""

import html
import io
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pikepdf
import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.road_fill import FRESH_WATER, NONE_OUTSIDE, paper_words, road_fill, road_fill_words
from hire.actions.gate import hand_over, valid_certificate
from hire.availability import answer
from hire.cab_card import ALL_GEARS, MORE_GEARS, NON_POTABLE, card_html, card_pdf
from hire.suiting import Build, Enquiry, asked_words, lacks
from inspections.certificates.actions import paper_of
from inspections.certificates.content import CAUTIONS
from inspections.certificates.models import Certificate
from inspections.certificates.render import page_html
from people.roles import Role
from people.yard import yard_day
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, CustomerLinkFactory, LineFactory, given, ready_line
from tests.factories.spraying import SpraySheetFactory
from tests.factories.weights import TankMeasuredFactory, TicketFactory, WeightSheetFactory, weighable_cart
from tests.hire.test_availability import START, numbers
from tests.pages import saved, text_of, today

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TOKEN = "token-of-the-road-fill-0000000001"


def asked(**kwargs):
    return answer(Enquiry(START, START + 7 * DAY, **kwargs), at=AT)


@pytest.mark.parametrize(
    ("has", "found"),
    [
        (11_446, []),
        (11_000, []),
        (10_999, [("1 L less than asked on the road", True)]),
        (9_900, [("1,100 L less than asked on the road", True)]),
        (9_899, [("1,101 L less than asked on the road", False)]),
        (None, [("no road fill on record", False)]),
    ],
)
def test_road_litres_at_and_beside_what_was_asked(has, found):
    enquiry = Enquiry(START, START + DAY, road_litres=11_000)
    build = Build(14_000, 2, frozenset(), road_litres=has)
    assert [(one.what, one.is_near) for one in lacks(enquiry, build, names={})] == found
    assert not lacks(replace(enquiry, road_litres=0), build, names={})
    assert asked_words(enquiry, names={}) == "11,000 L on the road"


def test_an_enquiry_for_road_litres_leaves_out_what_carries_less_and_what_nobody_measured():
    """AT is of the yard of the tests; what is on record of a cart counts from June 2026."""
    weighable_cart(fleet_number="LIGHT")
    TicketFactory(cart=weighable_cart(fleet_number="WEIGHED"))
    CartFactory(fleet_number="UNKNOWN")
    found = asked(road_litres=11_000)
    assert (numbers(found.suiting), len(found.unsuited)) == (["LIGHT", "WEIGHED"], 1)
    assert found.suiting[0].build.road_litres == 11_446
    assert [lack.what for lack in found.suiting[1].lacks] == ["643 L less than asked on the road"]
    assert len(asked().suiting) == 3


def test_a_caller_page_shows_and_saves_it(people, sign_in):
    weighable_cart(fleet_number="LIGHT")
    desk = sign_in(people[Role.HIRE_DESK])
    query = {
        "starts_at": "2027-03-01T06:00",
        "ends_at": "2027-03-08T16:00",
        "leaves_by": "road",
        "works_on": "road",
    }
    page = text_of(desk.get(reverse("hire:enquiry"), query | {"road_litres": "11000"}))
    assert "<b>11,446 L</b> on the road" in page
    assert saved(desk, reverse("hire:enquiry"), **query)[0]["Road fill L"] == "11446"


def test_the_words_for_a_paper():
    cart = weighable_cart()
    found = road_fill(cart, on=today())
    assert paper_words(found) == (
        "Road fill: 11,446 L (503 mm down from the lid), by steer axle at 6,000 kg, the law's limit, "
        "from the maker's tare and allowances: not weighed; a weighbridge decides.",
        FRESH_WATER,
        "Full tank: not on a public road.",
    )
    small = weighable_cart(tank_capacity_l=6000)
    TankMeasuredFactory(cart=small, measured_on=today(), shape="box", length_m=2, width_m=2, height_m=1)
    assert paper_words(road_fill(small, on=today())) == (
        "Road fill: 4,000 L (full tank), from the maker's tare and allowances: not weighed; a weighbridge decides.",
        FRESH_WATER,
    )
    none = road_fill(CartFactory(), on=today())
    assert paper_words(none) == (NONE_OUTSIDE,)
    assert road_fill_words(none).startswith("Road fill: none. This cart is not measured yet.")


def test_the_customers_page_and_its_card_say_the_same(client):
    cart = weighable_cart()
    CustomerLinkFactory(line=LineFactory(cart=cart), token=TOKEN)
    page = text_of(client.get(reverse("hire:customer_page", args=[TOKEN])))
    assert "Road fill: 11,446 L (503 mm down from the lid)" in page
    assert "<b>Full tank: not on a public road.</b>" in page
    card = client.get(reverse("hire:customer_cab_card", args=[TOKEN]))
    assert (card.status_code, card["Content-Type"]) == (200, "application/pdf")
    assert card.content.startswith(b"%PDF")


def test_a_customer_of_a_cart_nobody_measured_reads_no_figure(client):
    CustomerLinkFactory(line=LineFactory(cart=CartFactory()), token=TOKEN)
    page = text_of(client.get(reverse("hire:customer_page", args=[TOKEN])))
    assert NONE_OUTSIDE in page
    assert "Enter its tank" not in page


def test_the_gate_says_it(people, sign_in):
    line = LineFactory(cart=weighable_cart())
    browser = sign_in(people[Role.FLEET_MANAGER])
    context = browser.get(reverse("hire:handover", args=[line.pk])).context
    assert context["on_road"][0].startswith("Road fill: 11,446 L")


def test_the_card_says_what_the_driver_needs():
    cart = weighable_cart(fleet_number="WC-77", plate="RG77WC")
    found = road_fill(cart, on=today())
    said = " ".join(card_html(cart, at=timezone.now()).split())
    for words in (
        "WC-77", "RG77WC", "11,446 L", f"{found.down_mm} mm down from the lid", f"{found.sight_mm} mm on the sight tube",
        "Full tank: not on a public road.", "Pumpable at the road fill: 11,296 L.", "13 min to fill", "900 L/min",
        "A part load surges", NON_POTABLE, "cannon pinned", f"A weighbridge decides. {FRESH_WATER}",
    ):  # fmt: skip
        assert words in said, words
    assert "<b>height" not in said
    WeightSheetFactory(cart=cart, from_on=today(), height_m=Decimal("3.25"))
    assert "<b>height 3.25\N{NO-BREAK SPACE}m</b>" in card_html(cart, at=timezone.now())


def test_the_card_has_each_gear_at_a_middle_rpm_and_says_where_the_rest_is(monkeypatch):
    sheet = SpraySheetFactory(cart=weighable_cart())
    figures = sheet.figures()
    said = " ".join(card_html(sheet.cart, at=timezone.now()).split())
    assert f"{figures.openings[0].name} open, from the road fill" in said
    # docs/spraying.md: second gear at 1,500 rpm lays 0.75 L/m2 at 8 km/h.
    assert '<th scope="row">Second</th><td>1500</td><td>8.0</td><td>0.75</td>' in said
    assert said.count("<td>1500</td>") == len(figures.gears)
    assert MORE_GEARS in said
    full = replace(road_fill(sheet.cart, on=today()).ready, cautions=("One.", "Two.", "Three."))
    monkeypatch.setattr("fleet.water.road.ready_to_work", lambda *_: full)
    crowded = card_html(sheet.cart, at=timezone.now())
    assert "<td>1500</td>" not in crowded
    assert ALL_GEARS in crowded
    assert "L/m²" not in card_html(CartFactory(), at=timezone.now())


def test_a_card_without_a_figure_says_so_and_shows_none():
    said = card_html(CartFactory(), at=timezone.now())
    assert NONE_OUTSIDE in said
    assert "mm down" not in said


def test_the_card_is_one_a5_sheet():
    """148 by 210 mm, with more cautions than a cart usually has, and its gears."""
    cart = SpraySheetFactory(cart=weighable_cart()).cart
    for water in (0, 6000):
        TicketFactory(cart=cart, water_l=water, front_kg=4500 + water // 10, rear_kg=5700 + water * 9 // 10)
    bare = [
        {
            "place": 1,
            "name": "steer axle",
            "law_key": "steer",
            "axles": 1,
            "tyres": 2,
            "position_m": 0,
            "tare_kg": 3900,
        },
        {
            "place": 2,
            "name": "drive axles",
            "law_key": "tandem_dual",
            "axles": 2,
            "tyres": 8,
            "position_m": 4,
            "tare_kg": 5400,
        },
    ]
    WeightSheetFactory(cart=cart, from_on=today(), height_m=Decimal("3.25"), groups=bare)
    assert len(road_fill(cart, on=today()).cautions) == 5
    assert "m a load" not in card_html(cart, at=timezone.now())
    with pikepdf.open(io.BytesIO(card_pdf(cart, at=timezone.now()))) as pdf:
        [page] = pdf.pages
        width, height = (float(side) for side in page.mediabox[2:])
    assert (round(width * 25.4 / 72), round(height * 25.4 / 72)) == (148, 210)


def test_certificate_and_receipt_carry_it_on_their_front(hand, desk, at):
    cart = weighable_cart(tyres=True)
    line = ready_line(hand=hand, at=at, cart=cart)
    words = paper_words(road_fill(cart, on=yard_day(at)))
    certificate = valid_certificate(line)
    hand_over(line=line, given=given(), by=desk, at=at)
    for kept in (certificate, Certificate.objects.exclude(pk=certificate.pk).get()):
        paper = paper_of(kept)
        assert paper.cautions == (*words, *CAUTIONS)
        front = page_html(paper, lap_svg=kept.lap_svg).split("How far this goes")[0]
        for one in words:
            assert html.escape(one) in front


def test_a_paper_of_a_cart_nobody_measured_says_that(hand, at):
    line = ready_line(hand=hand, at=at, cart=CartFactory(tyres=True))
    assert paper_of(valid_certificate(line)).cautions == (NONE_OUTSIDE, *CAUTIONS)
