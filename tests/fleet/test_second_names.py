"""A second name beside the giver: asked by the rule or the reason, and who can be it."""

import pytest

from fleet.actions.passes import SecondName
from fleet.passing import NO_SECOND_LOOK, PASS_REASONS, RULE_WORDS, SECOND_NAME_RULES, asks_second_name
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.roles import Role
from tests.factories.fleet import DefectFactory
from tests.factories.people import StaffFactory
from tests.fleet.passing import DAY, enter, give, late_defect

pytestmark = pytest.mark.django_db
ASKS = {"reason": NO_SECOND_LOOK}


@pytest.fixture
def late(at):
    return late_defect(at)


@pytest.fixture
def manager(people):
    return people[Role.WORKSHOP_MANAGER]


@pytest.mark.parametrize("rule", sorted(RULE_WORDS))
def test_it_is_asked_by_the_rule_or_the_reason(rule):
    asked = [reason for reason in PASS_REASONS if asks_second_name(rule, reason)]
    assert asked == (list(PASS_REASONS) if rule in SECOND_NAME_RULES else [NO_SECOND_LOOK])


def test_without_one_it_is_refused_with_its_field(late, manager, at):
    with pytest.raises(SecondName, match="asks for a second name") as refused:
        give(late, manager, at, **ASKS)
    assert refused.value.field == "second_person"
    assert give(late, manager, at).second_words == ""


def test_one_of_the_yard_or_an_outsider_stands_beside_the_giver(late, manager, people, at):
    hand = people[Role.YARD_HAND]
    assert give(late, manager, at, **ASKS, second_person=hand).second_words == hand.full_name
    other = late_defect(at)
    outsider = {"second_name": "Ida Brandt", "second_firm": "Saltbush Tyres"}
    assert give(other, manager, at, **ASKS, **outsider).second_words == "Ida Brandt, Saltbush Tyres"


@pytest.mark.parametrize(
    ("second", "field", "words"),
    [
        ({"second_name": "Ida Brandt"}, "second_firm", "named with their firm"),
        ({"second_firm": "Saltbush Tyres"}, "second_name", "named with their firm"),
        ({"second_name": " ", "second_firm": " "}, "second_person", "asks for a second name"),
    ],
)
def test_an_outsider_half_named_is_refused(manager, at, second, field, words):
    with pytest.raises(SecondName, match=words) as refused:
        give(late_defect(at), manager, at, **ASKS, **second)
    assert refused.value.field == field


def test_not_both(late, manager, people, at):
    both = {
        "second_person": people[Role.FITTER],
        "second_name": "Ida Brandt",
        "second_firm": "Saltbush Tyres",
    }
    with pytest.raises(SecondName, match="not both"):
        give(late, manager, at, **both)


def test_not_whoever_passes_it_enters_it_or_has_left(late, manager, people, at):
    hand = people[Role.YARD_HAND]
    gone = StaffFactory(is_active=False)
    for second, words in ((manager, "passes this"), (hand, "enters this"), (gone, "not work here")):
        with pytest.raises(SecondName, match=words):
            enter(late, manager, hand, at, second_person=second)
    assert enter(late, manager, hand, at, second_person=people[Role.HIRE_DESK]).second_person


def test_not_whoever_worked_on_it(late, manager, people, at):
    fitter = people[Role.FITTER]
    write_journal(
        event=Event.REPAIR_STARTED, subject=("defect", late.pk), chains=[cart_chain(late.cart_id)], by=fitter, at=at - DAY
    )  # fmt: skip
    with pytest.raises(SecondName, match="worked on this"):
        give(late, manager, at, second_person=fitter)


def test_not_its_repairer(manager, people, at):
    fitter = people[Role.FITTER]
    late = DefectFactory(
        grade="by_date",
        state="repaired",
        may_be_passed=True,
        due_on=(at - 3 * DAY).date(),
        repaired_by=fitter,
    )
    with pytest.raises(SecondName, match="worked on this"):
        give(late, manager, at, **ASKS, second_person=fitter)
