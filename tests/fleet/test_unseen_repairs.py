"""The second tier of second looks (common practice, no source): bulbs, mirrors, decals, hoses, jets, closed by the fitter with a
photo, let a cart at work go on for the yard's days, a week, or until its next gate. Brakes, steering, wheels and the like never."""

from datetime import time, timedelta

import pytest

from fleet.readiness import Caution, Window, readiness
from people.yard import at_local, yard_day, yard_policy
from tests.factories.fleet import CartFactory, DefectFactory, RepairStepFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db


def repaired(*, days_ago=1, has_photo=True, grade="do_not_use", **kwargs):
    by, at = StaffFactory(role="fitter"), NOW - timedelta(days=days_ago)
    told = {
        "told_at": at - timedelta(days=9),
        "repaired_by": by,
        "repaired_at": at,
        "second_look_always": False,
    }
    defect = DefectFactory(
        cart=CartFactory(), grade=grade, state="repaired", title="Jet blocked", **told | kwargs
    )
    RepairStepFactory(defect=defect, **({} if has_photo else {"photo": None}))
    return defect


def codes(defect, *, at_gate=False):
    window = Window(NOW, NOW + timedelta(days=30), asks_gate=at_gate)
    answer = readiness(defect.cart, window=window, at=NOW)
    return {one.code for one in (*answer.blockers, *answer.cautions) if one.record.id == defect.pk}


def test_a_cart_at_work_goes_on_and_it_says_until_when():
    defect = repaired()
    answer = readiness(defect.cart, window=Window(NOW, NOW + timedelta(days=30), asks_gate=False), at=NOW)
    [caution] = [one for one in answer.cautions if one.record.id == defect.pk]
    assert not [one for one in answer.blockers if one.record.id == defect.pk]
    assert (caution.code, caution.due_at) == ("defect.unseen", NOW + timedelta(days=6))
    assert "not yet seen by a second person" in caution.sentence


def test_the_next_gate_stops_it():
    assert codes(repaired(), at_gate=True) == {"defect.do_not_use"}


@pytest.mark.parametrize(
    ("days_ago", "code"), [(6.9, "defect.unseen"), (7, "defect.do_not_use"), (30, "defect.do_not_use")]
)
def test_it_ends_after_a_week(days_ago, code):
    assert codes(repaired(days_ago=days_ago)) == {code}


@pytest.fixture
def three_days(settings):
    """A yard that lets such a cart go on for three days."""
    settings.YARD_UNSEEN_DAYS = 3
    yard_policy.cache_clear()
    yield
    yard_policy.cache_clear()


@pytest.mark.parametrize(("days_ago", "code"), [(2.9, "defect.unseen"), (3, "defect.do_not_use")])
def test_how_long_is_the_yard_s_to_say(three_days, days_ago, code):
    assert codes(repaired(days_ago=days_ago)) == {code}


def test_without_a_photo_or_of_what_a_second_person_always_sees_it_counts_for_nothing():
    assert codes(repaired(has_photo=False)) == {"defect.do_not_use"}
    assert codes(repaired(second_look_always=True)) == {"defect.do_not_use"}


def test_a_photo_of_an_earlier_repair_counts_for_nothing():
    """Repaired with a photo, sent back, and repaired again without one."""
    defect = repaired(days_ago=3)
    defect.repaired_at = NOW - timedelta(days=1)
    defect.save(update_fields=["repaired_at"])
    assert codes(defect) == {"defect.do_not_use"}


def test_one_past_its_date_is_let_go_on_alike():
    defect = repaired(grade="by_date", due_on=(NOW - timedelta(days=2)).date())
    assert codes(defect) == {"defect.unseen"}


@pytest.mark.parametrize(
    ("days", "code"), [(-1, "defect.late"), (0, "defect.unseen"), (3, "defect.unseen"), (9, "defect.unseen")]
)
def test_a_temporary_fix_ends_it_on_its_last_day(days, code):
    """Common practice, no source: a fix for some days is worth no more of them for being photographed."""
    last_day = yard_day(NOW) + timedelta(days=days)
    defect = repaired(grade="by_date", due_on=yard_day(NOW) - timedelta(days=2), fix_ends_on=last_day)
    answer = readiness(defect.cart, window=Window(NOW, NOW + timedelta(days=30), asks_gate=False), at=NOW)
    [found] = [one for one in (*answer.blockers, *answer.cautions) if one.record.id == defect.pk]
    assert found.code == code
    if isinstance(found, Caution):
        week, end_of_fix = NOW + timedelta(days=6), at_local(last_day + timedelta(days=1), time.min)
        assert found.due_at == min(week, end_of_fix)
        assert f"Good until {min(yard_day(week), last_day):%-d %b} or the next gate." in found.sentence
