"""Outside checks of the matching: linear assignment where it reduces to that, every assignment there is on small cases, and
the page's worked table."""

import itertools
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, linear_sum_assignment, milp
from scipy.sparse import csr_array

from hire import matching_solver
from hire.matching import Cart, Request, assign, what_would_free
from tests import worked

PAGE = Path(__file__).parents[2] / "docs" / "matching.md"
DAY = timedelta(days=1)
MONDAY = datetime(2026, 6, 1, tzinfo=UTC)
NEVER = 1e6


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("forbidden", [0.0, 0.4, 0.9])
def test_bookings_of_one_period_are_a_linear_assignment(seed: int, forbidden: float) -> None:
    chance = np.random.default_rng([seed, int(forbidden * 10)])
    height, width = (int(n) for n in chance.integers(1, 25, 2))
    costs = chance.integers(0, 9, (height, width)) if seed % 2 else chance.uniform(-5, 50, (height, width))
    costs = np.where(chance.random(costs.shape) < forbidden, np.nan, costs)
    requests = [Request(n, MONDAY, MONDAY + DAY) for n in range(height)]
    table = {
        (row, column): float(value) for (row, column), value in np.ndenumerate(costs) if not np.isnan(value)
    }
    found = assign(requests, [Cart(n) for n in range(width)], table)
    filled = np.where(np.isnan(costs), NEVER, costs)
    rows, columns = linear_sum_assignment(filled)
    met = filled[rows, columns] < NEVER
    assert found.is_best
    assert len(found.chosen) == np.count_nonzero(met)
    assert found.cost == pytest.approx(filled[rows, columns][met].sum(), abs=1e-6)


@st.composite
def small_yards(draw):
    """Up to 5 bookings over two weeks and 4 carts, in half days; some fixed, some with a cart, some for drinking water, some carts
    not to be had."""
    half_days = st.integers(0, 28)
    keys = [f"C{n}" for n in range(draw(st.integers(1, 4)))]

    def period():
        begins = draw(half_days)
        return MONDAY + begins * DAY / 2, MONDAY + (begins + draw(st.integers(1, 12))) * DAY / 2

    def cart(key):
        busy = tuple(period() for _ in range(draw(st.integers(0, 1))))
        water = draw(st.sampled_from(["any_water", "potable", None]))
        return Cart(
            key,
            busy=busy,
            workshop=tuple(period() for _ in range(draw(st.integers(0, 1)))),
            turn_round=draw(st.integers(0, 2)) * DAY / 2,
            sanitised_in=draw(st.sampled_from([None, timedelta(0), DAY, 3 * DAY])),
            **({water: busy} if water else {}),
        )

    carts = [cart(key) for key in keys]
    requests, taken = [], {}
    for n in range(draw(st.integers(1, 5))):
        start, end = period()
        fixed = draw(st.sampled_from([None, None, None, *keys]))
        if any(start < other_end and other_start < end for other_start, other_end in taken.get(fixed, [])):
            fixed = None
        if fixed:
            taken.setdefault(fixed, []).append((start, end))
        has_now = draw(st.sampled_from([None, *keys]))
        requests.append(Request(f"B{n}", start, end, fixed, has_now, is_potable=draw(st.booleans())))
    prices = st.one_of(st.none(), st.integers(0, 6), st.floats(-20, 20))
    costs = {(one.key, key): draw(prices) for one in requests for key in keys}
    return requests, carts, costs, draw(st.sampled_from([0.0, 0.5, 3.0]))


def near(one, other, apart):
    return one[0] < other[1] + apart and other[0] < one[1] + apart


def spoilt(one, other, cart) -> bool:
    """Of two hires, (period, is_potable), whether the earlier is of any water and the other wants a tank it has spoilt."""
    (first, first_potable), ((start, _), then_potable) = sorted([one, other])
    is_late = cart.sanitised_in is not None and start >= first[1] + cart.sanitised_in
    return then_potable and not first_potable and not is_late


def can_be(requests, carts, costs, ways) -> bool:
    """Whether each may have what it is given: needs met, cart to be had, and turn-round kept and no tank spoilt but between two
    fixed."""
    given = [(one, carts[way]) for one, way in zip(requests, ways, strict=True) if way is not None]
    for one, cart in given:
        if one.fixed_cart is not None:
            continue
        period = (one.start, one.end)
        hire = period, one.is_potable
        if (
            costs[one.key, cart.key] is None
            or any(near(period, other, cart.turn_round) for other in cart.busy)
            or any(near(period, other, timedelta(0)) for other in cart.workshop)
            or any(spoilt(hire, (other, False), cart) for other in cart.any_water)
            or any(spoilt(hire, (other, True), cart) for other in cart.potable)
        ):
            return False
    return not any(
        a.key == b.key
        and (
            near((one.start, one.end), (other.start, other.end), a.turn_round)
            or spoilt(((one.start, one.end), one.is_potable), ((other.start, other.end), other.is_potable), a)
        )
        for (one, a), (other, b) in itertools.combinations(given, 2)
        if one.fixed_cart is None or other.fixed_cart is None
    )


