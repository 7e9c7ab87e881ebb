"""The builder: a yard's own checks are added, reworded and retired on screen; issues are frozen when published."""

import json
from functools import partial

import pytest
from django.urls import reverse

from inspections.editions import (
    CheckNotWellWritten,
    NothingToPublish,
    change_check,
    checks_of_edition,
    checks_with_changes,
    current_edition,
    drop_change,
    publish_edition,
)
from inspections.library import library
from inspections.models import Edition, YardCheck
from people.canonical import sha256_hex
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import MANAGERS, Role
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.pages import saved

TYPED = {
    "title": "Dust flap on the intake", "station": "front", "walk_pass": "1", "system": "engine", "look_for": "Flap torn or off",
    "sound": "Whole, and closes by itself", "if_not": "Fit a new one before dusty work", "grade": "watch", "asked": ["daily"],
    "needs": [], "minutes": "0.3", "answer": "sound", "unit": "", "limit_op": "", "basis": "common practice, no source",
}  # fmt: skip


@pytest.fixture
def manager(people):
    walk.edition()
    return people[Role.WORKSHOP_MANAGER]


@pytest.fixture
def client(client, manager):
    client.force_login(manager)
    return client


def add(client, **changed):
    return client.post(reverse("inspections:check_add"), TYPED | changed)


def publish(client, why="A flap for the new carts"):
    return client.post(reverse("inspections:publish"), {"why": why}, follow=True)


def keys(edition):
    return [check.key for check in checks_of_edition(edition)]


def test_a_check_of_the_yards_own_is_asked_from_the_next_issue(client, manager):
    cart, first = CartFactory(), current_edition()
    assert add(client).status_code == 302
    assert "yard-dust-flap-on-the-intake" not in keys(current_edition())
    publish(client)
    second = current_edition()
    assert (second.number, second.published_by, second.why) == (2, manager, "A flap for the new carts")
    assert [key for key in keys(second) if key not in keys(first)] == ["yard-dust-flap-on-the-intake"]
    assert any(item.check.key == "yard-dust-flap-on-the-intake" for item in walk.sheet(cart, "daily").items)
    assert Entry.objects.filter(event="inspections.sheet.published").count() == 2


def test_a_measured_check_has_its_limit(client):
    measured = {
        "answer": "measure",
        "unit": "mm",
        "limit_op": "between",
        "limit_value": "4",
        "limit_high": "9.5",
    }
    assert add(client, **measured).status_code == 302
    check = next(check for check in checks_with_changes() if check.key.startswith("yard-"))
    assert (check.unit_for("au"), check.limit_for("au").words) == ("mm", "4 to 9.5 mm")


@pytest.mark.parametrize(
    "wrong",
    [
        {"title": ""},
        {"title": "x" * 43},
        {"station": "roof"},
        {"walk_pass": "5"},
        {"grade": "stop"},
        {"asked": []},
        {"minutes": "-1"},
        {"minutes": "NaN"},
        {"answer": "measure", "unit": ""},
        {"answer": "measure", "unit": "mm", "limit_op": "between", "limit_value": "9", "limit_high": "4"},
        {"answer": "measure", "unit": "mm", "limit_op": "between", "limit_value": "9"},
        {"look_for": "two\x00lines"},
    ],
)
def test_a_check_nobody_could_ask_comes_back_with_what_was_typed(client, wrong):
    answer = add(client, **wrong)
    assert answer.status_code == 422
    assert not YardCheck.objects.exists()
    assert TYPED["sound"] in answer.content.decode()


def test_a_library_check_is_reworded_under_its_own_key(client):
    check = library()[0]
    change = reverse("inspections:check_change", args=[check.key])
    page = client.get(change).content.decode()
    assert check.title in page
    typed = TYPED | {"title": "Reworded here", "station": check.station, "system": check.system}
    assert client.post(change, typed).status_code == 302
    publish(client)
    asked = {one.key: one.title for one in checks_of_edition(current_edition())}
    assert asked[check.key] == "Reworded here"
    assert len(asked) == len(library())


