"""The site pack: what it says and what it says is missing, its file with the sealed certificate inside, sent and answered."""

import hashlib
import io
from datetime import date, timedelta

import pikepdf
import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.photos import store
from hire.actions import packs
from hire.actions.gate import valid_certificate
from hire.models.packs import PackAnswer, PackFile, SitePack
from hire.pack_files import NotSealedYet, make_pack_file
from hire.packs_due import pack_wanted_by, packs_wanted
from hire.site_rules import Asked, PaperAsked
from hire.working_days import days_after, days_before
from inspections.certificates.actions import render_and_seal
from inspections.certificates.models import SealedFile
from people.journal.models import Entry
from people.outbox.models import Message
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import yard_day
from tests.factories.fleet import CartFactory, DocumentFactory, ExtinguisherFactory
from tests.factories.hire import CustomerFactory, LineFactory, LoadFactory, ready_line
from tests.factories.sites import SitePackFactory, SiteSetFactory
from tests.factories.water import potable_cart
from tests.factories.wet import OperatorFactory, TicketFactory, WetHireFactory, wet_out
from tests.pages import text_of, typed_moment

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
WEEKDAYS = frozenset(range(5))


def paper(pack, what):
    return next(one for one in pack.body["papers"] if one["what"] == what)


def test_a_pack_names_each_paper_and_says_what_is_missing(line, desk, at):
    SiteSetFactory(
        customer=line.agreement.customer,
        asked=Asked(papers={"registration": PaperAsked("must", 30), "backflow": PaperAsked("asked")}, notes="Channel 14"),
    )  # fmt: skip
    on = yard_day(at)
    DocumentFactory(
        cart=line.cart,
        kind="registration",
        number="REG-1",
        issued_on=on - 31 * DAY,
        expires_on=on + 300 * DAY,
    )
    DocumentFactory(
        cart=None, kind="insurance", number="POL-9", issued_on=on - 99 * DAY, expires_on=on + 99 * DAY
    )
    DocumentFactory(cart=line.cart, kind="wash_down", number="W-3", issued_on=on - DAY, expires_on=None)
    ExtinguisherFactory(cart=line.cart)
    pack = packs.make_pack(line=line, by=desk, at=at)
    pack.refresh_from_db()
    assert (pack.number, pack.used_on) == ("P2026-00001", on)
    assert "is 31 days old on 1 Dec 2026; 30 days at most are asked" in paper(pack, "Registration")["fault"]
    assert (paper(pack, "Insurance")["number"], paper(pack, "Insurance")["fault"]) == ("POL-9", "")
    assert pack.body["certificate"]["number"] == valid_certificate(line).number
    assert "paper W-3, and has not worked at another site since" in pack.body["declaration"]
    assert pack.body["extinguishers"][0]["due"]
    missing = " ".join(pack.body["missing"])
    for words in (
        "Registration is 31 days old",
        "Plant risk assessment is not on record",
        "Noise figure is not on record",
        "Backflow test is not on record",
        "No service is on record",
    ):
        assert words in missing
    assert "Insurance" not in missing
    entry = Entry.objects.get(event="hire.pack.made", chain__startswith="cart")
    assert entry.subject_id == line.pk
    assert Message.objects.filter(kind="hire.pack_file", subject_id=pack.pk).count() == 1


def test_what_is_not_there_is_said_plainly(desk, at):
    line = LineFactory(starts_at=at + 3 * DAY)
    pack = packs.make_pack(line=line, by=desk, at=at)
    assert pack.body["certificate"] is None
    assert (
        pack.body["missing"][0]
        == "The pre-hire certificate is not issued yet; it comes once the pre-hire check is signed."
    )
    assert pack.body["declaration"].startswith("No declaration is made: the wash-down paper is not on record")
    assert pack.body["water"] is None


def test_a_wash_down_is_void_in_the_pack_once_the_cart_works_elsewhere(desk, at):
    line = LineFactory(starts_at=at + 3 * DAY)
    DocumentFactory(cart=line.cart, kind="wash_down", issued_on=yard_day(at) - 5 * DAY, expires_on=None)
    LineFactory(
        cart=line.cart, agreement__place_of_work="Ridge Track", starts_at=at + DAY, ends_at=at + 2 * DAY
    )
    pack = packs.make_pack(line=line, by=desk, at=at)
    assert "is void: the cart is to work elsewhere after it" in pack.body["declaration"]
    assert "Ridge Track" not in str(pack.body)


def test_water_is_in_a_potable_pack(desk, at):
    line = LineFactory(cart=potable_cart(), starts_at=at + 3 * DAY, agreement__water="potable")
    body = packs.make_pack(line=line, by=desk, at=at).body
    assert body["water"]["standing"]
    assert body["water"]["fills"]