def price(requests, carts, costs, per_move, ways) -> float:
    total = 0.0
    for one, way in zip(requests, ways, strict=True):
        cart = None if way is None else carts[way].key
        total += 0.0 if cart is None else costs[one.key, cart] or 0.0
        total += per_move * (one.present_cart is not None and one.present_cart != cart)
    return total


def test_costs_that_differ_by_the_least_there_is_are_no_fault():
    start = datetime(2026, 6, 1, 12, tzinfo=UTC)
    requests = [Request(key, start, start + timedelta(hours=12)) for key in ("B0", "B1")]
    found = assign(requests, [Cart("C0")], {("B0", "C0"): 0, ("B1", "C0"): 5e-324})
    assert (len(found.chosen), found.is_best) == (1, True)


@given(small_yards())
def test_no_assignment_there_is_meets_more_or_costs_less(yard) -> None:
    none_is_better(*yard)


@pytest.mark.parametrize("seed", range(40))
def test_nor_where_short_hires_follow_each_other_and_their_water_counts(seed: int) -> None:
    chance = np.random.default_rng(seed)
    carts = [
        Cart(n, turn_round=DAY / 2, sanitised_in=[None, 3 * DAY][chance.integers(2)])
        for n in range(1 + seed % 2)
    ]
    begins = [MONDAY + int(n) * DAY for n in chance.choice(10, 5, replace=False)]
    requests = [
        Request(n, start, start + DAY / 2, is_potable=bool(chance.integers(2)))
        for n, start in enumerate(begins)
    ]
    costs = {(one.key, cart.key): float(chance.integers(5)) for one in requests for cart in carts}
    none_is_better(requests, carts, costs, 0.0)


def none_is_better(requests, carts, costs, per_move) -> None:
    found = assign(requests, carts, costs, per_move=per_move)
    place = {cart.key: n for n, cart in enumerate(carts)}
    mine = [place.get(found.chosen.get(one.key)) for one in requests]
    choices = [
        [None, *range(len(carts))] if one.fixed_cart is None else [place[one.fixed_cart]] for one in requests
    ]
    every = [ways for ways in itertools.product(*choices) if can_be(requests, carts, costs, ways)]
    most = max(sum(way is not None for way in ways) for ways in every)
    least = min(
        price(requests, carts, costs, per_move, ways)
        for ways in every
        if sum(way is not None for way in ways) == most
    )
    assert found.is_best
    assert tuple(mine) in every
    assert sorted([*found.chosen, *found.unmet]) == [one.key for one in requests]
    assert len(found.chosen) == most
    assert found.cost == pytest.approx(least, abs=1e-6)
    assert found.cost == pytest.approx(price(requests, carts, costs, per_move, mine), abs=1e-9)
    assert set(found.moves) == {
        one.key for one in requests if one.present_cart not in (None, found.chosen.get(one.key))
    }


def met_and_cost(spans, costs) -> tuple[int, float]:
    """The same asked of the solver plainly: every two choices that shut each other out in a row of their own."""
    pairs = sorted(costs)
    rows = [
        (a, b)
        for a, b in itertools.combinations(range(len(pairs)), 2)
        if pairs[a][0] == pairs[b][0]
        or (pairs[a][1] == pairs[b][1] and near(spans[pairs[a][0]], spans[pairs[b][0]], 0))
    ]
    columns, each = np.ravel(rows), np.repeat(np.arange(len(rows)), 2)
    table = csr_array((np.ones(len(columns)), (each, columns)), shape=(len(rows), len(pairs)))
    found = milp(
        [costs[pair] - NEVER / 1000 for pair in pairs],
        integrality=np.ones(len(pairs)),
        bounds=Bounds(0, 1),
        constraints=LinearConstraint(table, -np.inf, 1),
        options={"mip_rel_gap": 0},
    )
    taken = [pair for pair, x in zip(pairs, found.x, strict=True) if x > 0.5]
    return len(taken), sum(costs[pair] for pair in taken)


