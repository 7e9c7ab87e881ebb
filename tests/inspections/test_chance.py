"""Exact tests by counting, beside every share-out written down one by one and beside an independent library."""

import itertools
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inspections.chance import Group, binomial_at_least, compare, odds_words


@st.composite
def groups(draw, most=40):
    tries, others = draw(st.integers(1, most)), draw(st.integers(1, most))
    return Group(draw(st.integers(0, tries)), tries, draw(st.integers(0, others)), others)


@given(groups())
def test_one_group_is_the_hypergeometric_distribution(group):
    beside = compare([group])
    share = stats.hypergeom(group.tries + group.other_tries, group.hits + group.other_hits, group.tries)
    assert beside.at_most == pytest.approx(share.cdf(group.hits), rel=1e-9, abs=1e-12)
    assert beside.at_least == pytest.approx(share.sf(group.hits - 1), rel=1e-9, abs=1e-12)
    every = range(group.tries + 1)
    assert beside.expected == pytest.approx(sum(n * share.pmf(n) for n in every), abs=1e-9)
    kept = [n for n in every if share.cdf(n) > 0.001 and share.sf(n - 1) > 0.001]
    assert (beside.low, beside.high) == (min(kept), max(kept))


@given(groups(), groups(), groups())
def test_several_groups_add_their_share_outs(one, two, three):
    used, parts = compare([one, two, three]), []
    for group in (one, two, three):
        whole, hits = group.tries + group.other_tries, group.hits + group.other_hits
        parts.append([stats.hypergeom.pmf(n, whole, hits, group.tries) for n in range(group.tries + 1)])
    total = [0.0] * (one.tries + two.tries + three.tries + 1)
    for each in itertools.product(*(range(len(part)) for part in parts)) if sum(map(len, parts)) < 60 else ():
        total[sum(each)] += parts[0][each[0]] * parts[1][each[1]] * parts[2][each[2]]
    if sum(total):
        assert used.at_most == pytest.approx(sum(total[: used.hits + 1]), rel=1e-9, abs=1e-12)
        assert used.at_least == pytest.approx(sum(total[used.hits :]), rel=1e-9, abs=1e-12)


def test_every_share_out_counted_one_by_one():
    """Two groups so small that all ways to share their hits out can be written down."""
    few = [Group(0, 3, 2, 2), Group(1, 2, 1, 3)]
    ways = [
        len({0, 1, 2} & set(hit)) + len({0, 1} & set(other))
        for hit in itertools.combinations(range(5), 2)
        for other in itertools.combinations(range(5), 2)
    ]
    beside = compare(few)
    assert beside.hits == 1
    assert beside.at_most == pytest.approx(sum(way <= 1 for way in ways) / len(ways))
    assert beside.at_least == pytest.approx(sum(way >= 1 for way in ways) / len(ways))


def test_groups_in_which_one_side_alone_tried_say_nothing():
    told = Group(3, 10, 6, 10)
    assert compare([told, Group(5, 5, 0, 0), Group(0, 0, 7, 9)]) == compare([told])
    nothing = compare([Group(5, 5, 0, 0)])
    assert (nothing.tries, nothing.other_tries, nothing.at_most, nothing.at_least) == (0, 0, 1.0, 1.0)


def test_what_is_all_but_impossible_is_said_to_be_so():
    """500 of 500 beside 0 of 500, twenty times: far beyond what a number of the machine can hold."""
    far = compare([Group(500, 500, 0, 500)] * 20)
    assert (far.at_least, far.at_most) == (0.0, 1.0)
    near = compare([Group(0, 500, 500, 500)] * 20)
    assert (near.at_least, near.at_most) == (1.0, 0.0)


@given(st.integers(1, 80), st.data())
def test_the_binomial_tail(tries, data):
    hits = data.draw(st.integers(0, tries))
    expected = stats.binom.sf(hits - 1, tries, 0.1)
    assert binomial_at_least(hits, tries, Fraction(1, 10)) == pytest.approx(expected, rel=1e-9, abs=1e-300)


@pytest.mark.parametrize("figures", [(-1, 3, 0, 3), (4, 3, 0, 3), (0, 3, 4, 3)])
def test_figures_that_cannot_be_are_refused(figures):
    with pytest.raises(ValueError, match="Hits lie between"):
        Group(*figures)
    with pytest.raises(ValueError, match="Hits lie between"):
        binomial_at_least(4, 3, Fraction(1, 10))
    for outside in (0, 0.5, -1):
        with pytest.raises(ValueError, match="less than half"):
            compare([Group(1, 3, 1, 3)], outside=outside)


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (1.0, "1 in 1"),
        (0.3, "1 in 3"),
        (1 / 1299, "1 in 1,200"),
        (1 / 950_000.5, "1 in 950,000"),
        (1e-7, "less than 1 in 1,000,000"),
        (0.0, "less than 1 in 1,000,000"),
    ],
)
def test_a_small_chance_is_never_said_smaller_than_it_is(chance, words):
    assert odds_words(chance) == words
