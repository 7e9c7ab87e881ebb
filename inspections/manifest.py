"""Reading a signed manifest off the wire. Shape is checked here; values never are: what was signed is always kept."""

from __future__ import annotations

import re
import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

from inspections.vocabulary import ANSWERS, GRADE_KEYS, PURPOSE_KEYS, WHY_NOT
from people.canonical import canonical_text, sha256_hex
from people.refusals import Refusal

VERSIONS = (1, 2)
MOST_ANSWERS = 400
MOST_WORDS = 2000
MOST_POINTS = 20_000
MOST_LOT = 64
LAST_YEAR = 9998
# What the database cannot keep as text: a zero character, or half of a surrogate pair.
_UNKEEPABLE = re.compile("[\x00\ud800-\udfff]")
_SHA256 = re.compile(r"[0-9a-f]{64}")


class ManifestRefused(Refusal):
    """The record is not one the page could have made. The tablet keeps it for a person to look at."""


@dataclass(frozen=True)
class GivenAnswer:
    number: int
    check: str
    place: str
    answer: str
    value: str
    unit: str
    choice: str
    grade: str
    words: str
    why: str
    photos: tuple[str, ...]
    answered_at: datetime


@dataclass(frozen=True)
class Author:
    """Who signed on the tablet, as the tablet knew them. by_name: they took it by name alone, with no signal."""

    id: uuid.UUID
    name: str
    by_name: bool = False


@dataclass(frozen=True)
class Signed:
    kind: str
    name: str
    statement: str


@dataclass(frozen=True)
class Manifest:
    """A signed walk-round as sent; `text` is its RFC 8785 form and `sha256` the hash the signature is bound to."""

    id: uuid.UUID
    cart_id: uuid.UUID
    purpose: str
    edition_number: int
    edition_sha256: str
    rule_set: str
    started_at: datetime
    device_signed_at: datetime
    clock_offset_ms: int
    answers: tuple[GivenAnswer, ...]
    signature: Signed
    # Null in version 1, which names nobody: its sender signed it.
    author: Author | None
    # The yard's lot the walk was begun with; "" when the list gave none.
    lot: str
    text: str
    sha256: str

    def photo_hashes(self) -> frozenset[str]:
        return frozenset(sha256 for answer in self.answers for sha256 in answer.photos)


class Reader:
    """Takes typed values out of a JSON object, naming in each refusal what is wrong and where."""

    def __init__(self, value: object, where: str) -> None:
        if not isinstance(value, Mapping):
            raise ManifestRefused(f"The record's {where} is not an object.")
        self.value, self.where = value, where

    def _fail(self, name: str, wanted: str) -> ManifestRefused:
        return ManifestRefused(f"The record's {self.where} has no proper “{name}”: {wanted}.")

    def text(self, name: str, *, most: int = 200, blank: bool = False) -> str:
        found = self.value.get(name)
        found = "" if found is None and blank else found
        if not isinstance(found, str) or len(found) > most or not (found.strip() or blank):
            raise self._fail(name, f"text of at most {most} characters")
        if _UNKEEPABLE.search(found):
            raise self._fail(name, "text without broken characters")
        return found

    def one_of(self, name: str, allowed: tuple[str, ...], *, blank: bool = False) -> str:
        found = self.text(name, blank=blank)
        if found not in allowed and not (blank and not found):
            raise self._fail(name, f"one of {', '.join(allowed)}")
        return found

    def whole(self, name: str) -> int:
        found = self.value.get(name)
        if not isinstance(found, int) or isinstance(found, bool) or abs(found) > 2**53 - 1:
            raise self._fail(name, "a whole number")
        return found

    def id(self, name: str) -> uuid.UUID:
        try:
            return uuid.UUID(self.text(name))
        except ValueError:
            raise self._fail(name, "an id") from None

    def moment(self, name: str) -> datetime:
        try:
            found = datetime.fromisoformat(self.text(name))
            # A tablet whose battery died says 1970 and is kept; a year no screen could show in its own zone is not.
            if found.tzinfo is not None and 1970 <= found.year <= LAST_YEAR:
                return found.astimezone(UTC)
        except (ValueError, OverflowError):
            pass
        raise self._fail(name, "a time with its offset")

    def items(self, name: str, *, most: int) -> list[object]:
        found = self.value.get(name)
        if not isinstance(found, list) or len(found) > most:
            raise self._fail(name, f"a list of at most {most}")
        return found

    def inner(self, name: str) -> Reader:
        return Reader(self.value.get(name), name)


