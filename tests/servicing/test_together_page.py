"""Ticked rows of the queue: each through its own action, one sentence of how many, each refusal with its reason."""

from datetime import timedelta

import pytest

from fleet.models.defects import Defect
from people.journal.models import Entry
from people.roles import Role
from tests.factories.fleet import DefectFactory
from tests.factories.people import StaffFactory
from tests.pages import text_of, today

pytestmark = pytest.mark.django_db

TOGETHER = "/workshop/together/"
DAY = timedelta(days=1)


def ticks(*defects):
    return [f"{one.pk}:{one.version}" for one in defects]


def test_each_row_has_a_tick_that_belongs_to_the_form(people, sign_in):
    defect = DefectFactory()

    page = text_of(sign_in(people[Role.FITTER]).get("/workshop/"))

    assert f'name="ticked" value="{defect.pk}:1" form="together"' in page
    assert "Open their job sheets to print" in page
    assert "Put them off" not in page


def test_ticked_defects_are_given_to_a_person_each_with_its_own_step_and_entry(people, sign_in):
    fitter = StaffFactory(role="fitter")
    ticked = [DefectFactory(grade="watch") for _ in range(3)]

    answer = sign_in(people[Role.WORKSHOP_MANAGER]).post(
        TOGETHER, {"act": "assign", "ticked": ticks(*ticked), "person": fitter.pk}, follow=True
    )

    assert "Done for 3 defects." in text_of(answer)
    assert set(Defect.objects.values_list("assigned_to", flat=True)) == {fitter.pk}
    assert Entry.objects.filter(event="fleet.defect.assigned").count() == 3


def test_what_is_refused_says_why_and_keeps_what_was_typed_and_ticked(people, sign_in):
    fine, worst = DefectFactory(grade="watch", title="Weep"), DefectFactory(title="Cord showing")
    moved = DefectFactory(grade="watch", title="Mirror", version=4)
    until = today() + 5 * DAY

    answer = sign_in(people[Role.WORKSHOP_MANAGER]).post(
        TOGETHER,
        {
            "act": "put_off",
            "ticked": [*ticks(fine, worst), f"{moved.pk}:3"],
            "until": until.isoformat(),
            "because": "The road is closed.",
        },
    )

    page = text_of(answer)
    assert answer.status_code == 422
    assert "Done for 1 of 3 defects." in page
    assert "“do not use”, which is never put off" in page
    assert "was changed by somebody else meanwhile" in page
    assert 'value="The road is closed."' in page
    assert f'value="{until.isoformat()}"' in page
    assert set(answer.context["kept"]) == {f"{worst.pk}:1", f"{moved.pk}:4"}
    fine.refresh_from_db()
    assert fine.state == "put_off"


def test_a_date_for_many_never_eases_do_not_use(people, sign_in):
    worst, fine = DefectFactory(), DefectFactory(grade="watch")

    answer = sign_in(people[Role.WORKSHOP_MANAGER]).post(
        TOGETHER, {"act": "date", "ticked": ticks(worst, fine), "due_on": (today() + DAY).isoformat()}
    )

    assert "Done for 1 of 2 defects." in text_of(answer)
    worst.refresh_from_db()
    fine.refresh_from_db()
    assert (worst.grade, fine.grade, fine.due_on) == ("do_not_use", "by_date", today() + DAY)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"act": "assign"}, "Fill in “person”"),
        ({"act": "put_off", "until": "2030-01-01"}, "Fill in “because”"),
        ({"act": "date", "due_on": "soon"}, "Enter a valid date"),
    ],
)
def test_what_is_not_filled_in_comes_back_with_the_ticks(people, sign_in, typed, words):
    defect = DefectFactory(grade="watch")

    answer = sign_in(people[Role.WORKSHOP_MANAGER]).post(TOGETHER, typed | {"ticked": ticks(defect)})

    assert answer.status_code == 422
    assert words in text_of(answer)
    assert answer.context["kept"] == ticks(defect)


@pytest.mark.parametrize("ticked", [[], ["rubbish"], ["x:1"]])
def test_nothing_ticked_says_so(people, sign_in, ticked):
    answer = sign_in(people[Role.FITTER]).post(TOGETHER, {"act": "print", "ticked": ticked})

    assert answer.status_code == 422
    assert "Tick at least one defect in the list first." in text_of(answer)


def test_a_fitter_prints_and_does_not_decide(people, sign_in):
    client, defects = sign_in(people[Role.FITTER]), [DefectFactory(grade="watch") for _ in range(2)]

    sheets = client.post(TOGETHER, {"act": "print", "ticked": ticks(*defects)}, follow=True)
    decided = client.post(
        TOGETHER, {"act": "assign", "ticked": ticks(*defects), "person": people[Role.FITTER].pk}
    )

    assert [sheet.defect for sheet in sheets.context["sheets"]] == defects
    assert decided.status_code == 403


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ("state=put_off", {"Away"}),
        ("", {"Mine", "Theirs"}),
        ("mine=on", {"Mine"}),
        ("station=rear", {"Theirs"}),
        ("check=hose-weeps", {"Theirs"}),
        ("check=none-such", set()),
    ],
)
def test_the_queue_is_narrowed_by_state_person_place_and_check(people, sign_in, query, shown):
    DefectFactory(title="Away", grade="watch", state="put_off", put_off_until=today() + DAY)
    DefectFactory(title="Mine", state="in_repair", assigned_to=people[Role.FITTER])
    DefectFactory(title="Theirs", station="rear", check_key="hose-weeps")

    page = text_of(sign_in(people[Role.FITTER]).get(f"/workshop/?{query}"))

    assert {title for title in ("Away", "Mine", "Theirs") if f"<b>{title}</b>" in page} == shown
