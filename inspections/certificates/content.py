"""The frozen content of the yard's two papers: the pre-hire certificate and the handover receipt.

Content is everything a paper says, as plain values, and nothing else: the page, the archive file and the attached
record are made from it alone, so the same content always gives the same paper. Its hash, the *record hash*, stands on
every foot.
What a test certificate states: ISO/IEC 17025:2017 7.8.2.1 as restated (V secondary).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TypeAlias

from inspections.certificates.frozen import check_frozen, from_plain, later, to_plain
from inspections.certificates.parts import (
    Cart,
    CertificateReference,
    Condition,
    Customer,
    Defect,
    Document,
    Extinguisher,
    Hire,
    Issuer,
    Item,
    JournalHead,
    LeftUnattended,
    Limit,
    Method,
    Pass,
    Person,
    Photo,
    Reading,
    Replaces,
    Signature,
    Station,
    Tyre,
    Verify,
)
from people.canonical import Plain, canonical_json, record_hash

VERSION = 1
CERTIFICATE = "pre_hire_certificate"
RECEIPT = "handover_receipt"
# A note of a receipt entered later than the cart left, with what stopped it then.
LEFT_ALTHOUGH = "Left although: "

ONLY_THIS_CART = (
    "These results concern only the cart named on page 1, as it was found at the times written here. They say nothing "
    "of any other cart, nor of this one after it is moved, worked on or altered."
)
NOT_IN_PART = "Copy it whole or not at all: a part of it may mislead."
CAUTIONS = (
    "This paper supports a competent person, the maker’s manual, site rules and the law. It replaces none.",
    "Tyre, brake, wheel, pressure and extinguisher work belongs to people licensed or trained for it.",
    "Any road fill given is advice from the figures entered: a weighbridge decides.",
    "Water in a part-filled tank moves: brake early and slow down before bends and slopes.",
    "Unless it says potable here, the water is not for drinking, and filling from a main needs backflow protection.",
    "The operator still does a pre-start before each day’s or shift’s first use.",
)


@dataclass(frozen=True, kw_only=True, slots=True)
class _Paper:
    """What both papers carry. Instants are written in `time_zone`, the hire's own."""

    number: str
    revision: int
    replaces: Replaces | None
    issued_at: str
    issued_by: Person
    time_zone: str
    rule_set: str
    issuer: Issuer
    customer: Customer
    hire: Hire
    cart: Cart
    limits: tuple[Limit, ...]
    passes: tuple[Pass, ...]
    stations: tuple[Station, ...]
    defects: tuple[Defect, ...]
    photos: tuple[Photo, ...]
    readings: tuple[Reading, ...]
    tyres: tuple[Tyre, ...]
    extinguishers: tuple[Extinguisher, ...]
    deviations: tuple[str, ...]
    outside: tuple[str, ...]
    signatures: tuple[Signature, ...]
    journal: JournalHead
    verify: Verify
    cautions: tuple[str, ...] = CAUTIONS
    concerns: str = ONLY_THIS_CART
    copying: str = NOT_IN_PART
    version: int = VERSION
    # By whose words it reads (people.words): what is printed around the content is put into them each time it is laid out.
    words: str = later("au")

    def to_json(self) -> Plain:
        """Return the content as plain JSON values, `from_json`'s inverse."""
        return to_plain(self)

    def canonical(self) -> bytes:
        """Return the record as canonical JSON bytes (RFC 8785), as it is attached to the file."""
        return canonical_json(to_plain(self))

    @property
    def record_sha256(self) -> str:
        """The record hash: SHA-256 of the canonical record, 64 hex digits."""
        return record_hash(to_plain(self))

    def _check(self) -> None:
        check_frozen(self)
        if self.version != VERSION:
            raise ValueError(
                f"This paper was written in version {self.version}; this program reads {VERSION}."
            )
        if self.revision < 1 or (self.revision > 1) != (self.replaces is not None):
            raise ValueError("Revision 1 replaces nothing; every later one names what it replaces, and why.")
        if not self.signatures:
            raise ValueError("A paper nobody signed is no paper.")
        numbers = [photo.number for photo in self.photos]
        if len(set(numbers)) != len(numbers):
            raise ValueError("Two photos carry one number.")
        if missing := sorted(set(self._photos_named()) - set(numbers)):
            raise ValueError(f"Photo {missing[0]} is spoken of but not among the photos.")
        for signature in self.signatures:
            _check_signature(signature)
        for defect in self.defects:
            if (
                defect.grade == "do_not_use"
                and not (defect.isolated and self.limits)
                and not self._says_although()
            ):
                raise ValueError(f"An open do-not-use defect holds the cart: {defect.title}.")

    def _says_although(self) -> bool:
        """Whether it says that the cart left although something stopped it, which a receipt of a cart that is gone may."""
        return False

    def _photos_named(self) -> Iterator[int]:
        for station in self.stations:
            for result in station.results:
                yield from result.photos
        for defect in self.defects:
            yield from defect.photos


