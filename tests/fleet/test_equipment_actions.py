"""Extinguishers are placed, swapped, used and serviced; papers are recorded once."""

from datetime import date
from decimal import Decimal

import pytest

from fleet.actions.equipment import (
    ExtinguisherDetails,
    ExtinguisherElsewhere,
    mark_extinguisher_used,
    place_extinguisher,
    record_document,
    record_extinguisher_service,
)
from fleet.actions.locks import AgainstARule
from fleet.extinguisher_kinds import due_for, kinds_for
from fleet.models.equipment import Document, Extinguisher
from people.refusals import NotAllowed
from people.roles import WORKSHOP, Role
from tests.factories.fleet import CartFactory, ExtinguisherFactory
from tests.factories.people import StaffFactory
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db
TODAY = date(2026, 12, 1)


def place(cart, by, at, serial="ex 77", **changes):
    said = {"details": ExtinguisherDetails(serial=serial, made_on=date(2025, 3, 1)), "bracket": "Cab, left"}
    return place_extinguisher(cart=cart, by=by, at=at, **said | changes)


def service(item, by, at, **changes):
    said = {"kind": "routine_6_month", "on": TODAY, "by_words": "Tag House"}
    return record_extinguisher_service(extinguisher=item, by=by, at=at, **said | changes)


def test_an_extinguisher_is_placed_and_the_one_before_goes_to_the_shelf(fitter, at):
    cart = CartFactory()
    first = place(cart, fitter, at)
    assert (first.serial, first.cart, first.size_kg) == ("EX 77", cart, Decimal(9))
    second = place(cart, fitter, at, "EX 78", instead_of=first)
    first.refresh_from_db()
    assert (first.cart, first.bracket) == (None, "")
    assert list(cart.extinguishers.all()) == [second]
    assert [facts["instead_of"] for _, facts in entries_of(cart)] == [None, "EX 77"]


def test_a_spare_off_the_shelf_is_the_one_on_record(fitter, at):
    spare = ExtinguisherFactory(cart=None, serial="EX 90", made_on=date(2024, 6, 1))
    placed = place(CartFactory(), fitter, at, "ex  90")
    assert (placed, placed.made_on) == (spare, date(2024, 6, 1))
    assert Extinguisher.objects.count() == 1


def test_what_cannot_be_placed(fitter, at):
    cart, elsewhere = CartFactory(), ExtinguisherFactory(serial="EX 5")
    used = ExtinguisherFactory(serial="EX 6", cart=None, is_discharged=True)
    with pytest.raises(ExtinguisherElsewhere, match=elsewhere.cart.fleet_number):
        place(cart, fitter, at, "EX 5")
    for changes, field in (
        ({"serial": used.serial}, "serial"),
        ({"bracket": " "}, "bracket"),
        ({"instead_of": elsewhere}, "instead_of"),
        ({"details": ExtinguisherDetails(serial="N", made_on=date(2026, 12, 2))}, "made_on"),
        ({"details": ExtinguisherDetails(serial="N", made_on=TODAY, size_kg=Decimal(0))}, None),
        ({"details": ExtinguisherDetails(serial="N", made_on=TODAY, agent="sand")}, "agent"),
    ):
        with pytest.raises(AgainstARule) as refused:
            place(cart, fitter, at, **changes)
        assert refused.value.field == field
    assert not cart.extinguishers.exists()
    assert not Extinguisher.objects.filter(serial="N").exists()


def test_servicing_tells_which_services_there_are_and_when_each_falls_due():
    item = ExtinguisherFactory(serviced={"routine_6_month": date(2026, 6, 10)})
    assert dict(kinds_for(item)) == {
        "routine_6_month": "Six-month service",
        "routine_12_month": "Twelve-month service",
        "pressure_test": "Pressure test",
    }
    due = due_for(item, on=TODAY)
    assert [(one.words, one.on) for one in due][:2] == [
        ("twelve-month service", date(2026, 12, 1)),
        ("six-month service", date(2026, 12, 10)),
    ]
    assert due[0].source.startswith("FE-50")


