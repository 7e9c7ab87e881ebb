"""A job's time and parts: one job a person, a part from another cart told there, a spare extinguisher in a bracket."""

import uuid
from datetime import timedelta
from decimal import Decimal
from functools import partial

import pytest
from django.db import IntegrityError

from fleet.actions.locks import AgainstARule
from fleet.models.defects import Defect
from people.journal.models import Entry
from people.refusals import NotAllowed, Refusal
from people.roles import WORKSHOP, Role
from people.yard import yard_day
from servicing.actions import extinguishers, parts, repairs, steps, times
from servicing.models.jobs import PartUsed, TimeOnJob
from tests.at_once import at_once
from tests.factories.fleet import CartFactory, DefectFactory, ExtinguisherFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


def go_on(defect, by, *, at=NOW):
    return times.go_on(defect=defect, version=defect.version, by=by, at=at)


def use(defect, by, **typed):
    given = {
        "part_id": uuid.uuid4(),
        "words": "Suction hose",
        "part_number": "SH-76",
        "quantity": Decimal("1.5"),
        "unit_cost": Decimal("42.10"),
        "taken_from": None,
    }
    return parts.use_part(defect=defect, by=by, at=NOW, **given | typed)


def test_going_on_begins_the_job_and_handing_back_ends_the_time(people):
    defect, fitter = DefectFactory(grade="watch", state="assessed"), people[Role.FITTER]

    time, left = go_on(defect, fitter)

    assert (time.by, time.ended_at, left) == (fitter, None, None)
    defect.refresh_from_db()
    assert (defect.state, defect.assigned_to) == ("in_repair", fitter)
    repairs.record_repair(defect=defect, version=defect.version, words="New hose.", by=fitter, at=NOW + HOUR)
    time.refresh_from_db()
    assert time.ended_at == NOW + HOUR
    assert list(Entry.objects.filter(subject_id=defect.pk).values_list("event", flat=True)) == [
        "fleet.repair.started", "servicing.job.on", "fleet.repair.done",
    ]  # fmt: skip


def test_going_on_another_job_comes_off_the_first_and_says_which(people):
    first, second, fitter = (
        DefectFactory(state="in_repair"),
        DefectFactory(state="in_repair"),
        people[Role.FITTER],
    )
    go_on(first, fitter)

    time, left = go_on(second, fitter, at=NOW + HOUR)

    assert left == first
    assert TimeOnJob.objects.get(defect=first).ended_at == NOW + HOUR
    assert go_on(second, fitter, at=NOW + 2 * HOUR) == (time, None)


def test_coming_off_leaves_the_job_begun_and_only_whoever_is_on_comes_off(people):
    defect = DefectFactory(state="in_repair")
    go_on(defect, people[Role.FITTER])

    assert times.go_off(defect=defect, by=people[Role.FITTER], at=NOW + HOUR).ended_at == NOW + HOUR
    with pytest.raises(times.NotOnIt):
        times.go_off(defect=defect, by=people[Role.FITTER], at=NOW + HOUR)
    defect.refresh_from_db()
    assert defect.state == "in_repair"


def test_a_repair_waiting_for_its_second_look_takes_no_time(people):
    with pytest.raises(steps.WrongState):
        go_on(DefectFactory(state="repaired"), people[Role.FITTER])


@pytest.mark.django_db(transaction=True)
def test_on_two_tablets_at_once_a_person_ends_on_one_job(people):
    jobs = [DefectFactory(state="in_repair") for _ in range(2)]

    given = at_once(*[partial(go_on, job, people[Role.FITTER]) for job in jobs])

    assert not [one for one in given if isinstance(one, Exception)]
    assert TimeOnJob.objects.filter(ended_at=None).count() == 1


def test_the_database_keeps_one_open_time_a_person_and_its_order(people):
    fitter, defect = people[Role.FITTER], DefectFactory(state="in_repair")
    go_on(defect, fitter)

    with pytest.raises(IntegrityError, match="one_open_a_person"):
        TimeOnJob.objects.create(defect=DefectFactory(), by=fitter, started_at=NOW)


@pytest.mark.parametrize(
    ("wrong", "rule"),
    [
        ({"ended_at": NOW - HOUR}, "servicing_timeonjob_period_in_order"),
        ({"quantity": 0}, "servicing_partused_quantity_positive"),
        ({"unit_cost": -1}, "servicing_partused_cost_not_below_nothing"),
        ({"struck_at": NOW}, "servicing_partused_struck_by_somebody"),
    ],
)
def test_the_database_refuses_times_and_parts_that_cannot_be(people, wrong, rule):
    defect, fitter = DefectFactory(), people[Role.FITTER]
    with pytest.raises(IntegrityError, match=rule):
        if "ended_at" in wrong:
            TimeOnJob.objects.create(defect=defect, by=fitter, started_at=NOW, **wrong)
        else:
            PartUsed.objects.create(defect=defect, words="Hose", used_at=NOW, used_by=fitter, **wrong)


def test_a_part_is_put_down_once_however_often_its_form_is_sent(people):
    defect, part_id = DefectFactory(state="in_repair"), uuid.uuid4()

    part = use(defect, people[Role.FITTER], part_id=part_id)

    assert use(defect, people[Role.FITTER], part_id=part_id) == part
    assert part.cost == Decimal("63.150")
    assert use(defect, people[Role.FITTER], unit_cost=None).cost is None
    assert Entry.objects.filter(event="servicing.part.used").count() == 2


