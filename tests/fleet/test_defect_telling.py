"""A defect is told once a source, check and place, with its first step, its photos and its journal entry."""

import uuid
from datetime import date
from functools import partial

import pytest

from fleet.actions.defects import NotTold, tell_defect
from fleet.models.defects import Defect
from people.roles import Role
from tests.at_once import at_once
from tests.factories.fleet import CartFactory, PhotoFactory
from tests.factories.people import StaffFactory
from tests.fleet.journal import entries_of

SOURCE = ("walk_round", uuid.UUID(int=7))


def tell(cart, by, at, **changes):
    said = {
        "title": " Cut in the side wall ",
        "words": "A flap, no cord seen.",
        "station": "left_rear_wheels",
        "place": "2LO",
        "grade": "do_not_use",
        "source": SOURCE,
        "by_words": "Wes Tonkin, yard hand",
        "check_key": "wheels.sidewall",
        "second_look_always": True,
        "may_be_passed": False,
    }
    return tell_defect(cart=cart, by=by, at=at, **said | changes)


@pytest.mark.django_db
def test_a_told_defect_has_its_first_step_photos_and_entry(people, at):
    cart, hand, photos = CartFactory(), people[Role.YARD_HAND], PhotoFactory.create_batch(2)
    defect = tell(cart, hand, at, photos=photos)
    assert (defect.title, defect.state, defect.told_at, defect.told_by) == (
        "Cut in the side wall",
        "reported",
        at,
        hand,
    )
    assert set(defect.photos.all()) == set(photos)
    step = defect.steps.get()
    assert (step.before_state, step.after_state, step.after_grade) == ("", "reported", "do_not_use")
    assert (step.by, step.words, step.photo) == (hand, "A flap, no cord seen.", photos[0])
    [(event, facts)] = entries_of(cart)
    assert event == "fleet.defect.told"
    assert facts["photos"] == [photo.original_sha256 for photo in photos]


@pytest.mark.django_db
def test_the_same_finding_again_tells_nothing_and_another_place_does(people, at):
    cart, hand = CartFactory(), people[Role.YARD_HAND]
    first = tell(cart, hand, at)
    assert tell(cart, hand, at, words="Again") == first
    assert tell(cart, hand, at, place="2LI") != first
    assert tell(cart, hand, at, source=("walk_round", uuid.uuid4())) != first
    assert len(entries_of(cart)) == Defect.objects.count() == 3
    first.refresh_from_db()
    assert first.words == "A flap, no cord seen."


@pytest.mark.django_db
def test_a_customer_without_an_account_is_named_in_words(at):
    defect = tell(CartFactory(), None, at, by_words="Ray of Gully Civil, on the hire's link")
    assert (defect.told_by, defect.told_by_words) == (None, "Ray of Gully Civil, on the hire's link")


@pytest.mark.django_db
def test_a_person_who_says_no_more_is_named_with_their_role(people, at):
    assert tell(CartFactory(), people[Role.FITTER], at, by_words="").told_by_words.endswith(", fitter")


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"title": "  "}, "title"),
        ({"station": "roof_rack"}, "station"),
        ({"grade": "bad"}, "grade"),
        ({"grade": "by_date", "due_on": date(2026, 11, 30)}, "due_on"),
        ({"grade": "watch", "due_on": date(2026, 12, 9)}, "due_on"),
    ],
)
def test_half_a_defect_is_refused_and_nothing_is_kept(people, at, changes, field):
    with pytest.raises(NotTold) as refused:
        tell(CartFactory(), people[Role.YARD_HAND], at, **changes)
    assert refused.value.field == field
    assert not Defect.objects.exists()


@pytest.mark.django_db
def test_a_date_may_come_with_repair_by_a_date(people, at):
    defect = tell(CartFactory(), people[Role.YARD_HAND], at, grade="by_date", due_on=date(2026, 12, 1))
    assert defect.due_on == date(2026, 12, 1)


@pytest.mark.django_db(transaction=True)
def test_two_at_once_tell_one_defect(at):
    cart = CartFactory()
    send = partial(tell, cart, StaffFactory(), at)
    first, second = at_once(send, send)
    assert first == second == Defect.objects.get()
    assert len(entries_of(cart)) == 1
