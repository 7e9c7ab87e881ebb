"""Certificates of a hire: issued by themselves, frozen, numbered without gaps, sealed once, checked by anybody."""

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions import gate
from hire.models import Line
from inspections.certificates.actions import paper_of, render_and_seal, sealed_bytes, withdraw_paper
from inspections.certificates.keys import make_seal_key
from inspections.certificates.models import Certificate, SealedFile
from inspections.certificates.numbers import parse_paper_number
from people.outbox.actions import deliver_next
from people.outbox.models import Message
from people.roles import Role
from tests.factories.fleet import DefectFactory
from tests.factories.hire import CustomerLinkFactory, LineFactory
from tests.hire.gate_kit import HOUR, ready_line


@pytest.fixture
def seal_key(tmp_path, settings):
    settings.SEAL_KEY_FILE, settings.SEAL_CERT_FILE = tmp_path / "seal.key", tmp_path / "seal.crt"
    make_seal_key(
        key_file=settings.SEAL_KEY_FILE,
        cert_file=settings.SEAL_CERT_FILE,
        name="Test yard",
        at=timezone.now(),
    )


@pytest.fixture
def sealed(people, at, seal_key):
    line = ready_line(people, at)
    certificate = gate.valid_certificate(line)
    render_and_seal(certificate.pk, timezone.now())
    return Certificate.objects.select_related("file").get(pk=certificate.pk)


def issue(line, people, at, **options):
    return gate.issue_certificate(line=line, by=people[Role.HIRE_DESK], at=at, **options)


def test_the_signature_sets_the_certificate_off(people, at):
    line = ready_line(people, at, certified=False, gate_out=False)
    Message.objects.exclude(kind="walk_round.signed").delete()
    assert gate.valid_certificate(line) is None
    assert deliver_next(at=at - 4 * HOUR)
    certificate = gate.valid_certificate(line)
    assert gate.rests_on(certificate, line.cart.walk_rounds.get(purpose="pre_hire"))
    assert certificate.issued_by is None


def test_a_cart_that_is_not_fit_gets_none(people, at):
    line = ready_line(people, at, certified=False)
    DefectFactory(cart=line.cart, grade="do_not_use")
    with pytest.raises(gate.NotFit, match=line.cart.fleet_number):
        issue(line, people, at)


def test_a_correction_is_a_new_number_that_names_the_old(people, at):
    line = ready_line(people, at)
    old = gate.valid_certificate(line)
    with pytest.raises(gate.NothingChanged):
        issue(line, people, at)
    new = issue(line, people, at, why="Order number was wrong")
    paper = paper_of(new)
    assert (new.replaces, new.revision, paper.replaces.number) == (old, 2, old.number)
    assert gate.valid_certificate(line) == new


def test_a_roll_back_leaves_no_gap_in_the_numbers(people, at):
    first, second = ready_line(people, at, certified=False), ready_line(people, at, certified=False)
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        issue(first, people, at)
        raise ZeroDivisionError
    serials = [parse_paper_number(issue(line, people, at).number).serial for line in (first, second)]
    assert serials == [serials[0], serials[0] + 1]


def test_what_is_printed_does_not_follow_later_changes(people, at):
    line = ready_line(people, at)
    certificate = gate.valid_certificate(line)
    line.cart.__class__.objects.filter(pk=line.cart_id).update(make="Something else")
    assert paper_of(Certificate.objects.get(pk=certificate.pk)).cart.make == line.cart.make


def test_sealed_once_and_never_again(sealed):
    before = sealed_bytes(sealed.file).read()
    render_and_seal(sealed.pk, timezone.now() + timedelta(days=1))
    assert SealedFile.objects.filter(certificate=sealed).count() == 1
    assert sealed_bytes(SealedFile.objects.get(certificate=sealed)).read() == before


def verify(client, certificate, data=None):
    address = reverse("inspections:verify", args=[certificate.code])
    if data is None:
        return client.get(address).content.decode()
    return client.post(address, {"copy": SimpleUploadedFile("copy.pdf", data)}).content.decode()


def test_anybody_sees_how_a_paper_stands_and_compares_a_copy(client, sealed, people):
    kept = sealed_bytes(sealed.file).read()
    assert "Valid" in verify(client, sealed)
    assert "Genuine." in verify(client, sealed, kept)
    for place in (0, len(kept) // 2, len(kept) - 1):
        forged = bytearray(kept)
        forged[place] ^= 1
        assert "Not the sealed file." in verify(client, sealed, bytes(forged))
    assert "Not the sealed file." in verify(client, sealed, kept + b"\n")
    withdraw_paper(certificate=sealed, why="Wrong cart", by=people[Role.FLEET_MANAGER], at=timezone.now())
    assert "Withdrawn: Wrong cart" in verify(client, sealed)


def test_a_replaced_paper_says_by_which(client, people, at):
    line = ready_line(people, at)
    old = gate.valid_certificate(line)
    new = issue(line, people, at, why="Order number was wrong")
    assert f"Replaced by {new.number}" in verify(client, old)


def test_a_code_that_was_never_issued_is_told_so(client, db):
    answer = client.get(reverse("inspections:verify", args=["0000-0000-00000"]))
    assert answer.status_code == 404
    assert "never issued" in answer.content.decode()


def link_to(line, **changed):
    token = "a-token-of-one-hundred-and-ninety-two-bits"
    link = CustomerLinkFactory(line=line, token=token, **changed)
    return link, reverse("hire:customer_page", args=[token])


def test_a_link_shows_its_own_hire_without_an_account(client, sealed):
    own = Line.objects.get(pk=sealed.subject_id)
    _, address = link_to(own)
    page = client.get(address)
    assert (page.status_code, page["Cache-Control"], page["Referrer-Policy"]) == (
        200,
        "no-store",
        "no-referrer",
    )
    assert "noindex" in page["X-Robots-Tag"]
    assert sealed.number in page.content.decode()
    file = client.get(f"{address}{sealed.pk}.pdf")
    assert b"".join(file.streaming_content) == sealed_bytes(sealed.file).read()


def test_a_link_opens_no_other_hires_paper(client, sealed):
    other = LineFactory()
    _, address = link_to(other)
    assert client.get(f"{address}{sealed.pk}.pdf").status_code == 404
    assert sealed.number not in client.get(address).content.decode()


@pytest.mark.parametrize(
    "changed",
    [
        pytest.param(lambda now: {"made_at": now - 9 * HOUR, "expires_at": now - HOUR}, id="expired"),
        pytest.param(lambda now: {"revoked_at": now}, id="ended"),
    ],
)
def test_a_link_that_is_over_opens_nothing(client, db, changed):
    _, address = link_to(LineFactory(), **changed(timezone.now()))
    answer = client.get(address)
    assert (answer.status_code, answer["Cache-Control"]) == (404, "no-store")


def test_the_token_itself_is_kept_nowhere(db):
    link, address = link_to(LineFactory())
    token = address.strip("/").rsplit("/", 1)[-1]
    assert token not in str([getattr(link, field.attname) for field in link._meta.fields])