@dataclass(frozen=True, kw_only=True, slots=True)
class PreHireCertificate(_Paper):
    """May this cart go on this hire: `outcome` ready or conditions, never held.

    It holds until the cart is moved or worked on, and no longer than `holds_until_at`; `holds_longer` says until when over days the
    yard is closed and on what ("": no longer). Construction raises ValueError where the parts contradict each other.
    """

    outcome: str
    holds_until_at: str
    method: Method
    documents: tuple[Document, ...]
    kind: str = CERTIFICATE
    holds_longer: str = later("")

    def __post_init__(self) -> None:
        if self.kind != CERTIFICATE:
            raise ValueError(f"{self.kind} is not a pre-hire certificate.")
        self._check()
        conditions = bool(self.limits or self.passes or any(d.grade == "by_date" for d in self.defects))
        if self.outcome not in ("ready", "conditions"):
            raise ValueError("Only a cart that may go gets a certificate.")
        if conditions != (self.outcome == "conditions"):
            raise ValueError(
                "A cart goes with limits exactly when a limit, a pass or a repair by a date is named."
            )


@dataclass(frozen=True, kw_only=True, slots=True)
class HandoverReceipt(_Paper):
    """What left, where and when, and who took it: signed by the customer (`received`) or left with nobody there
    (`left`), exactly one of the two.

    `method` is the gate-out check, `notes` the driver's lines ("Full tank: not on a public road"). Construction raises
    ValueError where the parts contradict each other.
    """

    certificate: CertificateReference
    method: Method
    handed_over_at: str
    handed_over_place: str
    how: str
    condition: tuple[Condition, ...]
    items: tuple[Item, ...]
    notes: tuple[str, ...]
    received: Signature | None
    left: LeftUnattended | None
    kind: str = RECEIPT

    def _says_although(self) -> bool:
        return any(note.startswith(LEFT_ALTHOUGH) for note in self.notes)

    def __post_init__(self) -> None:
        if self.kind != RECEIPT:
            raise ValueError(f"{self.kind} is not a handover receipt.")
        self._check()
        if (self.received is None) == (self.left is None):
            raise ValueError(
                "A cart is either signed for or left with nobody present, and the receipt says which."
            )
        if self.received is not None:
            _check_signature(self.received)
        if self.left is not None and not self.left.photos:
            raise ValueError("A cart left with nobody present is photographed where it stands.")
        numbers = {photo.number for photo in self.photos}
        named = {n for condition in self.condition for n in condition.photos} | set(
            self.left.photos if self.left else ()
        )
        if missing := sorted(named - numbers):
            raise ValueError(f"Photo {missing[0]} is spoken of but not among the photos.")


Paper: TypeAlias = PreHireCertificate | HandoverReceipt


def from_json(plain: object) -> Paper:
    """Return the paper a plain record stands for.

    ValueError for another kind, version or shape, or parts that contradict each other.
    """
    kind = plain.get("kind") if isinstance(plain, dict) else None
    if kind == CERTIFICATE:
        return from_plain(PreHireCertificate, plain)
    if kind == RECEIPT:
        return from_plain(HandoverReceipt, plain)
    raise ValueError("This record is neither a pre-hire certificate nor a handover receipt.")


def _check_signature(signature: Signature) -> None:
    if signature.kind not in ("drawn", "typed"):
        raise ValueError("A signature is drawn or typed.")
    if not signature.name.strip() or not signature.statement.strip():
        raise ValueError("A signature carries the signer's name and what they meant by it.")
    if (signature.kind == "drawn") != any(len(stroke) > 1 for stroke in signature.strokes):
        raise ValueError("A drawn signature has its strokes, a typed one has none.")
