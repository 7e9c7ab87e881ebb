"""A cart's spray figures: recorded by version, the driver's table with its working, print and file; refused in sentences."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.actions.spraying import FiguresDoNotHold, SpraySheetDetails, TankNotMeasured, record_spray_sheet
from fleet.models.spraying import SpraySheet, figures_of
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.fleet import JOINED_AT, CartFactory
from tests.factories.spraying import EvennessTestFactory, SpraySheetFactory
from tests.factories.weights import TankMeasuredFactory
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db
TYPED = {
    "pump": "engine", "pump_l_min": "600", "pump_kpa": "200", "pump_rpm": "1500", "gears": "Second, 8, 6\nThird, 12, 6",
    "gears_rpm": "1500", "rpms": "1200 1500", "heads": "Rear left, fan 60, 320\nRear right, fan 60, 320", "head_kpa": "200",
    "openings": "All, 1 2\nLeft only, 1, 3", "words": "Timed in the yard",
}  # fmt: skip


def details(**changed):
    return SpraySheetDetails(
        **{
            "pump": "engine", "pump_l_min": Decimal(600), "pump_kpa": Decimal(200), "pump_rpm": 1500, "gears_rpm": 1500,
            "rpms": [1500], "head_kpa": Decimal(200), "words": "Timed",
            "gears": [("Second", Decimal(8), Decimal(6))], "heads": [("Rear", "fan", Decimal(640))],
            "openings": [("All", [1], None)],
        }
        | changed
    )  # fmt: skip


def address(cart, name="spray_sheet"):
    return reverse(f"fleet:{name}", args=[cart.pk])


def test_figures_are_recorded_and_the_table_follows(browser):
    cart = TankMeasuredFactory(cart__tank_capacity_l=12200, dead_l=200, fill_l_min=1000).cart
    page = text_of(browser.post(address(cart, "spray_record"), TYPED, follow=True))
    assert "Spray figures 1 of cart" in page
    # 600 L/min at 8 km/h over 6 m are 0.75; 12,000 L that can be sprayed reach 2,667 m, empty in 20 min, fill in 12.
    row = '<td data-label="L/min" class="number cab-more">600</td><td data-label="L/m²" class="number">0.75</td>'
    assert row in page
    for figure in ("2,667", ">20<", ">12<"):
        assert figure in page
    assert "RT-01 (COMPUTED)" in page
    assert "SP-09 (VERIFIED-S)" in page
    assert Entry.objects.filter(event="fleet.spray_figures.recorded").count() == 1


def test_fewer_heads_and_part_of_a_tank_have_their_own_table(browser):
    cart = SpraySheetFactory().cart
    page = text_of(
        browser.get(address(cart), {"heads": "Rear only", "load_l": "6400", "gear": "Third", "rpm": "1500"})
    )
    # 320 L/min at 12 km/h over 4 m are 0.4; 6,400 L reach 4,000 m.
    assert "Rear only open, 6,400 L in the tank" in page
    assert "How Third at 1500 rpm comes about" in page
    assert "0.40 L/m² (0.40 mm)" in page
    assert "4,000 m" in page
    # The working of another row is a link away.
    assert "gear=Second&amp;rpm=1200#working" in page


def test_more_than_the_tank_holds_and_no_litres_come_back_in_a_sentence(browser):
    cart = SpraySheetFactory().cart
    too_much = browser.get(address(cart), {"heads": "All", "load_l": "99999"})
    assert too_much.status_code == 422
    assert "The tank holds" in text_of(too_much)
    none = browser.get(
        address(SpraySheetFactory(dead_l=Decimal(500)).cart), {"heads": "All", "load_l": "400"}
    )
    assert none.status_code == 422
    assert "What the pump can draw of the load has to be above zero." in text_of(none)
    assert "m a load" not in text_of(none)


def test_a_new_version_leaves_the_old_one_readable(browser, fitter, at):
    cart = TankMeasuredFactory().cart
    record_spray_sheet(cart=cart, details=details(), by=fitter, at=at)
    again = record_spray_sheet(cart=cart, details=details(), by=fitter, at=at)
    assert again.version == 1
    new = record_spray_sheet(cart=cart, details=details(pump_l_min=Decimal(500)), by=fitter, at=at)
    assert new.version == 2
    assert ">500<" in text_of(browser.get(address(cart)))
    assert ">600<" in text_of(browser.get(address(cart), {"version": "1"}))
    assert browser.get(address(cart), {"version": "3"}).status_code == 404


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"gears": [("Second", Decimal(0), Decimal(6))]}, "The speed in Second has to be above zero"),
        ({"pump_kpa": Decimal(-5)}, "The pump's pressure has to be above zero"),
        ({"openings": [("All", [2], None)]}, "names a head that is not among the 1"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_kept(fitter, at, changed, sentence):
    with pytest.raises(FiguresDoNotHold, match=sentence):
        record_spray_sheet(cart=TankMeasuredFactory().cart, details=details(**changed), by=fitter, at=at)
    assert not SpraySheet.objects.exists()


def test_fill_and_dead_volume_are_the_tanks_and_what_an_older_sheet_kept_stays_to_be_read(browser):
    cart = SpraySheetFactory(dead_l=Decimal(400), fill_l_min=Decimal(700)).cart
    sheet = cart.spray_sheets.get()
    assert (sheet.figures().dead_l, sheet.figures().fill_l_min) == (400, 700)
    TankMeasuredFactory(cart=cart, dead_l=150, fill_l_min=900)
    assert (sheet.figures().dead_l, sheet.figures().fill_l_min) == (150, 900)
    assert figures_of([cart])[cart.pk] == sheet.figures()
    page = text_of(browser.get(address(cart)))
    assert "recorded with 400 L; what its tank has counts over that" in page
    assert not {"dead_l", "fill_l_min"} & set(
        browser.get(address(cart, "spray_record")).context["form"].fields
    )


def test_a_tank_whose_fill_nobody_timed_says_so_in_the_table(browser):
    cart = SpraySheetFactory(dead_l=None, fill_l_min=None).cart
    TankMeasuredFactory(cart=cart, dead_l=150, fill_l_min=None)
    page = text_of(browser.get(address(cart)))
    assert "not timed" in page
    assert "Time to fill" not in page


def test_the_tank_is_measured_first(fitter, at):
    with pytest.raises(TankNotMeasured, match="A manager measures it first"):
        record_spray_sheet(cart=CartFactory(), details=details(), by=fitter, at=at)


def test_a_yard_hand_does_not_record_them(people, at):
    with pytest.raises(NotAllowed):
        record_spray_sheet(cart=CartFactory(), details=details(), by=people[Role.YARD_HAND], at=at)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"gears": "Second, 8"}, "Line 1: 3 parts with commas between, not 2."),
        ({"gears": "Second, fast, 6"}, "Line 1: “fast” is no number."),
        ({"gears": "Second, NaN, 6"}, "“NaN” is no number."),
        ({"gears": "Second, 0, 6"}, "The speed in Second has to be above zero."),
        ({"heads": "Rear, fan, -3", "openings": "All, 1"}, "The flow when new of Rear has to be above zero."),
        ({"openings": "All, one"}, "has to be whole numbers"),
        ({"openings": "All, 7"}, "names a head that is not among the 2"),
        ({"pump_kpa": "-1"}, "Above zero."),
        ({"rpms": "fast"}, "has to be whole numbers"),
    ],
)
def test_each_fault_comes_back_with_all_that_was_typed(browser, wrong, sentence):
    cart, typed = TankMeasuredFactory().cart, TYPED | wrong
    answer = browser.post(address(cart, "spray_record"), typed)
    assert answer.status_code == 422
    assert sentence in text_of(answer)
    assert {name: str(answer.context["form"][name].value()) for name in typed} == typed


def test_the_form_begins_with_the_newest_figures(browser):
    cart = SpraySheetFactory().cart
    typed = browser.get(address(cart, "spray_record")).context["form"]
    assert typed["openings"].value() == "All, 1 2 3 4\nRear only, 1 2, 4.00"
    assert typed["words"].value() is None


def test_a_cart_without_figures_says_what_to_do(browser):
    cart = CartFactory()
    assert "No spray figures on record." in text_of(browser.get(address(cart)))
    assert browser.get(address(cart, "spray_print")).status_code == 404
    assert "No spray figures on record." in text_of(browser.get(reverse("fleet:cart_detail", args=[cart.pk])))


def test_the_print_and_the_file_have_the_same_table(browser):
    cart = SpraySheetFactory().cart
    printed = text_of(browser.get(address(cart, "spray_print"), {"heads": "Rear only"}))
    assert "Rear only open" in printed
    assert "a weighbridge decides" in printed
    rows = saved(browser, address(cart))
    assert {row["Heads open"] for row in rows} == {"All", "Rear only"}
    assert len(rows) == 8
    assert {row["L/m2"] for row in rows if row["Gear"] == "Second" and row["Heads open"] == "All"} == {"0.75"}


def test_a_rate_outside_the_trials_is_marked(browser):
    cart = SpraySheetFactory(pump_l_min=Decimal(2000), head_kpa=Decimal(20)).cart
    page = text_of(browser.get(address(cart)))
    assert "above trials" in page
    assert "Above that the road may be slippery" in page
    assert "above trials" not in text_of(browser.get(address(SpraySheetFactory().cart)))
    assert "over the 0.3 to 1 L/m² of haul-road trials" in saved(browser, address(cart))[0]["Note"]


def test_the_cart_page_asks_the_same_whatever_it_shows(browser):
    few, many = CartFactory(), CartFactory()
    EvennessTestFactory(cart=few)
    for days in range(1, 5):
        EvennessTestFactory(cart=many, done_at=JOINED_AT + timedelta(days=days))
    pages = [reverse("fleet:cart_detail", args=[cart.pk]) for cart in (few, many)]
    assert queries_of(browser, pages[0]) == queries_of(browser, pages[1])
