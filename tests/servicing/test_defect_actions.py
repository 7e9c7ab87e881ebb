"""From told to freed: what each step changes and keeps, who may take it, and every sentence that says no."""

from datetime import date, timedelta

import pytest

from fleet.actions.locks import AgainstARule
from fleet.models.defects import DefectStep
from people.journal.actions import cart_chain
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.outbox.models import Message
from people.refusals import NotAllowed, Refusal
from people.roles import MANAGERS, WALKERS, WORKSHOP, Role
from servicing.actions import closing, grading, repairs, steps
from tests.factories.fleet import DefectFactory, LimitFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW, fresh_photo

pytestmark = pytest.mark.django_db

DUE_ON = date(2026, 12, 10)


def look(defect, by, **typed):
    given = {
        "version": defect.version,
        "grade": "by_date",
        "due_on": DUE_ON,
        "assigned_to": None,
        "words": "Seen.",
    }
    return grading.assess_defect(defect=defect, by=by, at=NOW, **given | typed)


def last_entry(defect):
    return Entry.objects.filter(subject_kind="defect", subject_id=defect.pk).order_by("-position").first()


def assert_step_and_entry(defect, event, *, before, after, by, words=None):
    """One more step and exactly one journal entry, on the cart's chain, tell the same thing."""
    step = defect.steps.get(before_state=before)
    assert (step.after_state, step.by, step.at) == (after, by, NOW)
    assert step.by_words == f"{by.full_name}, {by.role_label.lower()}"
    if words is not None:
        assert step.words == words
    entry = Entry.objects.get(subject_kind="defect", subject_id=defect.pk)
    assert (entry.event, entry.by, entry.chain) == (event, by, cart_chain(defect.cart_id))


def test_looking_sets_grade_date_and_person_and_keeps_the_step(people):
    defect, fitter = DefectFactory(grade="watch"), people[Role.FITTER]

    looked = look(defect, people[Role.WORKSHOP_MANAGER], assigned_to=fitter, words="Seen at the pit.")

    looked.refresh_from_db()
    assert (looked.state, looked.grade, looked.due_on, looked.assigned_to) == (
        "assessed",
        "by_date",
        DUE_ON,
        fitter,
    )
    assert looked.version == 2
    assert_step_and_entry(looked, "fleet.defect.looked_at", before="reported", after="assessed",
                          by=people[Role.WORKSHOP_MANAGER], words="Seen at the pit.")  # fmt: skip


def test_looking_again_at_a_job_under_way_leaves_it_under_way(people):
    defect = DefectFactory(grade="watch", state="in_repair")

    assert look(defect, people[Role.FLEET_MANAGER]).state == "in_repair"


def test_a_date_goes_with_repair_by_a_date_only(people):
    defect = DefectFactory(grade="by_date", state="assessed")

    assert look(defect, people[Role.FLEET_MANAGER], grade="watch").due_on is None


@pytest.mark.parametrize("due_on", [None, date(2026, 11, 30)], ids=["none", "yesterday in the yard"])
def test_repair_by_a_date_asks_for_a_day_that_has_not_passed(people, due_on):
    with pytest.raises(steps.DateWanted) as no:
        look(DefectFactory(grade="watch"), people[Role.FLEET_MANAGER], due_on=due_on)

    assert no.value.field == "due_on"


def test_today_is_a_day_to_repair_by(people):
    # 21:00 UTC on 30 November is 1 December in the yard.
    assert look(
        DefectFactory(grade="watch"), people[Role.FLEET_MANAGER], due_on=date(2026, 12, 1)
    ).due_on == date(2026, 12, 1)


def test_easing_do_not_use_takes_two_people_and_a_fresh_photo_and_keeps_the_old_grade(people):
    defect, photo = DefectFactory(), fresh_photo()

    look(
        defect,
        people[Role.WORKSHOP_MANAGER],
        second_name="Una Sorrel",
        photo=photo,
        words="Flap cut away, no cord.",
    )

    step = defect.steps.get(before_state="reported")
    assert (step.before_grade, step.after_grade, step.photo) == ("do_not_use", "by_date", photo)
    assert step.words == "Flap cut away, no cord. Second person: Una Sorrel."
    entry = last_entry(defect)
    assert entry.event == "fleet.defect.regraded"
    assert photo.original_sha256 in entry.text


