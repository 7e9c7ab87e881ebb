"""The customer's link: no account, one hire, gone when it runs out or is ended, and kept out of every log and cache."""

import hashlib
import logging
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from config.logs import JsonFormatter, ScrubFilter
from hire.actions.gate import valid_certificate
from hire.actions.links import TOKEN_BYTES, make_link, open_link, revoke_link
from hire.models.agreements import Line
from hire.models.links import CustomerLink
from hire.screens import NOT_POTABLE
from inspections.certificates.actions import render_and_seal
from inspections.certificates.models import SealedFile
from people.canonical import sha256_hex
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.factories.fleet import CartFactory, HoldFactory
from tests.factories.hire import CustomerFactory, LineFactory, ready_line

DAY = timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def line(db, now):
    return LineFactory(
        starts_at=now + DAY,
        cart=CartFactory(fleet_number="RG07"),
        agreement__customer=CustomerFactory(name="Merrin Civil"),
    )


def page_of(client, token):
    return client.get(reverse("hire:customer_page", args=[token]))


def test_only_the_hash_of_the_token_is_kept(line, desk, now):
    link, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    assert TOKEN_BYTES * 8 >= 128
    assert len(token) == 32
    assert link.token_sha256 == sha256_hex(token)
    stored = str(CustomerLink.objects.values().get()) + Entry.objects.get(event="hire.link.made").text
    assert token not in stored
    assert len({make_link(line=line, for_words="x", by=desk, at=now)[1] for _ in range(50)}) == 50


def test_the_page_shows_this_hire_and_nobody_elses(client, line, desk, now):
    other = LineFactory(
        cart=CartFactory(fleet_number="RG99"), agreement__customer=CustomerFactory(name="Rival Earth")
    )
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    page = page_of(client, token).content.decode()
    assert "RG07" in page
    assert line.agreement.number in page
    for words in ("RG99", "Rival Earth", other.agreement.number, "Sign out", 'href="/hire/'):
        assert words not in page


def test_headers_keep_it_out_of_caches_referrers_and_indexes(client, line, desk, now):
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    for answer in (
        page_of(client, token),
        page_of(client, "never-made"),
        client.get(f"/h/{token}/{line.pk}.pdf"),
    ):
        assert answer["Cache-Control"] == "no-store"
        assert answer["Referrer-Policy"] == "no-referrer"
        assert answer["X-Robots-Tag"] == "noindex, nofollow"
        assert not answer.cookies


def test_it_runs_out_after_the_hire_and_not_before(line, desk, now, settings):
    link, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    assert link.expires_at == line.promised.upper + timedelta(days=settings.YARD_CUSTOMER_LINK_DAYS)
    assert open_link(token=token, at=link.expires_at - timedelta(seconds=1)) == link
    assert open_link(token=token, at=link.expires_at) is None


def test_it_stays_open_while_the_cart_is_late_and_as_long_after_its_return_as_any(
    client, desk, now, settings
):
    line = LineFactory(starts_at=now - 60 * DAY, ends_at=now - 50 * DAY, out_at=now - 60 * DAY)
    link, token = make_link(line=line, for_words="Aoife", by=desk, at=now - 60 * DAY)
    life = timedelta(days=settings.YARD_CUSTOMER_LINK_DAYS)
    assert link.expires_at < now
    assert open_link(token=token, at=now) == link
    back_at = now - DAY
    Line.objects.filter(pk=line.pk).update(back_at=back_at, back_entered_at=back_at)
    assert open_link(token=token, at=back_at + life - timedelta(seconds=1)) == link
    assert open_link(token=token, at=back_at + life) is None
    gone = page_of(client, "never-made-at-all-0123456789abcd").content.decode()
    assert f"Ring {settings.YARD_ON_CALL}" in gone


def test_what_its_tank_carried_for_others_is_told_without_whose_they_are(client, desk, now):
    line = LineFactory(agreement__water="potable", starts_at=now + DAY)
    other = LineFactory(cart=line.cart, starts_at=now - 9 * DAY, out_at=now - 9 * DAY, ends_at=now - 2 * DAY)
    Line.objects.filter(pk=other.pk).update(back_at=now - 2 * DAY, back_entered_at=now - 2 * DAY)
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    page = page_of(client, token).content.decode()
    assert NOT_POTABLE in page
    assert other.agreement.number not in page