def test_the_water_of_hires_is_in_a_potable_pack_beside_the_yards_own_and_whose_it_was_is_not(desk, at):
    cart = potable_cart()
    before = LineFactory(
        cart=cart, starts_at=at - 30 * DAY, out_at=at - 30 * DAY, came_back_at=at - 20 * DAY,
        agreement__place_of_work="Ridge Track", agreement__water="potable",
    )  # fmt: skip
    LoadFactory(
        line=before,
        taken_at=at - 25 * DAY,
        source="potable",
        fill_point="Ridge standpipe",
        permit_words="L-77",
    )
    line = LineFactory(cart=cart, starts_at=at - 3 * DAY, out_at=at - 3 * DAY, agreement__water="potable")
    LoadFactory(line=line, taken_at=at - DAY, source="bore", fill_point="Weir Street", permit_words="L-12")
    fills = packs.make_pack(line=line, by=desk, at=at).body["water"]["fills"]
    assert fills[0]["place"].startswith("on this hire, 1 load from ")
    assert fills[0]["place"].endswith("; Weir Street; licence or standpipe L-12")
    assert (fills[0]["source"], fills[1]["source"]) == ("Bore water", "Potable water")
    assert fills[1]["place"].startswith("on another hire, 1 load from ")
    assert not {"Ridge", "L-77", before.agreement.number} & set(str(fills).replace("'", " ").split())
    assert len(fills) > 2


def test_the_operators_of_a_wet_hire_are_in_it_with_what_bears_on_this_site_alone(desk, at):
    operator = OperatorFactory(name="Kit Moran")
    TicketFactory(operator=operator, ends_on=yard_day(at) + 300 * DAY)
    TicketFactory(operator=operator, kind="medical", number="MED-1")
    turn = wet_out(at=at, operator=operator, wants=["induction"])
    TicketFactory(operator=operator, kind="induction", number="IND-2", customer=CustomerFactory())
    body = packs.make_pack(line=turn.line, by=desk, at=at).body
    [one] = body["operators"]
    assert "Kit Moran" in one["name"]
    assert [ticket["number"] for ticket in one["tickets"]] == ["044 118 207"]
    assert any("induction" in words for words in body["missing"])
    theirs = TicketFactory(
        operator=operator, kind="induction", number="IND-1", customer=turn.line.agreement.customer
    )
    body = packs.make_pack(line=turn.line, by=desk, at=at).body
    assert theirs.number in {ticket["number"] for ticket in body["operators"][0]["tickets"]}
    assert not any("induction" in words for words in body["missing"])


def test_a_wet_hire_without_an_operator_says_so(desk, at):
    line = LineFactory(starts_at=at + DAY)
    WetHireFactory(line=line)
    assert (
        "No operator is put down with the cart yet."
        in packs.make_pack(line=line, by=desk, at=at).body["missing"]
    )


def test_the_file_is_made_once_with_the_sealed_certificate_inside(hand, desk, at, seal_key):
    line = ready_line(hand=hand, at=at)
    pack = packs.make_pack(line=line, by=desk, at=at)
    with pytest.raises(NotSealedYet):
        make_pack_file(pack.pk, at)
    certificate = valid_certificate(line)
    render_and_seal(certificate.pk, at)
    make_pack_file(pack.pk, at)
    make_pack_file(pack.pk, at)
    file = PackFile.objects.get(pack=pack)
    raw = store.open(file.stored_name).read()
    assert hashlib.sha256(raw).hexdigest() == file.sha256
    with pikepdf.open(io.BytesIO(raw)) as pdf:
        inside = pdf.attachments[f"{certificate.number}.pdf"].get_file().read_bytes()
    assert hashlib.sha256(inside).hexdigest() == SealedFile.objects.get(certificate=certificate).sha256


def test_a_pack_without_a_certificate_has_a_file_too(desk, at):
    pack = packs.make_pack(line=LineFactory(starts_at=at + DAY), by=desk, at=at)
    make_pack_file(pack.pk, at)
    assert PackFile.objects.get(pack=pack).sha256


def test_sent_and_answered(people, desk, at):
    pack = packs.make_pack(line=LineFactory(starts_at=at + 9 * DAY), by=desk, at=at)
    said = {"told_by_words": "Plant officer", "by": desk, "at": at + 2 * DAY}
    with pytest.raises(packs.NeverSent):
        packs.record_answer(pack=pack, answered_at=at + DAY, answer="accepted", why="", **said)
    packs.record_sent(
        pack=pack, sent_at=at + DAY, to_words="Plant officer", how="portal", by=desk, at=at + DAY
    )
    with pytest.raises(packs.WhyWanted):
        packs.record_answer(pack=pack, answered_at=at + 2 * DAY, answer="back", why=" ", **said)
    with pytest.raises(packs.NotThatTime):
        packs.record_answer(pack=pack, answered_at=at + 3 * DAY, answer="back", why="No noise figure", **said)
    row = packs.record_answer(
        pack=pack, answered_at=at + 2 * DAY, answer="back", why="No noise figure", **said
    )
    with pytest.raises(packs.NotThatTime):
        packs.record_sent(pack=pack, sent_at=at - DAY, to_words="x", how="hand", by=desk, at=at)
    assert Entry.objects.filter(event="hire.pack.answered").exists()
    for role in set(Role) - DESK:
        with pytest.raises(NotAllowed):
            packs.make_pack(line=pack.line, by=people[role], at=at)
    with pytest.raises(IntegrityError, match="sent_back_says_why"), transaction.atomic():
        PackAnswer.objects.create(
            pack=pack, answered_at=at, answer="back", told_by_words="x", recorded_at=at, by=desk
        )
    for sealed in (pack, row):
        with pytest.raises(DatabaseError), transaction.atomic():
            type(sealed).objects.filter(pk=sealed.pk).delete()