@pytest.mark.parametrize(
    ("role", "second_name", "photo_age"),
    [
        pytest.param(Role.FLEET_MANAGER, "Una Sorrel", timedelta(minutes=5), id="not the workshop manager"),
        pytest.param(Role.WORKSHOP_MANAGER, "  ", timedelta(minutes=5), id="nobody named"),
        pytest.param(Role.WORKSHOP_MANAGER, "Una Sorrel", None, id="no photo"),
        pytest.param(
            Role.WORKSHOP_MANAGER, "Una Sorrel", timedelta(days=300), id="a photo older than the defect"
        ),
    ],
)
def test_easing_do_not_use_is_refused_without_all_three(people, role, second_name, photo_age):
    defect = DefectFactory()
    photo = fresh_photo(received_at=NOW - photo_age) if photo_age else None

    with pytest.raises(grading.RegradeWantsTwo):
        look(defect, people[role], second_name=second_name, photo=photo)

    defect.refresh_from_db()
    assert (defect.grade, defect.state, defect.version) == ("do_not_use", "reported", 1)


def test_the_second_person_is_not_the_first_however_the_name_is_typed(people):
    manager = people[Role.WORKSHOP_MANAGER]

    with pytest.raises(grading.RegradeWantsTwo, match="other than you"):
        look(DefectFactory(), manager, second_name=f" {manager.full_name.upper()} ", photo=fresh_photo())


def test_making_a_grade_worse_takes_one_manager(people):
    assert (
        look(DefectFactory(grade="watch"), people[Role.FLEET_MANAGER], grade="do_not_use").grade
        == "do_not_use"
    )


def test_starting_puts_the_job_on_whoever_starts(people):
    defect, fitter = DefectFactory(), people[Role.FITTER]

    started = repairs.start_repair(defect=defect, version=1, by=fitter, at=NOW)

    assert (started.state, started.assigned_to) == ("in_repair", fitter)
    assert_step_and_entry(started, "fleet.repair.started", before="reported", after="in_repair", by=fitter)


def test_a_date_is_set_before_a_dated_job_starts(people):
    with pytest.raises(steps.DateWanted):
        repairs.start_repair(defect=DefectFactory(grade="by_date"), version=1, by=people[Role.FITTER], at=NOW)


def test_a_repair_names_who_did_it_and_waits(people):
    defect, fitter, photo = DefectFactory(state="in_repair"), people[Role.FITTER], fresh_photo()

    done = repairs.record_repair(
        defect=defect, version=1, words=" New tyre. ", by=fitter, at=NOW, photos=[photo]
    )

    done.refresh_from_db()
    assert (done.state, done.repaired_by, done.repaired_at, done.repair_words) == (
        "repaired",
        fitter,
        NOW,
        "New tyre.",
    )
    assert done.closed_at is None
    assert done.steps.get(before_state="in_repair").photo == photo
    assert_step_and_entry(
        done, "fleet.repair.done", before="in_repair", after="repaired", by=fitter, words="New tyre."
    )


def test_a_second_look_by_another_closes_it_lifts_its_limit_and_looks_at_its_paper_again(people):
    limit = LimitFactory(defect__state="repaired")
    defect, hand = limit.defect, people[Role.YARD_HAND]

    closed = repairs.give_second_look(defect=defect, version=1, words="Swings.", by=hand, at=NOW)

    closed.refresh_from_db()
    limit.refresh_from_db()
    assert (closed.state, closed.verified_by, closed.verified_at, closed.closed_at) == (
        "verified",
        hand,
        NOW,
        NOW,
    )
    assert limit.lifted_at == NOW
    assert Message.objects.get().subject_id == defect.source_id
    assert_step_and_entry(closed, "fleet.repair.second_look", before="repaired", after="verified", by=hand)


