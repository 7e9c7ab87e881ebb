"""What is known of a walk-round and of what went before it, as plain facts: what the rules of truthfulness are handed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Look:
    """One answer. number: its place in the sheet's order; minutes: what the sheet reckons for it; value: as entered, ""
    for none; meter: "engine_hours", "pump_hours", "km", or "" for no meter; answered_at: by the tablet's clock."""

    number: int
    check: str
    title: str
    walk_pass: int
    station: str
    place: str
    answer: str
    value: str
    unit: str
    minutes: Decimal
    answered_at: datetime
    meter: str = ""


@dataclass(frozen=True, slots=True)
class Shot:
    """A photo of the walk-round: its file's SHA-256, its look-alike hash (16 hex digits), the look it goes with."""

    sha256: str
    look_alike: str
    title: str
    station: str


@dataclass(frozen=True, slots=True)
class PickedLook:
    """A look that the yard's lot fell on; where: station and place; words: what was said with the answer."""

    title: str
    where: str
    answer: str
    words: str
    has_photo: bool


@dataclass(frozen=True, slots=True)
class PhotoLot:
    """What a walk-round's lot asked to be photographed. is_named: the record says which lot it was."""

    is_named: bool
    picked: tuple[PickedLook, ...]


@dataclass(frozen=True, slots=True)
class Walk:
    """A signed walk-round. started_at and ended_at (signing) are by the tablet's clock, like the looks' times; signed_at is
    the yard's. author: "" when it was no person of the yard, or the name is not confirmed yet. told: whether it told of
    something new. lot: None where its sheet gives none."""

    id: str
    cart: str
    purpose: str
    author: str
    author_name: str
    started_at: datetime
    ended_at: datetime
    signed_at: datetime
    told: bool
    looks: tuple[Look, ...]
    shots: tuple[Shot, ...] = ()
    lot: PhotoLot | None = None


@dataclass(frozen=True, slots=True)
class EarlierWalk:
    cart: str
    purpose: str
    author: str
    told: bool


@dataclass(frozen=True, slots=True)
class Reading:
    """A value measured on an earlier walk-round; unit and meter as in a look."""

    walk: str
    cart: str
    author: str
    check: str
    place: str
    value: str
    unit: str
    meter: str
    read_at: datetime


@dataclass(frozen=True, slots=True)
class MeterPoint:
    """What one meter of the cart (not its kind: a changed meter is another) showed at an instant."""

    meter: str
    kind: str
    value: Decimal
    read_at: datetime


@dataclass(frozen=True, slots=True)
class EarlierShot:
    """A photo of an earlier walk-round of any cart; where: which one, in words."""

    sha256: str
    look_alike: str
    where: str


@dataclass(frozen=True, slots=True)
class History:
    """What was known before a walk-round was signed, in any order.

    walks: the fleet's. readings: of the same cart, and of the same author on other carts with others' there. meters: the
    cart's. shots: the fleet's, at least those that look like one of the walk-round's own.
    """

    walks: tuple[EarlierWalk, ...] = ()
    readings: tuple[Reading, ...] = ()
    meters: tuple[MeterPoint, ...] = ()
    shots: tuple[EarlierShot, ...] = ()


Evidence = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Sign:
    """Something worth asking about. question: for the manager, never an accusation. evidence: (label, value) pairs."""

    code: str
    question: str
    evidence: Evidence
