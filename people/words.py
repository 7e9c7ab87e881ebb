"""The yard's words by its rule set: what an Australian yard calls a cart, a British one calls a bowser and an American one a
truck. Pure: text in, text out.

Every sentence of the house is written in Australian words. A table says what each is elsewhere, and it is read where text leaves
the house (people.say). Source: the list of screen words the yard gave (bowser, walkaround; water truck, pre-trip, off-rent); the
rest is common practice, no source. A word not in a table reads the same everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache

# One thing as it is written here, and there. A plural takes an s on both sides; what has none of its own (NO_PLURAL) does not.
TABLES: dict[str, dict[str, str]] = {
    "au": {},
    "uk": {
        "water cart": "bowser",
        "cart": "bowser",
        "walk-round": "walkaround",
    },
    "us": {
        "water cart": "water truck",
        "cart": "truck",
        "walk-round": "walk-around",
        "pre-start": "pre-trip",
        "off-hire": "off-rent",
        "off-hired": "off-rented",
        "off hire": "off rent",
        "on hire": "on rent",
        "on hire agreement": "on rental agreement",
        "hire agreement": "rental agreement",
        "hire desk": "rental desk",
        "tyre": "tire",
        "licence": "license",
        "litre": "liter",
        "windscreen": "windshield",
        "bonnet": "hood",
    },
}
NO_PLURAL = frozenset({"off-hired", "off hire", "on hire"})
# A word beside one of these is a part of something else: a compound, an address, a file's name, a code.
BEFORE = r"(?<![\w@./#=\\-])"
AFTER = r"(?![\w@=]|[-./:]\w)"
QUOTED = re.compile("“[^”]*(?:”|$)")


@dataclass(frozen=True, slots=True)
class Found:
    """One word of the table in a text: where it and the article before it stand, and what is written there instead."""

    start: int
    end: int
    word_start: int
    instead: str


class Wording:
    """One rule set's words. `key` is the rule set; `pairs` its table, plurals too, longest first."""

    def __init__(self, key: str, table: dict[str, str]) -> None:
        self.key = key
        plurals = {f"{one}s": f"{other}s" for one, other in table.items() if one not in NO_PLURAL}
        self.pairs = dict(sorted((table | plurals).items(), key=lambda pair: -len(pair[0])))
        words = "|".join(re.escape(one).replace(r"\ ", r"\s+") for one in self.pairs)
        self._pattern = (
            re.compile(rf"{BEFORE}(?:(an?)(\s+))?\b({words}){AFTER}", re.IGNORECASE) if table else None
        )

    def __bool__(self) -> bool:
        """Whether anything reads otherwise than it is written."""
        return self._pattern is not None

    def is_in(self, text: str) -> bool:
        """Whether any word of the table stands in the text."""
        return self._pattern is not None and self._pattern.search(text) is not None

    def find(self, text: str) -> Iterator[Found]:
        """Each word of the table in a text, from its beginning, with what is written instead in the same case."""
        if self._pattern is None:
            return
        for match in self._pattern.finditer(text):
            article, gap, word = match.groups()
            other = _in_its_case(word, self.pairs[" ".join(word.lower().split())])
            before = _article(article, word, other) + gap if article else ""
            yield Found(match.start(), match.end(), match.start(3), before + other)


@cache
def wording(key: str) -> Wording:
    """The words of a rule set: "au", "us" or "uk". ValueError for any other."""
    if key not in TABLES:
        raise ValueError(f"There is no rule set called {key}.")
    return Wording(key, TABLES[key])


def samples(key: str) -> tuple[tuple[str, str], ...]:
    """The table for people to look over: (as the house writes it, as it reads there), one of each; nothing for "au"."""
    return tuple(TABLES[key].items())


def _in_its_case(word: str, other: str) -> str:
    """The other word with the capitals of this one: "Water Cart" gives "Water Truck", "CART" gives "TRUCK"."""
    if word.isupper():
        return other.upper()
    old, gaps, new = word.split(), re.findall(r"\s+", word), other.split()
    if len(old) != len(new):
        return other[0].upper() + other[1:] if word[0].isupper() else other
    cased = [
        new_part[0].upper() + new_part[1:] if part[0].isupper() else new_part
        for part, new_part in zip(old, new, strict=True)
    ]
    # Whatever parts the words stays: a space that may not break, or a line's end.
    return "".join(part + gap for part, gap in zip(cased, [*gaps, ""], strict=True))


def _article(article: str, word: str, other: str) -> str:
    """The article for the other word; as it was where both begin alike. By the letter: no word of a table needs the ear."""
    is_vowel = other[0].lower() in "aeiou"
    if (word[0].lower() in "aeiou") == is_vowel:
        return article
    return article[0] + (("N" if article.isupper() and word.isupper() else "n") if is_vowel else "")


class Typed:
    """What people typed, and names: texts in which a word of the table is left as it stands."""

    def __init__(self, words: Wording) -> None:
        self._words = words
        self._texts: set[str] = set()
        # By the word as it stands there: the whole text, lower case, and how far into it the word begins.
        self._places: dict[str, set[tuple[str, int]]] = {}

    def __len__(self) -> int:
        return len(self._texts)

    def add(self, text: str) -> None:
        """Remember a text, line by line; what has no word of the table is not kept. A text of one bare word of the table is
        not either: it is a code of ours ("cart") far more often than something somebody said."""
        for line in text.splitlines():
            plain = line.strip().rstrip(".")
            if plain in self._texts or not self._words.is_in(plain) or plain.lower() in self._words.pairs:
                continue
            self._texts.add(plain)
            low = _even(plain)
            for found in self._words.find(plain):
                self._places.setdefault(low[found.word_start : found.end], set()).add((low, found.word_start))

    def escaped(self, escape: Callable[[str], str]) -> Typed:
        """The same texts as a page writes them."""
        other = Typed(self._words)
        for text in self._texts:
            other.add(text)
            other.add(escape(text))
        return other

    def holds(self, low: str, found: Found) -> bool:
        """Whether the word found stands in one of these texts, whole, in a text written lower case (`even`)."""
        for text, offset in self._places.get(low[found.word_start : found.end], ()):
            start = found.word_start - offset
            end = start + len(text)
            if (
                start >= 0
                and low.startswith(text, start)
                and not (_joins(low, start - 1) or _joins(low, end))
            ):
                return True
        return False


def _joins(text: str, at: int) -> bool:
    return 0 <= at < len(text) and text[at].isalnum()


_SPACES = str.maketrans({"\N{NO-BREAK SPACE}": " ", "\t": " ", "\n": " ", "\r": " "})


def _even(text: str) -> str:
    """Lower case and with plain spaces, character by character: places in it are places in the text."""
    even = text.translate(_SPACES)
    low = even.lower()
    # A few letters of other tongues grow when they are lowered.
    return (
        low
        if len(low) == len(even)
        else "".join(one.lower() if len(one.lower()) == 1 else one for one in even)
    )


def in_words(text: str, words: Wording, typed: Typed | None = None) -> str:
    """The text in these words. What stands in quotation marks “…” and what people typed are left as they are."""
    quoted: list[tuple[int, int]] | None = None
    low, parts, last = "", [], 0
    for found in words.find(text):
        if quoted is None:
            quoted = [match.span() for match in QUOTED.finditer(text)] if "“" in text else []
        if any(start <= found.word_start < end for start, end in quoted):
            continue
        if typed is not None and len(typed):
            low = low or _even(text)
            if typed.holds(low, found):
                continue
        parts += [text[last : found.start], found.instead]
        last = found.end
    return "".join(parts) + text[last:] if parts else text
