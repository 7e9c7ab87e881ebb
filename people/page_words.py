"""A page in the yard's words: its text and the attributes people read, and nothing that somebody typed. Pure.

Left as they are: tags, addresses, values of fields, comments; what stands in an element of KEPT or under `data-typed`; what
stands in quotation marks “…”, also where a tag parts it; and the texts handed in as typed (people.words.Typed).
"""

from __future__ import annotations

import re
from html import escape

from people.words import Typed, Wording, in_words

# A quotation, what is typed into, a code, or no text at all.
KEPT = frozenset({"script", "style", "textarea", "code", "pre", "kbd", "q", "blockquote"})
RAW = frozenset({"script", "style", "textarea"})
VOID = frozenset(
    {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
)
# A quotation goes on through these; any other tag ends it.
INLINE = frozenset(
    {"a", "abbr", "b", "bdi", "br", "em", "i", "mark", "small", "span", "strong", "sub", "sup", "time", "wbr"}
)
TOKEN = re.compile(r"""<!--.*?-->|<(/?)([a-zA-Z][\w:-]*)((?:[^<>"']|"[^"]*"|'[^']*')*)>|[^<]+|<""", re.DOTALL)
READ = re.compile(
    r"""(\s(?:title|aria-label|aria-description|placeholder|alt|label|hx-confirm)=)("[^"]*"|'[^']*')"""
)
VALUE = re.compile(r"""(\svalue=)("[^"]*"|'[^']*')""")
IS_BUTTON = re.compile(r"""\stype=["']?(?:submit|button|reset)\b""")


def page_in_words(page: str, words: Wording, typed: Typed) -> str:
    """The page, or a fragment of one, in these words; the very same where no word of the table stands in it."""
    return _Page(words, typed.escaped(escape)).read(page) if words.is_in(page) else page


class _Page:
    def __init__(self, words: Wording, typed: Typed) -> None:
        self._words, self._typed = words, typed
        self._is_quoted = False
        self._kept, self._depth = "", 0

    def read(self, page: str) -> str:
        parts, at = [], 0
        while match := TOKEN.match(page, at):
            token, at = match[0], match.end()
            name = (match[2] or "").lower()
            if name:
                parts.append(self._tag(token, name, is_end=bool(match[1])))
                if name in RAW and not match[1]:
                    end = page.lower().find(f"</{name}", at)
                    end = len(page) if end < 0 else end
                    parts.append(page[at:end])
                    at = end
            else:
                parts.append(token if self._kept or token.startswith("<") else self._text(token))
        return "".join(parts)

    def _tag(self, tag: str, name: str, *, is_end: bool) -> str:
        if name not in INLINE:
            self._is_quoted = False
        if self._kept:
            if name == self._kept and not tag.endswith("/>"):
                self._depth += -1 if is_end else 1
                self._kept = self._kept if self._depth else ""
            return tag
        if is_end:
            return tag
        is_typed = " data-typed" in tag
        if (name in KEPT or is_typed) and name not in VOID and not tag.endswith("/>"):
            self._kept, self._depth = name, 1
        return tag if is_typed else self._attributes(tag, name)

    def _attributes(self, tag: str, name: str) -> str:
        if not self._words.is_in(tag):
            return tag
        tag = READ.sub(self._attribute, tag)
        return VALUE.sub(self._attribute, tag) if name == "input" and IS_BUTTON.search(tag) else tag

    def _attribute(self, match: re.Match[str]) -> str:
        return match[1] + match[2][0] + in_words(match[2][1:-1], self._words, self._typed) + match[2][-1]

    def _text(self, text: str) -> str:
        before = ""
        if self._is_quoted:
            quoted, closing, text = text.partition("”")
            before = quoted + closing
            self._is_quoted = not closing
        if text:
            self._is_quoted = text.rfind("“") > text.rfind("”")
        return before + in_words(text, self._words, self._typed)