def test_none_is_made_for_a_hire_that_is_over(desk, at):
    line = LineFactory(starts_at=at - 9 * DAY, out_at=at - 9 * DAY, came_back_at=at - DAY)
    with pytest.raises(packs.HireEnded):
        packs.make_pack(line=line, by=desk, at=at)


@pytest.mark.parametrize(
    ("on", "days", "before", "after"),
    [
        (date(2026, 12, 7), 0, date(2026, 12, 7), date(2026, 12, 7)),
        (date(2026, 12, 7), 1, date(2026, 12, 4), date(2026, 12, 8)),
        (date(2026, 12, 7), 5, date(2026, 11, 30), date(2026, 12, 14)),
        (date(2026, 12, 6), 1, date(2026, 12, 4), date(2026, 12, 7)),
        (date(2026, 12, 28), 1, date(2026, 12, 24), date(2026, 12, 29)),
    ],
)
def test_working_days(on, days, before, after):
    closed = frozenset({date(2026, 12, 25)})
    assert days_before(on, days, working=WEEKDAYS, closed=closed) == before
    assert days_after(on, days, working=WEEKDAYS, closed=closed) == after


def test_a_yard_that_never_works_is_told_so():
    with pytest.raises(ValueError, match="no working days"):
        days_before(date(2026, 12, 7), 1, working=frozenset(), closed=frozenset())


def test_which_hires_want_a_pack(desk, at):
    """The yard works Monday to Saturday: five working days after Tuesday 1 December is Monday the 7th."""
    asked = Asked(papers={"registration": PaperAsked("asked")})

    def due(days):
        line = LineFactory(starts_at=at + days * DAY)
        SiteSetFactory(customer=line.agreement.customer, asked=asked)
        return line

    near, far, sent, back = due(6), due(7), due(3), due(4)
    LineFactory(starts_at=at + DAY)
    for line in (sent, back):
        pack = packs.make_pack(line=line, by=desk, at=at)
        packs.record_sent(pack=pack, sent_at=at, to_words="x", how="email", by=desk, at=at)
        if line is back:
            packs.record_answer(
                pack=pack, answered_at=at, answer="back", why="x", told_by_words="x", by=desk, at=at
            )
    assert {line.pk for line in packs_wanted(at=at)} == {near.pk, back.pk}
    assert pack_wanted_by(near) == yard_day(at)
    assert far.pk not in {line.pk for line in packs_wanted(at=at)}


def test_the_pages(client, people, desk):
    now = timezone.now()
    line = LineFactory(starts_at=now + 9 * DAY, cart=CartFactory(fleet_number="RG31"))
    client.force_login(desk)
    answer = client.post(reverse("hire:pack_make", args=[line.pk]))
    pack = SitePack.objects.get()
    assert answer["Location"] == reverse("hire:pack_detail", args=[pack.pk])
    page = text_of(client.get(answer["Location"]))
    assert "The pre-hire certificate is not issued yet" in page
    assert "Not sent yet." in page
    assert client.get(reverse("hire:pack_file", args=[pack.pk])).status_code == 404
    make_pack_file(pack.pk, now)
    file = client.get(reverse("hire:pack_file", args=[pack.pk]))
    assert b"".join(file.streaming_content).startswith(b"%PDF")
    wrong = client.post(
        reverse("hire:pack_answer", args=[pack.pk]),
        {"answered_at": typed_moment(now), "answer": "accepted", "told_by_words": "Kept words"},
    )
    assert wrong.status_code == 422
    assert "Kept words" in text_of(wrong)
    client.post(
        reverse("hire:pack_sent", args=[pack.pk]),
        {"sent_at": typed_moment(timezone.now()), "to_words": "Plant officer", "how": "email"},
    )
    hire = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert pack.number in hire
    assert "Sent to Plant officer: by email" in hire
    client.force_login(people[Role.YARD_HAND])
    assert "It was sent" not in text_of(client.get(reverse("hire:pack_detail", args=[pack.pk])))
    assert SitePackFactory().body["papers"]