def _answer(value: object, number: int) -> GivenAnswer:
    read = Reader(value, f"answer {number}")
    photos = read.items("photos", most=12)
    if not all(isinstance(sha256, str) and _SHA256.fullmatch(sha256) for sha256 in photos):
        raise ManifestRefused(f"The record's answer {number} names a photo by something other than its hash.")
    return GivenAnswer(
        number=read.whole("n"),
        check=read.text("check", most=80),
        place=read.text("place", most=40, blank=True),
        answer=read.one_of("answer", ANSWERS),
        value=read.text("value", most=40, blank=True),
        unit=read.text("unit", most=12, blank=True),
        choice=read.text("choice", most=40, blank=True),
        grade=read.one_of("grade", GRADE_KEYS, blank=True),
        words=read.text("words", most=MOST_WORDS, blank=True),
        why=read.one_of("why", tuple(WHY_NOT), blank=True),
        photos=tuple(str(sha256) for sha256 in photos),
        answered_at=read.moment("at"),
    )


def read_signature(read: Reader) -> Signed:
    kind = read.one_of("kind", ("drawn", "typed"))
    strokes = read.items("strokes", most=2000)
    points = 0
    for stroke in strokes:
        if not isinstance(stroke, list) or not all(
            isinstance(point, list) and len(point) == 3 and all(type(part) is int for part in point)
            for point in stroke
        ):
            raise ManifestRefused("The record's signature has a stroke that is not a list of points.")
        points += len(stroke)
    if (kind == "drawn") != (points > 1) or points > MOST_POINTS:
        raise ManifestRefused("A drawn signature has its strokes; a typed one has none.")
    return Signed(kind, read.text("name", most=120), read.text("statement", most=400))


def read_author(read: Reader) -> Author:
    how = read.one_of("how", ("sign_in", "name"), blank=True)
    return Author(read.id("id"), read.text("name", most=120), by_name=how == "name")


def text_of(value: object) -> str:
    """The canonical text of a record. ManifestRefused where it has none."""
    try:
        return canonical_text(value)
    except (TypeError, ValueError, RecursionError) as error:
        raise ManifestRefused(
            "The record holds a number that is not whole, or what no tablet writes: measured values travel as text."
        ) from error


def read_manifest(value: object) -> Manifest:
    """The manifest a JSON body holds. ManifestRefused with a sentence for anything the page could not have sent.

    Answers keep their order and are numbered from 1 without gaps; the same check at the same place stands once.
    """
    read = Reader(value, "body")
    version = read.whole("version")
    if version not in VERSIONS:
        raise ManifestRefused("This record is in a form this version of Slake cannot read.")
    answers = tuple(
        _answer(item, n) for n, item in enumerate(read.items("answers", most=MOST_ANSWERS), start=1)
    )
    if [answer.number for answer in answers] != list(range(1, len(answers) + 1)):
        raise ManifestRefused("The record's answers are not numbered in order.")
    if len({(answer.check, answer.place) for answer in answers}) != len(answers):
        raise ManifestRefused("The record answers one check twice at one place.")
    edition, device = read.inner("edition"), read.inner("device")
    text = text_of(value)
    return Manifest(
        id=read.id("id"),
        cart_id=read.id("cart"),
        purpose=read.one_of("purpose", PURPOSE_KEYS),
        edition_number=edition.whole("number"),
        edition_sha256=edition.text("sha256"),
        rule_set=read.one_of("rule_set", ("au", "us", "uk")),
        started_at=read.moment("started_at"),
        device_signed_at=read.moment("signed_at"),
        clock_offset_ms=device.whole("offset_ms"),
        answers=answers,
        signature=read_signature(read.inner("signature")),
        author=read_author(read.inner("author")) if version > 1 else None,
        lot=read.text("lot", most=MOST_LOT, blank=True),
        text=text,
        sha256=sha256_hex(text),
    )
