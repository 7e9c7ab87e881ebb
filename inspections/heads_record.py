"""Reading a signed flow and evenness test off the wire. What a person can mend is refused in words about the head it is at."""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from inspections.manifest import (
    Author,
    ManifestRefused,
    Reader,
    Signed,
    read_author,
    read_signature,
    text_of,
)
from people.canonical import sha256_hex

VERSION = 1
MOST_HEADS = 100
# As many as its column keeps.
MOST_WORDS = 160


@dataclass(frozen=True)
class GivenCatch:
    head_id: uuid.UUID
    litres: Decimal
    seconds: Decimal
    caught_at: datetime


@dataclass(frozen=True)
class HeadsRecord:
    """A signed test as sent; `text` is its RFC 8785 form and `sha256` the hash the signature is bound to."""

    id: uuid.UUID
    cart_id: uuid.UUID
    sheet_id: uuid.UUID
    pressure_kpa: Decimal
    catches: tuple[GivenCatch, ...]
    words: str
    device_signed_at: datetime
    clock_offset_ms: int
    author: Author
    signature: Signed
    text: str
    sha256: str

    @property
    def caught(self) -> dict[uuid.UUID, tuple[Decimal, Decimal]]:
        return {one.head_id: (one.litres, one.seconds) for one in self.catches}


def _figure(read: Reader, name: str, *, whole: int, decimals: int, what: str) -> Decimal:
    typed = read.text(name, most=20)
    if not re.fullmatch(rf"[0-9]{{1,{whole}}}(\.[0-9]{{1,{decimals}}})?", typed):
        step = Decimal(1).scaleb(-decimals)
        raise ManifestRefused(
            f"{what}: {typed} was entered. It takes at most {10**whole - step:,}, in steps of {step}."
        )
    return Decimal(typed)


def _catch(value: object) -> GivenCatch:
    read = Reader(value, "catch")
    head = read.text("name", most=30)
    return GivenCatch(
        head_id=read.id("head"),
        litres=_figure(read, "litres", whole=4, decimals=2, what=f"Litres of {head}"),
        seconds=_figure(read, "seconds", whole=4, decimals=1, what=f"Seconds of {head}"),
        caught_at=read.moment("at"),
    )


def read_heads_record(value: object) -> HeadsRecord:
    """The test a JSON body holds. ManifestRefused with a sentence for anything the page could not have sent, or a figure that
    is out of range."""
    read = Reader(value, "body")
    if read.whole("version") != VERSION or read.text("kind") != "heads_test":
        raise ManifestRefused("This record is in a form this version of Slake cannot read.")
    catches = tuple(_catch(one) for one in read.items("catches", most=MOST_HEADS))
    if not catches:
        raise ManifestRefused("No head was caught. Catch at least one, then sign the test.")
    if len({one.head_id for one in catches}) != len(catches):
        raise ManifestRefused("The record has two catches of one head.")
    text = text_of(value)
    return HeadsRecord(
        id=read.id("id"),
        cart_id=read.id("cart"),
        sheet_id=read.id("sheet"),
        pressure_kpa=_figure(read, "pressure_kpa", whole=6, decimals=1, what="Pressure at the heads, kPa"),
        catches=catches,
        words=read.text("words", most=MOST_WORDS, blank=True),
        device_signed_at=read.moment("signed_at"),
        clock_offset_ms=read.inner("device").whole("offset_ms"),
        author=read_author(read.inner("author")),
        signature=read_signature(read.inner("signature")),
        text=text,
        sha256=sha256_hex(text),
    )
