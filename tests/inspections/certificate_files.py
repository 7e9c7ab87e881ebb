"""Rendered and sealed sample papers, each made once a process, and the text that stands on their pages."""

import datetime
import subprocess
import tempfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from cryptography import x509

from inspections.certificates.content import Paper
from inspections.certificates.keys import load_certificate, make_seal_key
from inspections.certificates.render import render
from inspections.certificates.seal import SealedPdf, seal
from tests.inspections import certificate_papers
from tests.inspections.certificate_samples import lap_svg

SEALED_AT = datetime.datetime(2026, 11, 25, 6, 12, 30, tzinfo=datetime.UTC)
SAMPLES = ("fit", "limited", "signed_receipt", "left_receipt")


@dataclass(frozen=True)
class Key:
    key_file: Path
    cert_file: Path
    certificate: x509.Certificate


@cache
def paper(name: str) -> tuple[Paper, dict[str, bytes]]:
    made: tuple[Paper, dict[str, bytes]] = getattr(certificate_papers, name)()
    return made


@cache
def unsealed(name: str) -> bytes:
    content, photos = paper(name)
    return render(content, photos=photos, lap_svg=lap_svg())


@cache
def seal_key() -> Key:
    folder = Path(tempfile.mkdtemp(prefix="seal-"))
    key_file, cert_file = folder / "seal.key", folder / "seal.crt"
    make_seal_key(key_file=key_file, cert_file=cert_file, name="Tallow Creek seal", at=SEALED_AT)
    return Key(key_file, cert_file, load_certificate(cert_file))


@cache
def sealed(name: str) -> SealedPdf:
    key = seal_key()
    return seal(unsealed(name), key_file=key.key_file, cert_file=key.cert_file, at=SEALED_AT)


@cache
def pages(name: str) -> tuple[str, ...]:
    """The text of each page as an independent reader extracts it, spaces made plain."""
    return pages_of(unsealed(name))


def pages_of(pdf: bytes) -> tuple[str, ...]:
    read = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)  # noqa: S607
    return tuple(" ".join(page.split()) for page in read.stdout.decode().split("\f")[:-1])


def text(name: str) -> str:
    return " ".join(pages(name))