def test_a_part_from_another_cart_is_told_there_as_do_not_use(people):
    defect, giver = DefectFactory(state="in_repair", grade="watch"), CartFactory()

    use(defect, people[Role.FITTER], taken_from=giver)

    told = Defect.objects.get(cart=giver)
    assert (told.grade, told.station, told.state) == ("do_not_use", defect.station, "reported")
    assert told.title == f"Suction hose taken off for {defect.cart.fleet_number}"
    assert not told.may_be_passed


def test_a_part_is_refused_from_its_own_cart_of_no_quantity_or_for_a_job_not_looked_at(people):
    defect, fitter = DefectFactory(state="in_repair"), people[Role.FITTER]

    with pytest.raises(parts.OwnPart):
        use(defect, fitter, taken_from=defect.cart)
    with pytest.raises(AgainstARule, match="At least some"):
        use(defect, fitter, quantity=Decimal(0))
    with pytest.raises(AgainstARule, match="nothing or more"):
        use(defect, fitter, unit_cost=Decimal(-1))
    with pytest.raises(steps.WrongState):
        use(DefectFactory(), fitter)
    assert not PartUsed.objects.exists()


def test_a_part_struck_out_stays_on_record_and_is_struck_once(people):
    part = use(DefectFactory(state="in_repair"), people[Role.FITTER])

    assert parts.strike_part(part=part, by=people[Role.FITTER], at=NOW).struck_by == people[Role.FITTER]
    with pytest.raises(parts.StruckAlready):
        parts.strike_part(part=part, by=people[Role.FITTER], at=NOW)


def exchange(old, spare, by, **typed):
    given = {"is_used": False, "condemned_words": ""}
    return extinguishers.exchange_extinguisher(old=old, spare=spare, by=by, at=NOW, **given | typed)


def in_date(**kwargs):
    return ExtinguisherFactory(**{"cart": None, "made_on": yard_day(NOW) - timedelta(days=30)} | kwargs)


def test_an_exchange_puts_the_spare_in_the_bracket_and_the_old_one_on_the_shelf(people):
    old, spare = ExtinguisherFactory(cart=CartFactory(), bracket="Left rear"), in_date()

    on = exchange(old, spare, people[Role.FITTER], is_used=True)

    old.refresh_from_db()
    assert (on.bracket, on.cart_id is not None) == ("Left rear", True)
    assert (old.cart, old.bracket, old.is_discharged, old.condemned_at) == (None, "", True, None)
    assert Entry.objects.get().event == "fleet.extinguisher.exchanged"


def test_the_old_one_may_be_condemned_and_never_goes_on_a_cart_again(people):
    cart = CartFactory()
    old = ExtinguisherFactory(cart=cart)
    spare = exchange(old, in_date(), people[Role.FITTER], condemned_words="Pitted at the base")

    old.refresh_from_db()
    assert (old.condemned_at, old.condemned_by) == (NOW, people[Role.FITTER])
    with pytest.raises(extinguishers.NoGoodSpare, match="condemned"):
        exchange(spare, old, people[Role.FITTER])


@pytest.mark.parametrize(
    ("spare", "words"),
    [
        ({"is_discharged": True}, "used or out of the green"),
        ({"made_on": yard_day(NOW) - timedelta(days=400)}, "fell due on"),
        ({"cart": "another"}, "on a cart itself"),
    ],
)
def test_a_spare_that_is_used_overdue_or_on_a_cart_is_refused_in_words(people, spare, words):
    if spare.get("cart"):
        spare = {"cart": CartFactory()}
    old = ExtinguisherFactory(cart=CartFactory())

    with pytest.raises(extinguishers.NoGoodSpare, match=words):
        exchange(old, in_date(**spare), people[Role.FITTER])

    old.refresh_from_db()
    assert old.cart_id


def test_one_on_the_shelf_is_condemned_with_a_reason_and_one_on_a_cart_is_exchanged(people):
    condemn = partial(extinguishers.condemn_extinguisher, by=people[Role.FITTER], at=NOW)
    shelf = in_date()

    with pytest.raises(AgainstARule, match="Write why"):
        condemn(extinguisher=shelf, words=" ")
    with pytest.raises(AgainstARule, match="Exchange it"):
        condemn(extinguisher=ExtinguisherFactory(cart=CartFactory()), words="Old")
    assert condemn(extinguisher=shelf, words="Twenty years old").condemned_words == "Twenty years old"
    with pytest.raises(extinguishers.CondemnedAlready):
        condemn(extinguisher=shelf, words="Again")


@pytest.mark.parametrize("role", list(Role))
def test_fitters_and_managers_alone_work_on_jobs(people, role):
    person = people[role]
    acts = [
        lambda: go_on(DefectFactory(state="in_repair"), person),
        lambda: use(DefectFactory(state="in_repair"), person),
        lambda: exchange(ExtinguisherFactory(cart=CartFactory()), in_date(), person),
        lambda: extinguishers.condemn_extinguisher(extinguisher=in_date(), words="Old", by=person, at=NOW),
    ]
    for act in acts:
        if role in WORKSHOP:
            act()
        else:
            with pytest.raises(NotAllowed):
                act()
    assert issubclass(NotAllowed, Refusal)
