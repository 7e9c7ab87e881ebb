"""A paper in the words of its yard, frozen with it: what it says reads the same each time it is laid out.

At issue the sentences of the house within the content are put into the yard's words, and the key of those words is kept. When it
is laid out the content stands as it was frozen; headings and the like, which are the template's, follow the key. A paper without
one was printed in the words of the house ("au").
"""

from __future__ import annotations

from typing import TypeVar, cast

from inspections.certificates.content import HandoverReceipt, Paper, PreHireCertificate, from_json
from people.canonical import Plain
from people.page_words import page_in_words
from people.say import say_all, yard_words
from people.words import Typed, wording

AnyPaper = TypeVar("AnyPaper", PreHireCertificate, HandoverReceipt)
# What stands for itself: keys, addresses, and the words somebody put their name to.
AS_IT_IS = frozenset(
    {
        "id",
        "kind",
        "check",
        "key",
        "answer",
        "grade",
        "verify",
        "statement",
        "journal",
        "method",
        "issuer",
        "customer",
    }
)


def paper_in_words(page: str, paper: Paper) -> str:
    """The laid-out page of a paper in the words it was frozen with."""
    words = wording(paper.words)
    if not words:
        return page
    frozen = Typed(words)
    for text in _texts(paper.to_json()):
        frozen.add(text)
    return page_in_words(page, words, frozen)


def said_paper(paper: AnyPaper) -> AnyPaper:
    """The content of a paper with the sentences of the house in the yard's words and their key, at issue; what was read from
    records of what people typed stays (people.say)."""
    words = yard_words()
    if not words:
        return paper
    plain = cast("dict[str, Plain]", paper.to_json())
    return cast(AnyPaper, from_json(say_all(plain, but=AS_IT_IS) | {"words": words.key}))


def _texts(plain: Plain) -> list[str]:
    if isinstance(plain, str):
        return [plain]
    parts = plain.values() if isinstance(plain, dict) else plain if isinstance(plain, list) else ()
    return [text for part in parts for text in _texts(part)]
