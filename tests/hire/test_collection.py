"""A driver collects a cart with nobody of the yard there: the link, the gate-out check on the phone, and what it counts for."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction

from fleet.models.defects import Defect
from fleet.needs import site_hire
from hire.actions import collecting
from hire.actions.agreements import cancel_line
from hire.actions.another_cart import send_another
from hire.actions.gate import AlreadyHandedOver, gate_readiness, hand_over, issue_certificate
from hire.collection import NO_PAPER, SOMETHING, verdict
from hire.models.links import CollectionLink
from inspections.acceptance import accept_check
from inspections.actions import NotForSite, UnknownCart
from inspections.models import NameConfirmation, SiteWalker
from inspections.site_walkers import extend_site_walkers
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from people.yard import yard_policy
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, HoldFactory
from tests.factories.hire import LineFactory, given
from tests.factories.site import as_driver, collection_of, driver_of, open_phone
from tests.inspections.wire import key_of

HOUR = timedelta(hours=1)


@pytest.fixture
def now(at):
    return at


@pytest.fixture
def line(now, hand):
    """A hire that leaves now; its cart has its pre-hire check and certificate, and no gate-out check yet."""
    walk.edition()
    cart = CartFactory(fleet_number="RG07", tyres=True, where_words="Bay 3", keys_words="Key safe")
    line = LineFactory(cart=cart, starts_at=now)
    walk.sign(cart, "pre_hire", by=hand, at=now - 3 * HOUR)
    issue_certificate(line=line, by=None, at=now - 2 * HOUR)
    return line


@pytest.fixture
def link(line, desk, now):
    return collection_of(line, by=desk, at=now - HOUR)[0]


@pytest.fixture
def driver(link, now):
    return driver_of(link, at=now - HOUR / 2)[0]


def gate_out(line, driver, at, **changed):
    return walk.sign(line.cart, "gate_out", by=driver, at=at, **as_driver(driver) | changed)


def test_the_desk_or_a_manager_gives_a_named_driver_a_link(line, people, now):
    for role in Role:
        if role in collecting.MAY_GIVE:
            link, token = collection_of(line, by=people[role], at=now)
            assert token not in str(vars(link))
            assert collecting.open_collection_link(token=token, at=now) == link
        else:
            with pytest.raises(NotAllowed):
                collection_of(line, by=people[role], at=now)
    assert link.expires_at == now + 24 * HOUR
    assert link.words == f"Jo Field, {line.agreement.customer.name}"
    entry = Entry.objects.filter(event="hire.collection_link.made").last()
    assert (entry.subject_id, "0400 550 118" in entry.text) == (line.pk, True)


@pytest.mark.parametrize(
    ("told", "firm"),
    [
        ({"drives_for": "float", "firm": "Low  Loaders"}, "Low Loaders"),
        ({"drives_for": "casual"}, yard_policy().name),
    ],
)
def test_who_the_driver_drives_for(line, desk, told, firm):
    link, _ = collection_of(line, by=desk, at=line.promised.lower, **told)
    assert link.firm == firm


@pytest.mark.parametrize(
    ("told", "refusal"),
    [
        ({"name": " , "}, collecting.DriverWanted),
        ({"phone": " "}, collecting.DriverWanted),
        ({"drives_for": "float"}, collecting.FirmWanted),
    ],
)
def test_nobody_is_given_a_link_without_a_name_a_phone_and_a_firm(line, desk, now, told, refusal):
    with pytest.raises(refusal):
        collection_of(line, by=desk, at=now, **told)


def test_another_link_ends_the_one_before_and_its_phones(line, link, driver, desk, now):
    token = collection_of(line, by=desk, at=now, name="Sam Reef")[1]
    link.refresh_from_db()
    driver.refresh_from_db()
    assert (link.revoked_at, driver.revoked_at) == (now, now)
    assert collecting.open_collection_link(token=token, at=now).name == "Sam Reef"


def test_it_opens_until_it_runs_out_is_ended_or_the_cart_has_left(line, desk, hand, now):
    link, token = collection_of(line, by=desk, at=now)

    def opens(at):
        return collecting.open_collection_link(token=token, at=at) is not None

    assert opens(now + 24 * HOUR - timedelta(seconds=1))
    assert not opens(now + 24 * HOUR)
    walk.sign(line.cart, "gate_out", by=hand, at=now)
    hand_over(line=line, given=given(), by=desk, at=now)
    assert not opens(now)
    with pytest.raises(AlreadyHandedOver):
        collection_of(line, by=desk, at=now)
    with pytest.raises(collecting.LinkOver):
        driver_of(link, at=now)


def test_ended_it_opens_nothing_at_once_and_its_phones_neither(link, driver, desk, people, now):
    with pytest.raises(NotAllowed):
        collecting.end_collection_link(link=link, by=people[Role.YARD_HAND], at=now)
    for _ in range(2):
        collecting.end_collection_link(link=link, by=desk, at=now)
    assert SiteWalker.objects.get(pk=driver.pk).revoked_at == now
    assert Entry.objects.filter(event="hire.collection_link.ended").count() == 1
    assert collecting.link_of_phone(walker=driver, at=now) is None
    with pytest.raises(collecting.LinkOver):
        driver_of(link, at=now)


def test_it_is_over_with_the_hire_and_when_another_cart_goes(line, link, desk, now):
    other = CartFactory(fleet_number="RG08", tyres=True)
    send_another(line=line, cart=other, instead_of=line.cart, why="Flat", by=desk, at=now)
    with pytest.raises(collecting.LinkOver):
        driver_of(link, at=now)
    link, token = collection_of(LineFactory(cart=line.cart, starts_at=now), by=desk, at=now)
    cancel_line(line=link.line, why="Rain", by=desk, at=now)
    assert collecting.open_collection_link(token=token, at=now) is None


def test_a_sound_gate_out_check_stands_by_the_link_that_was_given(line, driver, desk, now):
    assert {one.code for one in gate_readiness(line, at=now).blockers} == {"walk_round.gate_out"}
    signed = gate_out(line, driver, now)
    vouched = NameConfirmation.objects.get(walk_round=signed)
    assert (vouched.by, vouched.how, signed.is_name_confirmed) == (desk, "given", True)
    assert gate_readiness(line, at=now).may_go
    assert verdict(line, at=now).may_leave
    entry = Entry.objects.get(event="inspections.walk_round.signed", subject_id=signed.pk)
    assert (entry.by, entry.by_words) == (None, f"Jo Field, {line.agreement.customer.name}")
    assert str(desk.pk) in entry.text


def _one_point(line, **answer):
    key, place = key_of(line.cart, "gate_out", answer="sound")
    return {"answers": {(key, place): answer}}


@pytest.mark.parametrize(
    "answer",
    [
        {"answer": "wrong", "grade": "watch", "words": "Loose"},
        {"answer": "wrong", "grade": "do_not_use", "words": "Cracked"},
        {"answer": "could_not_check", "why": "dark"},
    ],
)
def test_a_point_that_is_not_right_waits_for_a_manager(line, driver, people, now, answer):
    signed = gate_out(line, driver, now, **_one_point(line, **answer))
    assert signed.asks_acceptance
    judged = verdict(line, at=now)
    assert not judged.may_leave
    if answer.get("grade") != "watch":
        return
    assert any("A manager accepts it" in words for words in judged.stops)
    assert Defect.objects.get().told_by_words.startswith("Jo Field")
    accept_check(walk=signed, by=people[Role.WORKSHOP_MANAGER], at=now)
    assert verdict(line, at=now).may_leave


def test_a_check_left_short_another_name_or_another_hand_waits(line, driver, now):
    key, _ = key_of(line.cart, "gate_out", answer="sound")
    signature = as_driver(driver)["signature"]
    for changed in (
        {"leave_out": [key]},
        {"signature": signature | {"name": "Sam Reef"}},
        {"author": {"id": str(line.pk), "name": "Jo Field"}},
    ):
        assert gate_out(line, driver, now, **changed).asks_acceptance, changed
    assert not gate_out(line, driver, now).asks_acceptance


def test_without_a_pre_hire_check_that_holds_it_waits(line, driver, now):
    line.cart.last_moved_at = now - HOUR
    line.cart.save()
    assert gate_out(line, driver, now).asks_acceptance


@pytest.mark.parametrize("late", [-1, 0, 1])
def test_signed_after_the_link_ran_out_it_waits_and_is_never_lost(line, link, driver, hand, late):
    signed_at = link.expires_at + timedelta(seconds=late)
    walk.sign(line.cart, "pre_hire", by=hand, at=signed_at - HOUR)
    assert gate_out(line, driver, signed_at).asks_acceptance is (late >= 0)
    assert driver.expires_at > link.expires_at


def test_a_driver_signs_the_gate_out_of_that_cart_and_nothing_else(line, driver, now):
    for purpose in ("daily", "pre_hire"):
        with pytest.raises(NotForSite, match="the gate-out check of RG07 is signed, and nothing else"):
            walk.sign(line.cart, purpose, by=driver, at=now, **as_driver(driver))
    other = LineFactory(cart=CartFactory(tyres=True), starts_at=now)
    with pytest.raises(UnknownCart):
        gate_out(other, driver, now)


def test_a_customers_person_gains_nothing_by_it(line, link, now):
    jo = open_phone(line, at=now - HOUR)[0]
    assert gate_out(line, jo, now).asks_acceptance
    assert collecting.link_of_phone(walker=jo, at=now) is None
    assert site_hire("hire_line", line.pk, at=now).gate_page == ""


def test_a_changed_period_does_not_lengthen_a_drivers_phone(line, driver, now):
    until = driver.expires_at
    extend_site_walkers(subject=("hire_line", line.pk), expires_at=now + 900 * HOUR)
    driver.refresh_from_db()
    assert driver.expires_at == until


def test_the_verdict_says_nothing_of_anybody_else(line, link, driver, now):
    gate_out(line, driver, now)
    HoldFactory(cart=line.cart, reason="Rival Earth owes us")
    assert verdict(line, at=now).stops == (SOMETHING,)


def test_no_certificate_no_leaving(line, driver, hand, now):
    walk.sign(line.cart, "pre_hire", by=hand, at=now - HOUR / 4)
    gate_out(line, driver, now)
    assert verdict(line, at=now).stops == (NO_PAPER,)


@pytest.mark.parametrize(
    ("changed", "rule"),
    [
        ({"name": " "}, "hire_collectionlink_of_somebody"),
        ({"firm": ""}, "hire_collectionlink_of_somebody"),
        ({"phone": ""}, "hire_collectionlink_of_somebody"),
        ({"drives_for": "anybody"}, "hire_collectionlink_of_somebody"),
        ({"expires_at": "made_at"}, "hire_collectionlink_expires_later"),
    ],
)
def test_the_database_keeps_no_link_of_nobody(link, changed, rule):
    for name, value in changed.items():
        setattr(link, name, getattr(link, value) if value == "made_at" else value)
    with pytest.raises(IntegrityError, match=rule), transaction.atomic():
        link.save()


def test_the_database_keeps_one_standing_link_a_hire(link):
    link.pk, link.token_sha256, link._state.adding = None, "0" * 64, True
    with pytest.raises(IntegrityError, match="hire_collectionlink_one_a_hire"), transaction.atomic():
        CollectionLink.objects.bulk_create([link])


def test_the_database_knows_who_gave_a_drivers_phone(driver):
    with pytest.raises(IntegrityError, match="inspections_sitewalker_how_known"), transaction.atomic():
        SiteWalker.objects.filter(pk=driver.pk).update(given_by=None)
