"""Which characters the shipped typefaces can print, and an honest stand-in for those they cannot."""

import unicodedata
from functools import cache
from pathlib import Path

from fontTools.ttLib import TTFont  # type: ignore[import-untyped]

STATIC = Path(__file__).resolve().parents[2] / "static" / "certificates"


class _Printable(dict[int, str]):
    """A translation table: what is covered stays, invisible controls go, the rest shows its code point."""

    def __init__(self, covered: frozenset[int]) -> None:
        super().__init__({code: chr(code) for code in covered | {0x09, 0x0A, 0x0D}})

    def __missing__(self, code: int) -> str:
        if unicodedata.category(chr(code)) in ("Cc", "Cf", "Cs"):
            return ""
        return f"[U+{code:04X}]"


def printable(text: str) -> str:
    """Return text the shipped typefaces can print in full.

    A missing glyph would print as an empty box and break the archive format, so such a character stands as its code,
    [U+4E2D]; the attached record keeps the true one. Characters are composed first (NFC); direction marks and other
    invisible controls, which could make a page read otherwise than its record, are left out.
    """
    return unicodedata.normalize("NFC", text).translate(_table())


@cache
def _table() -> _Printable:
    covered: set[int] = set()
    for path in sorted((STATIC / "fonts").glob("*-400-normal.woff2")):
        if "-mono-" not in path.name:
            with TTFont(path, lazy=True) as font:
                covered |= set(font.getBestCmap())
    return _Printable(frozenset(covered))
