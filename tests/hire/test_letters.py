"""Certificates and packs by email: written with their cause, sent once with link and hash, seen when they do not arrive."""

from datetime import timedelta
from smtplib import SMTPRecipientsRefused, SMTPServerDisconnected

import pytest
from django.core import mail
from django.db import IntegrityError, transaction
from django.urls import reverse

from hire.actions import contacts, letters
from hire.actions.gate import issue_certificate, valid_certificate
from hire.actions.links import open_link, revoke_link
from hire.letter_sending import NotReady, send_letter
from hire.models.contacts import Contact, Letter
from hire.models.packs import PackSending
from hire.pack_files import make_pack_file
from hire.watch_desk import letters_stuck
from inspections.certificates.actions import render_and_seal
from inspections.certificates.models import SealedFile
from people.journal.models import Entry
from people.outbox.actions import deliver_next
from people.outbox.models import Message
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.factories.contacts import ContactFactory, LetterFactory
from tests.factories.hire import CustomerFactory, LineFactory, ready_line, walked_line
from tests.factories.sites import SitePackFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


@pytest.fixture(autouse=True)
def post_office(settings):
    settings.MAIL_IS_SET = True


@pytest.fixture
def pack(at):
    return SitePackFactory(line=LineFactory(starts_at=at), made_at=at)


def aoife(line, **more):
    return ContactFactory(customer=line.agreement.customer, **more)


def test_a_certificate_writes_to_those_who_want_it_in_its_own_transaction(hand, at):
    line = walked_line(hand=hand, at=at)
    wants = aoife(line, gets_papers=True)
    aoife(line)
    aoife(line, rights="operator")
    ContactFactory(gets_papers=True)
    issue_certificate(line=line, by=None, at=at - MINUTE)
    letter = Letter.objects.get()
    assert (letter.contact, letter.certificate, letter.made_by) == (wants, valid_certificate(line), None)
    assert Message.objects.filter(kind="hire.letter", subject_id=letter.pk).count() == 1
    Letter.objects.all().delete()
    with pytest.raises(RuntimeError), transaction.atomic():
        issue_certificate(line=line, by=None, at=at, why="Corrected")
        assert Letter.objects.count() == 1
        raise RuntimeError
    assert Letter.objects.count() == 0


def test_a_yard_without_a_mail_server_issues_all_the_same(hand, desk, at, settings):
    settings.MAIL_IS_SET = False
    line = walked_line(hand=hand, at=at)
    who = aoife(line, gets_papers=True)
    certificate = issue_certificate(line=line, by=None, at=at - MINUTE)
    assert Letter.objects.count() == 0
    with pytest.raises(letters.NoMailServer):
        letters.send_papers(line=line, contacts=[who], certificate=certificate, by=desk, at=at)


def test_it_is_sent_once_with_a_link_that_opens_and_the_hash_of_the_file(hand, at, seal_key):
    line = walked_line(hand=hand, at=at)
    who = aoife(line, gets_papers=True)
    certificate = issue_certificate(line=line, by=None, at=at - MINUTE)
    letter = Letter.objects.get()
    with pytest.raises(NotReady):
        send_letter(letter.pk, at)
    render_and_seal(certificate.pk, at)
    send_letter(letter.pk, at)
    send_letter(letter.pk, at)
    [sent] = mail.outbox
    sha256 = SealedFile.objects.get(certificate=certificate).sha256
    assert sent.to == [who.email]
    assert sha256 in sent.body
    assert certificate.number in sent.subject
    token = sent.body.split("/h/")[1].split("/")[0]
    assert open_link(token=token, at=at).line == line
    assert token not in str(Letter.objects.values().get()) + "".join(
        Entry.objects.values_list("text", flat=True)
    )
    letter.refresh_from_db()
    assert (letter.sent_at, letter.file_sha256) == (at, sha256)
    assert Entry.objects.filter(event="hire.letter.sent", subject_id=line.pk).count() == 1
    assert sent.extra_headers["Message-ID"].startswith(f"<{letter.pk}@")


def test_a_pack_sent_by_email_is_written_down_as_sent(pack, desk, at):
    make_pack_file(pack.pk, at)
    who = aoife(pack.line)
    [letter] = letters.send_papers(line=pack.line, contacts=[who], pack=pack, by=desk, at=at)
    send_letter(letter.pk, at + MINUTE)
    row = PackSending.objects.get(pack=pack)
    assert (row.how, row.by, row.to_words) == ("email", desk, f"{who.name}, {who.email}")
    assert pack.file.sha256 in mail.outbox[0].body


def test_who_papers_go_to(people, pack, desk, at):
    other = ContactFactory()
    operator, silent = aoife(pack.line, rights="operator"), aoife(pack.line, email="")
    for chosen in ([], [other], [operator], [silent], [aoife(pack.line), operator]):
        with pytest.raises(letters.NothingToSend):
            letters.send_papers(line=pack.line, contacts=chosen, pack=pack, by=desk, at=at)
    with pytest.raises(letters.NothingToSend):
        letters.send_papers(line=LineFactory(), contacts=[other], pack=pack, by=desk, at=at)
    for role in set(Role) - DESK:
        with pytest.raises(NotAllowed):
            letters.send_papers(
                line=pack.line, contacts=[aoife(pack.line)], pack=pack, by=people[role], at=at
            )


def _refuse(monkeypatch, error):
    def send(_self, **_how):
        raise error

    monkeypatch.setattr("django.core.mail.EmailMessage.send", send)


