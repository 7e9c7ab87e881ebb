"""A paper's file: made and sealed once, and checked by anybody, who finds any flipped bit."""

import hashlib
from datetime import timedelta

import pikepdf
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from hire.actions import gate
from hire.actions.gate import (
    issue_certificate,
    valid_certificate,
)
from inspections.certificates.actions import (
    AlreadyWithdrawn,
    paper_of,
    render_and_seal,
    sealed_bytes,
    withdraw_paper,
)
from inspections.certificates.models import Certificate, SealedFile
from people.journal.models import Entry
from tests.factories.hire import ready_line
from tests.outbox import deliver

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def sealed(hand, at, seal_key):
    """A hire with its certificate rendered and sealed by the work that waited."""
    line = ready_line(hand=hand, at=at)
    deliver(at, "certificates.render")
    return Certificate.objects.select_related("file").get(subject_id=line.pk)


def test_the_file_is_made_once_and_never_again(sealed, seal_key, at):
    pdf = sealed_bytes(sealed.file).getvalue()
    assert pdf.startswith(b"%PDF-")
    assert hashlib.sha256(pdf).hexdigest() == sealed.file.sha256
    assert (sealed.file.size_bytes, sealed.file.seal_fingerprint) == (len(pdf), seal_key)
    render_and_seal(sealed.pk, at + DAY)
    assert SealedFile.objects.count() == 1
    assert sealed_bytes(SealedFile.objects.get()).getvalue() == pdf
    assert Entry.objects.filter(event="inspections.certificate.sealed", subject_id=sealed.pk).count() == 1


def test_the_file_carries_the_very_record(sealed):
    with pikepdf.open(sealed_bytes(sealed.file)) as pdf:
        assert pdf.attachments["record.json"].get_file().read_bytes() == sealed.content.encode()


def verify(client, paper, raw=None):
    address = reverse("inspections:verify", args=[paper.code])
    if raw is None:
        return client.get(address)
    return client.post(address, {"copy": SimpleUploadedFile("copy.pdf", raw, content_type="application/pdf")})


def test_anybody_can_check_the_paper_and_its_very_file(client, sealed):
    pdf = sealed_bytes(sealed.file).getvalue()
    page = verify(client, sealed)
    assert (page.context["state"], page["X-Robots-Tag"]) == ("valid", "noindex, nofollow")
    assert sealed.number in page.content.decode()
    assert verify(client, sealed, pdf).context["compared"] == "same"


@pytest.mark.parametrize("part", [0, 0.25, 0.5, 0.75, 1])
def test_one_flipped_bit_anywhere_is_found(client, sealed, part):
    pdf = bytearray(sealed_bytes(sealed.file).getvalue())
    pdf[round(part * (len(pdf) - 1))] ^= 1
    assert verify(client, sealed, bytes(pdf)).context["compared"] == "differs"


def test_other_things_sent_to_be_checked(client, sealed):
    pdf = sealed_bytes(sealed.file).getvalue()
    assert "Genuine." in verify(client, sealed, pdf).content.decode()
    assert "Not the sealed file." in verify(client, sealed, pdf + b"\n").content.decode()
    assert verify(client, sealed, b"").context["compared"] in ("none", "differs")
    assert client.post(reverse("inspections:verify", args=[sealed.code])).context["compared"] == "none"
    assert verify(client, sealed, b"x" * 1000).context["compared"] == "differs"


def test_a_paper_not_yet_sealed_says_so(client, hand, at):
    paper = valid_certificate(ready_line(hand=hand, at=at))
    assert verify(client, paper, b"%PDF").context["compared"] == "unsealed"


def test_a_replaced_and_a_withdrawn_paper_say_so_and_stay_fetchable(client, sealed, desk, at):
    line = gate.Line.objects.get(pk=sealed.subject_id)
    new = issue_certificate(line=line, by=desk, at=at - HOUR, why="Wrong order number")
    page = verify(client, sealed)
    assert page.context["state"] == "replaced"
    assert new.number in page.content.decode()
    withdraw_paper(certificate=new, why="Hire fell through", by=desk, at=at)
    page = verify(client, new)
    assert page.context["state"] == "withdrawn"
    assert "Hire fell through" in page.content.decode()
    with pytest.raises(AlreadyWithdrawn):
        withdraw_paper(certificate=new, why="Again", by=desk, at=at)
    client.force_login(desk)
    answer = client.get(reverse("inspections:certificate_file", args=[sealed.pk]))
    assert hashlib.sha256(b"".join(answer.streaming_content)).hexdigest() == sealed.file.sha256


@pytest.mark.parametrize("typed", ["5N9V-4J3H-V42C5", "nonsense", "RGF-2026-00001-1", "%00"])
def test_an_unknown_code_is_not_found(client, db, typed):
    answer = client.get(f"/v/{typed}/")
    assert answer.status_code == 404
    assert "never issued" in answer.content.decode()


def test_the_finder_takes_a_code_as_typed_and_hints_at_a_number(client, sealed):
    answer = client.get(reverse("inspections:verify_find"), {"code": f" {sealed.code.lower()} "})
    assert answer["Location"] == reverse("inspections:verify", args=[sealed.code])
    answer = client.get(reverse("inspections:verify_find"), {"code": sealed.number})
    assert answer.status_code == 422
    assert "under the square mark" in answer.content.decode()


def test_withdrawing_by_the_page_wants_a_reason(client, sealed, desk):
    client.force_login(desk)
    address = reverse("inspections:certificate_withdraw", args=[sealed.pk])
    assert "Say why" in client.post(address, {"why": "\x00 "}, follow=True).content.decode()
    assert "is withdrawn." in client.post(address, {"why": "Wrong cart"}, follow=True).content.decode()
    assert "withdrawn already" in client.post(address, {"why": "Wrong cart"}, follow=True).content.decode()


def test_the_page_of_a_paper_is_of_the_same_frozen_content(client, sealed, desk):
    client.force_login(desk)
    page = client.get(reverse("inspections:certificate_detail", args=[sealed.pk])).content.decode()
    for words in (sealed.number, sealed.record_sha256[:12], paper_of(sealed).customer.name):
        assert words in page