def test_a_defect_told_by_hand_waits_for_no_paper(people):
    defect = DefectFactory(state="repaired", source_kind="told_by_hand")

    repairs.give_second_look(defect=defect, version=1, words="", by=people[Role.YARD_HAND], at=NOW)

    assert not Message.objects.exists()


def test_whoever_did_the_repair_never_gives_its_second_look(people):
    defect = DefectFactory(state="repaired", repaired_by=people[Role.FITTER])

    with pytest.raises(steps.SamePerson, match=defect.cart.fleet_number):
        repairs.give_second_look(defect=defect, version=1, words="", by=people[Role.FITTER], at=NOW)

    defect.refresh_from_db()
    assert defect.state == "repaired"


def test_sending_back_says_what_is_still_wrong(people):
    defect, hand = DefectFactory(state="repaired"), people[Role.YARD_HAND]

    back = repairs.send_back(defect=defect, version=1, words="Still weeps.", by=hand, at=NOW)

    assert (back.state, back.closed_at) == ("in_repair", None)
    assert_step_and_entry(
        back, "fleet.repair.sent_back", before="repaired", after="in_repair", by=hand, words="Still weeps."
    )


def test_no_fault_found_says_how_it_was_tested_and_closes(people):
    defect, manager = DefectFactory(grade="watch"), people[Role.WORKSHOP_MANAGER]

    closed = closing.find_no_fault(defect=defect, version=1, words="Ran an hour, dry.", by=manager, at=NOW)

    closed.refresh_from_db()
    assert (closed.state, closed.closed_at, closed.verified_by) == ("no_fault_found", NOW, None)
    assert_step_and_entry(closed, "fleet.defect.no_fault", before="reported", after="no_fault_found", by=manager,
                          words="Ran an hour, dry.")  # fmt: skip


def test_do_not_use_is_never_talked_away_as_no_fault(people):
    with pytest.raises(steps.StillDoNotUse):
        closing.find_no_fault(
            defect=DefectFactory(), version=1, words="Fine.", by=people[Role.FLEET_MANAGER], at=NOW
        )


@pytest.mark.parametrize("part", ["told_by", "repaired_by"])
def test_no_fault_is_found_by_somebody_who_neither_told_nor_repaired_it(people, part):
    manager = people[Role.FLEET_MANAGER]
    defect = DefectFactory(grade="watch", state="in_repair", **{part: manager})

    with pytest.raises(steps.SamePerson):
        closing.find_no_fault(defect=defect, version=1, words="Fine.", by=manager, at=NOW)


def test_isolating_lets_the_cart_go_with_a_limit_and_leaves_the_defect(people):
    defect = DefectFactory(grade="by_date", gear="cannon", station="tank_top", place="")
    typed = {"words": "No cannon.", "how_isolated": "Air off", "tag_number": "L12"}

    limit = repairs.isolate(defect=defect, version=1, **typed, by=people[Role.WORKSHOP_MANAGER], at=NOW)

    defect.refresh_from_db()
    assert (limit.defect, limit.gear, limit.tag_number) == (defect, "cannon", "L12")
    assert (defect.state, defect.version) == ("reported", 1)
    with pytest.raises(AgainstARule):
        repairs.isolate(defect=defect, version=1, **typed, by=people[Role.WORKSHOP_MANAGER], at=NOW)


# Every step: the action, what it wants beside the defect, a state it follows from, whose it is.
STEPS = [
    pytest.param(
        grading.assess_defect,
        {"grade": "watch", "due_on": None, "assigned_to": None, "words": ""},
        "reported", MANAGERS, id="look",
    ),
    pytest.param(repairs.start_repair, {}, "reported", WORKSHOP, id="start"),
    pytest.param(repairs.record_repair, {"words": "New tap."}, "in_repair", WORKSHOP, id="repair"),
    pytest.param(repairs.give_second_look, {"words": ""}, "repaired", WALKERS, id="second look"),
    pytest.param(repairs.send_back, {"words": "Still drips."}, "repaired", WALKERS, id="send back"),
    pytest.param(closing.find_no_fault, {"words": "Ran it."}, "reported", MANAGERS, id="no fault"),
    pytest.param(
        repairs.isolate,
        {"words": "No cannon.", "how_isolated": "Air off", "tag_number": "L1"},
        "reported", MANAGERS, id="isolate",
    ),
]  # fmt: skip


