"""The seal: it holds for exactly the bytes that were sealed, and for nothing else."""

import hashlib
import io
import random
import re
from datetime import timedelta

import pytest
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.fields import MDPPerm
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.status import SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from inspections.certificates.keys import fingerprint, load_certificate, make_seal_key
from inspections.certificates.seal import SealKeyUnusable, check_seal, seal
from tests.inspections.certificate_files import SAMPLES, SEALED_AT, seal_key, sealed, unsealed

FLIPS = 120


def faults_of(data: bytes, *, stored_sha256: str) -> tuple[str, ...]:
    return check_seal(data, cert=seal_key().certificate, stored_sha256=stored_sha256).faults


def hole(data: bytes) -> tuple[int, int]:
    """First and one past last byte of the space the seal itself sits in."""
    found = re.search(rb"/ByteRange \[\s*0 (\d+) (\d+) \d+", data)
    assert found
    return int(found[1]), int(found[2])


@pytest.mark.parametrize("name", SAMPLES)
def test_a_sealed_paper_is_genuine(name):
    paper = sealed(name)
    check = check_seal(paper.data, cert=seal_key().certificate, stored_sha256=paper.sha256)
    assert check.faults == ()
    assert check.is_genuine
    assert check.sha256 == paper.sha256 == hashlib.sha256(paper.data).hexdigest()
    assert check.sealed_at == SEALED_AT
    assert paper.fingerprint == fingerprint(seal_key().certificate)


def test_an_independent_validation_finds_the_whole_file_covered_and_no_change_allowed():
    signatures = PdfFileReader(io.BytesIO(sealed("fit").data)).embedded_signatures
    assert len(signatures) == 1
    certificate = signatures[0].signer_cert
    context = ValidationContext(trust_roots=[certificate], allow_fetching=False, moment=SEALED_AT)
    status = validate_pdf_signature(signatures[0], signer_validation_context=context)
    assert (status.intact, status.valid, status.trusted, status.docmdp_ok) == (True, True, True, True)
    assert status.coverage == SignatureCoverageLevel.ENTIRE_FILE
    assert signatures[0].docmdp_level == MDPPerm.NO_CHANGES
    assert str(signatures[0].sig_object["/SubFilter"]) == "/ETSI.CAdES.detached"
    assert certificate.public_key.curve == ("named", "secp256r1")


def test_sealing_appends_and_leaves_the_rendered_bytes_alone():
    assert sealed("fit").data.startswith(unsealed("fit"))


def test_any_one_changed_byte_is_found():
    paper = sealed("fit")
    start, end = hole(paper.data)
    chance = random.Random(20261125)
    for place in chance.sample(range(len(paper.data)), FLIPS):
        data = bytearray(paper.data)
        data[place] ^= 1 << chance.randrange(8)
        assert faults_of(bytes(data), stored_sha256=paper.sha256), place
        if not start <= place < end:
            # Outside its own hole the seal finds the change by itself, without the stored hash.
            own = hashlib.sha256(data).hexdigest()
            assert faults_of(bytes(data), stored_sha256=own), place


def test_a_byte_changed_in_the_hole_of_the_seal_is_found_by_the_stored_hash_alone():
    paper = sealed("fit")
    _, end = hole(paper.data)
    data = bytearray(paper.data)
    assert data[end - 3 : end - 1] == b"00"
    data[end - 2] = ord("1")
    own = hashlib.sha256(data).hexdigest()
    assert faults_of(bytes(data), stored_sha256=own) == ()
    assert faults_of(bytes(data), stored_sha256=paper.sha256) == ("The file is not the one the yard keeps.",)


@pytest.mark.parametrize("tail", [b"\n", b"%", b"\n%%EOF\n", b"\x00" * 4096])
def test_appended_bytes_are_found_by_coverage_and_by_hash(tail):
    paper = sealed("fit")
    data = paper.data + tail
    own = hashlib.sha256(data).hexdigest()
    assert faults_of(data, stored_sha256=own)
    assert "The file is not the one the yard keeps." in faults_of(data, stored_sha256=paper.sha256)


def test_a_later_revision_of_the_file_is_found():
    paper = sealed("fit")
    writer = IncrementalPdfFileWriter(io.BytesIO(paper.data))
    writer.root["/PageMode"] = writer.root["/Type"]
    writer.update_root()
    out = io.BytesIO()
    writer.write(out)
    data = out.getvalue()
    assert "The seal does not cover the entire file." in faults_of(
        data, stored_sha256=hashlib.sha256(data).hexdigest()
    )


def test_a_file_without_a_seal_and_a_file_that_is_none_are_refused_and_never_raise():
    for data in (unsealed("fit"), b"", b"%PDF-1.7", b"\x89PNG\r\n", sealed("fit").data[:-900]):
        assert faults_of(data, stored_sha256=hashlib.sha256(data).hexdigest())


def test_another_yards_seal_is_not_ours(tmp_path):
    key_file, cert_file = tmp_path / "other.key", tmp_path / "other.crt"
    make_seal_key(key_file=key_file, cert_file=cert_file, name="Tallow Creek seal", at=SEALED_AT)
    forged = seal(unsealed("fit"), key_file=key_file, cert_file=cert_file, at=SEALED_AT)
    assert faults_of(forged.data, stored_sha256=forged.sha256) == (
        "The seal is not by the yard’s certificate.",
    )


def test_a_key_beside_another_keys_certificate_seals_nothing(tmp_path):
    key_file, cert_file = tmp_path / "other.key", tmp_path / "other.crt"
    make_seal_key(key_file=key_file, cert_file=cert_file, name="Other", at=SEALED_AT)
    with pytest.raises(SealKeyUnusable, match="The seal does not hold"):
        seal(unsealed("fit"), key_file=key_file, cert_file=seal_key().cert_file, at=SEALED_AT)


def test_a_certificate_past_its_life_seals_nothing():
    certificate = seal_key().certificate
    for at in (
        certificate.not_valid_before_utc - timedelta(seconds=1),
        certificate.not_valid_after_utc + timedelta(seconds=1),
    ):
        with pytest.raises(SealKeyUnusable, match="The seal does not hold"):
            seal(unsealed("fit"), key_file=seal_key().key_file, cert_file=seal_key().cert_file, at=at)


def test_a_key_or_certificate_that_cannot_be_read_is_said_to_be_so(tmp_path):
    nothing, rubbish = tmp_path / "none", tmp_path / "rubbish"
    rubbish.write_text("not a key")
    key = seal_key()
    for key_file, cert_file in (
        (nothing, key.cert_file),
        (rubbish, key.cert_file),
        (key.key_file, nothing),
        (key.key_file, rubbish),
    ):
        with pytest.raises(SealKeyUnusable, match="cannot be read"):
            seal(unsealed("fit"), key_file=key_file, cert_file=cert_file, at=SEALED_AT)


def test_a_certificate_is_read_back_from_its_file():
    assert load_certificate(seal_key().cert_file) == seal_key().certificate
