"""A dual pair: how far apart its diameters are by depth, and whether the two are alike at all."""

import pytest

from servicing.duals import TwinTyre, judge_pair, pair_words


def pair(one, other, rule_set="au", **changes):
    same = {"size": "11R22.5", "make": "Wallaroo"}
    return judge_pair(TwinTyre(one, **same), TwinTyre(other, **same | changes), rule_set=rule_set)


# TY-23 VERIFIED-S: within 25 mm (AU). TY-25 VERIFIED-P: within 1/2 in, 12.7 mm (Maryland). Diameters differ by twice the depths.
@pytest.mark.parametrize(
    ("rule_set", "one", "other", "difference", "is_apart"),
    [
        ("au", 16.0, 3.5, 25.0, False),
        ("au", 16.0, 3.4, 25.2, True),
        ("us", 16.0, 9.7, 12.6, False),
        ("us", 16.0, 9.6, 12.8, True),
        ("uk", 9.6, 16.0, 12.8, True),
        ("au", 8.0, 8.0, 0.0, False),
        ("au", None, 3.0, None, False),
    ],
)
def test_the_published_difference(rule_set, one, other, difference, is_apart):
    found = pair(one, other, rule_set)
    assert (found.difference_mm, found.is_apart) == (difference, is_apart)
    assert ("Measure both diameters" in pair_words(found)) == is_apart


def test_sizes_that_differ_say_nothing_of_diameters():
    found = pair(16.0, 3.0, size="295/80R22.5")
    assert (found.difference_mm, found.mixed) == (None, ("size",))
    assert "not of one size" in pair_words(found)
    assert pair(16.0, 16.0, make="Emu").mixed == ("make",)
    assert pair(16.0, 16.0, make=" WALLAROO ").mixed == ()


@pytest.mark.parametrize("depth", [-0.1, float("nan"), float("inf")])
def test_a_depth_that_cannot_be_is_refused(depth):
    with pytest.raises(ValueError, match="number"):
        pair(depth, 3.0)
    with pytest.raises(ValueError, match="rule set"):
        pair(3.0, 3.0, "nz")
