"""The road fill on the cart's page, its own page with plot and files, and each form asked, done and sent back."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.load_plot import LoadLine, LoadPicture, draw, picture_of
from fleet.models.weights import GroupWeights, TankMeasured, TicketStruck, WeighbridgeTicket, WeightSheet
from fleet.road_fill import road_fill, tank_of
from people.roles import Role
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.factories.weights import TankMeasuredFactory, TicketFactory, WeightSheetFactory, weighable_cart
from tests.pages import queries_of, saved, small_photo, text_of, today, typed_moment

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def address(name, thing):
    return reverse(f"fleet:{name}", args=[thing.pk])


def of_tank(**wrong):
    return {
        "measured_on": str(today()), "shape": "ellipse", "length_m": "4.85", "width_m": "2.3", "height_m": "1.6",
        "dip_rows": "", "dead_l": "150", "lid_above_mm": "120", "sight_zero_mm": "50", "middle_m": "4.3",
        "fill_l_min": "900", "by_words": "Teo Marsden",
    } | wrong  # fmt: skip


def of_plates(**wrong):
    front = {
        "name": "steer axle", "law_key": "steer", "axles": "1", "spread_m": "0", "tyres": "2", "tyre_load_kg": "3150",
        "maker_kg": "6500", "position_m": "0", "tare_kg": "3900",
    }  # fmt: skip
    rear = {
        "name": "drive axles", "law_key": "tandem_dual", "axles": "2", "spread_m": "1.35", "tyres": "8",
        "tyre_load_kg": "2800", "maker_kg": "18000", "position_m": "5", "tare_kg": "5400",
    }  # fmt: skip
    sheet = {
        "from_on": str(today()), "source_words": "Door plate", "stands_on": "two_groups", "outer_length_m": "",
        "fuel_tank_l": "300", "fuel_place_m": "1.5", "cab_place_m": "0.5", "height_m": "3.2", "tickets_from_on": "",
    }  # fmt: skip
    groups = {f"front-{key}": value for key, value in front.items()}
    return sheet | groups | {f"rear-{key}": value for key, value in rear.items()} | wrong


def of_ticket(**wrong):
    return {
        "weighed_at": typed_moment(timezone.now() - DAY), "place_words": "Weir Street", "number": "W1", "front_kg": "4500",
        "rear_kg": "5700", "water_l": "0", "driver_in": "yes", "kit_in": "yes", "fuel_eighths": "8",
        "by_words": "Wes Tonkin",
    } | wrong  # fmt: skip


FORMS = {
    "tank_measure": (CartFactory, of_tank, {"shape": "cylinder"}),
    "plates_record": (CartFactory, of_plates, {"from_on": "2099-01-01"}),
    "ticket_record": (CartFactory, of_ticket, {"water_l": "14001"}),
    "ticket_strike": (TicketFactory, lambda: {"words": "Another cart"}, {"words": " "}),
}
TABLES = (TankMeasured, WeightSheet, GroupWeights, WeighbridgeTicket, TicketStruck)


@pytest.mark.parametrize("name", FORMS)
def test_each_form_is_asked_done_and_says_what_the_road_fill_is(browser, name):
    make, posted, _ = FORMS[name]
    thing = make()
    assert "button-working" in text_of(browser.get(address(name, thing)))
    done = browser.post(address(name, thing), posted(), follow=True)
    cart = getattr(thing, "cart", thing)
    assert done.redirect_chain == [(address("weights", cart), 302)]
    assert "Road fill: none. This cart is not measured yet." in text_of(done)


@pytest.mark.parametrize("name", FORMS)
def test_each_form_comes_back_with_what_was_typed(browser, name):
    make, posted, wrong = FORMS[name]
    thing, typed = make(), posted() | wrong
    before = [list(table.objects.values()) for table in TABLES]
    answer = browser.post(address(name, thing), typed)
    assert answer.status_code == 422
    forms = [answer.context["form"], *answer.context.get("groups", [])]
    back = {form.add_prefix(field): form[field].value() for form in forms for field in form.fields}
    assert {field: str(back[field]) for field in typed} == typed
    assert [list(table.objects.values()) for table in TABLES] == before


def test_a_group_at_fault_is_told_with_its_place(browser):
    page = text_of(browser.post(address("plates_record", CartFactory()), of_plates(**{"rear-tare_kg": "0"})))
    assert "Rear group, maker&#x27;s tare on it, kg: Above zero." in page


def test_a_tank_by_its_table_is_typed_line_by_line(browser):
    cart = CartFactory()
    table = {"shape": "table", "dip_rows": "0 0\n500, 4000\n\n1000;9000"}
    wrong = browser.post(address("tank_measure", cart), of_tank(**table | {"dip_rows": "0 0\nhalf full"}))
    assert "Line 2 is not mm and litres" in text_of(wrong)
    missing = browser.post(address("tank_measure", cart), of_tank(**table | {"dip_rows": ""}))
    assert "Its own table: Not filled in yet." in text_of(missing)
    assert browser.post(address("tank_measure", cart), of_tank(**table)).status_code == 302
    row = TankMeasured.objects.get()
    assert (row.dip_rows, row.length_m) == ([[0, 0], [500, 4000], [1000, 9000]], None)
    assert "0 0\n500 4000\n1000 9000" in browser.get(address("tank_measure", cart)).content.decode()


def test_a_new_version_starts_from_what_is_on_record(browser):
    cart = weighable_cart()
    assert browser.get(address("tank_measure", cart)).context["form"]["middle_m"].value() == Decimal("4.30")
    page = browser.get(address("plates_record", cart))
    assert [form["tare_kg"].value() for form in page.context["groups"]] == [3900, 5400]


def test_a_photo_of_the_ticket_is_kept_with_it(browser):
    cart = CartFactory()
    browser.post(address("ticket_record", cart), of_ticket() | {"photo": small_photo()})
    row = WeighbridgeTicket.objects.get()
    assert reverse("fleet:photo", args=[row.photo.pk]) in text_of(browser.get(address("weights", cart)))


def test_the_panel_says_the_figure_of_the_rule_and_how_it_came_about(browser):
    cart = weighable_cart()
    found = road_fill(cart, on=today())
    page = text_of(browser.get(address("cart_detail", cart)))
    assert f"{found.litres:,} L</b>" in page
    assert f"<b>{found.down_mm} mm</b> down from the lid" in page
    assert (
        "By steer axle at 6,000 kg, the law&#x27;s limit. From the maker&#x27;s tare and allowances: not weighed."
        in page
    )
    assert "Full tank: not on a public road." in page
    assert "GM-01, VERIFIED-S" in page
    assert "A part load surges" in page
    assert "steer axle (6,000 − 4,397.5) / 0.1400 = 11,446 kg" in page.replace("4,397.6", "4,397.5")


def test_a_cart_that_is_not_measured_says_what_to_do(browser):
    cart = CartFactory()
    for name in ("cart_detail", "weights"):
        assert "This cart is not measured yet. Enter its tank and its plates" in text_of(
            browser.get(address(name, cart))
        )
    assert browser.get(address("load_plot", cart)).status_code == 404


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"tank": {"middle_m": Decimal("5.10")}}, "lies outside the two axle groups"),
        ({"tare": 6100}, "The limit of steer axle is 6,000 kg, under its tare of"),
        ({"gross": 9000}, "The gross limit of 9,000 kg is under the tare of"),
    ],
    ids=["middle outside", "limit under tare", "gross under tare"],
)
def test_what_cannot_be_gets_a_sentence_and_no_figure(browser, wrong, sentence):
    cart = CartFactory(gross_limit_kg=wrong.get("gross", 23_000))
    TankMeasuredFactory(cart=cart, **wrong.get("tank", {}))
    sheet = weighable_cart().weight_sheets.get()
    groups = [
        {
            name: getattr(row, name)
            for name in ("place", "name", "law_key", "axles", "tyres", "position_m", "tare_kg")
        }
        for row in sheet.groups.all()
    ]
    groups[0]["tare_kg"] = wrong.get("tare", 3900)
    WeightSheetFactory(cart=cart, groups=groups)
    page = text_of(browser.get(address("weights", cart)))
    assert sentence in page
    assert "Correct what is on record, or use a weighbridge." in page
    assert "road-fill-litres" not in page


def test_tickets_show_what_they_weigh_over_the_figures_and_which_count(browser):
    cart = weighable_cart()
    at = timezone.now()
    weighed = [(0, 4520, 5700), (5000, 5180, 10_000), (10_000, 5880, 14_300), (12_000, 6200, 16_020)]
    for days, (water, front, rear) in enumerate(weighed):
        TicketFactory(
            cart=cart,
            water_l=water,
            front_kg=front,
            rear_kg=rear,
            weighed_at=at - (9 - days) * DAY,
            recorded_at=at,
        )
    struck = TicketFactory(cart=cart, number="WRONG", weighed_at=at - 20 * DAY, recorded_at=at)
    TicketStruck.objects.create(
        ticket=struck, words="Wrong cart.", struck_at=at, struck_by=StaffFactory(full_name="Bruna Kitto")
    )
    found = road_fill(cart, on=today())
    page = text_of(browser.get(address("weights", cart)))
    assert found.source.startswith("from 4 weighbridge tickets, the farthest ")
    assert "Bruna Kitto: Wrong cart." in page
    residual = found.ready.residuals[0]
    over = f"front {round(residual.front_kg):+d} kg, rear {round(residual.rear_kg):+d} kg".replace(
        "-", "−"
    ).replace("+0", "0")
    assert over in page
    rows = saved(browser, address("weights", cart), table="tickets")
    assert [row["Counts"] for row in rows] == ["counts"] * 4 + ["struck out"]
    assert rows[-1]["Why struck out"] == "Wrong cart."


def test_every_version_is_on_the_page_and_in_the_file(browser):
    cart = weighable_cart()
    TankMeasuredFactory(cart=cart, dead_l=999)
    assert "999 L not drawn" in text_of(browser.get(address("weights", cart)))
    assert len(saved(browser, address("weights", cart), table="versions")) == 3
    loads = saved(browser, address("weights", cart), table="loads")
    assert [row["Limit kg"] for row in loads] == ["6000", "16500", "22500"]


def test_the_plot_is_a_picture_of_its_own_that_a_browser_keeps(browser):
    cart = weighable_cart()
    assert f'src="{address("load_plot", cart)}"' in text_of(browser.get(address("weights", cart)))
    answer = browser.get(address("load_plot", cart))
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/svg+xml")
    again = browser.get(address("load_plot", cart), headers={"If-None-Match": answer["ETag"]})
    assert again.status_code == 304


def test_the_plot_draws_what_the_rule_says():
    found = road_fill(weighable_cart(), on=today())
    picture = picture_of(found)
    steer, drive, gross = picture.lines
    at_fill = found.loads_kg(found.fill.mass_kg)["steer axle"]
    share = found.fill.litres / found.facts.tank.capacity_l
    assert (
        steer.empty_kg + share * (steer.full_kg - steer.empty_kg)
        == pytest.approx(at_fill)
        == pytest.approx(6000)
    )
    assert gross.full_kg == pytest.approx(steer.full_kg + drive.full_kg)
    assert draw(picture) == draw(picture)
    full = LoadPicture((LoadLine("steer axle", 4000, 5000, 6000),), 8000, 8000)
    assert b"</svg>" in draw(full)


def test_only_managers_are_offered_the_forms(people, sign_in):
    cart = weighable_cart()
    for role, offered in ((Role.WORKSHOP_MANAGER, True), (Role.FITTER, False)):
        page = text_of(sign_in(people[role]).get(address("weights", cart)))
        assert (address("tank_measure", cart) in page) is offered


def test_the_page_costs_the_same_for_many_tickets(browser):
    few, many = weighable_cart(), weighable_cart()
    TicketFactory(cart=few, water_l=0)
    at = timezone.now()
    for n in range(70):
        TicketFactory(cart=many, water_l=100 * n, weighed_at=at - n * DAY, recorded_at=at)
    assert queries_of(browser, address("weights", many)) == queries_of(browser, address("weights", few)) + 0
    assert "Page 1 of 2" in text_of(browser.get(address("weights", many)))


def test_the_dip_table_is_that_of_the_tank_with_the_road_fill_in_it(browser):
    cart = weighable_cart()
    found = road_fill(cart, on=today())
    rows = saved(browser, address("dip_table", cart))
    pure = tank_of(cart.tanks_measured.get()).dip_table(50, lid_above_top_mm=120)
    assert [int(row["Litres"]) for row in rows] == [int(one.litres) for one in reversed(pure)]
    assert [int(row["mm down from the lid"]) for row in rows] == [120 + 50 * n for n in range(33)]
    words = {row["On a public road"] for row in rows if int(row["Litres"]) > found.litres}
    assert words == {"over the road fill"}
    assert rows[-1] == {
        "mm down from the lid": "1720", "mm of water": "0", "Sight tube mm": "", "Litres": "0",
        "On a public road": "up to the road fill",
    }  # fmt: skip
    page = text_of(browser.get(address("dip_table", cart)))
    assert f"Road fill 11,446 L: {found.down_mm} mm down from the lid" in page
    assert "Full tank: not on a public road." in page


def test_the_steps_of_a_dip_table_are_chosen_in_the_address(browser):
    cart = weighable_cart()
    for query, rows in (("?step=100", 17), ("?step=20", 81), ("?step=1", 33), ("?step=x", 33)):
        page = browser.get(address("dip_table", cart) + query)
        assert len(page.context["table"].lines) == rows


def test_a_tank_without_plates_has_its_dips_and_a_cart_without_a_tank_none(browser):
    cart = TankMeasuredFactory(sight_zero_mm=None).cart
    page = text_of(browser.get(address("dip_table", cart)))
    assert "No road fill on record." in page
    assert "Sight tube" not in page
    assert "On a public road" not in page
    assert browser.get(address("dip_table", CartFactory())).status_code == 404
