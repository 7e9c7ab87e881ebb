"""The board of carts and one cart's page: what they say, and that they ask the database no more for many than for few."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.cart_page import vin_note
from fleet.models.carts import ReadingQuestion
from fleet.passing import PASS_REASONS
from people.roles import Role
from tests.factories.fleet import (
    CartFactory,
    DefectFactory,
    DocumentFactory,
    ExtinguisherFactory,
    HoldFactory,
    LimitFactory,
    MeterReadingFactory,
    PassFactory,
    TreadReadingFactory,
    TyreFittingFactory,
)
from tests.fleet.wanting import wanted
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def page(client, name, *args, **query):
    return client.get(reverse(name, args=args), query)


@pytest.fixture
def manager(people, sign_in):
    return sign_in(people[Role.WORKSHOP_MANAGER])


def busy_cart():
    """A cart with one of everything its page shows."""
    cart = CartFactory(tyres="9.5")
    defect = DefectFactory(cart=cart)
    LimitFactory(defect__cart=cart)
    PassFactory(defect__cart=cart)
    HoldFactory(cart=cart)
    ExtinguisherFactory(cart=cart)
    DocumentFactory(cart=cart)
    MeterReadingFactory(cart=cart)
    ReadingQuestion.objects.create(
        cart=cart, subject="meter km", value=Decimal(5), read_at=defect.told_at, question="Lower than before?",
        source_kind="walk_round", source_id=defect.pk,
    )  # fmt: skip
    return cart


def test_a_held_cart_says_so_first_and_why(manager, monkeypatch):
    cart = CartFactory(fleet_number="WC-47")
    wanted(monkeypatch, {cart: timezone.now() + timedelta(hours=5)})
    defect = DefectFactory(cart=cart, title="Cut in the side wall")
    answer = page(manager, "fleet:cart_detail", cart.pk)
    body = text_of(answer)
    assert answer.status_code == 200
    assert "readiness-held" in body
    assert body.index("readiness-held") < body.index("What’s stopping it")
    assert "Cut in the side wall (2LO), do not use; nobody has looked at it yet." in body
    assert reverse("servicing:defect_detail", args=[defect.pk]) in body
    assert "The workshop: repair, then a second look by somebody else." in body
    assert "Walk it: No pre-hire check has been signed. To be signed before it leaves." in body
    assert "Customer of WC-47" in body
    assert f"{reverse('inspections:capture')}#cart={cart.pk}" in body


def test_open_defects_are_numbered_alike_on_the_drawing_and_beside_it(manager):
    cart = CartFactory()
    DefectFactory(cart=cart, title="Mirror loose", grade="watch", station="cab", place="")
    DefectFactory(cart=cart, title="Cut in the side wall", grade="do_not_use", place="2LO")
    DefectFactory(cart=cart, title="Closed already", state="verified")
    body = text_of(page(manager, "fleet:cart_detail", cart.pk))
    assert body.index("Cut in the side wall</b>") < body.index("Mirror loose</b>")
    assert "1: Cut in the side wall, Left rear wheels, 2LO, do not use; 2: Mirror loose, Cab, watch." in body
    assert body.count('class="lap-pin ') == 2
    assert "Closed already" not in body


def test_every_section_shows_what_is_known(manager):
    body = text_of(page(manager, "fleet:cart_detail", busy_cart().pk))
    for words in (
        "Cannon isolated and tagged: not for use.", "Air off, valve shut and tied, tag L", PASS_REASONS[1],
        "Gearbox noise, waiting for the maker", "hangs on it", "Tread", "9.5 mm</b>, read 5 Feb 2026",
        "Change out at 4 mm, legal 1.5 mm", "Change out at 3 mm, legal 1.5 mm", "9 kg dry powder", "Cab, left of the seat",
        "Registration", "8,200.0 h", "Lower than before?", "Full may be too heavy for a public road", "Rear spray heads",
    ):  # fmt: skip
        assert words in body, words


def test_a_lapsed_paper_and_a_worn_tyre_are_told_in_words(manager):
    cart = CartFactory()
    DocumentFactory(
        cart=cart,
        kind="insurance",
        issued_on=(timezone.now() - 400 * DAY).date(),
        expires_on=(timezone.now() - 9 * DAY).date(),
    )
    TreadReadingFactory(fitting=TyreFittingFactory(cart=cart, code="1L"), depth_mm=Decimal("1.4"))
    TreadReadingFactory(fitting=TyreFittingFactory(cart=cart, code="2LO"), depth_mm=Decimal("2.9"))
    body = text_of(page(manager, "fleet:cart_detail", cart.pk))
    assert "below the legal depth" in body
    assert "change out</b>" in body
    assert "lapsed " in body
    assert "stops it" in body


def test_the_newest_paper_of_a_kind_counts(manager):
    cart, today = CartFactory(), timezone.now().date()
    DocumentFactory(cart=cart, number="NEW", issued_on=today, expires_on=today + 300 * DAY)
    DocumentFactory(
        cart=cart,
        number="OLD",
        issued_on=today - 400 * DAY,
        expires_on=today - 40 * DAY,
        recorded_at=timezone.now(),
    )
    body = text_of(page(manager, "fleet:cart_detail", cart.pk))
    assert "NEW" in body
    assert "OLD" not in body


def test_passing_is_offered_only_where_it_is_allowed(people, sign_in):
    cart = CartFactory()
    DefectFactory(cart=cart, grade="by_date", state="assessed", may_be_passed=True)
    DefectFactory(cart=cart, title="Brake hose", grade="do_not_use")
    for role in Role:
        body = text_of(page(sign_in(people[role]), "fleet:cart_detail", cart.pk))
        may = role in (Role.WORKSHOP_MANAGER, Role.FLEET_MANAGER)
        assert body.count("Pass by authority</a>") == may, role
        assert (f"{reverse('fleet:pass_give', args=[cart.pk])}?" in body) == may


def test_a_second_pass_is_offered_to_the_fleet_manager_alone(people, sign_in):
    given = PassFactory(closed_at=timezone.now(), closed_by=people[Role.WORKSHOP_MANAGER])
    for role, offered in ((Role.WORKSHOP_MANAGER, 0), (Role.FLEET_MANAGER, 1)):
        body = text_of(page(sign_in(people[role]), "fleet:cart_detail", given.cart_id))
        assert body.count("Pass by authority</a>") == offered


@pytest.mark.parametrize(
    ("role", "there", "absent"),
    [
        (
            Role.HIRE_DESK,
            ["Tag it out", "Record where it is"],
            ["Walk cart", "Fit a tyre", "Change its details"],
        ),
        (Role.YARD_HAND, ["Walk cart", "Tag it out"], ["Fit a tyre", "Lift it", "Record a paper"]),
        (
            Role.FITTER,
            ["Walk cart", "Fit a tyre", "Change gear"],
            ["Lift it", "Change its details", "Record a paper"],
        ),
        (Role.WORKSHOP_MANAGER, ["Lift it", "Change its details", "Close it"], ["Record a paper"]),
        (Role.FLEET_MANAGER, ["Record a paper", "Lift it"], []),
    ],
)
def test_each_role_is_shown_what_it_may_do(people, sign_in, role, there, absent):
    body = text_of(page(sign_in(people[role]), "fleet:cart_detail", busy_cart().pk))
    assert [words for words in there if words not in body] == []
    assert [words for words in absent if words in body] == []


def test_a_cart_with_nothing_on_record_still_has_its_page(manager):
    cart = CartFactory(gear=(), meters=(), keys_words="")
    cart.axle_groups.all().delete()
    cart.wheel_positions.all().delete()
    body = text_of(page(manager, "fleet:cart_detail", cart.pk))
    assert "It can be drawn once its axle groups are on record." in body
    assert "No defect is open." in body
    assert "Nothing is written yet." in body


def test_the_page_asks_no_more_for_a_cart_with_much_than_for_one_with_little(manager):
    """Readiness and panels by their providers, then once each: defects, limits, passes, holds, earlier passes, gear,
    axles, wheels, fittings, meters, extinguishers and their services, papers, questions, journal, the tank's water
    and what its hires told of it, its weights, its spray figures, its move permits, its owner, the yards, whether it is
    put away, the yard's closed days."""
    little, much = busy_cart(), busy_cart()
    DefectFactory.create_batch(9, cart=much)
    HoldFactory.create_batch(4, cart=much)
    ExtinguisherFactory.create_batch(4, cart=much)
    for kind in ("noise", "backflow", "manual"):
        DocumentFactory(cart=much, kind=kind)
    page(manager, "fleet:cart_detail", little.pk)
    few = queries_of(manager, reverse("fleet:cart_detail", args=[little.pk]))
    many = queries_of(manager, reverse("fleet:cart_detail", args=[much.pk]))
    assert few == many
    assert many <= 85


