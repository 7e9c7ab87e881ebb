"""What the database itself keeps of a defect, whoever writes; and that two people closing one defect are told apart."""

from functools import partial

import pytest
from django.db import IntegrityError, connection, transaction

from fleet.board import answers_for
from fleet.models.defects import Defect
from people.journal.models import Entry
from people.refusals import Refusal
from people.roles import Role
from servicing.actions import closing, grading, repairs, steps
from tests.at_once import at_once
from tests.factories.fleet import CartFactory, DefectFactory, ExtinguisherFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW, defect_of, fresh_photo


def sql(statement, *values):
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(statement, values)


@pytest.mark.django_db
def test_sql_itself_cannot_make_the_repairer_give_the_second_look():
    defect = DefectFactory(state="repaired")

    with pytest.raises(IntegrityError, match="fleet_defect_second_look_by_another"):
        sql(
            "UPDATE fleet_defect SET state = 'verified', verified_by_id = repaired_by_id, verified_at = %s, closed_at = %s "
            "WHERE id = %s",
            NOW, NOW, defect.pk,
        )  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("state", "change", "rule"),
    [
        pytest.param("reported", "state = 'verified', closed_at = told_at", "closed_as_its_state_says", id="verified by nobody"),
        pytest.param("repaired", "state = 'verified'", "closed_as_its_state_says", id="verified and not closed"),
        pytest.param("reported", "closed_at = told_at", "closed_as_its_state_says", id="closed and only told"),
        pytest.param("verified", "closed_at = NULL", "closed_as_its_state_says", id="verified and opened again"),
        pytest.param("reported", "state = 'no_fault_found'", "closed_as_its_state_says", id="no fault and open"),
        pytest.param("in_repair", "state = 'lost'", "closed_as_its_state_says", id="a state nobody knows"),
        pytest.param("in_repair", "state = 'repaired'", "repair_names_its_person", id="repaired by nobody"),
        pytest.param("repaired", "repaired_at = NULL", "repair_names_its_person", id="repaired at no time"),
        pytest.param("assessed", "grade = 'by_date', due_on = NULL", "by_date_has_its_date", id="by a date that is none"),
        pytest.param("reported", "grade = 'soon'", "grade_known", id="a grade nobody knows"),
        pytest.param("put_off", "grade = 'do_not_use'", "do_not_use_never_put_off", id="do not use put off"),
        pytest.param("put_off", "put_off_until = NULL", "put_off_says_until_and_why", id="put off for ever"),
        pytest.param("put_off", "put_off_because = ''", "put_off_says_until_and_why", id="put off for no reason"),
        pytest.param("put_off", "put_off_by_id = NULL", "put_off_says_until_and_why", id="put off by nobody"),
        pytest.param("put_off", "put_off_times = 4", "put_off_again_twice_at_most", id="put off a fourth time"),
        pytest.param("put_off", "grade = 'by_date', due_on = NULL", "by_date_has_its_date", id="put off without its date"),
        pytest.param("put_off", "grade = 'by_date', due_on = put_off_until - 1", "put_off_within_its_date",
                     id="put off past its date"),
        pytest.param("assessed", "renewals = 3", "watch_renewed_twice_at_most", id="a watch renewed three times"),
        pytest.param("assessed", "fix_ends_on = '2026-12-24'", "temporary_fix_of_a_repair", id="a fix of no repair"),
        pytest.param("repaired", "fix_ends_on = '2026-12-24', grade = 'do_not_use'", "temporary_fix_of_a_repair",
                     id="a temporary fix of do not use"),
        pytest.param("assessed", "state = 'same_as', closed_at = told_at, same_as_id = id", "same_as_another_than_itself",
                     id="the same as itself"),
        pytest.param("assessed", "same_as_id = (SELECT id FROM fleet_defect o WHERE o.id <> fleet_defect.id LIMIT 1)",
                     "same_as_names_the_other", id="the same and open"),
    ],
)  # fmt: skip
def test_sql_itself_cannot_break_a_rule_of_defects(state, change, rule):
    defect, _ = DefectFactory(grade="watch", state=state), DefectFactory()

    with pytest.raises(IntegrityError, match=f"fleet_defect_{rule}"):
        sql(f"UPDATE fleet_defect SET {change} WHERE id = %s", defect.pk)  # noqa: S608 - words of this table above


@pytest.mark.django_db(transaction=True)
def test_of_two_people_closing_one_defect_one_does_and_the_other_is_told():
    defect = DefectFactory(state="repaired")
    people = [StaffFactory(), StaffFactory()]

    close = partial(repairs.give_second_look, defect=defect, version=1, words="", at=NOW)
    given = at_once(*[partial(close, by=person) for person in people])

    lost = [one for one in given if isinstance(one, Exception)]
    won = [one for one in given if isinstance(one, Defect)]
    assert len(won) == 1
    assert len(lost) == 1
    assert isinstance(lost[0], steps.ChangedMeanwhile)
    assert defect.cart.fleet_number in lost[0].sentence
    defect.refresh_from_db()
    assert defect.verified_by in people
    assert defect.steps.filter(after_state="verified").count() == 1
    assert Entry.objects.filter(subject_id=defect.pk).count() == 1


