"""A yard of another rule set, for as long as a test needs it: its policy, its words, and the fields that are heeded for them."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from inspections import shell
from people.page_words import page_in_words
from people.say import heed_fields, let_fields_be, reading
from people.words import Typed, in_words, wording
from people.yard import yard_policy

REGIONS = {"au": "SA", "us": "", "uk": "ENG"}
CACHES = (yard_policy, shell.shell_files, shell.shell_set)


def _forget() -> None:
    for cached in CACHES:
        cached.cache_clear()


@contextmanager
def rule_set(key: str, settings: Any) -> Iterator[None]:
    """`settings` is pytest-django's; a client made inside has the middleware of that yard."""
    before = settings.YARD_RULE_SET, settings.YARD_HOLIDAY_REGION
    settings.YARD_RULE_SET, settings.YARD_HOLIDAY_REGION = key, REGIONS[key]
    _forget()
    if key != "au":
        heed_fields()
    try:
        with reading():
            yield
    finally:
        let_fields_be()
        settings.YARD_RULE_SET, settings.YARD_HOLIDAY_REGION = before
        _forget()


def left_over(page: str, key: str, *typed: str) -> list[str]:
    """The words of the house that still stand in a page, each with what is round it; but for these typed texts."""
    words, kept = wording(key), Typed(wording(key))
    for text in typed:
        kept.add(text)
    said = page_in_words(page, words, kept)
    if said == page:
        return []
    lines = zip(page.splitlines(), said.splitlines(), strict=True)
    return [before.strip()[:300] for before, after in lines if before != after]


def left_over_in(text: str, key: str) -> bool:
    """Whether a word of the house still stands in a plain text."""
    return in_words(text, wording(key)) != text
