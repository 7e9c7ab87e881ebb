"""The least cover against every cover there is, for 1 to 120 days, and what a rate card may not say."""

import random
from decimal import Decimal
from fractions import Fraction
from itertools import product
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from hire.charges import BestRate, best_rate

LONGEST = 120
CARDS = {
    "day, week, four weeks": {1: "290.00", 7: "1450.00", 28: "5000.00"},
    "five-day week": {1: "290.00", 5: "1160.00", 20: "4000.00"},
    "a dear week": {1: "100", 7: "900", 28: "2500"},
    "greed goes wrong": {1: "100", 3: "240", 4: "330"},
    "no single day": {3: "250.05", 7: "500.10", 30: "1999.99"},
    "all free": {1: "0", 7: "0"},
    "a free month": {1: "10", 28: "0"},
    "many places": {1: "0.333333333333333333333333333333", 7: "2.0000000000000000001"},
    "one length": {14: "2000"},
}


def every_cover(rates, longest):
    """Cost, units and days bought of each cover that leaves out no useful one; the shortest length fills up what is left."""
    (shortest, fill), *others = sorted(rates.items())
    for counts in product(*(range(ceil(longest / length) + 1) for length, _ in others)):
        covered = sum(count * length for count, (length, _) in zip(counts, others, strict=True))
        cost = sum(count * price for count, (_, price) in zip(counts, others, strict=True))
        for filled in range(ceil(longest / shortest) + 1):
            yield covered + filled * shortest, cost + filled * fill, sum(counts) + filled


def least_by_brute_force(rates, longest):
    """For each number of days the least (cost, units) of all covers that reach it."""
    found = [None] * (longest + 1)
    for reached, cost, units in every_cover(
        {length: Fraction(price) for length, price in rates.items()}, longest
    ):
        reach = min(reached, longest)
        if found[reach] is None or (cost, units) < found[reach]:
            found[reach] = (cost, units)
    for days in range(longest - 1, -1, -1):
        found[days] = min(each for each in (found[days], found[days + 1]) if each is not None)
    return found


@pytest.mark.parametrize("card", CARDS.values(), ids=CARDS)
def test_no_cover_is_cheaper_nor_as_cheap_with_fewer_units(card):
    rates = {length: Decimal(price) for length, price in card.items()}
    expected = least_by_brute_force(rates, LONGEST)
    for days in range(1, LONGEST + 1):
        found = best_rate(days=days, rates=rates)
        assert (Fraction(found.total), sum(found.units.values())) == expected[days], days
        assert_is_a_cover(found, days, rates)


def assert_is_a_cover(found: BestRate, days, rates):
    assert sum(length * count for length, count in found.units.items()) >= days
    assert all(count > 0 for count in found.units.values())
    assert list(found.units) == sorted(found.units, reverse=True)
    assert Fraction(found.total) == sum(
        Fraction(rates[length]) * count for length, count in found.units.items()
    )


PRICES = st.decimals(0, 9999, places=2)


@given(
    st.dictionaries(st.integers(2, 30), PRICES, min_size=1, max_size=2),
    st.integers(1, 4),
    PRICES,
    st.integers(1, 60),
)
@settings(max_examples=60)
def test_any_card_agrees_with_every_cover(others, shortest, price, days):
    rates = {**others, shortest: price}
    found = best_rate(days=days, rates=rates)
    assert (Fraction(found.total), sum(found.units.values())) == least_by_brute_force(rates, days)[days]


@given(st.dictionaries(st.integers(1, 40), PRICES, min_size=1, max_size=5), st.integers(1, 200))
def test_a_day_more_never_costs_less(rates, days):
    assert best_rate(days=days, rates=rates).total <= best_rate(days=days + 1, rates=rates).total


@given(st.dictionaries(st.integers(1, 40), PRICES, min_size=1, max_size=5), st.integers(1, 200), st.randoms())
def test_the_order_of_the_card_changes_nothing(rates, days, chance: random.Random):
    shuffled = list(rates.items())
    chance.shuffle(shuffled)
    one, other = best_rate(days=days, rates=rates), best_rate(days=days, rates=dict(shuffled))
    assert one == other
    assert list(one.units) == list(other.units)


def test_nothing_is_rounded():
    third = Decimal("0.333333333333333333333333333333333333")
    assert best_rate(days=3, rates={1: third}).total == Decimal("0.999999999999999999999999999999999999")


@pytest.mark.parametrize(
    ("days", "rates", "says"),
    [
        pytest.param(0, {1: Decimal(290)}, "one whole day or more", id="no day"),
        pytest.param(-3, {1: Decimal(290)}, "one whole day or more", id="days below zero"),
        pytest.param(2.5, {1: Decimal(290)}, "one whole day or more", id="half a day"),
        pytest.param(True, {1: Decimal(290)}, "one whole day or more", id="a truth for days"),
        pytest.param(3, {}, "no rates", id="no rates"),
        pytest.param(3, {0: Decimal(290)}, "covers one whole day or more", id="a rate with no length"),
        pytest.param(3, {-7: Decimal(290)}, "covers one whole day or more", id="a length below zero"),
        pytest.param(3, {0.5: Decimal(290)}, "covers one whole day or more", id="half a day's rate"),
        pytest.param(3, {None: Decimal(290)}, "covers one whole day or more", id="no length at all"),
        pytest.param(3, {1: Decimal("-0.01")}, "price for 1 day is below zero", id="a price below zero"),
        pytest.param(3, {1: Decimal("NaN")}, "not a number", id="no number"),
        pytest.param(3, {1: Decimal("Infinity")}, "not a number", id="no end"),
        pytest.param(3, {1: 290.1}, "whole number or a Decimal", id="a float"),
        pytest.param(3, {1: None}, "whole number or a Decimal", id="no price"),
    ],
)
def test_what_is_refused(days, rates, says):
    with pytest.raises(ValueError, match=says):
        best_rate(days=days, rates=rates)