@pytest.mark.django_db(transaction=True)
def test_a_second_look_and_a_sending_back_at_once_leave_one_of_the_two():
    defect = DefectFactory(state="repaired")
    first, second = StaffFactory(), StaffFactory()

    given = at_once(
        lambda: repairs.give_second_look(defect=defect, version=1, words="", by=first, at=NOW),
        lambda: repairs.send_back(defect=defect, version=1, words="Drips.", by=second, at=NOW),
    )

    assert sorted(isinstance(one, Refusal) for one in given) == [False, True]
    defect.refresh_from_db()
    assert defect.version == 2
    assert defect.steps.count() == 2


def stops(cart):
    return "defect.do_not_use" in {one.code for one in answers_for([cart], at=NOW)[cart][1].blockers}


@pytest.mark.django_db
def test_do_not_use_holds_its_cart_until_the_second_look_and_nothing_else_frees_it(people):
    cart, fitter, manager = CartFactory(), people[Role.FITTER], people[Role.FLEET_MANAGER]
    defect = defect_of(cart)
    assert stops(cart)

    grading.assess_defect(
        defect=defect,
        version=1,
        grade="do_not_use",
        due_on=None,
        assigned_to=fitter,
        words="",
        by=manager,
        at=NOW,
    )
    assert stops(cart)
    repairs.start_repair(defect=defect, version=2, by=fitter, at=NOW)
    assert stops(cart)
    with pytest.raises(steps.StillDoNotUse):
        closing.find_no_fault(defect=defect, version=3, words="Fine.", by=manager, at=NOW)
    repairs.record_repair(defect=defect, version=3, words="New tyre.", by=fitter, at=NOW)
    assert stops(cart)
    repairs.send_back(defect=defect, version=4, words="Wrong size.", by=manager, at=NOW)
    assert stops(cart)
    repairs.record_repair(defect=defect, version=5, words="Right size.", by=fitter, at=NOW)
    assert stops(cart)
    repairs.give_second_look(defect=defect, version=6, words="", by=manager, at=NOW)
    assert not stops(cart)


@pytest.mark.django_db
def test_another_open_defect_still_holds_the_cart(people):
    cart = CartFactory()
    defect_of(cart, state="repaired")
    other = defect_of(cart, state="repaired", place="3LO")
    repairs.give_second_look(defect=other, version=1, words="", by=people[Role.YARD_HAND], at=NOW)

    assert stops(cart)


@pytest.mark.django_db
def test_two_people_and_a_photo_ease_it_and_then_it_no_longer_stops(people):
    cart = CartFactory()
    grading.assess_defect(
        defect=defect_of(cart), version=1, grade="watch", due_on=None, assigned_to=None, words="No cord.",
        second_name="Una Sorrel", photo=fresh_photo(), by=people[Role.WORKSHOP_MANAGER], at=NOW,
    )  # fmt: skip

    assert not stops(cart)


@pytest.mark.django_db
def test_isolating_its_gear_lets_the_cart_go_with_the_limit(people):
    cart = CartFactory()
    defect = defect_of(cart, title="Cannon does not swing", gear="cannon", station="tank_top", place="")
    repairs.isolate(
        defect=defect, version=1, words="No cannon.", how_isolated="Air off", tag_number="L1",
        by=people[Role.WORKSHOP_MANAGER], at=NOW,
    )  # fmt: skip

    _, answer = answers_for([cart], at=NOW)[cart]
    assert not stops(cart)
    assert [limit.sentence for limit in answer.limits] == ["No cannon."]


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("other", "allowed"),
    [
        pytest.param({"grade": "by_date"}, True, id="open, graded alike"),
        pytest.param({"grade": "do_not_use"}, True, id="open, graded worse"),
        pytest.param({"grade": "watch"}, False, id="graded lighter"),
        pytest.param({"grade": "do_not_use", "state": "verified"}, False, id="closed"),
        pytest.param({"grade": "do_not_use", "cart": None}, False, id="of another cart"),
    ],
)
def test_sql_itself_closes_a_defect_as_the_same_only_as_an_open_one_of_its_cart_graded_no_lighter(
    other, allowed
):
    defect = DefectFactory(grade="by_date")
    cart = CartFactory() if "cart" in other else defect.cart
    kept = DefectFactory(**other | {"cart": cart})
    close = partial(
        sql,
        "UPDATE fleet_defect SET state = 'same_as', closed_at = told_at, same_as_id = %s WHERE id = %s",
        kept.pk,
        defect.pk,
    )

    if allowed:
        close()
        # And what becomes of the other afterwards is no matter to the closed one.
        sql("UPDATE fleet_defect SET closed_at = told_at, state = 'no_fault_found' WHERE id = %s", kept.pk)
        sql("UPDATE fleet_defect SET state = 'same_as', version = 9 WHERE id = %s", defect.pk)
    else:
        with pytest.raises(IntegrityError, match="slake: a defect is the same only as an open one"):
            close()


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("change", "rule"),
    [
        ("condemned_at = now(), condemned_words = 'Pitted', condemned_by_id = %s", "condemned_on_no_cart"),
        ("cart_id = NULL, bracket = '', condemned_at = now(), condemned_words = '', condemned_by_id = %s",
         "condemned_by_somebody"),
    ],
)  # fmt: skip
def test_sql_itself_keeps_no_condemned_extinguisher_on_a_cart_and_none_without_a_reason(change, rule):
    item, person = ExtinguisherFactory(cart=CartFactory()), StaffFactory()

    with pytest.raises(IntegrityError, match=f"fleet_extinguisher_{rule}"):
        sql(f"UPDATE fleet_extinguisher SET {change} WHERE id = %s", person.pk, item.pk)  # noqa: S608 - words of this table above
