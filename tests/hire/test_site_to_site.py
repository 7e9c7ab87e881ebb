"""A cart that goes from site to site: the customer's named person walks it, a manager accepts the check, and papers say so."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.actions.carts import move_cart
from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from fleet.models.defects import Defect
from fleet.needs import site_hire
from fleet.readiness import Window, readiness
from fleet.sentences import readiness_sentence
from hire.actions.gate import NotFit, StoppedAtGate, hand_over, issue_certificate, valid_certificate
from inspections import standing
from inspections.acceptance import ACCEPTING, NothingToAccept, accept_check
from inspections.actions import AlreadyConfirmed, NotTheAuthor, confirm_name
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from inspections.models import NameConfirmation, SiteWalker, WalkRound
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import MANAGERS, Role
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, PhotoFactory
from tests.factories.hire import LineFactory, given
from tests.factories.people import StaffFactory
from tests.factories.site import Phone, open_phone, out_line, phone_of
from tests.inspections.wire import key_of
from tests.outbox import deliver

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def now(at):
    return at


@pytest.fixture
def boss(people):
    return people[Role.WORKSHOP_MANAGER]


def leaving(at):
    """A hire that begins straight from a site, an hour ago."""
    walk.edition()
    cart = CartFactory(fleet_number="RG07", tyres=True, where_kind="site")
    return LineFactory(cart=cart, starts_at=at - HOUR, agreement__leaves_by="site")


@pytest.fixture
def line(db, now):
    return leaving(now)


def gate_of(line, at):
    """The cart's readiness for leaving on its hire."""
    window = Window(start=at, end=at + HOUR, line_id=line.pk)
    return readiness(line.cart, window=window, at=at)


@pytest.fixture
def jo(line, now):
    return open_phone(line, at=now - DAY)[0]


def test_its_checks_are_offered_to_the_people_of_the_hire_that_begins_there(db):
    now = timezone.now()
    line = leaving(now)
    told = phone_of(line, at=now).get("/sync/reference").json()
    assert set(told["carts"][0]["sheets"]) == {"daily", "pre_hire", "gate_out"}
    assert told["carts"][0]["purposes_due"] == ["pre_hire", "gate_out"]
    assert told["carts"][0]["where"] == "Not handed over yet"


@pytest.mark.parametrize("leaves_by", ["road", "float", "site"])
def test_and_to_those_of_the_hire_before_it_while_they_have_the_cart(db, now, leaves_by):
    line = out_line(at=now)
    LineFactory(cart=line.cart, starts_at=now + 6 * DAY, agreement__leaves_by=leaves_by)
    offered = site_hire("hire_line", line.pk, at=now).purposes
    assert offered == (("daily", "pre_hire", "gate_out") if leaves_by == "site" else ("daily",))


def test_a_hire_further_ahead_is_not_asked(line, now):
    later = LineFactory(cart=line.cart, starts_at=now + 20 * DAY, agreement__leaves_by="site")
    assert site_hire("hire_line", later.pk, at=now).purposes == ("daily",)
    assert site_hire("hire_line", line.agreement_id, at=now) is None


CHECKS = ["pre_hire", "gate_out"]


@pytest.mark.parametrize("purpose", CHECKS)
def test_it_counts_only_once_a_manager_has_accepted_it(line, jo, people, now, purpose):
    hand, boss = people[Role.YARD_HAND], people[Role.WORKSHOP_MANAGER]
    signed = {}
    for one in CHECKS:
        signed[one] = walk.sign(line.cart, one, by=jo if one == purpose else hand, at=now - HOUR / 2)
    [blocker] = gate_of(line, now).blockers
    short = purpose.replace("_", "-")
    customer = line.agreement.customer.name
    assert blocker.sentence == (
        f"Jo Field ({customer}) signed the {short} check on site. A manager accepts it on its page before it counts."
    )
    assert (blocker.cleared_by, blocker.passed_by) == (MANAGERS, frozenset())
    assert not signed[purpose].is_name_confirmed
    later = Window(start=now + HOUR / 4, end=now + HOUR, line_id=line.pk)
    before = readiness(line.cart, window=later, at=now)
    assert f"its {short} check is accepted, by" in readiness_sentence(before)
    accept_check(walk=signed[purpose], by=boss, at=now)
    assert WalkRound.objects.get(pk=signed[purpose].pk).is_name_confirmed
    assert gate_of(line, now).may_go


