"""Canonical JSON: the one form in which anything is hashed, so two machines must print it to the byte alike."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from people.canonical import canonical_text, sha256_hex

PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | st.text(st.characters(codec="utf-8")),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(codec="utf-8")), inner, max_size=4)
    ),
    max_leaves=12,
)


def test_members_are_sorted_by_utf_16_code_units():
    """RFC 8785 section 3.2.3, its own example; from memory. A character beyond the first plane sorts by its surrogates,
    before U+FB33, which sorting by code point would put first."""
    names = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin Small Letter O With Diaeresis",
    }
    assert list(json.loads(canonical_text(names)).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


def test_text_is_escaped_as_little_as_json_allows():
    """RFC 8785 section 3.2.2.2, its own example; from memory."""
    text = "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"/"
    assert canonical_text({"string": text}) == '{"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'


def test_literals_and_no_spaces():
    """RFC 8785 section 3.2.1, its own example of literals; from memory."""
    assert canonical_text({"literals": [None, True, False]}) == '{"literals":[null,true,false]}'


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


def test_text_is_hashed_as_utf_8():
    """The digest of no bytes at all is the well-known one of SHA-256 (FIPS 180-4 test value; from memory)."""
    assert sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert sha256_hex("€") == sha256_hex("€".encode())
