"""The yard's sealing key and its certificate: made once, kept apart, never overwritten.

The certificate is the yard's own, signed by itself: readers will call it unknown. What vouches for it is its
fingerprint, printed when it is made, kept with every paper and shown on the verify page.
"""

import datetime
import os
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

VALID_YEARS = 20


class KeyAlreadyThere(Exception):
    """A file exists at the path; it is never overwritten, since papers sealed with it need it for ever."""

    def __init__(self, path: Path) -> None:
        super().__init__(f"{path} exists already and is never overwritten.")
        self.path = path


def make_seal_key(*, key_file: Path, cert_file: Path, name: str, at: datetime.datetime) -> str:
    """Make an EC P-256 key (mode 0600) and its self-signed certificate; return the certificate's fingerprint.

    KeyAlreadyThere when either path exists; ValueError for an empty or over-long name.
    """
    if not name.strip() or len(name) > 64:
        raise ValueError("The seal's name has 1 to 64 characters.")
    for path in (key_file, cert_file):
        if path.exists():
            raise KeyAlreadyThere(path)
    key = ec.generate_private_key(ec.SECP256R1())
    certificate = _certificate(key, name.strip(), at)
    pem = serialization.Encoding.PEM
    secret = key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    _write_new(key_file, secret, mode=0o600)
    _write_new(cert_file, certificate.public_bytes(pem), mode=0o644)
    return fingerprint(certificate)


def load_certificate(cert_file: Path) -> x509.Certificate:
    """Read a certificate from a PEM file. FileNotFoundError or ValueError where there is none."""
    return x509.load_pem_x509_certificate(cert_file.read_bytes())


def fingerprint(certificate: x509.Certificate) -> str:
    """Return the SHA-256 fingerprint of a certificate, 64 lower-case hex digits."""
    return certificate.fingerprint(hashes.SHA256()).hex()


def _certificate(key: ec.EllipticCurvePrivateKey, name: str, at: datetime.datetime) -> x509.Certificate:
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - datetime.timedelta(days=1))
        .not_valid_after(at + datetime.timedelta(days=365 * VALID_YEARS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def _usage() -> x509.KeyUsage:
    # Content commitment (once called non-repudiation) is what a validator asks of a document's seal.
    return x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )


def _write_new(path: Path, data: bytes, *, mode: int) -> None:
    # Created exclusively and with its mode: at no moment can another user read the key, or a race replace one.
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode)
    except FileExistsError as error:
        raise KeyAlreadyThere(path) from error
    with os.fdopen(handle, "wb") as stream:
        os.fchmod(stream.fileno(), mode)
        stream.write(data)
        stream.flush()
        os.fsync(stream.fileno())
