"""Put off until, the same as another, a watch renewed, a temporary fix: what each changes and every sentence that says no."""

from datetime import date, timedelta

import pytest

from fleet.models.defects import Defect
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import MANAGERS, Role
from people.yard import yard_day
from servicing.actions import closing, grading, repairs, steps
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW, defect_of, fresh_photo

pytestmark = pytest.mark.django_db

TODAY = yard_day(NOW)
DAY = timedelta(days=1)


def put_off(defect, by, *, until=TODAY + 5 * DAY, because="The gearbox is on order.", at=NOW):
    return grading.put_off(defect=defect, version=defect.version, until=until, because=because, by=by, at=at)


def look(defect, by, *, at=NOW, **typed):
    given = {"grade": defect.grade, "due_on": defect.due_on, "assigned_to": None, "words": ""}
    return grading.assess_defect(defect=defect, version=defect.version, by=by, at=at, **given | typed)


def call_same(defect, other, by):
    return closing.call_same(defect=defect, version=defect.version, other=other, by=by, at=NOW)


def test_putting_off_says_until_when_why_and_by_whom_and_keeps_the_step(people):
    manager = people[Role.WORKSHOP_MANAGER]

    defect = put_off(DefectFactory(grade="watch"), manager)

    defect.refresh_from_db()
    assert (defect.state, defect.put_off_until, defect.put_off_by, defect.put_off_times) == (
        "put_off", TODAY + 5 * DAY, manager, 1,
    )  # fmt: skip
    assert defect.closed_at is None
    step = defect.steps.get(before_state="reported")
    assert (step.after_state, step.event) == ("put_off", "fleet.defect.put_off")
    assert "because: The gearbox is on order." in step.words
    assert Entry.objects.get(subject_id=defect.pk).event == "fleet.defect.put_off"


@pytest.mark.parametrize("role", list(Role))
def test_managers_alone_put_off(people, role):
    if role in MANAGERS:
        assert put_off(DefectFactory(grade="watch"), people[role]).state == "put_off"
    else:
        with pytest.raises(NotAllowed):
            put_off(DefectFactory(grade="watch"), people[role])


def test_do_not_use_is_never_put_off(people):
    with pytest.raises(grading.NeverPutOff, match="never put off"):
        put_off(DefectFactory(), people[Role.WORKSHOP_MANAGER])


def test_put_off_again_twice_and_no_more(people):
    defect = DefectFactory(grade="watch")
    for _ in range(3):
        defect = put_off(defect, people[Role.FLEET_MANAGER])

    with pytest.raises(grading.PutOffTooOften, match="3 times"):
        put_off(defect, people[Role.FLEET_MANAGER])


@pytest.mark.parametrize(
    ("until", "field"), [(TODAY, "until"), (TODAY + 8 * DAY, "until")], ids=["today", "past its date"]
)
def test_it_is_put_off_to_a_later_day_within_its_date(people, until, field):
    defect = DefectFactory(grade="by_date", state="assessed", due_on=TODAY + 7 * DAY)

    with pytest.raises(steps.DateWanted) as no:
        put_off(defect, people[Role.WORKSHOP_MANAGER], until=until)

    assert no.value.field == field
    assert put_off(defect, people[Role.WORKSHOP_MANAGER], until=TODAY + 7 * DAY).state == "put_off"


def test_a_repair_by_a_date_without_one_is_not_put_off_and_nothing_is_without_a_reason(people):
    with pytest.raises(steps.DateWanted, match="no date"):
        put_off(DefectFactory(grade="by_date"), people[Role.WORKSHOP_MANAGER])
    with pytest.raises(steps.WordsWanted):
        put_off(DefectFactory(grade="watch"), people[Role.WORKSHOP_MANAGER], because="  ")


def test_what_is_put_off_is_begun_on_its_day_and_not_before(people):
    defect, fitter = put_off(DefectFactory(grade="watch"), people[Role.WORKSHOP_MANAGER]), people[Role.FITTER]

    with pytest.raises(repairs.StillPutOff):
        repairs.start_repair(defect=defect, version=2, by=fitter, at=NOW + 4 * DAY)
    assert repairs.start_repair(defect=defect, version=2, by=fitter, at=NOW + 5 * DAY).state == "in_repair"


def test_a_look_brings_back_what_was_put_off(people):
    defect = put_off(DefectFactory(grade="watch"), people[Role.WORKSHOP_MANAGER])

    assert look(defect, people[Role.WORKSHOP_MANAGER], grade="do_not_use").state == "assessed"


def test_the_same_as_another_closes_it_and_leaves_the_other(people):
    cart = CartFactory()
    defect, other = defect_of(cart, grade="watch"), defect_of(cart, grade="by_date")

    call_same(defect, other, people[Role.WORKSHOP_MANAGER])

    defect.refresh_from_db()
    assert (defect.state, defect.same_as, defect.closed_at) == ("same_as", other, NOW)
    assert Defect.objects.open().get() == other
    assert defect.steps.get(before_state="reported").event == "fleet.defect.same_as"


@pytest.mark.parametrize(
    ("mine", "theirs", "words"),
    [
        pytest.param({"grade": "do_not_use"}, {"grade": "by_date"}, "so that nothing is eased", id="graded lighter"),
        pytest.param({"grade": "watch"}, {"grade": "watch", "state": "verified"}, "closed already", id="closed"),
        pytest.param({"grade": "watch"}, {"grade": "watch", "state": "repaired"}, "send that repair back", id="repaired"),
        pytest.param({"grade": "by_date", "state": "assessed", "due_on": TODAY},
                     {"grade": "by_date", "state": "assessed", "due_on": TODAY + DAY}, "so that nothing is eased",
                     id="dated later"),
    ],
)  # fmt: skip
def test_it_is_not_the_same_as_one_that_would_ease_it(people, mine, theirs, words):
    cart = CartFactory()
    defect, other = defect_of(cart, **mine), defect_of(cart, **theirs)

    with pytest.raises(closing.NotTheSame, match=words):
        call_same(defect, other, people[Role.WORKSHOP_MANAGER])


