"""The yard's lot: which two looks of a pre-hire check want a fresh photo, drawn again from the record alone."""

import json
from collections import Counter
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.editions import checks_of_edition
from inspections.honesty import questions_of
from inspections.lot import PICKS, Candidate, pick
from inspections.manifest import ManifestRefused, read_manifest
from inspections.models import Edition, WalkRound
from inspections.photo_lots import lot_key
from inspections.reference import reference_for
from people.canonical import canonical_text, sha256_hex
from people.roles import Role
from tests.factories import inspections as signed
from tests.factories.fleet import CartFactory, PhotoFactory
from tests.factories.servicing import NOW

KEY = b"a key of the yard's alone"


def look(check, station="rear", **changed):
    usual = {"place": "", "walk_pass": 1, "photo": False, "may_be_absent": False}
    return Candidate(check=check, station=station, **(usual | changed))


ROUND = tuple(look(f"{station}-{n}", station) for station in ("cab", "front", "rear") for n in range(4))


def names(lot, looks=ROUND, *, cart="cart", key=KEY):
    return [one.check for one in pick(lot, cart=cart, looks=looks, key=key)]


@given(lot=st.text(max_size=64), looks=st.permutations(ROUND))
def test_two_looks_at_two_stations_whatever_order_they_are_listed_in(lot, looks):
    drawn = pick(lot, cart="cart", looks=looks, key=KEY)
    assert len({one.station for one in drawn}) == PICKS
    assert drawn == pick(lot, cart="cart", looks=ROUND, key=KEY)


def test_the_lot_the_cart_and_the_key_each_change_what_is_drawn():
    drawn = Counter(tuple(names(f"{n}")) for n in range(400))
    assert len(drawn) > 60
    assert max(drawn.values()) < 30
    for other in ({"cart": "another"}, {"key": b"another key"}):
        assert sum(names(f"{n}") == names(f"{n}", **other) for n in range(200)) < 20


def test_each_look_is_drawn_about_as_often_as_another():
    drawn = Counter(name for n in range(3000) for name in names(f"{n}"))
    assert set(drawn) == {one.check for one in ROUND}
    assert min(drawn.values()) > 400
    assert max(drawn.values()) < 600


def test_nothing_is_photographed_with_the_engine_running_or_twice():
    looks = (
        *(look(f"running-{n}", "front", walk_pass=3) for n in range(9)),
        *(look(f"wanted-{n}", "cab", photo=True) for n in range(9)),
        look("left", "left_side"),
        look("right", "right_side"),
    )
    assert all(sorted(names(f"{n}", looks)) == ["left", "right"] for n in range(50))


def test_what_may_be_absent_is_drawn_only_where_nothing_else_is_left():
    absent = [look(f"absent-{n}", "rear", may_be_absent=True) for n in range(9)]
    looks = (*absent, look("cab", "cab"), look("front", "front"))
    assert all(sorted(names(f"{n}", looks)) == ["cab", "front"] for n in range(50))
    assert {"cab"} < set(names("1", (*absent, look("cab", "cab"))))
    assert len(names("1", (look("cab", "cab"), look("cab-2", "cab")))) == 1
    assert names("1", ()) == []


@pytest.fixture
def cart(db):
    signed.edition()
    return CartFactory(tyres="9.5")


def lists(people, cart):
    document = reference_for(people[Role.YARD_HAND], csrf="", at=NOW)
    return next(one["sheets"] for one in document["carts"] if one["id"] == str(cart.pk))


def test_the_list_gives_each_pre_hire_sheet_a_fresh_lot(people, cart):
    first, second = (lists(people, cart) for _ in range(2))
    assert {purpose for purpose, sheet in first.items() if "lot" in sheet} == {"pre_hire"}
    asked = [[item["check"], item["place"]] for item in first["pre_hire"]["items"]]
    lots = [one["pre_hire"]["lot"] for one in (first, second)]
    assert lots[0]["id"] != lots[1]["id"]
    for lot in lots:
        assert len(lot["picks"]) == PICKS
        assert all(one in asked for one in lot["picks"])
    drawn = {tuple(map(tuple, lists(people, cart)["pre_hire"]["lot"]["picks"])) for _ in range(12)}
    assert len(drawn) > 6


def test_every_lot_of_a_real_sheet_can_be_photographed_key_out(people, cart):
    checks = {check.key: check for check in checks_of_edition(Edition.objects.get())}
    for _ in range(40):
        first, second = (checks[key] for key, _ in lists(people, cart)["pre_hire"]["lot"]["picks"])
        assert first.station != second.station
        assert {first.walk_pass, second.walk_pass} == {1}
        assert not any(one.photo or one.may_be_absent for one in (first, second))


def walked(cart, people, at, lot, *, answers=None, version=2, purpose="pre_hire", **changed):
    """The codes of the questions about one pre-hire check walked with this lot; answers by (check, place)."""
    hand = people[Role.YARD_HAND]
    author = {"author": {"id": str(hand.pk), "name": hand.full_name}}
    body = signed.manifest(
        cart, purpose, at=at, answers=answers, version=version, **author, lot=lot, **changed
    )
    return asked(body, people, at)


