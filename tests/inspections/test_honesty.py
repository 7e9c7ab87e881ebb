"""What is read for the rules of truthfulness: signed walk-rounds of a yard, in as many queries for a page as for one."""

import hashlib
from datetime import UTC, datetime, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models.photos import Photo
from inspections.honesty import questions_of
from inspections.models import NameConfirmation, WalkRound
from inspections.sign_rules import Rules
from inspections.walk_history import days_before, walks_with_history
from people.roles import Role
from tests.factories import inspections as signed
from tests.factories.fleet import CartFactory, PhotoFactory
from tests.factories.people import StaffFactory

HASH = "3c7e0f1182b4d6a9"
RULES = Rules()


@pytest.fixture
def cart(db):
    made = CartFactory(tyres="9.5")
    signed.edition()
    return made


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


def sound(cart, purpose, *, by, at, **otherwise):
    """A walk-round taken as the sheet reckons, one look after the other; otherwise: what one check is answered instead."""
    sheet = signed.sheet(cart, purpose)
    began = at - timedelta(minutes=sheet.minutes + 1)
    answers = {
        (item.check.key, item.place): {
            "at": (began + timedelta(minutes=sheet.minutes) * n / len(sheet.items)).isoformat()
        }
        for n, item in enumerate(sheet.items, start=1)
    }
    for key, change in otherwise.items():
        answers[key.replace("_", "-"), ""].update(change)
    return signed.sign(cart, purpose, by=by, at=at, answers=answers, started_at=began.isoformat())


def asked_of(*walks, **options):
    """The codes of each, as a page reads them."""
    rows = {row.pk: row for row in WalkRound.objects.select_related("cart", "author")}
    found = questions_of([rows[walk.pk] for walk in walks], **options)
    return [[one.sign.code for one in found[walk.pk]] for walk in walks]


def known(walk, *, habits=True):
    row = WalkRound.objects.select_related("cart", "author").get(pk=walk.pk)
    return walks_with_history([row], with_habits=[row.pk] if habits else [], rules=RULES)[row.pk]


def test_a_walk_round_walked_as_its_sheet_reckons_is_not_asked_about(cart, hand, at):
    assert asked_of(sound(cart, "daily", by=hand, at=at)) == [[]]
    assert asked_of(sound(cart, "pre_hire", by=hand, at=at)) == [[]]


def test_one_answered_at_one_instant_is(cart, hand, at):
    assert asked_of(signed.sign(cart, "daily", by=hand, at=at)) == [["pace"]]


def test_its_facts_are_those_that_were_signed(cart, hand, at):
    walk = sound(cart, "pre_hire", by=hand, at=at)
    facts, _ = known(walk)
    sheet = signed.sheet(cart, "pre_hire")
    assert [look.check for look in facts.looks] == [item.check.key for item in sheet.items]
    assert sum(look.minutes for look in facts.looks) == sum(item.check.minutes for item in sheet.items)
    assert {look.meter for look in facts.looks} == {"", "engine_hours", "pump_hours", "km"}
    assert (facts.author, facts.cart, facts.told) == (str(hand.pk), str(cart.pk), False)
    assert (facts.started_at, facts.ended_at) == (walk.started_at, walk.device_signed_at)


def picture(look_alike=HASH, *, name="a"):
    """A photo by its name; the same name gives the same file."""
    sha256 = hashlib.sha256(str(name).encode()).hexdigest()
    return Photo.objects.filter(original_sha256=sha256).first() or PhotoFactory(
        perceptual_hash=look_alike, original_sha256=sha256
    )


def with_photo(photo):
    return {"ground_leaks": {"photos": [photo.original_sha256]}}


def test_the_same_photo_on_another_cart_and_a_like_one(cart, hand, at):
    other, photo = CartFactory(tyres="9.5", fleet_number="WC-77"), picture()
    first = sound(other, "daily", by=hand, at=at - timedelta(days=40), **with_photo(photo))
    again = sound(cart, "daily", by=hand, at=at, **with_photo(photo))
    near = sound(
        cart, "daily", by=hand, at=at + timedelta(days=1), **with_photo(picture("3c7e0f1182b4d6ae", name="b"))
    )
    far = sound(
        cart, "daily", by=hand, at=at + timedelta(days=2), **with_photo(picture("c3810eee7d4b2956", name="c"))
    )
    assert asked_of(first, again, near, far) == [[], ["photo"], ["photo"], []]
    (shot,) = known(again)[1].shots
    assert shot.where == "Daily pre-start of WC-77, 22 Oct 2026"