def test_it_is_not_the_same_as_itself_or_as_one_of_another_cart(people):
    defect = DefectFactory(grade="watch")

    for other in (defect, DefectFactory(grade="watch")):
        with pytest.raises(closing.NotTheSame, match="another open defect of"):
            call_same(defect, other, people[Role.WORKSHOP_MANAGER])


def test_a_watch_is_renewed_twice_and_then_has_a_date(people):
    manager, defect = people[Role.WORKSHOP_MANAGER], DefectFactory(grade="watch")
    defect = look(defect, manager, look_again_if="Over 2 drips a minute")
    assert (defect.look_again_on, defect.look_again_if, defect.renewals) == (
        TODAY + 28 * DAY, "Over 2 drips a minute", 0,
    )  # fmt: skip
    assert look(defect, manager, words="Seen again.").renewals == 0
    defect.refresh_from_db()
    for number in (1, 2):
        defect = look(defect, manager, look_again_on=TODAY + (28 + number) * DAY)
        assert defect.renewals == number

    with pytest.raises(grading.WatchedLongEnough):
        look(defect, manager, look_again_on=TODAY + 40 * DAY)
    dated = look(defect, manager, grade="by_date", due_on=TODAY + 7 * DAY)
    assert (dated.look_again_on, dated.renewals) == (None, 2)
    with pytest.raises(grading.WatchedLongEnough):
        look(dated, manager, grade="watch")


def mended(people, **kwargs):
    defect = DefectFactory(
        grade="by_date", state="in_repair", due_on=TODAY + 20 * DAY, check_key="hose-weeps"
    )
    typed = {"words": "Clamped for now.", "fix_ends_on": TODAY + 10 * DAY} | kwargs
    return repairs.record_repair(defect=defect, version=1, by=people[Role.FITTER], at=NOW, **typed)


def test_a_temporary_fix_is_told_again_once_its_last_day_has_passed_and_only_once(people):
    defect = mended(people)
    repairs.give_second_look(defect=defect, version=2, words="", by=people[Role.YARD_HAND], at=NOW)
    defect.refresh_from_db()
    assert (defect.state, defect.fix_ends_on) == ("verified", TODAY + 10 * DAY)

    with pytest.raises(steps.WrongState):
        repairs.end_temporary_fix(defect=defect, by=None, at=NOW + 10 * DAY)
    again = repairs.end_temporary_fix(defect=defect, by=None, at=NOW + 11 * DAY)

    assert (again.cart, again.title, again.grade, again.check_key) == (
        defect.cart, defect.title, "by_date", "hose-weeps",
    )  # fmt: skip
    assert "Clamped for now." in again.words
    assert repairs.end_temporary_fix(defect=defect, by=None, at=NOW + 12 * DAY) == again
    assert Defect.objects.open().get() == again


def test_a_fitter_ends_a_temporary_fix_before_its_day_to_make_it_last(people):
    defect = mended(people)
    repairs.give_second_look(defect=defect, version=2, words="", by=people[Role.YARD_HAND], at=NOW)

    assert repairs.end_temporary_fix(defect=defect, by=people[Role.FITTER], at=NOW + DAY).is_open
    with pytest.raises(NotAllowed):
        repairs.end_temporary_fix(defect=defect, by=people[Role.YARD_HAND], at=NOW + DAY)


def test_a_temporary_fix_that_has_ended_gets_no_second_look(people):
    defect = mended(people)

    with pytest.raises(repairs.FixEnded, match="Send it back"):
        repairs.give_second_look(
            defect=defect, version=2, words="", by=people[Role.YARD_HAND], at=NOW + 11 * DAY
        )
    back = repairs.send_back(defect=defect, version=2, words="Hose again.", by=people[Role.YARD_HAND], at=NOW)
    assert back.fix_ends_on is None


def test_a_temporary_fix_ends_after_today_and_is_none_of_do_not_use(people):
    with pytest.raises(steps.DateWanted):
        mended(people, fix_ends_on=TODAY)
    with pytest.raises(repairs.FixNotTemporary):
        repairs.record_repair(
            defect=DefectFactory(state="in_repair"), version=1, words="Taped.", fix_ends_on=TODAY + DAY,
            by=people[Role.FITTER], at=NOW,
        )  # fmt: skip


def test_saying_whose_job_it_is_changes_nothing_else(people):
    fitter, defect = StaffFactory(role="fitter"), DefectFactory(grade="by_date")

    assigned = grading.assign_defect(
        defect=defect, version=1, assigned_to=fitter, by=people[Role.WORKSHOP_MANAGER], at=NOW
    )

    assert (assigned.state, assigned.assigned_to) == ("reported", fitter)
    assert assigned.steps.get(event="fleet.defect.assigned").words == f"The job of {fitter.full_name}."


def test_easing_still_wants_two_people_and_leaves_a_day_to_look_again(people):
    eased = look(
        DefectFactory(), people[Role.WORKSHOP_MANAGER], grade="watch", second_name="Una Sorrel",
        photo=fresh_photo(), look_again_on=date(2026, 12, 5),
    )  # fmt: skip

    assert eased.look_again_on == date(2026, 12, 5)