def test_a_check_is_retired_and_taken_back(client):
    key = library()[5].key
    client.post(reverse("inspections:check_retire", args=[key]))
    assert key not in {check.key for check in checks_with_changes()}
    client.post(reverse("inspections:check_take_back", args=[key]))
    assert key in {check.key for check in checks_with_changes()}
    assert "Nothing has changed since issue 1." in publish(client).content.decode()


def test_an_issue_is_published_only_when_something_changed_and_says_why(client, manager, at):
    assert "Say in a few words why" in publish(client, why=" ").content.decode()
    with pytest.raises(NothingToPublish):
        publish_edition(why="Again", by=manager, at=at)
    assert Edition.objects.count() == 1


def test_an_issue_is_frozen_whatever_the_library_becomes(client, monkeypatch):
    first = current_edition()
    before = keys(first)
    key = library()[0].key
    client.post(reverse("inspections:check_retire", args=[key]))
    publish(client)
    assert keys(Edition.objects.get(number=1)) == before
    assert sha256_hex(first.content) == first.sha256
    assert key in first.content
    assert key not in {one["key"] for one in json.loads(current_edition().content)["checks"]}


def test_going_back_to_the_very_sheets_of_an_earlier_issue_needs_a_word_changed(client, manager, at):
    key = library()[0].key
    client.post(reverse("inspections:check_retire", args=[key]))
    publish(client)
    drop_change(key=key, by=manager)
    with pytest.raises(NothingToPublish, match="earlier issue"):
        publish_edition(why="Back", by=manager, at=at)


@pytest.mark.parametrize("role", sorted(set(Role) - MANAGERS))
def test_only_managers_change_sheets(people, at, role):
    walk.edition()
    with pytest.raises(NotAllowed):
        publish_edition(why="x", by=people[role], at=at)
    with pytest.raises(NotAllowed):
        change_check(key="x", body=None, is_retired=True, by=people[role], at=at)
    with pytest.raises(NotAllowed):
        drop_change(key="x", by=people[role])


def test_a_check_not_well_written_is_not_kept(manager, at):
    with pytest.raises(CheckNotWellWritten):
        change_check(
            key="yard-x", body={"key": "yard-x", "title": "Only a title"}, is_retired=False, by=manager, at=at
        )
    assert not YardCheck.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_of_two_who_publish_at_once_one_finds_nothing_new(at):
    walk.edition()
    manager = StaffFactory(role="workshop_manager")
    change_check(key=library()[0].key, body=None, is_retired=True, by=manager, at=at)
    publish = partial(publish_edition, why="Together", by=manager, at=at)
    outcomes = at_once(publish, publish)
    assert {type(outcome) for outcome in outcomes} == {Edition, NothingToPublish}
    assert Edition.objects.count() == 2


def test_the_page_shows_looks_minutes_and_ceilings_for_a_cart(client):
    CartFactory(fleet_number="RG07", tyres=True)
    page = client.get(reverse("inspections:sheet_list"), {"cart": "rg07"}).content.decode()
    for word in ("Daily pre-start", "Pre-hire check", "Gate-out check"):
        assert word in page
    assert client.get(reverse("inspections:sheet_list"), {"cart": "n\x00ne"}).status_code == 200


def test_the_checks_and_the_sheets_of_a_cart_are_saved(client):
    CartFactory(fleet_number="A1")
    CartFactory(fleet_number="K7")
    add(client, title="Dust flap on the intake")
    page = reverse("inspections:sheet_list")
    checks = saved(client, page, table="checks")
    assert len(checks) == len(checks_with_changes())
    [flap] = [row for row in checks if row["Check"] == "Dust flap on the intake"]
    assert (flap["Usual grade"], flap["Minutes"], flap["How good looks"]) == ("Watch", "0.3", TYPED["sound"])
    loads = saved(client, page, table="looks", cart="k7")
    assert {row["Cart"] for row in loads} == {"K7"}
    assert all(int(row["Looks"]) > 0 for row in loads)
    assert saved(client, page, table="looks")[0]["Cart"] == "A1"


@pytest.mark.parametrize("role", sorted(set(Role) - MANAGERS))
def test_the_file_of_checks_is_for_managers(client, people, role):
    client.force_login(people[role])
    address = reverse("inspections:sheet_list")
    for table in ("checks", "looks"):
        assert client.get(address, {"as": "csv", "table": table}).status_code == 403
