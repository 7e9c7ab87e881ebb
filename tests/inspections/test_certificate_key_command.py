"""make_seal_key: a key once, for its owner's eyes only, and never a second one over it."""

import io
import os
import stat

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import load_pem_private_key
from django.core.management import CommandError, call_command

from inspections.certificates.keys import fingerprint, load_certificate


def made(folder, **options):
    out = io.StringIO()
    key_file, cert_file = folder / "seal.key", folder / "seal.crt"
    call_command("make_seal_key", key=key_file, cert=cert_file, stdout=out, **options)
    return key_file, cert_file, out.getvalue()


def test_it_makes_a_p256_key_only_its_owner_can_read_and_prints_the_fingerprint(tmp_path):
    old_mask = os.umask(0)
    try:
        key_file, cert_file, said = made(tmp_path)
    finally:
        os.umask(old_mask)
    assert stat.S_IMODE(key_file.stat().st_mode) == 0o600
    key = load_pem_private_key(key_file.read_bytes(), password=None)
    assert isinstance(key, ec.EllipticCurvePrivateKey)
    assert key.curve.name == "secp256r1"
    certificate = load_certificate(cert_file)
    assert certificate.public_key() == key.public_key()
    assert fingerprint(certificate) in said
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    assert (usage.digital_signature, usage.content_commitment, usage.key_cert_sign) == (True, True, False)


def test_the_seal_bears_the_yards_name_unless_told_otherwise(tmp_path, settings):
    settings.YARD_NAME = "Tallow Creek Water Carts"
    _, cert_file, _ = made(tmp_path)
    assert load_certificate(cert_file).subject.rfc4514_string() == "CN=Tallow Creek Water Carts seal"
    (tmp_path / "b").mkdir()
    _, cert_file, _ = made(tmp_path / "b", name="North yard")
    assert load_certificate(cert_file).subject.rfc4514_string() == "CN=North yard"


@pytest.mark.parametrize("there", ["seal.key", "seal.crt"])
def test_it_never_overwrites(tmp_path, there):
    (tmp_path / there).write_text("kept")
    with pytest.raises(CommandError, match=f"{there} exists already and is never overwritten"):
        made(tmp_path)
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [(there, "kept")]


def test_a_folder_that_is_not_there_is_named(tmp_path):
    with pytest.raises(CommandError, match=r"seal\.key could not be written: No such file"):
        made(tmp_path / "nowhere")


def test_a_name_of_nothing_is_refused(tmp_path):
    with pytest.raises(CommandError, match="1 to 64 characters"):
        made(tmp_path, name=" ")
    assert list(tmp_path.iterdir()) == []
