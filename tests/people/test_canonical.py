"""Canonical JSON: the one form in which anything is hashed, so two machines must print it to the byte alike."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from people.canonical import canonical_text

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(st.characters(codec="utf-8")),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(codec="utf-8")), inner, max_size=4)
    ),
    max_leaves=12,
)


@pytest.mark.parametrize(
    "value", [1.0, 0.1, float("nan"), float("inf"), [1, [2.5]], {"a": {"b": -0.0}}, (1.5,)]
)
def test_floats_are_refused_wherever_they_hide(value):
    with pytest.raises(ValueError, match="not float"):
        canonical_text(value)


@pytest.mark.parametrize("value", [2**53, -(2**53)])
def test_a_whole_number_a_browser_cannot_hold_is_refused(value):
    with pytest.raises(ValueError, match=r"."):
        canonical_text({"n": value})


@pytest.mark.parametrize("value", [Decimal("1.0"), b"bytes", {1, 2}, object()])
def test_what_json_cannot_carry_is_refused(value):
    with pytest.raises((TypeError, ValueError)):
        canonical_text({"value": value})


def test_half_a_surrogate_pair_is_refused():
    with pytest.raises(ValueError, match=r"."):
        canonical_text({"words": "\ud800"})


@given(PLAIN)
def test_reading_it_back_and_writing_it_again_changes_nothing(value):
    text = canonical_text(value)
    assert json.loads(text) == value
    assert canonical_text(json.loads(text)) == text