def test_the_board_asks_no_more_for_thirty_carts_than_for_three(manager):
    """Session and person, count, page, then each readiness provider's own, needs, passes, alerts for the frame, the
    yards."""
    for _ in range(3):
        busy_cart()
    page(manager, "fleet:cart_list")
    few = queries_of(manager, reverse("fleet:cart_list"))
    for _ in range(27):
        DefectFactory(cart=CartFactory(tyres="9.5"))
    assert queries_of(manager, reverse("fleet:cart_list")) == few <= 33


def test_the_board_judges_only_the_page_shown(manager, monkeypatch):
    CartFactory.create_batch(53, gear=(), meters=())
    first = page(manager, "fleet:cart_list")
    assert len(first.context["rows"]) == 50
    last = page(manager, "fleet:cart_list", page=2)
    assert len(last.context["rows"]) == 3
    numbers = [row.cart.fleet_number for row in [*first.context["rows"], *last.context["rows"]]]
    assert numbers == sorted(numbers)
    assert "Page 2 of 2" in text_of(last)


def filtered(client, **query):
    return {row.cart.fleet_number for row in page(client, "fleet:cart_list", **query).context["rows"]}


def test_the_board_is_narrowed_by_its_address(manager):
    stopped = DefectFactory(cart__fleet_number="STOPPED", cart__where_kind="site").cart
    HoldFactory(cart__fleet_number="HELD")
    LimitFactory(defect__cart__fleet_number="LIMITED", defect__grade="do_not_use")
    PassFactory(defect__cart__fleet_number="PASSED")
    CartFactory(fleet_number="GONE", retired_on=timezone.now().date() - DAY)
    CartFactory(fleet_number="SOUND", gear=("hose_reel",), plate="XY 12-3")
    assert filtered(manager) == {"STOPPED", "HELD", "LIMITED", "PASSED", "SOUND"}
    assert filtered(manager, stands="stopped") == {"STOPPED", "HELD"}
    assert filtered(manager, stands="limits") == {"LIMITED", "PASSED"}
    assert filtered(manager, stands="defects") == {"STOPPED", "LIMITED", "PASSED"}
    assert filtered(manager, stands="left") == {"GONE"}
    assert filtered(manager, where="site") == {"STOPPED"} == {stopped.fleet_number}
    assert filtered(manager, gear="hose_reel") == {"SOUND"}
    assert filtered(manager, q="xy123") == {"SOUND"}
    assert filtered(manager, q="xy123", where="site") == set()
    assert filtered(manager, stands="sideways", gear="wings", where="moon") == filtered(manager)


