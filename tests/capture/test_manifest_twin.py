"""The tablet writes a record byte for byte as the yard would, so that one hash stands for both."""

import hashlib
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Error, Page

from people.canonical import canonical_text

pytestmark = pytest.mark.journey

# Keys in every plane: UTF-16 order and code point order differ above U+FFFF, and RFC 8785 asks for the former.
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
SAFE = st.integers(-(2**53) + 1, 2**53 - 1)
PLAIN = st.recursive(
    st.none() | SAFE | TEXT,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=5),
    max_leaves=12,
)

WRITE = """async (values) => {
    const { canonical, sha256 } = await import("/static/capture/manifest.js");
    const texts = values.map(canonical);
    return Promise.all(texts.map(async (text) => [text, await sha256(text)]));
}"""


@settings(
    max_examples=15,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(values=st.lists(PLAIN, min_size=5, max_size=30))
def test_any_record_has_one_text_and_one_hash(modules: Page, values: list[Any]) -> None:
    written = modules.evaluate(WRITE, values)
    assert [text for text, _ in written] == [canonical_text(value) for value in values]
    assert [sha for _, sha in written] == [
        hashlib.sha256(canonical_text(value).encode()).hexdigest() for value in values
    ]


@pytest.mark.parametrize(
    "value",
    ["[0.5]", "[NaN]", "[1e300]", "[undefined]", "[() => 1]", "[true]", '["\\ud800"]'],
)
def test_what_has_no_single_text_is_refused(modules: Page, value: str) -> None:
    with pytest.raises(Error, match=r"RangeError|TypeError"):
        modules.evaluate(
            f"""async () => {{
                const {{ canonical }} = await import("/static/capture/manifest.js");
                return canonical({value});
            }}"""
        )


def test_a_hash_is_of_the_bytes_that_are_sent(modules: Page) -> None:
    hashed = modules.evaluate(
        """async () => {
            const { sha256 } = await import("/static/capture/manifest.js");
            return [await sha256("Überlauf 6.5 mm"), await sha256(new Uint8Array([0, 255, 10]))];
        }"""
    )
    assert hashed == [
        hashlib.sha256("Überlauf 6.5 mm".encode()).hexdigest(),
        hashlib.sha256(bytes([0, 255, 10])).hexdigest(),
    ]
