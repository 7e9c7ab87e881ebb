"""Tank, plates and tickets are entered by managers, once, and never rewritten; what cannot be is refused in a sentence."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from fleet.actions.locks import AgainstARule
from fleet.actions.weights import (
    GroupDetails,
    GroupsOutOfOrder,
    MoreThanItHolds,
    NoTank,
    NotOnTheTable,
    NotYet,
    PlateDetails,
    StruckOutAlready,
    TankDetails,
    TicketDetails,
    measure_tank,
    record_plates,
    record_ticket,
    strike_ticket,
)
from fleet.models.weights import GroupWeights, TankMeasured, WeighbridgeTicket, WeightSheet
from fleet.road_fill import road_fill
from people.refusals import NotAllowed
from people.roles import MANAGERS, Role
from people.yard import yard_day
from tests.factories.fleet import CartFactory
from tests.factories.weights import TankMeasuredFactory, TicketFactory
from tests.fleet.journal import events_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TANK = TankDetails(
    measured_on=date(2026, 11, 20), shape="ellipse", length_m=Decimal("4.85"), width_m=Decimal("2.3"),
    height_m=Decimal("1.6"), dip_rows=None, dead_l=150, lid_above_mm=120, sight_zero_mm=None, middle_m=Decimal("4.3"),
    fill_l_min=None, by_words=" Teo Marsden ",
)  # fmt: skip
TABLE = replace(
    TANK,
    shape="table",
    length_m=None,
    width_m=None,
    height_m=None,
    dip_rows=[[0, 0], [500, 4000], [1000, 9000]],
)
STEER = GroupDetails("steer axle", "steer", 1, Decimal(0), 2, 3150, 6500, Decimal(0), 3900)
DRIVE = GroupDetails("drive axles", "tandem_dual", 2, Decimal("1.35"), 8, 2800, 18000, Decimal("5.0"), 5400)
PLATES = PlateDetails(
    from_on=date(2026, 11, 20), stands_on="two_groups", gross_key="", outer_length_m=None, fuel_tank_l=300,
    fuel_place_m=Decimal("1.5"), cab_place_m=Decimal("0.5"), height_m=Decimal("3.2"), tickets_from_on=None,
    source_words="door plate", groups=(STEER, DRIVE),
)  # fmt: skip


def ticket(at, **changes):
    said = TicketDetails(
        weighed_at=at - DAY, place_words="Weir Street", number="W1", front_kg=4500, rear_kg=5700, water_l=0, driver_in=True,
        kit_in=True, fuel_eighths=8, by_words="Wes Tonkin",
    )  # fmt: skip
    return replace(said, **changes)


@pytest.fixture
def manager(people):
    return people[Role.WORKSHOP_MANAGER]


def enter(cart, by, at, what):
    return {
        "tank": lambda: measure_tank(cart=cart, details=TANK, by=by, at=at),
        "plates": lambda: record_plates(cart=cart, details=PLATES, by=by, at=at),
        "ticket": lambda: record_ticket(cart=cart, details=ticket(at), photo=None, by=by, at=at),
    }[what]()


EVENT = {
    "tank": "fleet.tank.measured",
    "plates": "fleet.plates.recorded",
    "ticket": "fleet.weighing.recorded",
}
WHAT = pytest.mark.parametrize("what", EVENT)


@WHAT
def test_it_is_on_record_and_in_the_journal_and_the_same_again_is_the_first(manager, at, what):
    cart = CartFactory()
    row = enter(cart, manager, at, what)
    assert (row.cart, row.recorded_by, row.recorded_at) == (cart, manager, at)
    assert enter(cart, manager, at, what) == row
    assert events_of(cart) == [EVENT[what]]


@WHAT
@pytest.mark.parametrize("role", sorted(set(Role) - MANAGERS))
def test_nobody_but_a_manager_enters_it(people, at, what, role):
    with pytest.raises(NotAllowed, match="entered by the workshop manager or the fleet manager"):
        enter(CartFactory(), people[role], at, what)


def test_the_three_together_give_the_road_fill(manager, at):
    cart = CartFactory(gross_limit_kg=23_000)
    for what in EVENT:
        enter(cart, manager, at, what)
    assert road_fill(cart, on=yard_day(at)).litres == 10_357


@pytest.mark.parametrize(
    ("details", "refusal", "words"),
    [
        (replace(TANK, measured_on=date(2026, 12, 2)), NotYet, "That day is still to come"),
        (replace(TANK, shape="cylinder"), NoTank, "A cylinder on its side is as wide as it is high"),
        (replace(TANK, dead_l=14_100), NoTank, "The tank holds 14,0"),
        (replace(TANK, width_m=Decimal(0)), AgainstARule, "each above zero"),
        (replace(TABLE, dip_rows=[[0, 0], [500, 4000]]), NoTank, "at least three rows"),
        (replace(TABLE, dip_rows=[[0, 0], [500, 4000], [400, 5000]]), NoTank, "rises row by row"),
    ],
    ids=["to come", "no round cylinder", "dead over full", "no width", "two rows", "falling"],
)  # fmt: skip
def test_what_is_no_tank_is_refused(manager, at, details, refusal, words):
    with pytest.raises(refusal, match=words):
        measure_tank(cart=CartFactory(), details=details, by=manager, at=at)
    assert not TankMeasured.objects.exists()


def test_a_tank_by_its_own_table_is_taken(manager, at):
    row = measure_tank(cart=CartFactory(), details=TABLE, by=manager, at=at)
    assert (row.dip_rows, row.by_words) == ([[0, 0], [500, 4000], [1000, 9000]], "Teo Marsden")


@pytest.mark.parametrize(
    ("changes", "refusal", "words"),
    [
        ({"from_on": date(2026, 12, 2)}, NotYet, "still to come"),
        ({"groups": (STEER,)}, GroupsOutOfOrder, "give the front and the rear"),
        ({"groups": (DRIVE, STEER)}, GroupsOutOfOrder, "stands behind the front one"),
        ({"groups": (STEER, replace(DRIVE, name="Steer axle"))}, GroupsOutOfOrder, "names of their own"),
        ({"groups": (replace(STEER, law_key="undriven"), DRIVE)}, NotOnTheTable, "limit of the steer axle"),
        ({"gross_key": "gross_3"}, NotOnTheTable, "gross limit from the list"),
        ({"groups": (replace(STEER, law_key="", maker_kg=None, tyre_load_kg=None), DRIVE)}, AgainstARule, "at least one limit"),
        ({"groups": (replace(STEER, tare_kg=0), DRIVE)}, AgainstARule, "above zero"),
    ],
    ids=["to come", "one group", "swapped", "one name", "other law", "other gross", "no limit", "no tare"],
)  # fmt: skip
def test_plates_that_cannot_stand_are_refused_and_nothing_is_kept(manager, at, changes, refusal, words):
    with pytest.raises(refusal, match=words):
        record_plates(cart=CartFactory(), details=replace(PLATES, **changes), by=manager, at=at)
    assert not WeightSheet.objects.exists()
    assert not GroupWeights.objects.exists()


def test_a_cart_with_a_trailer_has_no_groups_and_no_figure(manager, at):
    cart = CartFactory()
    row = record_plates(cart=cart, details=replace(PLATES, stands_on="trailer"), by=manager, at=at)
    assert not row.groups.exists()
    assert "more than two axle groups, or with a trailer" in road_fill(cart, on=yard_day(at)).reason


@pytest.mark.parametrize(
    ("changes", "refusal", "words"),
    [
        ({"weighed_at": None}, NotYet, "has not been weighed yet"),
        ({"water_l": 14_001}, MoreThanItHolds, "holds 14,000 L"),
        ({"fuel_eighths": 9}, AgainstARule, "8"),
        ({"front_kg": 0}, AgainstARule, "weigh something"),
    ],
    ids=["to come", "over full", "nine eighths", "no front"],
)
def test_a_ticket_that_cannot_be_is_refused(manager, at, changes, refusal, words):
    changes = {"weighed_at": at + DAY} if "weighed_at" in changes else changes
    with pytest.raises(refusal, match=words):
        record_ticket(cart=CartFactory(), details=ticket(at, **changes), photo=None, by=manager, at=at)


def test_a_measured_tank_says_what_it_holds(manager, at):
    cart = TankMeasuredFactory(cart=CartFactory(tank_capacity_l=9000)).cart
    record_ticket(cart=cart, details=ticket(at, water_l=14_017), photo=None, by=manager, at=at)
    with pytest.raises(MoreThanItHolds, match="holds 14,018 L"):
        record_ticket(cart=cart, details=ticket(at, water_l=14_019), photo=None, by=manager, at=at)


def test_a_ticket_is_struck_out_once_and_stays(manager, at):
    row = TicketFactory()
    with pytest.raises(AgainstARule, match="what was wrong"):
        strike_ticket(ticket=row, words=" ", by=manager, at=at)
    strike_ticket(ticket=row, words="Trailer on it.", by=manager, at=at)
    with pytest.raises(
        StruckOutAlready, match=f"struck out this ticket of cart {row.cart.fleet_number} already"
    ):
        strike_ticket(ticket=row, words="Again.", by=manager, at=at)
    assert events_of(row.cart) == ["fleet.weighing.struck"]
    assert WeighbridgeTicket.objects.filter(pk=row.pk).exists()