def asked(body, people, at):
    walk, _ = signed.sign_walk_round(manifest=read_manifest(body), by=people[Role.YARD_HAND], at=at)
    row = WalkRound.objects.select_related("cart", "author").get(pk=walk.pk)
    return [one.sign for one in questions_of([row])[row.pk] if one.sign.code == "lot"]


def picks_of(people, cart):
    lot = lists(people, cart)["pre_hire"]["lot"]
    return lot["id"], [tuple(one) for one in lot["picks"]]


def a_photo(name):
    return {"photos": [PhotoFactory(original_sha256=sha256_hex(name)).original_sha256]}


def test_two_photos_raise_nothing(people, cart, at):
    lot, picks = picks_of(people, cart)
    assert not walked(cart, people, at, lot, answers={one: a_photo(str(one)) for one in picks})


def test_a_picked_look_without_its_photo_is_asked_about_with_what_was_said(people, cart, at):
    lot, (first, second) = picks_of(people, cart)
    (sign,) = walked(
        cart, people, at, lot, answers={first: a_photo("a"), second: {"words": "No photo: no camera."}}
    )
    assert sign.question == (
        "Was there nothing to take a photo with? 1 of 2 looks picked by lot has no photo."
    )
    assert [value for _, value in sign.evidence] == ["Good, with a photo", "Good. No photo: no camera."]
    checks = {check.key: check for check in checks_of_edition(Edition.objects.get())}
    assert sign.evidence[1][0].startswith(checks[second[0]].title)


@pytest.mark.parametrize("answer", [{"answer": "could_not_check", "why": "dark"}, {"answer": "not_on_cart"}])
def test_what_was_not_looked_at_needs_no_photo(answer, people, cart, at):
    lot, picks = picks_of(people, cart)
    none = {"value": None, "unit": None, "choice": None}
    assert not walked(cart, people, at, lot, answers=dict.fromkeys(picks, none | answer))


def test_a_lot_of_ones_own_making_falls_where_the_yard_says(people, cart, at):
    """Whoever writes their own lot, or another cart's, does not know what it falls on."""
    other, picks = picks_of(people, CartFactory(tyres="9.5"))
    known = {(item.check.key, item.place) for item in signed.sheet(cart, "pre_hire").items}
    shown = {one: a_photo(str(one)) for one in picks if one in known}
    signs = [walked(cart, people, at + timedelta(minutes=n), f"mine-{n}", answers=shown) for n in range(4)]
    signs.append(walked(cart, people, at + timedelta(hours=1), other, answers=shown))
    assert sum(map(len, signs)) >= 4


def test_the_looks_are_worked_out_from_the_record_whatever_became_of_the_sheet(people, cart, at):
    lot, picks = picks_of(people, cart)
    body = signed.manifest(
        cart, "pre_hire", at=at, answers={one: a_photo(str(one)) for one in picks}, lot=lot,
        **signed.signed_by(people[Role.YARD_HAND]),
    )  # fmt: skip
    cart.fitments.all().delete()
    cart.extinguishers.all().delete()
    assert not asked(body, people, at)


def test_no_lot_on_a_sheet_that_gives_one_is_asked_about(people, cart, at):
    (sign,) = walked(cart, people, at, None)
    assert sign.question.startswith("Was this walked from an old list?")
    assert ("The lot, as signed", "none") in sign.evidence


def test_nothing_is_asked_of_what_was_walked_before_there_were_lots(people, cart, at):
    """A record of version 1; one of version 2 on an issue from before; another purpose."""
    assert not walked(cart, people, at, None, version=1)
    assert not walked(cart, people, at + timedelta(minutes=1), None, purpose="gate_out")
    content = json.loads(Edition.objects.get().content)
    del content["photos_by_lot"]
    text = canonical_text(content)
    Edition.objects.create(
        number=2, content=text, sha256=sha256_hex(text), published_at=at, why="From before there were lots"
    )
    assert "lot" not in lists(people, cart)["pre_hire"]
    assert not walked(cart, people, at + timedelta(minutes=2), None)
    assert not walked(cart, people, at + timedelta(minutes=3), "a1" * 16)


def test_the_key_is_not_the_yards_secret_itself(settings):
    first = lot_key()
    settings.SECRET_KEY = "another secret of the yard"
    assert lot_key() != first
    assert len(first) == 32
    assert settings.SECRET_KEY.encode() not in (first, lot_key())


def test_a_record_without_a_lot_reads_as_one_with_none(people, cart, at):
    body = signed.manifest(cart, "pre_hire", at=at)
    assert (read_manifest(body).lot, read_manifest(body | {"lot": None}).lot) == ("", "")
    assert read_manifest(body | {"lot": "a1" * 16}).lot == "a1" * 16
    for wrong in (7, ["a"], "a" * 65, "a\x00"):
        with pytest.raises(ManifestRefused, match="lot"):
            read_manifest(body | {"lot": wrong})
