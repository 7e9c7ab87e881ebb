"""Who is on call: two never in one place, the page that shows it, and the journal that keeps what was taken off."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.utils import timezone

from fleet.alerts.models import OnCall
from fleet.alerts.roster import NotThere, PlaceTaken, TurnEndsFirst, put_on_call, take_off_call
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW
from tests.pages import queries_of, saved, text_of, typed_moment

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def turn(people, role=Role.FITTER, *, start=NOW, end=NOW + DAY, place=1, by=Role.WORKSHOP_MANAGER):
    return put_on_call(person=people[role], starts_at=start, ends_at=end, place=place, by=people[by], at=NOW)


def names(at):
    return [one.person.role for one in OnCall.objects.now(at=at)]


def test_first_called_first_and_each_turn_half_open(people):
    turn(people, Role.WORKSHOP_MANAGER, place=2)
    turn(people, Role.FITTER, end=NOW + 2 * HOUR)
    turn(people, Role.YARD_HAND, start=NOW + 2 * HOUR)

    assert names(NOW - HOUR) == []
    assert names(NOW) == ["fitter", "workshop_manager"]
    assert names(NOW + 2 * HOUR) == ["yard_hand", "workshop_manager"]
    assert names(NOW + DAY) == []
    assert Entry.objects.filter(event="fleet.on_call.added").count() == 3


def test_somebody_whose_sign_in_is_off_is_not_called(people):
    turn(people)
    person = people[Role.FITTER]
    person.is_active = False
    person.save()
    assert names(NOW) == []
    with pytest.raises(NotThere):
        turn(people, start=NOW + 2 * DAY, end=NOW + 3 * DAY)


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"end": NOW}, TurnEndsFirst, "ends_at"),
        ({"start": NOW - 2 * DAY, "end": NOW}, TurnEndsFirst, "ends_at"),
        ({"role": Role.YARD_HAND, "start": NOW + 23 * HOUR, "end": NOW + 2 * DAY}, PlaceTaken, "place"),
        ({"place": 2, "start": NOW + HOUR}, PlaceTaken, "person"),
        ({"by": Role.FITTER}, NotAllowed, None),
    ],
)
def test_each_refusal(people, changes, refusal, field):
    turn(people)
    with pytest.raises(refusal) as refused:
        turn(people, **changes)
    assert refused.value.field == field
    assert OnCall.objects.count() == 1


def test_a_turn_taken_off_stays_in_the_journal(people):
    take_off_call(turn=turn(people), by=people[Role.FLEET_MANAGER], at=NOW)
    assert not OnCall.objects.exists()
    entry = Entry.objects.get(event="fleet.on_call.removed")
    assert str(people[Role.FITTER].pk) in entry.text
    with pytest.raises(NotAllowed):
        take_off_call(turn=turn(people), by=people[Role.HIRE_DESK], at=NOW)


ROUND_THE_ACTIONS = {
    "alerts_oncall_one_a_place": {"role": Role.YARD_HAND},
    "alerts_oncall_one_place_each": {"place": 2},
    "alerts_oncall_period_in_order": {
        "role": Role.YARD_HAND,
        "place": 2,
        "period": DateTimeTZRange(NOW, None),
    },
    "alerts_oncall_place_known": {"role": Role.YARD_HAND, "place": 4},
}


@pytest.mark.parametrize("constraint", ROUND_THE_ACTIONS)
def test_the_database_refuses_it_by_itself(people, constraint):
    turn(people)
    row = {"place": 1, "period": DateTimeTZRange(NOW, NOW + DAY), "role": Role.FITTER} | ROUND_THE_ACTIONS[
        constraint
    ]
    person = people[row.pop("role")]
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        OnCall.objects.create(**row, person=person, made_at=NOW, made_by=person)


def test_the_page_puts_on_and_takes_off(people, sign_in):
    client, now = sign_in(people[Role.WORKSHOP_MANAGER]), timezone.now()
    teo = StaffFactory(full_name="Teo Marsden", role="fitter", mobile="+61491570158")
    assert "Nobody is on call." in text_of(client.get("/alerts/on-call/"))
    typed = {
        "person": teo.pk, "starts_at": typed_moment(now), "ends_at": typed_moment(now + DAY), "place": 1,
    }  # fmt: skip
    backwards = client.post("/alerts/on-call/", typed | {"ends_at": typed_moment(now - DAY)})
    assert backwards.status_code == 422
    assert "A turn on call ends after it starts." in text_of(backwards)
    assert f'value="{typed["starts_at"]}"' in text_of(backwards)
    done = text_of(client.post("/alerts/on-call/", typed, follow=True))
    assert "Teo Marsden is on call then." in done
    assert "first, now" in done
    assert "+61491570158" in done
    gone = client.post(f"/alerts/on-call/{OnCall.objects.get().pk}/remove/", follow=True)
    assert "turn is off the roster." in text_of(gone)


def test_the_page_costs_the_same_however_many_turns(people, sign_in):
    client, now = sign_in(people[Role.FLEET_MANAGER]), timezone.now()

    def queries_with(days):
        for day in range(*days):
            OnCall.objects.create(
                person=StaffFactory(), period=DateTimeTZRange(now + day * DAY, now + (day + 1) * DAY), made_at=now,
                made_by=people[Role.FLEET_MANAGER],
            )  # fmt: skip
        return queries_of(client, "/alerts/on-call/")

    assert queries_with((0, 2)) == queries_with((2, 30))


def test_the_roster_is_saved_as_a_file(people, sign_in):
    now, teo = timezone.now(), StaffFactory(full_name="=Teo", mobile="+61491570158")
    for day in range(220):
        OnCall.objects.create(
            person=teo,
            period=DateTimeTZRange(now + day * DAY, now + (day + 1) * DAY),
            made_at=now,
            made_by=teo,
        )
    rows = saved(sign_in(people[Role.FLEET_MANAGER]), "/alerts/on-call/")
    assert len(rows) == 220
    assert (rows[0]["Who"], rows[0]["Called"], rows[0]["Mobile"]) == ("'=Teo", "1", "'+61491570158")
    assert sign_in(people[Role.HIRE_DESK]).get("/alerts/on-call/", {"as": "csv"}).status_code == 403
