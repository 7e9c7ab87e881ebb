"""The whole story under the application's own database role, which may add to a sealed table and never lock or change it.

Everything else runs as the owner, so a lock on a sealed row would pass there and break at the gate.
"""

from datetime import timedelta

import pytest
from django.conf import settings
from django.db import connection

from fleet.actions.carts import move_cart
from fleet.actions.photo_parts import Part, take_part
from hire.actions.agreements import make_agreement, move_line
from hire.actions.gate import bring_back, hand_over, issue_certificate, valid_certificate
from hire.actions.links import make_link, open_link, revoke_link
from hire.actions.site import make_site_code, open_through_link, open_with_code
from hire.actions.stand_downs import stand_down
from inspections.acceptance import accept_check
from inspections.certificates.actions import render_and_seal, withdraw_paper
from inspections.certificates.models import Certificate
from inspections.editions import change_check, publish_edition
from inspections.library import library
from inspections.site_walkers import site_walker_by
from inspections.walkers import sender_of
from people.actions import change_staff, set_access
from people.journal.verify import faults_in_journal
from people.outbox.actions import deliver_next
from people.outbox.models import Message
from people.roles import Role
from people.throttle import note_failure
from people.yard import yard_day
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.hire import CustomerFactory, given

HOUR = timedelta(hours=1)


@pytest.fixture
def as_the_application(db, people):
    """From here on, the connection has the application's rights."""
    walk.edition()
    with connection.cursor() as cursor:
        cursor.execute(f"SET ROLE {connection.ops.quote_name(settings.APP_ROLE)}")
    yield
    with connection.cursor() as cursor:
        cursor.execute("RESET ROLE")


def test_walked_promised_certified_handed_over_and_back(as_the_application, seal_key, people, at):
    hand, desk = people[Role.YARD_HAND], people[Role.HIRE_DESK]
    cart = CartFactory(tyres=True)
    line = make_agreement(
        customer=CustomerFactory(), place_of_work="x", leaves_by="road", works_on="road", pre_start_book="ours", order_number="",
        cart=cart, starts_at=at, ends_at=at + 50 * HOUR, by=desk, at=at - 5 * HOUR,
    )  # fmt: skip
    walk.sign(cart, "pre_hire", by=hand, at=at - 3 * HOUR)
    walk.sign(cart, "gate_out", by=hand, at=at - HOUR / 2)
    while deliver_next(at=at):
        pass
    assert not Message.objects.exclude(last_error="").exists()
    first = valid_certificate(line)
    second = issue_certificate(line=line, by=desk, at=at - HOUR, why="Wrong order number")
    withdraw_paper(certificate=second, why="Typed twice", by=desk, at=at - HOUR)
    third = issue_certificate(line=line, by=desk, at=at - HOUR)
    render_and_seal(third.pk, at)
    assert second.replaces == first
    hand_over(line=line, given=given(), by=desk, at=at)
    move_line(line=line, starts_at=at, ends_at=at + 60 * HOUR, by=desk, at=at)
    stand_down(line=line, on=yard_day(at), why="Rain", told_by_words="Aoife", by=desk, at=at)
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=at)
    assert open_link(token=token, at=at).line == line
    bring_back(line=line, where_words="Wash bay", keys_words="Board", by=hand, at=at + 40 * HOUR)
    assert Certificate.objects.filter(kind="receipt").count() == 1
    assert list(faults_in_journal()) == []


def test_sheets_people_and_places_too(as_the_application, people, at):
    boss, hand = people[Role.FLEET_MANAGER], people[Role.YARD_HAND]
    change_check(key=library()[0].key, body=None, is_retired=True, by=boss, at=at)
    assert publish_edition(why="One fewer", by=boss, at=at).number == 2
    change_staff(person=hand, full_name="Jo", role="fitter", by=boss, at=at)
    set_access(person=hand, is_active=False, by=boss, at=at)
    note_failure(username="jo", address="192.0.2.1", at=at)
    move_cart(cart=CartFactory(), where_kind="yard", where_words="Bay", keys_words="Board", by=boss, at=at)
    assert list(faults_in_journal()) == []


def test_and_what_the_customers_people_do_on_site(as_the_application, people, at):
    desk, boss = people[Role.HIRE_DESK], people[Role.WORKSHOP_MANAGER]
    cart = CartFactory(tyres=True)
    line = make_agreement(
        customer=CustomerFactory(), place_of_work="x", leaves_by="site", works_on="road", pre_start_book="ours", order_number="",
        shifts_a_day=2, cart=cart, starts_at=at, ends_at=at + 50 * HOUR, by=desk, at=at - 5 * HOUR,
    )  # fmt: skip
    _, code = make_site_code(line=line, by=desk, at=at - 4 * HOUR)
    make_site_code(line=line, by=desk, at=at - 4 * HOUR, code=code)
    link, _ = make_link(line=line, for_words="Aoife", by=desk, at=at - 4 * HOUR)
    door = {"plate_code": cart.plate_code, "code": code, "address": "192.0.2.1", "at": at - 4 * HOUR}
    jo, token = open_with_code(**door, name="Jo Field")
    open_through_link(link=link, name="Ann Bee", at=at - 4 * HOUR)
    for purpose, since in (("pre_hire", 3 * HOUR), ("gate_out", HOUR / 2)):
        accept_check(walk=walk.sign(cart, purpose, by=jo, at=at - since), by=boss, at=at - since)
    while deliver_next(at=at):
        pass
    hand_over(line=line, given=given(), by=desk, at=at)
    assert site_walker_by(token=token, subject=("hire_line", line.pk), at=at).last_seen_at < at
    part = Part("a" * 64, 0, 9, b"1234")
    assert take_part(part=part, by=sender_of(jo), at=at).offset == 4
    revoke_link(link=link, by=desk, at=at)
    move_line(line=line, starts_at=at, ends_at=at + 60 * HOUR, by=desk, at=at)
    bring_back(line=line, where_words="Wash bay", keys_words="Board", by=desk, at=at + 40 * HOUR)
    walk.sign(cart, "daily", by=jo, at=at + 39 * HOUR)
    assert list(faults_in_journal()) == []
