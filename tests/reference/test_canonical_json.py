"""Outside checks for the one spelling of JSON (RFC 8785) and its hash."""

import json

from people.canonical import canonical_text, sha256_hex


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


def test_each_short_escape_is_used_and_nothing_else_is_escaped():
    """RFC 8785 section 3.2.2.2; from memory."""
    assert canonical_text("/\b\t\f\r\u007f") == '"/\\b\\t\\f\\r\x7f"'


def test_literals_and_no_spaces():
    """RFC 8785 section 3.2.1, its own example of literals; from memory."""
    assert canonical_text({"literals": [None, True, False]}) == '{"literals":[null,true,false]}'


def test_text_is_hashed_as_utf_8():
    """The digest of no bytes at all is the well-known one of SHA-256 (FIPS 180-4 test value; from memory)."""
    assert sha256_hex("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    assert sha256_hex("€") == sha256_hex("€".encode())
