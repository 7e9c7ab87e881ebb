"""The tablet's own sentences: each that has a word of a rule set's table is said by the table, and none is forgotten."""

import re
from pathlib import Path

import pytest

from people.words import wording

CAPTURE = Path(__file__).parents[2] / "static" / "capture"
FILES = sorted(path for path in CAPTURE.rglob("*.js") if path.name not in ("say.js", "worker.js"))
# A text in the code, with what stands before it; templates with what is put into them taken out.
TEXT = re.compile(r"""(\bsay)?("(?:[^"\\\n]|\\.)*"|`(?:[^`\\]|\\.)*`)""")
# Not read by anybody: addresses, classes, keys.
NOT_READ = re.compile(r"^[a-z0-9.#/_-]*$")


def unsaid(code):
    code = re.sub(r"^\s*(//|/?\*).*$", "", code, flags=re.MULTILINE)
    for said, text in TEXT.findall(code):
        plain = re.sub(r"\$\{[^}]*\}", "", text[1:-1])
        if not said and not NOT_READ.match(plain) and any(wording(key).is_in(plain) for key in ("us", "uk")):
            yield plain


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.relative_to(CAPTURE).as_posix())
def test_every_sentence_with_a_word_of_the_table_is_said(path):
    assert list(unsaid(path.read_text(encoding="utf-8"))) == []


def test_a_sentence_left_out_would_be_found():
    assert list(
        unsaid('h("p", "No cart here", `The cart ${x} is`, say`A cart`, "div.cart", "./cart.js")')
    ) == [
        "No cart here",
        "The cart  is",
    ]