@pytest.mark.parametrize(("act", "typed", "state", "roles"), STEPS)
def test_each_step_is_taken_by_its_roles_alone(people, act, typed, state, roles):
    for role in Role:
        defect = DefectFactory(grade="watch", state=state, gear="cannon", station="tank_top", place="")
        if role in roles:
            act(defect=defect, version=1, **typed, by=people[role], at=NOW)
        else:
            with pytest.raises(NotAllowed):
                act(defect=defect, version=1, **typed, by=people[role], at=NOW)
            assert not Entry.objects.filter(subject_id=defect.pk).exists()


@pytest.mark.parametrize(("act", "typed", "state", "roles"), STEPS)
def test_nobody_decides_on_what_has_changed_since(people, act, typed, state, roles):
    defect = DefectFactory(grade="watch", state=state, gear="cannon", version=4)

    with pytest.raises(steps.ChangedMeanwhile, match=f"{defect.title} on {defect.cart.fleet_number}"):
        act(defect=defect, version=3, **typed, by=people[Role.FLEET_MANAGER], at=NOW)

    assert DefectStep.objects.filter(defect=defect).count() == 1
    assert not Entry.objects.exists()


@pytest.mark.parametrize(("act", "typed", "state", "roles"), STEPS)
def test_no_step_is_taken_on_a_closed_defect(people, act, typed, state, roles):
    defect = DefectFactory(grade="watch", state="verified", gear="cannon")

    with pytest.raises(Refusal) as no:
        act(defect=defect, version=1, **typed, by=people[Role.FLEET_MANAGER], at=NOW)

    assert defect.cart.fleet_number in no.value.sentence
    assert DefectStep.objects.filter(defect=defect).count() == 1


@pytest.mark.parametrize("act", [repairs.record_repair, repairs.send_back, closing.find_no_fault])
def test_a_step_that_must_say_something_is_refused_without_words(people, act):
    state = "repaired" if act is repairs.send_back else "in_repair"
    defect = DefectFactory(grade="watch", state=state)

    with pytest.raises(steps.WordsWanted) as no:
        act(defect=defect, version=1, words="  \n", by=people[Role.FLEET_MANAGER], at=NOW)

    assert no.value.field == "words"


def test_the_same_step_twice_in_a_row_is_refused_the_second_time(people):
    defect, fitter = DefectFactory(), people[Role.FITTER]
    repairs.start_repair(defect=defect, version=1, by=fitter, at=NOW)

    with pytest.raises(steps.ChangedMeanwhile):
        repairs.start_repair(defect=defect, version=1, by=fitter, at=NOW)
    with pytest.raises(steps.WrongState, match="on the job"):
        repairs.start_repair(defect=defect, version=2, by=fitter, at=NOW)


def test_a_whole_life_is_told_by_its_steps_and_its_chain_holds(people):
    defect, fitter, other = DefectFactory(), people[Role.FITTER], StaffFactory(role="fitter")
    repairs.start_repair(defect=defect, version=1, by=fitter, at=NOW)
    repairs.record_repair(defect=defect, version=2, words="Patched.", by=fitter, at=NOW + timedelta(hours=1))
    repairs.send_back(defect=defect, version=3, words="Weeps.", by=other, at=NOW + timedelta(hours=2))
    repairs.record_repair(defect=defect, version=4, words="New hose.", by=other, at=NOW + timedelta(hours=3))
    # The first fitter's work was undone, so the first fitter is the somebody else now.
    repairs.give_second_look(defect=defect, version=5, words="Dry.", by=fitter, at=NOW + timedelta(hours=4))

    states = list(defect.steps.order_by("at").values_list("after_state", flat=True))
    assert states == ["reported", "in_repair", "repaired", "in_repair", "repaired", "verified"]
    assert Entry.objects.filter(chain=cart_chain(defect.cart_id)).count() == 5
    assert list(faults_in_journal()) == []
