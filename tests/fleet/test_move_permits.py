"""A held cart makes one trip on a move permit: given by a manager, used once, and nothing is ready because of it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from fleet import wanted
from fleet.actions.holds import place_hold
from fleet.actions.locks import AgainstARule
from fleet.actions.permits import (
    MoveDetails,
    NothingHolds,
    NotLeft,
    NotToBeMoved,
    PermitEnded,
    PermitOpen,
    PermitUsed,
    come_on_permit,
    give_move_permit,
    leave_on_permit,
    record_move,
    withdraw_move_permit,
)
from fleet.models.permits import MovePermit
from fleet.readiness import Window, readiness
from fleet.wanted import Wanted
from fleet.watch import moves_late
from people.refusals import NotAllowed
from people.roles import MANAGERS, WALKERS, Role
from tests.at_once import at_once
from tests.factories.fleet import CartFactory, DefectFactory, DocumentFactory, HoldFactory, PhotoFactory
from tests.factories.people import StaffFactory
from tests.factories.standing import MovePermitFactory
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture(autouse=True)
def checks(monkeypatch):
    """What two checks belong to, as the newest issue says it."""
    systems = {"brake-gear": "brakes", "steering-joints": "steering"}
    told = {key: Wanted("", "", "", system) for key, system in systems.items()}
    provider = lambda keys: {key: told[key] for key in keys if key in told}  # noqa: E731 - one line
    monkeypatch.setattr(wanted, "_provider", [provider])


@pytest.fixture
def boss(people):
    return people[Role.WORKSHOP_MANAGER]


def tagged(at, **changes):
    return HoldFactory(placed_at=at - HOUR, **changes).cart


def said(at, **changes):
    details = MoveDetails(
        way="road", to_kind="workshop", to_words=" Mill Road Wheels ", reason="Two tyres", expires_at=at + 6 * HOUR,
        is_empty=True, empty_words="Ruby, from the lid", driver_words="K. Amos, Amos Towing", licence_words="HR", speed_km_h=40,
        controls_words="Teo: brakes hold, steering free, nuts tight", conditions="By daylight",
    )  # fmt: skip
    return replace(details, **changes)


def give(cart, by, at, photo=None, **changes):
    return give_move_permit(cart=cart, details=said(at, **changes), photo=photo, by=by, at=at)


def came(permit, by, at, **changes):
    where = {"where_kind": "workshop", "where_words": "Mill Road Wheels", "keys_words": "Their counter"}
    return come_on_permit(permit=permit, by=by, at=at, **where | changes)


def stops(cart, at):
    answer = readiness(cart, window=Window(at, at + 24 * HOUR), at=at)
    return [blocker.code for blocker in answer.blockers]


@pytest.mark.parametrize("role", sorted(Role))
def test_a_manager_gives_it_and_nobody_else(people, at, role):
    cart = tagged(at)
    if role in MANAGERS:
        permit = give(cart, people[role], at)
        assert (permit.number, permit.to_words, permit.speed_km_h) == ("M2026-00001", "Mill Road Wheels", 40)
        assert permit.state(at=at) == "ready"
        [held] = permit.held_by
        assert held.startswith("Tagged out by ")
        [(event, facts)] = entries_of(cart)
        assert (event, facts["driver"]) == ("fleet.move_permit.given", "K. Amos, Amos Towing")
    else:
        with pytest.raises(NotAllowed):
            give(cart, people[role], at)


def test_a_trip_from_given_to_come(people, boss, at):
    cart, hand = tagged(at), people[Role.YARD_HAND]
    before = stops(cart, at)
    permit = leave_on_permit(permit=give(cart, boss, at), by=hand, at=at + HOUR)
    cart.refresh_from_db()
    assert (cart.where_kind, cart.where_words, cart.keys_words) == (
        "road", "On its way: Mill Road Wheels", "K. Amos, Amos Towing",
    )  # fmt: skip
    assert permit.state(at=at + HOUR) == "under_way"
    permit = came(permit, hand, at + 2 * HOUR)
    cart.refresh_from_db()
    assert (cart.where_sentence, cart.last_moved_at) == (
        "At an outside workshop, Mill Road Wheels. Keys: Their counter.", at + 2 * HOUR,
    )  # fmt: skip
    assert permit.state(at=at + 3 * HOUR) == "came"
    assert stops(cart, at) == before, "a permit makes nothing ready"
    assert events_of(cart) == [
        "fleet.move_permit.given", "fleet.cart.moved", "fleet.move_permit.left", "fleet.cart.moved", "fleet.move_permit.came",
    ]  # fmt: skip


def test_the_trip_over_private_ground_is_a_move_too_even_where_it_turned_back(people, boss, at):
    cart = HoldFactory(cart=CartFactory(where_kind="site", where_words="Pit 4")).cart
    permit = give(cart, boss, at, way="ground", to_kind="site", to_words="Pit 4 workshop")
    leave_on_permit(permit=permit, by=boss, at=at + HOUR)
    came(permit, boss, at + 2 * HOUR, where_kind="site", where_words="Pit 4")
    cart.refresh_from_db()
    assert (cart.where_kind, cart.last_moved_at) == ("site", at + 2 * HOUR)


def test_one_trip_and_no_more(boss, at):
    permit = leave_on_permit(permit=give(tagged(at), boss, at), by=boss, at=at)
    with pytest.raises(PermitUsed, match="one trip"):
        leave_on_permit(permit=permit, by=boss, at=at + HOUR)
    with pytest.raises(PermitUsed):
        withdraw_move_permit(permit=permit, words="Changed our minds", by=boss, at=at + HOUR)
    permit = came(permit, boss, at + HOUR)
    for again in (
        lambda: leave_on_permit(permit=permit, by=boss, at=at + HOUR),
        lambda: came(permit, boss, at + 2 * HOUR),
    ):
        with pytest.raises((PermitUsed, NotLeft)):
            again()


@pytest.mark.parametrize(("minutes", "leaves"), [(-1, True), (0, False), (1, False)])
def test_it_leaves_before_it_ends(boss, at, minutes, leaves):
    permit = give(tagged(at), boss, at)
    then = permit.expires_at + timedelta(minutes=minutes)
    if leaves:
        assert leave_on_permit(permit=permit, by=boss, at=then).left_at == then
    else:
        with pytest.raises(PermitEnded, match="another"):
            leave_on_permit(permit=permit, by=boss, at=then)


@pytest.mark.parametrize("role", sorted(Role))
def test_who_lets_it_leave(people, boss, at, role):
    permit = give(tagged(at), boss, at)
    if role in WALKERS:
        assert leave_on_permit(permit=permit, by=people[role], at=at).left_by == people[role]
    else:
        with pytest.raises(NotAllowed):
            leave_on_permit(permit=permit, by=people[role], at=at)


def test_what_was_found_since_keeps_it_there(people, boss, at):
    cart = tagged(at)
    permit = give(cart, boss, at)
    DefectFactory(cart=cart, title="Brake hose burst", check_key="brake-gear", told_at=at + HOUR)
    with pytest.raises(NotToBeMoved, match="Brake hose burst"):
        leave_on_permit(permit=permit, by=boss, at=at + 2 * HOUR)
    other = tagged(at)
    permit = give(other, boss, at)
    place_hold(
        cart=other,
        kind="incident",
        reason="Hit the gate",
        is_tag_hung=False,
        keys_words="Safe",
        by=boss,
        at=at + HOUR,
    )
    with pytest.raises(NotAllowed, match="fleet manager"):
        leave_on_permit(permit=permit, by=boss, at=at + 2 * HOUR)


def test_a_repair_without_its_second_look_is_a_stop_still(boss, at):
    cart = DefectFactory(check_key="brake-gear", state="repaired", told_at=at - 9 * HOUR).cart
    with pytest.raises(NotToBeMoved, match="float"):
        give(cart, boss, at)
    assert give(cart, boss, at, way="float", speed_km_h=None, controls_words="").speed_km_h is None


def test_what_is_never_moved_so_is_named_with_its_way_out(boss, at):
    cart = tagged(at)
    DefectFactory(
        cart=cart, title="Steering ball loose", check_key="steering-joints", station="front", place=""
    )
    DocumentFactory(cart=cart, kind="registration", expires_on=date(2026, 6, 30))
    with pytest.raises(NotToBeMoved) as refused:
        give(cart, boss, at)
    sentence = refused.value.sentence
    assert cart.fleet_number in sentence
    assert "Steering ball loose" in sentence
    assert "Registration lapsed" in sentence
    assert "Put it on a float" in sentence
    assert refused.value.field == "way"
    with pytest.raises(NotToBeMoved, match="Steering"):
        give(cart, boss, at, way="ground")
    permit = give(cart, boss, at, way="float")
    assert any("winched" in line for line in permit.musts)


def test_a_cart_that_nothing_holds_needs_none(boss, at):
    with pytest.raises(NothingHolds, match="needs no permit"):
        give(CartFactory(), boss, at)
    lapsed = DocumentFactory(kind="registration", expires_on=date(2026, 6, 30)).cart
    with pytest.raises(NotToBeMoved):
        give(lapsed, boss, at)
    with pytest.raises(NothingHolds):
        give(lapsed, boss, at, way="float")


def test_an_incidents_cart_moves_by_the_fleet_manager_alone_with_a_photo(people, at):
    cart = tagged(at, kind="incident")
    with pytest.raises(NotAllowed, match="fleet manager"):
        give(cart, people[Role.WORKSHOP_MANAGER], at, photo=PhotoFactory())
    with pytest.raises(AgainstARule) as refused:
        give(cart, people[Role.FLEET_MANAGER], at)
    assert refused.value.field == "photo"
    permit = give(cart, people[Role.FLEET_MANAGER], at, photo=PhotoFactory())
    assert any("incident" in line for line in permit.musts)


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"is_empty": False}, "is_empty"),
        ({"empty_words": " "}, "empty_words"),
        ({"driver_words": " "}, "driver_words"),
        ({"licence_words": ""}, "licence_words"),
        ({"speed_km_h": None}, "speed_km_h"),
        ({"speed_km_h": 0}, "speed_km_h"),
        ({"speed_km_h": 61}, "speed_km_h"),
        ({"controls_words": " "}, "controls_words"),
        ({"reason": " "}, "reason"),
        ({"to_kind": "yard", "to_words": "Bay 2"}, "to_words"),
    ],
)
def test_what_a_permit_has_to_say(boss, at, changes, field):
    cart = HoldFactory(cart=CartFactory(where_words="Bay 2"), placed_at=at - HOUR).cart
    with pytest.raises(AgainstARule) as refused:
        give(cart, boss, at, **changes)
    assert refused.value.field == field
    assert not MovePermit.objects.exists()


@pytest.mark.parametrize(("hours", "may"), [(0, False), (12, True), (12.01, False)])
def test_it_ends_within_the_yards_time(boss, at, hours, may):
    ends = at + timedelta(hours=hours)
    if may:
        assert give(tagged(at), boss, at, expires_at=ends).expires_at == ends
    else:
        with pytest.raises(AgainstARule) as refused:
            give(tagged(at), boss, at, expires_at=ends)
        assert refused.value.field == "expires_at"


def test_one_driver_of_the_yard_or_from_outside_and_not_somebody_who_left(people, boss, at):
    cart, hand = tagged(at), people[Role.YARD_HAND]
    with pytest.raises(AgainstARule):
        give(cart, boss, at, driver=hand)
    with pytest.raises(AgainstARule, match="left the yard"):
        give(cart, boss, at, driver=StaffFactory(is_active=False), driver_words="")
    assert give(cart, boss, at, driver=hand, driver_words="").driver_named == hand.full_name


def test_one_open_a_cart_and_one_that_ended_unused_gives_way(boss, at):
    cart = tagged(at)
    first = give(cart, boss, at)
    with pytest.raises(PermitOpen, match=first.number):
        give(cart, boss, at + HOUR, expires_at=at + 2 * HOUR)
    later = first.expires_at
    second = give(cart, boss, later, expires_at=later + HOUR)
    first.refresh_from_db()
    assert (first.state(at=later), second.number) == ("withdrawn", "M2026-00002")
    leave_on_permit(permit=second, by=boss, at=later)
    with pytest.raises(PermitOpen, match="Record where it is"):
        give(cart, boss, later + 9 * HOUR, expires_at=later + 10 * HOUR)


def test_withdrawn_with_why_and_used_no_more(people, boss, at):
    permit = give(tagged(at), boss, at)
    with pytest.raises(NotAllowed):
        withdraw_move_permit(permit=permit, words="No", by=people[Role.FITTER], at=at)
    with pytest.raises(AgainstARule):
        withdraw_move_permit(permit=permit, words=" ", by=boss, at=at)
    permit = withdraw_move_permit(permit=permit, words="The shop is shut", by=boss, at=at)
    with pytest.raises(PermitUsed, match="withdrawn"):
        leave_on_permit(permit=permit, by=boss, at=at)
    assert events_of(permit.cart)[-1] == "fleet.move_permit.withdrawn"


def test_nothing_came_that_has_not_left_and_a_trip_ends_in_a_place(boss, at):
    permit = give(tagged(at), boss, at)
    with pytest.raises(NotLeft, match="has not left"):
        came(permit, boss, at)
    leave_on_permit(permit=permit, by=boss, at=at)
    with pytest.raises(AgainstARule) as refused:
        came(permit, boss, at, where_kind="road")
    assert refused.value.field == "where_kind"


def test_late_and_elsewhere_is_recorded_as_it_was(boss, at):
    permit = leave_on_permit(permit=give(tagged(at), boss, at), by=boss, at=at)
    permit = came(permit, boss, at + 7 * HOUR, where_kind="yard", where_words="Gate")
    facts = entries_of(permit.cart)[-1][1]
    assert (facts["late"], facts["as_meant"], permit.came_to_words) == (True, False, "In the yard, Gate")


def test_the_manager_is_told_once_it_has_not_come_and_no_more_once_it_has(boss, at):
    permit = leave_on_permit(permit=give(tagged(at), boss, at), by=boss, at=at)
    give(tagged(at), boss, at)
    assert list(moves_late(permit.expires_at - timedelta(minutes=1))) == []
    [told] = moves_late(permit.expires_at)
    assert (told.subject_id, told.for_role, told.rank) == (permit.pk, Role.WORKSHOP_MANAGER, "today")
    assert permit.cart.fleet_number in told.what
    assert "K. Amos" in told.how_we_know
    came(permit, boss, at + 9 * HOUR)
    assert list(moves_late(at + 10 * HOUR)) == []


def test_many_late_ones_ask_no_more_than_one(django_assert_num_queries, at):
    for _ in range(3):
        MovePermitFactory(left=True)
    with django_assert_num_queries(1):
        assert len(list(moves_late(at + 9000 * HOUR))) == 3


def move(cart, by, at, **changes):
    where = {"where_kind": "workshop", "where_words": "Mill Road", "keys_words": "Wes"}
    return record_move(cart=cart, by=by, at=at, **where | changes)


@pytest.mark.parametrize("kind", ["site", "float", "workshop", "road"])
def test_a_held_cart_that_moved_without_one_is_recorded_with_why(people, at, kind):
    cart, hand = tagged(at), people[Role.YARD_HAND]
    with pytest.raises(AgainstARule, match="move permit") as refused:
        move(cart, hand, at, where_kind=kind)
    assert refused.value.field == "without_permit"
    move(cart, hand, at, where_kind=kind, without_permit="Towed off the road at night")
    [(event, facts)] = entries_of(cart)
    assert (event, facts["without_permit"]) == (
        "fleet.cart.moved_without_permit",
        "Towed off the road at night",
    )


def test_what_asks_for_no_permit(people, boss, at):
    hand = people[Role.YARD_HAND]
    free, held = CartFactory(), tagged(at)
    move(free, hand, at, without_permit="said for nothing")
    assert events_of(free) == ["fleet.cart.moved"], "a cart that nothing holds moved as any does"
    move(held, hand, at, where_kind="yard", where_words="Wash bay")
    assert events_of(held) == ["fleet.cart.moved"]
    move(held, hand, at, where_kind="yard", where_words="Wash bay", keys_words="Board")
    assert held.move_permits.count() == 0


def test_recording_where_it_is_ends_the_trip_it_is_on(boss, at):
    cart = tagged(at)
    permit = leave_on_permit(permit=give(cart, boss, at), by=boss, at=at)
    move(cart, boss, at + HOUR, where_kind="road", where_words="Roadhouse")
    permit.refresh_from_db()
    assert permit.is_under_way
    assert move(cart, boss, at + HOUR).where_words == "Mill Road"
    permit.refresh_from_db()
    assert (permit.came_at, permit.came_to_words) == (at + HOUR, "At an outside workshop, Mill Road")


@pytest.mark.django_db(transaction=True)
def test_two_who_let_it_leave_at_once(boss, at):
    permit = give(tagged(at), boss, at)
    given = at_once(*[lambda: leave_on_permit(permit=permit, by=boss, at=at)] * 2)
    assert sorted(type(one).__name__ for one in given) == ["MovePermit", "PermitUsed"]