def test_a_service_is_recorded_once_and_charges_a_used_one(fitter, at):
    item = ExtinguisherFactory(is_discharged=True)
    first = service(item, fitter, at)
    assert service(item, fitter, at, by_words="Somebody else") == first
    item.refresh_from_db()
    assert not item.is_discharged
    [(event, facts)] = entries_of(item.cart)
    assert (event, facts["was_used"], facts["by"]) == ("fleet.extinguisher.serviced", True, "Tag House")


def test_a_service_of_one_on_the_shelf_stands_in_the_yards_journal(fitter, at):
    service(ExtinguisherFactory(cart=None), fitter, at)
    assert events_of(None) == ["fleet.extinguisher.serviced"]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "hydrotest"}, "kind"),
        ({"on": date(2026, 12, 2)}, "on"),
        ({"on": date(2025, 11, 30)}, "on"),
        ({"by_words": ""}, "by_words"),
    ],
)
def test_a_service_that_cannot_be_is_refused(at, changes, field):
    item = ExtinguisherFactory(made_on=date(2025, 12, 1))
    with pytest.raises(AgainstARule) as refused:
        service(item, StaffFactory(role="fitter"), at, **changes)
    assert refused.value.field == field
    assert not item.services.exists()


def test_anybody_says_that_one_is_used_and_once_is_enough(people, at):
    item, hand = ExtinguisherFactory(), people[Role.YARD_HAND]
    with pytest.raises(AgainstARule) as refused:
        mark_extinguisher_used(extinguisher=item, words="", by=hand, at=at)
    assert refused.value.field == "words"
    assert mark_extinguisher_used(extinguisher=item, words="Pin gone", by=hand, at=at).is_discharged
    mark_extinguisher_used(extinguisher=item, words="Pin gone", by=hand, at=at)
    [(_, facts)] = entries_of(item.cart)
    assert facts == {"extinguisher": item.serial, "is_used": True, "words": "Pin gone"}


@pytest.mark.parametrize("role", sorted(set(Role) - WORKSHOP))
def test_only_the_workshop_places_and_services(people, at, role):
    with pytest.raises(NotAllowed):
        place(CartFactory(), people[role], at)
    with pytest.raises(NotAllowed):
        service(ExtinguisherFactory(), people[role], at)


def record(cart, by, at, **changes):
    said = {
        "kind": "registration",
        "number": " S491 ",
        "issued_on": date(2026, 11, 1),
        "expires_on": date(2027, 10, 31),
    }
    return record_document(cart=cart, by=by, at=at, **said | changes)


def test_a_paper_is_recorded_once(people, at):
    cart, manager = CartFactory(), people[Role.FLEET_MANAGER]
    paper = record(cart, manager, at)
    assert (paper.number, paper.recorded_by, paper.recorded_at) == ("S491", manager, at)
    assert record(cart, manager, at) == paper
    assert record(cart, manager, at, expires_on=date(2028, 10, 31)) != paper
    assert events_of(cart) == ["fleet.document.recorded"] * 2


def test_a_paper_of_the_whole_yard_stands_in_the_yards_journal(people, at):
    assert record(None, people[Role.FLEET_MANAGER], at, kind="insurance").cart is None
    assert events_of(None) == ["fleet.document.recorded"]


def test_a_paper_that_lapses_before_it_was_issued_is_refused(people, at):
    with pytest.raises(AgainstARule, match="before it was issued"):
        record(CartFactory(), people[Role.FLEET_MANAGER], at, expires_on=date(2026, 10, 31))
    with pytest.raises(AgainstARule) as refused:
        record(CartFactory(), people[Role.FLEET_MANAGER], at, kind="poem")
    assert refused.value.field == "kind"
    assert not Document.objects.exists()


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.FLEET_MANAGER}))
def test_only_the_fleet_manager_records_papers(people, at, role):
    with pytest.raises(NotAllowed):
        record(CartFactory(), people[role], at)