def test_an_empty_board_says_what_to_do(manager, people, sign_in):
    assert "No cart is in the fleet yet." in text_of(page(manager, "fleet:cart_list"))
    CartFactory()
    assert "No cart fits that." in text_of(page(manager, "fleet:cart_list", q="nothing"))


def test_the_filters_stay_when_one_turns_the_page(manager):
    CartFactory.create_batch(51, gear=(), meters=(), where_kind="site")
    assert "?where=site&amp;page=2" in text_of(page(manager, "fleet:cart_list", where="site"))


@pytest.mark.parametrize(
    ("vin", "note"),
    [
        ("", ""),
        ("1M8GDM9AXKP042788", ""),
        ("1M8GDM9A1KP042788", "misread"),
        ("7M8GDM9A1KP042788", "outside North America"),
        ("CH123", "17 characters"),
        ("1M8GDM9AXKPO42788", "no letter O"),
    ],
)
def test_an_odd_vin_is_noted_and_never_refused(vin, note):
    assert (note in vin_note(vin)) if note else (vin_note(vin) == "")


def test_the_tables_of_a_cart_are_saved_each_by_its_name(people, sign_in):
    cart = CartFactory(fleet_number="K7")
    fitting = TyreFittingFactory(cart=cart, code="1L")
    TreadReadingFactory(fitting=fitting, depth_mm=Decimal("5.5"))
    item = ExtinguisherFactory(cart=cart, is_discharged=True)
    DocumentFactory(
        cart=cart, kind="insurance", number="=P1", expires_on="2020-01-31", issued_on="2019-01-31"
    )
    DocumentFactory(cart=None, kind="noise", number="Yard's")
    now = timezone.now()
    for days in range(60):
        MeterReadingFactory(cart=cart, kind="km", value=Decimal(50_000 - days), read_at=now - days * DAY)
    MeterReadingFactory(kind="km")
    client, address = sign_in(people[Role.HIRE_DESK]), reverse("fleet:cart_detail", args=[cart.pk])

    tyres = {row["Position"]: row for row in saved(client, address, table="tyres")}
    assert (tyres["1L"]["Depth, mm"], tyres["1L"]["Tyre"]) == ("5.5", str(fitting.tyre))
    assert Decimal(tyres["1L"]["Change out at, mm"]) > 0
    [row] = saved(client, address, table="extinguishers")
    assert (row["Serial"], row["Kg"], row["Out of service"]) == (item.serial, "9.0", "yes")
    papers = saved(client, address, table="papers")
    assert [(row["Number"], row["Good until"], row["Lapsed"], row["Whole yard"]) for row in papers] == [
        ("'=P1", "2020-01-31", "yes", "no"),
        ("Yard's", papers[1]["Good until"], "no", "yes"),
    ]
    assert [row["Value"] for row in saved(client, address, table="readings")] == [
        f"{50_000 - days}.0" for days in range(60)
    ]