def test_an_address_the_server_refuses_is_a_letter_that_came_back(monkeypatch, pack, desk, at):
    make_pack_file(pack.pk, at)
    [letter] = letters.send_papers(line=pack.line, contacts=[aoife(pack.line)], pack=pack, by=desk, at=at)
    _refuse(monkeypatch, SMTPRecipientsRefused({"x": (550, b"no such person")}))
    send_letter(letter.pk, at + MINUTE)
    letter.refresh_from_db()
    assert letter.sent_at is None
    assert "550 no such person" in letter.came_back_words
    [condition] = letters_stuck(at + MINUTE)
    assert "did not get to" in condition.what
    assert "550 no such person" in condition.how_we_know
    letters.settle_letter(letter=letter, by=desk, at=at)
    assert list(letters_stuck(at + MINUTE)) == []


def test_a_server_that_is_away_is_tried_again_and_seen(client, monkeypatch, pack, desk, at):
    make_pack_file(pack.pk, at)
    Message.objects.all().delete()
    [letter] = letters.send_papers(line=pack.line, contacts=[aoife(pack.line)], pack=pack, by=desk, at=at)
    with monkeypatch.context() as away:
        _refuse(away, SMTPServerDisconnected("gone"))
        assert deliver_next(at=at + MINUTE)
    assert list(letters_stuck(at + 14 * MINUTE)) == []
    [condition] = letters_stuck(at + 16 * MINUTE)
    assert "Tried 1 time. SMTPServerDisconnected: gone" in condition.how_we_know
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:line_detail", args=[pack.line_id])))
    assert "Not sent yet. Tried 1 time." in page
    assert deliver_next(at=at + 20 * MINUTE)
    assert Letter.objects.get(pk=letter.pk).sent_at == at + 20 * MINUTE
    assert len(mail.outbox) == 1
    assert list(letters_stuck(at + 30 * MINUTE)) == []


def test_a_letter_whose_link_was_ended_is_not_sent(pack, desk, at):
    make_pack_file(pack.pk, at)
    [letter] = letters.send_papers(line=pack.line, contacts=[aoife(pack.line)], pack=pack, by=desk, at=at)
    revoke_link(link=letter.link, by=desk, at=at)
    send_letter(letter.pk, at)
    assert mail.outbox == []
    assert Letter.objects.get().came_back_words == "Not sent: its link was ended before."


def test_who_leaves_or_is_changed_opens_nothing_more(pack, desk, at):
    who, stays = aoife(pack.line), aoife(pack.line)
    gone, kept = (
        letters.send_papers(line=pack.line, contacts=[one], pack=pack, by=desk, at=at)[0]
        for one in (who, stays)
    )
    contacts.end_contact(contact=who, by=desk, at=at)
    assert open_link(token=letters.token_of(gone.pk), at=at) is None
    assert open_link(token=letters.token_of(kept.pk), at=at) is not None
    with pytest.raises(contacts.ContactEnded):
        contacts.change_contact(contact=who, by=desk, at=at, name="x")
    contacts.change_contact(contact=stays, by=desk, at=at, phone="08 5550 0000")
    assert open_link(token=letters.token_of(kept.pk), at=at) is not None
    contacts.change_contact(contact=stays, by=desk, at=at, rights="operator")
    assert open_link(token=letters.token_of(kept.pk), at=at) is None


def test_what_is_refused_of_a_contact(people, desk, at):
    customer = CustomerFactory()

    def add(**typed):
        return contacts.add_contact(
            customer=customer, by=desk, at=at, **{"name": "Aoife", "rights": "supervisor"} | typed
        )

    add()
    with pytest.raises(contacts.ContactRefused, match="of that name already"):
        add(name="AOIFE")
    with pytest.raises(contacts.ContactRefused, match="give an email address"):
        add(name="Ken", gets_papers=True)
    with pytest.raises(NotAllowed):
        contacts.add_contact(customer=customer, by=people[Role.FITTER], at=at, name="x")
    with pytest.raises(IntegrityError, match="rights_known"), transaction.atomic():
        ContactFactory(rights="owner")


def test_a_letter_that_came_back_is_written_down(client, desk, at):
    letter = LetterFactory(sent_at=at, file_sha256="a" * 64)
    client.force_login(desk)
    address = reverse("hire:letter_came_back", args=[letter.pk])
    assert client.post(address, {"words": ""}).status_code == 422
    assert client.post(address, {"words": "Mailbox full"}).status_code == 302
    page = text_of(client.get(reverse("hire:line_detail", args=[letter.line_id])))
    assert "Came back: Mailbox full" in page
    assert client.post(address, {"words": "again"}).status_code == 422
    assert Letter.objects.get().came_back_words == "Mailbox full"


def test_the_desk_sends_from_the_hires_page(client, hand, desk, at):
    line = ready_line(hand=hand, at=at)
    who = aoife(line)
    client.force_login(desk)
    address = reverse("hire:letter_send", args=[line.pk])
    assert who.name in text_of(client.get(address))
    assert client.post(address, {"paper": "certificate"}).status_code == 422
    assert client.post(address, {"paper": "certificate", "contacts": [who.pk]}).status_code == 302
    assert Letter.objects.get().certificate == valid_certificate(line)
    page = text_of(client.get(reverse("hire:customer_detail", args=[line.agreement.customer_id])))
    assert who.name in page
    assert Contact.objects.get().customer == line.agreement.customer