def test_nobody_on_site_can_undo_what_the_yard_signed(line, jo, hand, now):
    ours = walk.sign(line.cart, "pre_hire", by=hand, at=now - 3 * HOUR)
    walk.sign(line.cart, "gate_out", by=hand, at=now - HOUR)
    for purpose in CHECKS:
        walk.sign(line.cart, purpose, by=jo, at=now - HOUR / 2)
    assert gate_of(line, now).may_go
    assert standing.latest_fit_pre_hire(line.cart, at=now) == ours
    assert standing.pre_hire_faults([line.cart], starts={line.cart_id: now}, at=now) == {}


def test_a_check_from_site_that_would_not_hold_asks_nobody_to_accept_it(line, jo, boss, now):
    walk.sign(line.cart, "gate_out", by=jo, at=now - 5 * HOUR)
    move_cart(cart=line.cart, where_kind="site", where_words="Pit 4", keys_words="On hook", by=boss, at=now)
    codes = {one.code for one in gate_of(line, now).blockers}
    assert codes == {"walk_round.pre_hire", "walk_round.gate_out"}


def test_the_certificate_waits_for_it_and_says_who_signed_and_who_accepted(line, jo, boss, desk, now):
    signed = walk.sign(line.cart, "pre_hire", by=jo, at=now - HOUR)
    deliver(now, "walk_round.signed")
    assert valid_certificate(line) is None
    with pytest.raises(NotFit, match="signed the pre-hire check on site"):
        issue_certificate(line=line, by=desk, at=now)
    accept_check(walk=signed, by=boss, at=now)
    deliver(now, "walk_round.signed")
    on_site, accepted = paper_of(valid_certificate(line)).signatures
    assert (on_site.role, on_site.organisation) == ("On site for the customer", line.agreement.customer.name)
    assert on_site.how == "signed on site, on their own phone"
    assert (accepted.name, accepted.role, accepted.statement) == (
        boss.full_name,
        "Workshop manager",
        ACCEPTING,
    )
    gate_out = walk.sign(line.cart, "gate_out", by=jo, at=now - HOUR / 2)
    with pytest.raises(StoppedAtGate, match="signed the gate-out check on site"):
        hand_over(line=line, given=given(), by=desk, at=now)
    accept_check(walk=gate_out, by=boss, at=now)
    hand_over(line=line, given=given(), by=desk, at=now)
    receipt = paper_of(Certificate.objects.get(kind="receipt"))
    assert receipt.method.walk_round_id == str(gate_out.pk)
    assert [one.part for one in receipt.signatures] == [
        "Walked the cart and signed the gate-out check",
        "Accepted the gate-out check signed on site",
    ]


def test_a_gate_out_check_nobody_accepted_stands_on_no_receipt(line, jo, hand, desk, now):
    walk.sign(line.cart, "pre_hire", by=hand, at=now - 3 * HOUR)
    ours = walk.sign(line.cart, "gate_out", by=hand, at=now - HOUR)
    walk.sign(line.cart, "gate_out", by=jo, at=now - HOUR / 2)
    issue_certificate(line=line, by=desk, at=now)
    hand_over(line=line, given=given(), by=desk, at=now)
    assert paper_of(Certificate.objects.get(kind="receipt")).method.walk_round_id == str(ours.pk)


@pytest.mark.parametrize("role", sorted(set(Role) - MANAGERS))
def test_only_managers_accept(line, jo, people, now, role):
    signed = walk.sign(line.cart, "pre_hire", by=jo, at=now)
    with pytest.raises(NotAllowed):
        accept_check(walk=signed, by=people[role], at=now)


def test_pre_starts_and_the_yards_own_checks_need_nobody(line, jo, hand, boss, now):
    for signed in (
        walk.sign(line.cart, "daily", by=jo, at=now),
        walk.sign(line.cart, "pre_hire", by=hand, at=now),
    ):
        assert signed.is_name_confirmed
        with pytest.raises(NothingToAccept):
            accept_check(walk=signed, by=boss, at=now)
    with pytest.raises(NotTheAuthor):
        confirm_name(walk=walk.sign(line.cart, "pre_hire", by=jo, at=now), by=boss, at=now, how="session")


