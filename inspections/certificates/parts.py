"""The parts both papers are made of, each a frozen row of plain values.

Measurements are decimal strings with their unit beside them. `_at` is an ISO 8601 instant written with the offset of
the hire's own time zone ("2026-11-25T16:42:00+10:30"), `_on` an ISO day or month. Empty text: nothing to
state.
"""

from dataclasses import dataclass

from inspections.certificates.frozen import later


@dataclass(frozen=True, kw_only=True, slots=True)
class Issuer:
    """The yard that issues the paper, as it stood on that day."""

    name: str
    address: tuple[str, ...]
    contact: tuple[str, ...]
    business_number: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Customer:
    """Who hires the cart, and whom to reach there."""

    name: str
    contact_name: str
    phone: str = ""
    email: str = ""
    address: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Hire:
    """The hire agreement's line the paper is for. `ends_at` is None for a hire with no end in sight; the end is not
    part of the period. `leaves` and `works` are plain words: "driven on a public road", "site only"."""

    agreement: str
    place_of_work: str
    starts_at: str
    ends_at: str | None
    order_number: str = ""
    leaves: str = ""
    works: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Gear:
    """Something fitted to the cart, with the maker, size or plate where it is known."""

    name: str
    detail: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Cart:
    """Which cart. `axles` is words ("6x4, three axles"), `tank_l` the whole tank in litres."""

    id: str
    fleet_number: str
    plate: str
    vin: str
    make: str
    model: str
    build_year: int | None
    tank_l: int | None
    tank_material: str
    axles: str = ""
    steering_side: str = ""
    gear: tuple[Gear, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Method:
    """The signed walk-round a paper rests on: which sheet, which edition, where and when.

    `walk_round_sha256` is the hash of the signed record, `edition_sha256` that of the sheet as published.
    """

    walk_round_id: str
    walk_round_sha256: str
    sheet: str
    edition: int
    edition_sha256: str
    place: str
    started_at: str
    signed_at: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Limit:
    """Gear the hire does not need, isolated and tagged, so that the cart goes with a limit; or, with no tag and `told` other than
    "Isolated", what a paper of the cart holds only with."""

    what: str
    why: str
    tag: str
    by: str
    role: str
    tagged_at: str
    told: str = "Isolated"


@dataclass(frozen=True, kw_only=True, slots=True)
class Pass:
    """A rule passed by authority. It ends at `ends_at`, or when `ends_when` happens, or at the earlier of the two. One given by
    phone was spoken at `spoken_at` and entered at `given_at`; `confirmed_at` missing: its giver had not confirmed it yet."""

    rule: str
    found: str
    reason: str
    by: str
    role: str
    given_at: str
    ends_at: str | None = None
    ends_when: str = ""
    second_name: str = ""
    second_role: str = ""
    condition: str = ""
    done_instead: str = ""
    told: str = ""
    spoken_at: str | None = later(None)
    entered_by: str | None = later(None)
    confirmed_at: str | None = later(None)


@dataclass(frozen=True, kw_only=True, slots=True)
class Result:
    """One answered check.

    `answer` is good, wrong, not_on_cart or could_not_check; `why` the key of why it could not be checked. `value` is a
    decimal string, an ISO month or day off a tag, or None; `limit` is words ("at least 3.0 mm"); `verdict` says how the
    value stood to its limit in the words of the day ("within limit"). `photos` are numbers of the paper's photos.
    """

    number: int
    check: str
    title: str
    answer: str
    place: str = ""
    why: str = ""
    words: str = ""
    value: str | None = None
    unit: str = ""
    limit: str = ""
    verdict: str = ""
    grade: str | None = None
    photos: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Station:
    """A place on the lap with its results, in the order they were answered."""

    key: str
    label: str
    results: tuple[Result, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Defect:
    """An open defect, in full. `isolated` says its gear is tagged out of use under one of the paper's limits."""

    reference: str
    title: str
    place: str
    grade: str
    words: str
    told_at: str
    due_on: str | None = None
    state: str = ""
    isolated: bool = False
    photos: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Photo:
    """A photo of the record. `sha256` is the hash of the bytes as the camera gave them, `print_sha256` that of the
    print-size copy on the page."""

    number: int
    sha256: str
    print_sha256: str
    item: str
    place: str
    taken_at: str
    width_px: int
    height_px: int
    caption: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """A meter, fuel or water reading in the unit it was read in."""

    name: str
    value: str
    unit: str
    read_at: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Tyre:
    """A tyre in its wheel position, with the least depth found and the depth the yard changes it out at."""

    position: str
    place: str
    depth_mm: str
    limit_mm: str
    measured_on: str
    make: str = ""
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class NextDate:
    """What falls due, and when."""

    kind: str
    due_on: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Extinguisher:
    """An extinguisher aboard, with its next dates, soonest first."""

    serial: str
    place: str
    kind: str
    dates: tuple[NextDate, ...]
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Document:
    """A paper of the cart or the yard: registration, insurance, rollover plate. `valid_until_on` is None where it has
    no end."""

    kind: str
    number: str
    valid_until_on: str | None
    note: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Signature:
    """A person's signature with what they meant by it.

    `kind` is drawn or typed, of equal standing. `part` says what they did ("Walked the cart and signed the check").
    `strokes` are lists of (x, y, milliseconds) points as drawn; none for a typed one.
    """

    kind: str
    name: str
    role: str
    part: str
    statement: str
    signed_at: str
    organisation: str = ""
    how: str = ""
    strokes: tuple[tuple[tuple[int, ...], ...], ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class Person:
    """Someone by name and role."""

    name: str
    role: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Replaces:
    """The earlier number this one stands in for, and why."""

    number: str
    why: str


@dataclass(frozen=True, kw_only=True, slots=True)
class JournalHead:
    """Where the cart's journal stood when the paper was made: an anchor outside the database."""

    chain: str
    position: int
    sha256: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Verify:
    """How to check the paper: the full address in the QR mark, the short one in type, and the code in it."""

    url: str
    address: str
    code: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """Something handed over with the cart."""

    name: str
    count: int
    serial: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Condition:
    """How one place of the cart looked as it went out."""

    place: str
    words: str
    photos: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True, slots=True)
class CertificateReference:
    """The certificate a receipt rests on. `record_sha256` is its own record hash, as on its every foot."""

    number: str
    revision: int
    issued_at: str
    record_sha256: str


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftUnattended:
    """The cart was left and nobody was there to sign: by whom, where, when, what was done with the keys, and proof."""

    by: Person
    place: str
    left_at: str
    keys: str
    words: str
    photos: tuple[int, ...]