def test_the_very_file_of_a_picture_without_features(cart, hand, at):
    """Two dark pictures are not taken for one another; one file used twice is."""
    dark, other = picture("0" * 16, name="night"), picture("0" * 16, name="lens cap")
    walks = [
        sound(cart, "daily", by=hand, at=at + timedelta(days=day), **with_photo(shown))
        for day, shown in enumerate((dark, other, dark))
    ]
    assert asked_of(*walks) == [[], [], ["photo"]]


def test_a_late_record_does_not_raise_a_question_about_one_signed_before(cart, hand, at):
    """Of two with one photo the later is asked about, by the yard's clock, whichever arrived first."""
    photo = picture()
    later = sound(cart, "daily", by=hand, at=at, **with_photo(photo))
    earlier = sound(cart, "weekly", by=hand, at=at - timedelta(days=3))
    late = sound(cart, "daily", by=hand, at=at - timedelta(days=2), **with_photo(photo))
    assert asked_of(later, late, earlier) == [["photo"], [], []]


def test_readings_that_stay_while_the_odometer_moves(cart, hand, at):
    """The factory's sound cart reads the same depths each month, while its odometer rises 80 km a day."""
    for days in (90, 60, 30):
        sound(cart, "monthly", by=hand, at=at - timedelta(days=days))
        sound(cart, "daily", by=hand, at=at - timedelta(days=days - 1))
    sound(cart, "daily", by=hand, at=at - timedelta(minutes=90))
    last = sound(cart, "monthly", by=hand, at=at)
    assert asked_of(last) == [["still"]]
    evidence = dict(
        questions_of([WalkRound.objects.select_related("cart", "author").get(pk=last.pk)])[last.pk][
            0
        ].sign.evidence
    )
    assert evidence["The odometer rose"] == "7,120 km"
    assert evidence["The engine hours rose"] == "445 h"


def test_the_last_readings_of_each_check_are_found_whatever_sheets_lie_between(cart, hand, at):
    """Twelve pre-starts since the last monthly round: its depths are still the last there are, and three of them are read."""
    for days in (150, 120, 90):
        sound(cart, "monthly", by=hand, at=at - timedelta(days=days))
    for days in range(1, 13):
        sound(cart, "daily", by=hand, at=at - timedelta(days=days))
    _, history = known(sound(cart, "monthly", by=hand, at=at), habits=False)
    assert len({one.walk for one in history.readings}) == 6
    depths = [one for one in history.readings if one.check.startswith("tread")]
    assert len({one.read_at for one in depths}) == 3
    assert {one.place for one in depths} >= {"axle 1 left", "axle 2 right, outer"}


def test_who_told_of_something_new(cart, hand, at):
    """A fault that is open already counts for nobody; the first to tell of it has told."""
    fault = {"ground_leaks": {"answer": "wrong", "grade": "watch", "words": "A drip"}}
    first = sound(cart, "daily", by=hand, at=at - timedelta(days=2), **fault)
    again = sound(cart, "daily", by=hand, at=at - timedelta(days=1), **fault)
    _, history = known(sound(cart, "daily", by=hand, at=at))
    assert [one.told for one in history.walks] == [True, False]
    assert (known(first)[0].told, known(again)[0].told) == (True, False)


def test_only_the_last_months_and_the_persons_own_carts_are_looked_back_on(cart, hand, people, at):
    elsewhere = CartFactory(tyres="9.5")
    fitter = people[Role.FITTER]
    sound(cart, "daily", by=hand, at=at - timedelta(days=181))
    sound(cart, "daily", by=fitter, at=at - timedelta(days=179))
    sound(elsewhere, "daily", by=fitter, at=at - timedelta(days=5))
    _, history = known(sound(cart, "daily", by=hand, at=at))
    assert [(one.cart, one.author) for one in history.walks] == [(str(cart.pk), str(fitter.pk))]


