"""A cart joins the fleet, is corrected, moved, fitted out and let go; each change once in its journal."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from fleet import needs
from fleet.actions.carts import (
    CartDetails,
    GearOff,
    StillWanted,
    TyresThere,
    add_cart,
    change_axle_groups,
    change_cart,
    fit_gear,
    move_cart,
    remove_gear,
)
from fleet.actions.locks import AgainstARule
from fleet.models.carts import Cart
from fleet.needs import Need
from fleet.readiness import Window
from people.refusals import NotAllowed
from people.roles import MANAGERS, WORKSHOP, Role
from tests.factories.fleet import LAYOUTS, CartFactory, TyreFittingFactory
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db

DETAILS = CartDetails(
    fleet_number=" wc-47 ",
    plate="s491  bkt",
    make="Brolga",
    model="6x4",
    build_year=2018,
    tank_length_m=Decimal("5.20"),
    tank_width_m=Decimal("2.30"),
    tank_height_m=Decimal("1.60"),
    tank_capacity_l=14000,
    gross_limit_kg=23500,
)


@pytest.fixture
def manager(people):
    return people[Role.WORKSHOP_MANAGER]


def add(manager, at, details=DETAILS, layout="6x4"):
    return add_cart(details=details, axle_groups=LAYOUTS[layout], by=manager, at=at)


def details_of(cart, **changes):
    return replace(CartDetails(**{name: getattr(cart, name) for name in vars(DETAILS)}), **changes)


def test_a_cart_joins_with_a_place_for_every_tyre(manager, at):
    cart = add(manager, at)
    assert (cart.fleet_number, cart.plate) == ("WC-47", "S491 BKT")
    assert [(row.position, row.kind, row.axles) for row in cart.axle_groups.all()] == [
        (1, "steer", 1),
        (2, "drive", 2),
    ]
    codes = {row.code: (row.axle, row.place, row.steers) for row in cart.wheel_positions.all()}
    assert codes == {
        "1L": (1, "single", True), "1R": (1, "single", True),
        "2LO": (2, "outer", False), "2LI": (2, "inner", False), "2RI": (2, "inner", False), "2RO": (2, "outer", False),
        "3LO": (3, "outer", False), "3LI": (3, "inner", False), "3RI": (3, "inner", False), "3RO": (3, "outer", False),
    }  # fmt: skip
    [(event, facts)] = entries_of(cart)
    assert event == "fleet.cart.added"
    assert facts["fleet_number"] == "WC-47"
    assert facts["axle_groups"][1]["limit_kg"] == 17000


def test_plate_codes_are_long_unlike_each_other_and_easy_to_type(manager, at):
    codes = {add(manager, at, replace(DETAILS, fleet_number=f"W{n}", plate="")).plate_code for n in range(20)}
    assert len(codes) == 20
    assert all(len(code) >= 14 and not set(code) & set("0o1il") for code in codes)


@pytest.mark.parametrize("role", sorted(set(Role) - MANAGERS))
def test_only_a_manager_adds_or_changes_a_cart(people, at, role):
    cart = CartFactory()
    for act in (
        lambda: add(people[role], at),
        lambda: change_cart(cart=cart, details=details_of(cart, make="Emu"), by=people[role], at=at),
        lambda: change_axle_groups(cart=cart, axle_groups=LAYOUTS["4x2"], by=people[role], at=at),
    ):
        with pytest.raises(NotAllowed):
            act()
    assert Cart.objects.get().make == "Brolga"


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"fleet_number": "WC 47!"}, "fleet_number", "letters, digits and hyphens"),
        ({"build_year": 1950}, "build_year", "1970"),
        ({"tank_length_m": Decimal(0)}, None, "above zero"),
        ({"tank_shape": "cylinder"}, None, "as wide as it is high"),
        ({"tank_shape": "barrel"}, "tank_shape", "barrel"),
    ],
)
def test_a_value_that_cannot_be_is_refused_in_words(manager, at, changes, field, words):
    with pytest.raises(AgainstARule, match=words) as refused:
        add(manager, at, replace(DETAILS, **changes))
    assert refused.value.field == field
    assert not Cart.objects.exists()


def test_two_carts_never_share_a_fleet_number_or_a_plate(manager, at):
    add(manager, at)
    with pytest.raises(AgainstARule, match="already has this fleet number"):
        add(manager, at, replace(DETAILS, fleet_number="wc-47", plate="OTHER"))
    with pytest.raises(AgainstARule, match="already carries this plate"):
        add(manager, at, replace(DETAILS, fleet_number="WC-48"))
    assert Cart.objects.count() == 1


def test_a_cart_without_axles_is_refused(manager, at):
    with pytest.raises(AgainstARule, match="at least one axle group"):
        add_cart(details=DETAILS, axle_groups=[], by=manager, at=at)


def test_a_limit_below_its_tare_is_refused(manager, at):
    groups = [replace(LAYOUTS["4x2"][0], limit_kg=100), LAYOUTS["4x2"][1]]
    with pytest.raises(AgainstARule, match="below its tare"):
        add_cart(details=DETAILS, axle_groups=groups, by=manager, at=at)


def test_only_what_changed_is_written_down(manager, at):
    cart = CartFactory(make="Brolga")
    change_cart(cart=cart, details=details_of(cart, make="Emu", gross_limit_kg=22000), by=manager, at=at)
    change_cart(cart=cart, details=details_of(cart, make="Emu", gross_limit_kg=22000), by=manager, at=at)
    [(event, facts)] = entries_of(cart)
    assert event == "fleet.cart.changed"
    assert facts == {
        "before": {"make": "Brolga", "gross_limit_kg": 23500},
        "after": {"make": "Emu", "gross_limit_kg": 22000},
    }


def test_a_promised_cart_does_not_leave_the_fleet(manager, at, monkeypatch):
    cart = CartFactory()
    window = Window(at, at + timedelta(days=3))
    need = Need(window, "Gully Civil, Pit 4", "hire_line", cart.pk, is_out=False)
    monkeypatch.setattr(needs, "_provider", [lambda *_asked, **_when: {cart.pk: need}])
    with pytest.raises(StillWanted, match="promised to Gully Civil") as refused:
        change_cart(cart=cart, details=details_of(cart, retired_on=date(2026, 12, 1)), by=manager, at=at)
    assert refused.value.field == "retired_on"
    monkeypatch.setattr(needs, "_provider", [])
    gone = change_cart(cart=cart, details=details_of(cart, retired_on=date(2026, 12, 1)), by=manager, at=at)
    assert not Cart.objects.in_fleet(on=date(2026, 12, 1)).exists()
    assert Cart.objects.left_fleet(on=date(2026, 12, 1)).get() == gone


def test_a_plate_is_free_again_once_its_cart_left_the_fleet(manager, at):
    old = add(manager, at)
    change_cart(cart=old, details=details_of(old, retired_on=date(2026, 11, 30)), by=manager, at=at)
    assert add(manager, at, replace(DETAILS, fleet_number="WC-48")).plate == old.plate


def test_changed_axles_keep_the_places_that_stay_and_drop_the_rest(manager, at):
    cart = CartFactory(layout="6x4")
    kept = cart.wheel_positions.get(code="2LO")
    change_axle_groups(cart=cart, axle_groups=LAYOUTS["4x2"], by=manager, at=at)
    assert {row.code for row in cart.wheel_positions.all()} == {"1L", "1R", "2LO", "2LI", "2RI", "2RO"}
    assert cart.wheel_positions.get(code="2LO") == kept
    assert events_of(cart) == ["fleet.cart.changed"]


def test_axles_that_ever_carried_a_tyre_cannot_go(manager, at):
    cart = CartFactory(layout="6x4")
    TyreFittingFactory(cart=cart, code="3LO", taken_off_at=at - timedelta(days=3))
    with pytest.raises(TyresThere, match="3LO"):
        change_axle_groups(cart=cart, axle_groups=LAYOUTS["4x2"], by=manager, at=at)
    assert cart.wheel_positions.count() == 10
    assert [row.axles for row in cart.axle_groups.all()] == [1, 2]


def test_a_cart_in_another_place_has_moved_and_its_keys_alone_have_not(people, at):
    cart, hand = CartFactory(where_kind="yard", where_words="Bay 2"), people[Role.YARD_HAND]
    place = {"where_kind": "yard", "where_words": "Bay 2"}
    cart = move_cart(cart=cart, **place, keys_words="Wes", by=hand, at=at)
    assert cart.last_moved_at is None
    cart = move_cart(cart=cart, where_kind="site", where_words="Pit 4", keys_words="Wes", by=hand, at=at)
    assert cart.last_moved_at == at
    later = at + timedelta(hours=1)
    again = move_cart(cart=cart, where_kind="site", where_words="Pit 4", keys_words="Wes", by=hand, at=later)
    assert again.last_moved_at == at
    assert events_of(cart) == ["fleet.cart.moved", "fleet.cart.moved"]
    assert cart.where_sentence == "On a site, Pit 4. Keys: Wes."


def test_a_place_nobody_offers_is_refused(people, at):
    with pytest.raises(AgainstARule) as refused:
        move_cart(
            cart=CartFactory(),
            where_kind="moon",
            where_words="",
            keys_words="",
            by=people[Role.HIRE_DESK],
            at=at,
        )
    assert refused.value.field == "where_kind"


def test_gear_is_fitted_once_and_comes_off_once(people, at):
    cart, fitter = CartFactory(gear=()), people[Role.FITTER]
    cannon = fit_gear(
        cart=cart, kind="cannon", details=" 3 inch ", fitted_on=date(2026, 12, 1), by=fitter, at=at
    )
    assert cannon.details == "3 inch"
    with pytest.raises(AgainstARule, match="already recorded as fitted"):
        fit_gear(cart=cart, kind="cannon", fitted_on=date(2026, 12, 1), by=fitter, at=at)
    with pytest.raises(AgainstARule, match="before it was fitted"):
        remove_gear(fitment=cannon, removed_on=date(2026, 11, 30), by=fitter, at=at)
    remove_gear(fitment=cannon, removed_on=date(2026, 12, 1), by=fitter, at=at)
    with pytest.raises(GearOff, match="came off on 1 Dec 2026"):
        remove_gear(fitment=cannon, removed_on=date(2026, 12, 1), by=fitter, at=at)
    assert events_of(cart) == ["fleet.gear.fitted", "fleet.gear.removed"]


def test_gear_is_not_recorded_for_a_day_to_come(people, at):
    cart, fitter = CartFactory(gear=("cannon",)), people[Role.FITTER]
    with pytest.raises(AgainstARule, match="today or an earlier day"):
        fit_gear(cart=cart, kind="hose_reel", fitted_on=date(2026, 12, 2), by=fitter, at=at)
    with pytest.raises(AgainstARule, match="today or an earlier day"):
        remove_gear(fitment=cart.fitments.get(), removed_on=date(2026, 12, 2), by=fitter, at=at)


@pytest.mark.parametrize(("kind", "count", "field"), [("wings", 1, "kind"), ("cannon", 0, "count")])
def test_gear_that_cannot_be_is_refused(people, at, kind, count, field):
    with pytest.raises(AgainstARule) as refused:
        fit_gear(
            cart=CartFactory(gear=()),
            kind=kind,
            count=count,
            fitted_on=date(2026, 12, 1),
            by=people[Role.FITTER],
            at=at,
        )
    assert refused.value.field == field


@pytest.mark.parametrize("role", sorted(set(Role) - WORKSHOP))
def test_only_the_workshop_records_gear(people, at, role):
    cart = CartFactory(gear=("cannon",))
    with pytest.raises(NotAllowed):
        fit_gear(cart=cart, kind="pto", fitted_on=date(2026, 12, 1), by=people[role], at=at)
    with pytest.raises(NotAllowed):
        remove_gear(fitment=cart.fitments.get(), removed_on=date(2026, 12, 1), by=people[role], at=at)