def test_ended_it_opens_nothing_from_that_moment(client, line, desk, now):
    link, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    other, other_token = make_link(line=line, for_words="Site office", by=desk, at=now)
    assert page_of(client, token).status_code == 200
    client.force_login(desk)
    client.post(reverse("hire:link_revoke", args=[link.pk]))
    client.logout()
    assert page_of(client, token).status_code == 404
    assert page_of(client, other_token).status_code == 200
    revoke_link(link=link, by=desk, at=now)
    assert Entry.objects.filter(event="hire.link.revoked").count() == 1
    assert other.revoked_at is None


def test_unknown_expired_and_ended_look_the_same(client, line, desk, now):
    ended, ended_token = make_link(line=line, for_words="x", by=desk, at=now)
    revoke_link(link=ended, by=desk, at=now)
    expired, expired_token = make_link(line=line, for_words="x", by=desk, at=now)
    CustomerLink.objects.filter(pk=expired.pk).update(made_at=now - 2 * DAY, expires_at=now - DAY)
    bodies = {
        page_of(client, token).content
        for token in ("never-made-at-all-0123456789abcd", ended_token, expired_token)
    }
    assert len(bodies) == 1


def test_its_use_is_noted(client, line, desk, now):
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    assert CustomerLink.objects.get().last_used_at is None
    page_of(client, token)
    assert CustomerLink.objects.get().last_used_at >= now


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_makes_and_ends_links(people, line, desk, now, role):
    link, _ = make_link(line=line, for_words="Aoife", by=desk, at=now)
    with pytest.raises(NotAllowed):
        make_link(line=line, for_words="Aoife", by=people[role], at=now)
    with pytest.raises(NotAllowed):
        revoke_link(link=link, by=people[role], at=now)


def test_the_desk_sees_the_link_once(client, line, desk):
    client.force_login(desk)
    answer = client.post(reverse("hire:link_make", args=[line.pk]), {"for_words": "Aoife"}, follow=True)
    shown = answer.context["new_link"]
    assert shown in answer.content.decode()
    token = shown.rstrip("/").rsplit("/", 1)[-1]
    again = client.get(reverse("hire:line_detail", args=[line.pk])).content.decode()
    assert token not in again
    assert page_of(client, token).status_code == 200


def test_the_link_never_reaches_the_log(client, line, desk, now):
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    lines = []

    class Kept(logging.Handler):
        def emit(self, record):
            lines.append(self.format(record))

    kept = Kept()
    kept.addFilter(ScrubFilter())
    kept.setFormatter(JsonFormatter())
    loggers = [logging.getLogger(name) for name in ("slake.request", "django.request")]
    levels = [logger.level for logger in loggers]
    for logger in loggers:
        logger.addHandler(kept)
        logger.setLevel(logging.INFO)
    try:
        page_of(client, token)
        client.get(f"/h/{token}/{line.pk}.pdf")
        client.post(reverse("hire:customer_page", args=[token]))
        page_of(client, "x" * 32)
    finally:
        for logger, level in zip(loggers, levels, strict=True):
            logger.removeHandler(kept)
            logger.setLevel(level)
    assert len(lines) >= 4
    assert token not in "".join(lines)
    assert "x" * 32 not in "".join(lines)
    assert "/h/[hidden]/" in "".join(lines)


def test_a_held_cart_is_told_to_its_customer(client, line, desk, now):
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    HoldFactory(cart=line.cart, reason="Gearbox noise")
    assert "Held" in page_of(client, token).content.decode()


def test_papers_of_the_hire_are_listed(client, hand, desk, now):
    line = ready_line(hand=hand, at=now)
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    number = page_of(client, token).context["valid"].number
    assert number in page_of(client, token).content.decode()


def test_the_very_file_is_fetched_through_the_link(client, hand, desk, now, seal_key):
    line = ready_line(hand=hand, at=now)
    paper = valid_certificate(line)
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    address = reverse("hire:customer_file", args=[token, paper.pk])
    assert client.get(address).status_code == 404
    render_and_seal(paper.pk, now)
    answer = client.get(address)
    sealed = SealedFile.objects.get(certificate=paper)
    assert hashlib.sha256(b"".join(answer.streaming_content)).hexdigest() == sealed.sha256
    assert (answer["Cache-Control"], answer["Content-Type"]) == ("no-store", "application/pdf")
    assert f'filename="{paper.number}.pdf"' in answer["Content-Disposition"]


def test_nothing_is_changed_through_a_link(client, line, desk, now):
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
    for method in ("post", "put", "patch", "delete"):
        assert getattr(client, method)(reverse("hire:customer_page", args=[token])).status_code == 405
