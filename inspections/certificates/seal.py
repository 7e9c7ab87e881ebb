"""Seal a finished paper with the yard's own key, and check a seal.

An invisible PAdES B-B signature that certifies the file and allows no change. It says "this yard's program issued this
file", not that a person signed it, and carries no trusted time: the time in it is the one it was handed.
"""

import datetime
import hashlib
import io
from dataclasses import dataclass
from pathlib import Path

from asn1crypto import x509 as asn1_x509  # type: ignore[import-untyped]
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.pdf_utils.writer import BasePdfFileWriter
from pyhanko.sign import fields, signers
from pyhanko.sign.signers.constants import ESIC_EXTENSION_1
from pyhanko.sign.signers.pdf_signer import PdfSigningSession
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from inspections.certificates.keys import fingerprint, load_certificate
from inspections.certificates.proof import is_same_file

FIELD = "Seal"


class SealKeyUnusable(Exception):
    """The key or certificate cannot be read, or they do not belong together. Nothing was sealed."""


@dataclass(frozen=True, slots=True)
class SealedPdf:
    """A sealed file: its bytes, their SHA-256, and the SHA-256 fingerprint of the certificate it is sealed with."""

    data: bytes
    sha256: str
    fingerprint: str


@dataclass(frozen=True, slots=True)
class SealCheck:
    """What a check found. `faults` are plain sentences; none means the file is exactly the one sealed and kept."""

    faults: tuple[str, ...]
    sha256: str
    sealed_at: datetime.datetime | None

    @property
    def is_genuine(self) -> bool:
        return not self.faults


class _Writer(IncrementalPdfFileWriter):
    """Appends the seal and leaves the file's own dates as issued: they come from the record, not from a clock."""

    def _update_meta(self) -> None:
        pass


class _Signer(signers.PdfSigner):
    """Writes the instant it is handed into the seal, where the library would read the clock."""

    def __init__(
        self, metadata: signers.PdfSignatureMetadata, signer: signers.Signer, at: datetime.datetime
    ) -> None:
        super().__init__(metadata, signer=signer, new_field_spec=fields.SigFieldSpec(FIELD))
        self._at = at

    def register_extensions(self, pdf_out: BasePdfFileWriter, *, md_algorithm: str) -> None:
        # The library would also declare an extension of PDF 2.0 for this kind of key, which PDF/A-3 has no room for.
        pdf_out.register_extension(ESIC_EXTENSION_1)

    def init_signing_session(
        self,
        pdf_out: BasePdfFileWriter,
        existing_fields_only: bool = False,  # noqa: FBT001, FBT002 -- the library's
    ) -> PdfSigningSession:
        session = super().init_signing_session(pdf_out, existing_fields_only)
        session.system_time = self._at
        return session


def seal(pdf: bytes, *, key_file: Path, cert_file: Path, at: datetime.datetime) -> SealedPdf:
    """Return the file with the yard's seal appended; everything before it stays byte for byte.

    `at` is an aware instant within the certificate's life. SealKeyUnusable where the key cannot serve.
    """
    certificate = _certificate(cert_file)
    signer = signers.SimpleSigner.load(str(key_file), str(cert_file))  # type: ignore[no-untyped-call]
    if signer is None:
        raise SealKeyUnusable(f"The seal key {key_file} cannot be read.")
    metadata = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        certify=True,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
    )
    sealed = _Signer(metadata, signer, at).sign_pdf(_Writer(io.BytesIO(pdf))).getvalue()
    digest = hashlib.sha256(sealed).hexdigest()
    # A key beside the wrong certificate seals without complaint; such a file must never be issued.
    if faults := check_seal(sealed, cert=certificate, stored_sha256=digest).faults:
        raise SealKeyUnusable(f"The seal does not hold: {' '.join(faults)}")
    return SealedPdf(data=sealed, sha256=digest, fingerprint=fingerprint(certificate))


def check_seal(data: bytes, *, cert: x509.Certificate, stored_sha256: str) -> SealCheck:
    """Check a file against our own certificate and the SHA-256 kept when it was sealed.

    Both are needed: bytes appended after the seal, or put into the hole the seal itself sits in, leave a plain
    signature check content. Never raises for what is in the file; a file no reader can read is a fault like any other.
    """
    digest = hashlib.sha256(data).hexdigest()
    faults = (
        []
        if is_same_file(digest, stored_sha256=stored_sha256)
        else ["The file is not the one the yard keeps."]
    )
    sealed_at = None
    try:
        signatures = PdfFileReader(io.BytesIO(data)).embedded_signatures
        if len(signatures) != 1:
            faults.append(f"The file carries {len(signatures)} seals where there is one.")
        else:
            sealed_at = signatures[0].self_reported_timestamp
            faults += _seal_faults(signatures[0], cert)
    except Exception as error:  # noqa: BLE001 -- whatever a stranger's bytes do to the reader, they are not our file
        faults.append(f"The seal cannot be read: {type(error).__name__}.")
    return SealCheck(faults=tuple(faults), sha256=digest, sealed_at=sealed_at)


def _seal_faults(embedded: EmbeddedPdfSignature, cert: x509.Certificate) -> list[str]:
    trusted = asn1_x509.Certificate.load(cert.public_bytes(Encoding.DER))
    # The claimed time is good enough as the moment: who can forge it holds the key, and the stored hash binds the file.
    context = ValidationContext(
        trust_roots=[trusted],
        allow_fetching=False,
        moment=embedded.self_reported_timestamp,
        revocation_mode="soft-fail",
    )
    status = validate_pdf_signature(embedded, signer_validation_context=context)
    faults = []
    if not (status.intact and status.valid):
        faults.append("What the seal covers was changed.")
    elif status.signing_cert.sha256 != trusted.sha256 or not status.trusted:
        faults.append("The seal is not by the yard’s certificate.")
    # A validator takes a trusted root at its word and does not ask whether it was alive.
    if not _was_alive(cert, embedded.self_reported_timestamp):
        faults.append("The seal was made outside its certificate's life.")
    if status.coverage != SignatureCoverageLevel.ENTIRE_FILE:
        faults.append("The seal does not cover the entire file.")
    if embedded.docmdp_level != fields.MDPPerm.NO_CHANGES:
        faults.append("The seal allows changes after it.")
    return faults


def _was_alive(cert: x509.Certificate, at: datetime.datetime | None) -> bool:
    return at is not None and cert.not_valid_before_utc <= at <= cert.not_valid_after_utc


def _certificate(cert_file: Path) -> x509.Certificate:
    try:
        return load_certificate(cert_file)
    except (OSError, ValueError) as error:
        raise SealKeyUnusable(f"The seal certificate {cert_file} cannot be read.") from error