def test_the_search_that_is_left_finds_what_a_plain_model_finds(monkeypatch) -> None:
    """30 bookings, too many for the carts; in some of these the relaxed problem stays in parts, and only these search."""
    searched = []
    monkeypatch.setattr(matching_solver, "milp", lambda *a, **more: searched.append(a) or milp(*a, **more))
    for seed in range(10, 22):
        chance = np.random.default_rng(seed)
        carts = 6 + seed % 5
        starts = chance.integers(0, 30, 30)
        spans = list(zip(starts.tolist(), (starts + chance.integers(2, 12, 30)).tolist(), strict=True))
        suits, table = chance.random((30, carts)) < 0.5, chance.uniform(0, 9, (30, carts))
        costs = {(int(row), int(column)): float(table[row, column]) for row, column in np.argwhere(suits)}
        requests = [
            Request(n, MONDAY + start * DAY, MONDAY + end * DAY) for n, (start, end) in enumerate(spans)
        ]
        found = assign(requests, [Cart(n) for n in range(carts)], costs)
        most, least = met_and_cost(spans, costs)
        assert found.is_best
        assert (len(found.chosen), found.cost) == (most, pytest.approx(least, abs=1e-6))
    assert searched


def tables() -> list[list[dict[str, str]]]:
    """The page's tables under "Worked table", a dict a row."""
    section = PAGE.read_text(encoding="utf-8").split("## Worked table\n")[1]
    found = []
    for table in re.findall(r"(?:^\|.*\n)+", section, re.MULTILINE):
        head, _, *rows = (
            [cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()
        )
        found.append([dict(zip(head, row, strict=True)) for row in rows])
    return found


def days(words: str) -> tuple[datetime, datetime]:
    first, last = (MONDAY + (int(day) - 1) * DAY for day in re.findall(r"\d+", words))
    return first, last


@pytest.mark.parametrize(
    "row", worked.tables("matching.md", "Drinking water after any water")[0], ids=" ".join
)
@pytest.mark.parametrize("promised", ["neither", "first", "then"])
def test_what_may_follow_what_on_one_cart(row: list[str], promised: str) -> None:
    """Both open, or one of the two promised already."""
    first, first_days, then, then_days, hours, both = row
    requests = [
        Request("B1", *days(first_days), is_potable=first == "potable"),
        Request("B2", *days(then_days), is_potable=then == "potable"),
    ]
    held = [one for one, name in zip(requests, ["first", "then"], strict=True) if name == promised]
    periods = tuple((one.start, one.end) for one in held)
    cart = Cart(
        "C", busy=periods, any_water=tuple(one for one in periods if not held[0].is_potable),
        potable=tuple(one for one in periods if held[0].is_potable),
        sanitised_in=None if hours == "never" else timedelta(hours=int(hours.removesuffix(" h"))),
    )  # fmt: skip
    wanted = [one for one in requests if one not in held]
    costs = {(one.key, "C"): 1.0 for one in wanted}
    found = assign(wanted, [cart], costs)
    assert (not found.unmet) == (both == "yes")
    for unmet in (one for one in wanted if one.key in found.unmet):
        [way] = what_would_free(unmet, requests=wanted, carts=[cart], cost=costs, chosen=found.chosen)
        assert (len(way.requests), way.periods) == (len(wanted) - 1, periods)


def test_the_worked_table_comes_out_as_printed() -> None:
    bookings, carts_told, answers, ways = tables()
    carts = [
        Cart(
            row["cart"],
            workshop=() if row["workshop"] == "none" else (days(row["workshop"]),),
            turn_round=int(row["turn-round"].removesuffix(" h")) * timedelta(hours=1),
        )
        for row in carts_told
    ]
    named = {"none": None} | {cart.key: cart.key for cart in carts}
    requests = [
        Request(row["booking"], *days(row["days"]), named[row["fixed to"]], named[row["has now"]])
        for row in bookings
    ]
    costs = {
        (row["booking"], cart.key): float(row[cart.key])
        for row in bookings
        for cart in carts
        if row[cart.key] != "-"
    }
    for row in answers:
        found = assign(requests, carts, costs, per_move=float(row["a move weighs"]))
        chosen = "; ".join(f"{booking} {cart}" for booking, cart in found.chosen.items())
        assert chosen == row["chosen"]
        assert (", ".join(found.unmet), ", ".join(found.moves) or "none") == (row["unmet"], row["moves"])
        assert f"{found.cost:g}" == row["cost"]
    [unmet] = [one for one in requests if one.key in found.unmet]
    told = what_would_free(unmet, requests=requests, carts=carts, cost=costs, chosen=found.chosen)
    assert [(one.cart, ", ".join(one.requests), ", ".join(one.fixed) or "none") for one in told] == [
        (row["cart"], row["in the way"], row["of them fixed"]) for row in ways
    ]
