"""The sheet of a cart: what is on it, how much, and in what order it is walked."""

from decimal import Decimal
from pathlib import Path

import pytest

from fleet.lap.stations import STATION_KEYS
from inspections.library import checks_of, library, merge
from inspections.vocabulary import CEILINGS, GRADE_KEYS, PURPOSE_KEYS
from tests.inspections.carts import typical_three_axle, unlike_carts
from tests.inspections.check_bodies import BODY

PAGE = Path(__file__).parents[2] / "docs" / "checks.md"
CARTS = unlike_carts()


def rows_under(heading: str) -> list[list[str]]:
    """The cells of the table whose heading row starts so, on the page about checks."""
    lines = PAGE.read_text(encoding="utf-8").splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith(heading)) + 2
    rows = []
    for line in lines[start:]:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip("|").split("|")])
    return rows


def bounds(cell: str) -> tuple[int, int]:
    low, _, high = cell.partition("-")
    return int(low), int(high)


COUNTED = rows_under("| cart | purpose |")
PROMISED = rows_under("| purpose | looks | minutes | ceiling |")


def test_the_page_counts_every_cart_and_purpose() -> None:
    assert [(cart, purpose) for cart, purpose, *_ in COUNTED] == [
        (cart, purpose) for cart in CARTS for purpose in PURPOSE_KEYS
    ]
    assert [purpose for purpose, *_ in PROMISED] == list(PURPOSE_KEYS)


@pytest.mark.parametrize(
    ("cart", "purpose", "looks", "values", "minutes"),
    [pytest.param(*row, id=f"{row[0]} {row[1]}") for row in COUNTED],
)
def test_the_page_tells_the_count(cart: str, purpose: str, looks: str, values: str, minutes: str) -> None:
    sheet = CARTS[cart].sheet(purpose)
    assert (sheet.looks, sheet.values, sheet.minutes) == (int(looks), int(values), int(minutes))


@pytest.mark.parametrize(
    ("purpose", "looks", "minutes", "ceiling"), [pytest.param(*row, id=row[0]) for row in PROMISED]
)
def test_the_typical_cart_keeps_what_is_promised(
    purpose: str, looks: str, minutes: str, ceiling: str
) -> None:
    sheet = typical_three_axle().sheet(purpose)
    least, most = bounds(looks)
    assert least <= sheet.looks <= most
    shortest, longest = bounds(minutes)
    assert shortest <= sheet.minutes <= longest
    assert CEILINGS[purpose] == int(ceiling) >= most


def test_what_is_promised_is_what_a_yard_asks_for() -> None:
    """Common practice, no source: more looks than these are ticked blind, fewer miss what breaks."""
    asked = {purpose: (bounds(looks), bounds(minutes)) for purpose, looks, minutes, _ in PROMISED}
    assert asked["daily"] == ((26, 34), (10, 12))
    assert asked["weekly"][0] == (15, 18)
    assert asked["pre_hire"] == ((85, 105), (60, 75))
    assert asked["gate_out"][0] == asked["as_returned"][0] == (12, 15)
    assert asked["after_wash"] == ((35, 45), (25, 30))


def test_values_are_asked_where_values_can_be_had() -> None:
    typical = typical_three_axle()
    assert 4 <= typical.sheet("daily").values <= 6
    pre_hire = typical.sheet("pre_hire")
    assert 0.22 <= pre_hire.values / pre_hire.looks <= 0.30


@pytest.mark.parametrize("cart", CARTS)
@pytest.mark.parametrize("purpose", PURPOSE_KEYS)
def test_no_cart_is_asked_more_than_the_ceiling(cart: str, purpose: str) -> None:
    sheet = CARTS[cart].sheet(purpose)
    assert sheet.over_ceiling == 0
    assert sheet.looks == len(sheet.items) <= CEILINGS[purpose]
    exact = sum((item.check.minutes for item in sheet.items), Decimal(0))
    assert sheet.minutes - 1 < exact <= sheet.minutes


def test_every_check_is_asked_of_some_cart() -> None:
    asked = {
        item.check.family
        for cart in CARTS.values()
        for purpose in PURPOSE_KEYS
        for item in cart.sheet(purpose).items
    }
    assert {check.family for check in library()} - asked == set()


def test_a_sheet_over_its_ceiling_says_by_how_many() -> None:
    more = [check for n in range(5) for check in checks_of(BODY | {"key": f"bucket-{n}"})]
    sheet = typical_three_axle().sheet("daily", checks=merge(library(), more))
    assert sheet.over_ceiling == sheet.looks - 35 == 2


# The order it is walked in


@pytest.mark.parametrize("cart", CARTS)
@pytest.mark.parametrize("purpose", PURPOSE_KEYS)
def test_the_order_is_pass_then_lap_then_worst_first(cart: str, purpose: str) -> None:
    sheet = CARTS[cart].sheet(purpose)
    steps = [
        (
            item.check.walk_pass,
            item.check.last,
            STATION_KEYS.index(item.check.station),
            GRADE_KEYS.index(item.check.grade),
        )
        for item in sheet.items
    ]
    assert steps == sorted(steps)
    assert len({(item.check.key, item.place) for item in sheet.items}) == sheet.looks


@pytest.mark.parametrize("cart", ["typical_three_axle", "mine_twin_steer"])
@pytest.mark.parametrize("purpose", ["daily", "pre_hire"])
def test_emergency_stops_come_last_of_all(cart: str, purpose: str) -> None:
    stops = len(CARTS[cart].places.emergency_stops)
    families = [item.check.family for item in CARTS[cart].sheet(purpose).items]
    assert families[-stops:] == ["emergency-stop"] * stops
    assert "emergency-stop" not in families[:-stops]


def test_hubs_are_felt_after_the_drive() -> None:
    families = [item.check.family for item in typical_three_axle().sheet("pre_hire").items]
    assert families.index("hub-heat") > families.index("slow-roll")


def test_checks_of_one_grade_keep_the_order_of_their_file() -> None:
    order = [check.key for check in library()]
    for stop in typical_three_axle().sheet("pre_hire").stops():
        for grade in GRADE_KEYS:
            places = [order.index(item.check.key) for item in stop.items if item.check.grade == grade]
            assert places == sorted(places)


def test_the_stops_are_the_sheet_cut_where_one_walks_on() -> None:
    sheet = typical_three_axle().sheet("pre_hire")
    stops = sheet.stops()
    assert tuple(item for stop in stops for item in stop.items) == sheet.items
    first_lap = [stop.station for stop in stops if stop.walk_pass == 1]
    assert first_lap == list(STATION_KEYS)
    assert [stop.station for stop in stops if stop.walk_pass == 2] == ["cab"]
    assert [stop.station for stop in stops][-2:] == ["cab", "left_side"]


def test_a_station_has_its_own_list() -> None:
    sheet = typical_three_axle().sheet("pre_hire")
    assert sum(len(sheet.at(station)) for station in STATION_KEYS) == sheet.looks
    assert {item.check.walk_pass for item in sheet.at("cab")} == {1, 2, 3, 4}


def test_a_yards_dangerous_check_is_asked_with_the_dangerous_ones() -> None:
    (worst,) = checks_of(BODY | {"key": "mine-bracket", "grade": "do_not_use", "asked": ["pre_hire"]})
    sheet = typical_three_axle().sheet("pre_hire", checks=merge(library(), [worst]))
    rear = next(stop for stop in sheet.stops() if (stop.walk_pass, stop.station) == (1, "rear"))
    grades = [item.check.grade for item in rear.items]
    assert grades.index("by_date") == [item.check.key for item in rear.items].index("mine-bracket") + 1