@pytest.mark.django_db(transaction=True)
def test_accepted_by_many_at_once_it_is_accepted_once():
    now = timezone.now()
    boss, line = StaffFactory(role="workshop_manager"), out_line(at=now)
    signed = walk.sign(line.cart, "gate_out", by=open_phone(line, at=now)[0], at=now)
    answers = at_once(*[lambda: accept_check(walk=signed, by=boss, at=now)] * 6)
    assert sorted(type(one).__name__ for one in answers) == ["AlreadyConfirmed"] * 5 + ["NameConfirmation"]
    entry = Entry.objects.get(event="inspections.walk_round.accepted")
    assert entry.by == boss
    with pytest.raises(AlreadyConfirmed):
        accept_check(walk=signed, by=boss, at=now)


def test_the_page_shows_its_photos_and_what_accepting_means(client, boss, hand):
    now = timezone.now()
    line = leaving(now)
    _, token = open_phone(line, at=now)
    key, place = key_of(line.cart, "gate_out", answer="sound")
    photo = PhotoFactory()
    change = {"answer": "wrong", "grade": "watch", "photos": [photo.original_sha256]}
    body = walk.manifest(line.cart, "gate_out", at=now, answers={(key, place): change})
    assert Phone(line, token).put(body).json()["name_confirmed"] is False
    address = reverse("inspections:walk_round_detail", args=[body["id"]])
    client.force_login(hand)
    page = client.get(address).content.decode()
    assert "Accept this check" not in page
    assert "It counts for nothing until a manager" in page
    client.force_login(boss)
    page = client.get(address).content.decode()
    assert "Accept this check" in page
    assert ACCEPTING in page
    assert str(photo.pk) in page.split("Accept this check")[0]
    client.post(reverse("inspections:check_accept", args=[body["id"]]))
    page = client.get(address).content.decode()
    assert f"Accepted by {boss.full_name}" in page
    assert NameConfirmation.objects.get().how == "accepted"


def test_what_is_found_on_site_is_told_at_once_and_the_lapsed_pre_start_is_cleared(db, now):
    walk.edition()
    at = now + 3 * HOUR  # half past ten in the yard
    line = out_line(at=at)
    sweep(at=at)
    [lapsed] = Alert.objects.filter(rule="hire.pre_start_lapsed", cleared_at=None)
    assert lapsed.cart_id == line.cart_id
    # Somebody on another hire of the cart signs nothing for this one.
    other = LineFactory(cart=line.cart, starts_at=at + 30 * DAY)
    walk.sign(line.cart, "daily", by=open_phone(other, at=at - DAY)[0], at=at)
    sweep(at=at)
    assert Alert.objects.filter(rule="hire.pre_start_lapsed", cleared_at=None).exists()
    key, place = key_of(line.cart, "daily", answer="sound")
    walk.sign(
        line.cart,
        "daily",
        by=open_phone(line, at=at - DAY)[0],
        at=at,
        answers={(key, place): {"answer": "wrong", "grade": "do_not_use"}},
    )
    sweep(at=at)
    assert not Alert.objects.filter(rule="hire.pre_start_lapsed", cleared_at=None).exists()
    assert Defect.objects.get().told_by_words == f"Jo Field, {line.agreement.customer.name}"


WHO = "inspections_walkround_yard_or_site"


@pytest.mark.parametrize(
    "changed",
    [
        {"author": None},
        {"sent_by": None},
        {"author": None, "sent_by": None},
        {"site_walker": True},
        {"author": None, "sent_by": None, "site_walker": True, "purpose": "weekly"},
    ],
)
def test_the_database_keeps_no_record_of_nobody_or_of_both(line, jo, hand, now, changed):
    kept = walk.sign(line.cart, "daily", by=hand, at=now)
    kept.pk, kept._state.adding = None, True
    for name, value in changed.items():
        setattr(kept, name, jo if value is True else value)
    with pytest.raises(IntegrityError, match=WHO), transaction.atomic():
        WalkRound.objects.bulk_create([kept])


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        ({"name": "  "}, "inspections_sitewalker_named"),
        ({"for_words": ""}, "inspections_sitewalker_named"),
        ({"opened_how": "link"}, "inspections_sitewalker_how_known"),
        ({"opened_how": "asks"}, "inspections_sitewalker_how_known"),
    ],
)
def test_the_database_keeps_no_phone_of_nobody(jo, changed, rule):
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        SiteWalker.objects.filter(pk=jo.pk).update(**changed)
    with pytest.raises(IntegrityError, match="expires_later"), transaction.atomic():
        SiteWalker.objects.filter(pk=jo.pk).update(expires_at=jo.opened_at)


def test_shifts_are_one_or_two(line):
    with pytest.raises(IntegrityError, match="hire_agreement_shifts_known"), transaction.atomic():
        type(line.agreement).objects.update(shifts_a_day=3)