def test_beside_an_older_one_on_a_page_it_looks_back_no_further(cart, hand, at):
    days = (250, 170, 100, 0)
    *_, old, new = [sound(cart, "daily", by=hand, at=at - timedelta(days=day)) for day in days]
    rows = list(WalkRound.objects.select_related("cart", "author").filter(pk__in=[old.pk, new.pk]))
    known = walks_with_history(rows, with_habits=[old.pk, new.pk], rules=RULES)
    assert [len(known[walk.pk][1].walks) for walk in (old, new)] == [2, 2]


def test_habits_on_a_list_are_asked_about_once_a_person(cart, hand, people, at):
    """Twenty round odometers by one person: on a list beside the newest of theirs, on its own page beside each."""
    walks = [sound(cart, "daily", by=hand, at=at - timedelta(days=day)) for day in range(22)]
    assert asked_of(*walks[:2]) == [["round"], ["round"]]
    assert asked_of(*walks[:2], once_a_person=True) == [["round"], []]
    assert asked_of(walks[1], once_a_person=True) == [["round"]]


def test_a_name_not_confirmed_counts_for_nobodys_habits(cart, hand, people, at):
    """Sent in by the fitter under the yard hand's name: no part of either's history until the yard hand confirms it."""
    fitter = people[Role.FITTER]
    first = sound(cart, "daily", by=hand, at=at - timedelta(days=3))
    unsure = signed.sign(cart, "daily", by=fitter, at=at - timedelta(days=2), **signed.signed_by(hand))
    last = sound(cart, "daily", by=hand, at=at)
    assert (known(unsure)[0].author, known(first)[0].author) == ("", str(hand.pk))
    assert len(known(last)[1].walks) == 1
    NameConfirmation.objects.create(walk_round=unsure, by=hand, at=at, how="session")
    assert known(unsure)[0].author == str(hand.pk)
    assert len(known(last)[1].walks) == 2


def test_in_as_many_queries_for_thirty_as_for_three(cart, hand, at):
    for n in range(30):
        shown = with_photo(picture(name=n // 4)) if n % 2 else {}
        sound(CartFactory(tyres="9.5"), "daily", by=StaffFactory(), at=at - timedelta(hours=n), **shown)
    rows = list(WalkRound.objects.select_related("cart", "author").order_by("-signed_at"))
    counts = []
    for some in (rows[:3], rows):
        with CaptureQueriesContext(connection) as queries:
            questions_of(some)
        counts.append(len(queries))
    assert counts[0] == counts[1] <= 10
    with CaptureQueriesContext(connection) as queries:
        assert questions_of([]) == {}
    assert not queries


@pytest.mark.parametrize(
    "times",
    [
        pytest.param({"started_at": "1970-01-01T00:00:00Z", "signed_at": "1970-01-01T00:20:00Z"}, id="a dead battery"),
        pytest.param({"started_at": "9998-01-01T00:00:00Z", "signed_at": "9998-01-01T00:20:00Z"}, id="far ahead"),
        pytest.param(
            {"signed_at": "1970-01-01T00:00:00Z", "device": {"id": "t", "time_zone": "UTC", "offset_ms": -62_000_000_000_000}},
            id="the beginning of time",
        ),
    ],
)  # fmt: skip
def test_a_clock_wrong_by_years_is_read_all_the_same(cart, hand, at, times):
    assert asked_of(signed.sign(cart, "daily", by=hand, at=at, **times)) == [["clock"]]


def test_looking_back_from_the_beginning_of_time():
    beginning = datetime.min.replace(tzinfo=UTC)
    assert days_before(beginning, 180) == beginning


@pytest.mark.parametrize("value", ["9" * 40, "NaN", "-0", "1e9", "<b>7</b>", "seven"])
def test_whatever_was_entered_is_read(cart, hand, at, value):
    walk = sound(cart, "pre_hire", by=hand, at=at, odometer={"value": value})
    assert asked_of(walk) == [[]]
    assert any(look.value == value for look in known(walk)[0].looks)
