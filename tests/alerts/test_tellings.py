"""Who is told, when, and never twice: the sweep, the clock and the line put together over hours."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.alerts.actions import set_alert_aside, sweep, take_alert
from fleet.alerts.models import Alert, Notice, OnCall, Telling
from fleet.alerts.notices import put_together
from people.roles import Role
from people.yard import yard_day
from tests.alerts.told import by_the_minute, condition, told, watch
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW

pytestmark = pytest.mark.django_db

# Tuesday 1 December 2026, 7.30 am in the yard, and 2.10 am of that night.
MORNING, NIGHT = NOW, NOW - timedelta(hours=5, minutes=20)
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)


@pytest.fixture
def watched(monkeypatch):
    return watch(monkeypatch)


@pytest.fixture
def crew(db):
    """Everybody can be reached by email."""
    made = {}
    for name, role in (
        ("Bruna Kitto", "workshop_manager"),
        ("Carl Oakes", "workshop_manager"),
        ("Dot Farrugia", "hire_desk"),
        ("Noor Halloran", "fleet_manager"),
        ("Teo Marsden", "fitter"),
    ):
        made[name.split()[0].lower()] = StaffFactory(
            full_name=name, role=role, email=f"{name[:3]}@yard.example"
        )
    return made


def on_call(person, place=1, *, start=NIGHT - DAY, end=MORNING + DAY):
    return OnCall.objects.create(
        person=person, place=place, period=DateTimeTZRange(start, end), made_at=start, made_by=person
    )


def told_at(start, minutes):
    return [(minute, notice.person.full_name.split()[0]) for minute, notice in by_the_minute(start, minutes)]


def test_a_stop_at_night_goes_up_the_line_until_somebody_has_it(watched, crew):
    on_call(crew["teo"])
    watched["test.tag"] = [condition(rank="stop")]

    assert told_at(NIGHT, 300) == [(0, "Teo"), (15, "Bruna"), (45, "Noor")]
    why = list(Notice.objects.order_by("made_at").values_list("why", flat=True))
    assert why == [
        "you are on call.",
        "nobody has taken it for 15\xa0min.",
        "nobody has taken it for 45\xa0min.",
    ]


def test_who_takes_a_stop_ends_the_telling(watched, crew):
    on_call(crew["teo"])
    watched["test.tag"] = [condition(rank="stop")]
    assert told_at(NIGHT, 0) == [(0, "Teo")]

    take_alert(alert=Alert.objects.get(), by=crew["teo"], at=NIGHT + MINUTE)

    assert told_at(NIGHT + 15 * MINUTE, 120) == []
    assert set(Telling.objects.values_list("step", "outcome")) == {(0, "told"), (1, "taken"), (2, "taken")}


@pytest.mark.parametrize(
    ("found", "minutes_on", "who"),
    [
        pytest.param(MORNING, 0, "Bruna", id="by day at once"),
        pytest.param(MORNING - 12 * timedelta(hours=1), 10 * 60 + 30, "Bruna", id="at 7.30 pm: at 6 am"),
    ],
)
def test_today_waits_for_the_morning_and_goes_up_a_day_later(watched, crew, found, minutes_on, who):
    watched["test.tag"] = [condition()]

    assert told_at(found, 36 * 60) == [(minutes_on, who), (minutes_on + 24 * 60, "Noor")]


def test_what_is_found_together_is_one_message_with_a_row_each(watched, crew):
    watched["test.tag"] = [condition(number) for number in range(40)]
    watched["test.tyre"] = [condition(number, for_role=Role.HIRE_DESK) for number in range(3)]

    sweep(at=MORNING)
    put_together(at=MORNING)

    assert told() == [
        ("Bruna Kitto", "today", "Today: Tag, 40 to see to"),
        ("Dot Farrugia", "today", "Today: Tyre, 3 to see to"),
    ]
    body = Notice.objects.get(person=crew["bruna"]).body
    assert body.count("How we know: It says so.") == 40
    assert "40 of 40. TODAY." in body


def test_soon_is_one_digest_a_morning_for_all_rules(watched, crew):
    watched["test.tag"] = [condition(1, rank="soon"), condition(2, rank="soon")]
    watched["test.tyre"] = [condition(3, rank="soon", what="A tyre nears its end.")]

    # 6.30 am is an hour before.
    assert told_at(MORNING, 22 * 60 + 45) == []
    watched["test.tag"] = watched["test.tag"][:1]
    assert told_at(MORNING + 23 * timedelta(hours=1), 24 * 60) == [(0, "Bruna")]
    body = Notice.objects.get().body
    assert Notice.objects.get().subject == "Soon: 2 things fall due"
    assert "Tag 1 is" in body
    assert "A tyre nears" in body
    assert "Tag 2" not in body
    assert Telling.objects.get(outcome="cleared").alert.what == "Tag 2 is near its end."


def test_nobody_is_told_twice_whatever_the_order_of_sweeps(watched, crew):
    """Cleared and back within a day it is the same alert; only a higher rank is news."""
    watched["test.tag"] = [condition()]
    assert told_at(MORNING, 15) == [(0, "Bruna")]
    watched["test.tag"] = []
    sweep(at=MORNING + 30 * MINUTE)
    watched["test.tag"] = [condition()]

    assert told_at(MORNING + 60 * MINUTE, 120) == []
    watched["test.tag"] = [condition(rank="stop")]
    assert told_at(MORNING + 240 * MINUTE, 0) == [(0, "Bruna")]


def test_a_stop_that_was_gone_for_a_moment_still_goes_up_the_line(watched, crew):
    watched["test.tag"] = [condition(rank="stop")]
    assert told_at(MORNING, 0) == [(0, "Bruna")]
    watched["test.tag"] = []
    # The second step falls due while it is gone, and is dropped.
    assert told_at(MORNING + 14 * MINUTE, 15) == []
    watched["test.tag"] = [condition(rank="stop")]

    assert told_at(MORNING + 60 * MINUTE, 60) == [(15, "Carl"), (45, "Noor")]


def test_one_that_came_back_before_anybody_heard_of_it_is_told(watched, crew):
    watched["test.tag"] = [condition(rank="soon")]
    sweep(at=MORNING)
    watched["test.tag"] = []
    assert told_at(MORNING + 22 * timedelta(hours=1), 90) == []
    assert Telling.objects.get().outcome == "cleared"
    watched["test.tag"] = [condition(rank="soon")]

    # 7.15 am to 6.30 am.
    assert told_at(MORNING + 23 * timedelta(hours=1) + 45 * MINUTE, 24 * 60) == [(23 * 60 + 15, "Bruna")]


@pytest.mark.parametrize(("days_lower", "again"), [(0.5, []), (3, [(0, "Bruna")])])
def test_one_that_falls_and_rises_is_told_again_after_a_day(watched, crew, days_lower, again):
    watched["test.tag"] = [condition(rank="stop")]
    assert told_at(MORNING, 0) == [(0, "Bruna")]
    take_alert(alert=Alert.objects.get(), by=crew["bruna"], at=MORNING + MINUTE)
    watched["test.tag"] = [condition(rank="soon")]
    fell = MORNING + 10 * DAY
    sweep(at=fell)
    put_together(at=fell + timedelta(hours=1))
    watched["test.tag"] = [condition(rank="stop")]

    assert told_at(fell + days_lower * DAY, 0) == again


def test_one_taken_before_it_became_a_stop_asks_its_taker_and_then_the_line(watched, crew):
    watched["test.tag"] = [condition()]
    assert told_at(MORNING, 0) == [(0, "Bruna")]
    take_alert(alert=Alert.objects.get(), by=crew["carl"], at=MORNING + MINUTE)
    watched["test.tag"] = [condition(rank="stop")]

    assert told_at(MORNING + 60 * MINUTE, 30) == [(0, "Carl"), (15, "Bruna")]
    alert = Alert.objects.get()
    assert not alert.is_in_hand
    taken = take_alert(alert=alert, by=crew["bruna"], at=MORNING + 95 * MINUTE)
    assert (taken.taken_by, taken.is_in_hand) == (crew["bruna"], True)
    assert told_at(MORNING + 96 * MINUTE, 60) == []


def test_a_set_aside_alert_is_not_told_until_its_day(watched, crew):
    watched["test.tag"] = [condition()]
    sweep(at=MORNING)
    on = yard_day(MORNING)
    set_alert_aside(
        alert=Alert.objects.get(), until=on + 3 * DAY, because="Part on order", by=crew["bruna"], at=MORNING
    )

    # Friday 6 am is 2 days 22 h 30 min on.
    assert told_at(MORNING, 78 * 60) == [(2 * 24 * 60 + 22 * 60 + 30, "Bruna")]
    assert Notice.objects.get().why == "it was set aside until today."
    assert Alert.objects.asking(on=on + 3 * DAY).exists()
    assert not Alert.objects.asking(on=on + 2 * DAY).exists()


def test_a_set_aside_alert_that_becomes_a_stop_asks_at_once(watched, crew):
    watched["test.tag"] = [condition()]
    sweep(at=MORNING)
    set_alert_aside(
        alert=Alert.objects.get(), until=yard_day(MORNING) + 9 * DAY, because="Part on order", by=crew["bruna"], at=MORNING
    )  # fmt: skip
    watched["test.tag"] = [condition(rank="stop")]

    assert told_at(NIGHT + DAY, 0) == [(0, "Bruna")]
    assert Alert.objects.get().held_until is None
    take_alert(alert=Alert.objects.get(), by=crew["bruna"], at=NIGHT + DAY)
    # Nothing of having been set aside is left to tell on its day.
    assert told_at(MORNING + 9 * DAY, 0) == []


def test_one_that_asks_again_goes_up_the_line_like_any_other(watched, crew):
    watched["test.tag"] = [condition()]
    sweep(at=MORNING)
    until = yard_day(MORNING) + 2 * DAY
    set_alert_aside(
        alert=Alert.objects.get(), until=until, because="Part on order", by=crew["bruna"], at=MORNING
    )

    # Thursday 6 am, and Friday 6 am.
    back = 46 * 60 + 30
    assert told_at(MORNING, 5 * 24 * 60) == [(back, "Bruna"), (back + 24 * 60, "Noor")]


@pytest.mark.parametrize(
    ("roles", "who"),
    [
        (["workshop_manager", "fleet_manager"], ["Bruna", "Noor"]),
        (["workshop_manager"], ["Bruna"]),
        (["workshop_manager", "workshop_manager", "fleet_manager"], ["Bruna", "Carl", "Noor"]),
    ],
)
def test_after_an_hour_of_nothing_everybody_due_is_told_once(watched, db, roles, who):
    names = {"workshop_manager": ["Carl Oakes", "Bruna Kitto"], "fleet_manager": ["Noor Halloran"]}
    for role in roles:
        StaffFactory(role=role, full_name=names[role].pop(), email="x@yard.example")
    watched["test.tag"] = [condition(rank="stop")]
    sweep(at=NIGHT)

    assert [
        name.split()[0] for name in (one.person.full_name for one in put_together(at=NIGHT + 60 * MINUTE))
    ] == who
    assert put_together(at=NIGHT + 61 * MINUTE) == []
    assert not Telling.objects.filter(outcome="").exists()


def test_what_an_outage_held_up_disturbs_nobodys_night(watched, crew):
    watched["test.tag"] = [condition(1), condition(2, rank="stop")]
    sweep(at=MORNING)
    evening = MORNING + 11 * timedelta(hours=1)

    assert {notice.rank for notice in put_together(at=evening)} == {"stop"}
    assert {notice.rank for notice in put_together(at=MORNING + DAY)} >= {"today"}


def test_a_role_with_nobody_in_it_is_told_to_the_fleet_manager(watched, crew):
    watched["test.tag"] = [condition(for_role=Role.YARD_HAND)]
    assert told_at(MORNING, 0) == [(0, "Noor")]
    assert Notice.objects.get().why == "nobody else who is the yard hand can be told."


def test_nobody_at_all_is_settled_and_not_asked_for_ever(watched, db):
    watched["test.tag"] = [condition()]
    assert told_at(MORNING, 15) == []
    assert set(Telling.objects.filter(step=0).values_list("outcome", flat=True)) == {"nobody"}


def test_without_an_address_it_is_on_the_screen_only_and_says_so(watched, db):
    manager = StaffFactory(role="workshop_manager")
    watched["test.tag"] = [condition(rank="stop")]
    by_the_minute(MORNING, 0)

    delivery = Notice.objects.get(person=manager).deliveries.get()
    assert (delivery.channel, delivery.address, delivery.sent_at) == ("screen", "", MORNING)


def test_a_stop_is_rung_as_well_where_there_is_a_gateway(watched, crew, settings):
    settings.CALLOUT_URL = "https://gateway.example/call"
    for person in crew.values():
        person.mobile = "+61491570156"
        person.save()
    watched["test.tag"] = [condition(1, rank="stop")]
    watched["test.tyre"] = [condition(2)]
    by_the_minute(MORNING, 0)

    ways = {
        (notice.rank, delivery.channel, delivery.address[:3])
        for notice in Notice.objects.all()
        for delivery in notice.deliveries.all()
    }
    assert ways == {("stop", "email", "Bru"), ("stop", "callout", "+61"), ("today", "email", "Bru")}


def raw(alert, **changes):
    return Telling(**{"alert": alert, "rank": "stop", "step": 0, "available_at": NOW} | changes)


def test_the_database_itself_forbids_telling_twice(watched, crew):
    watched["test.tag"] = [condition(rank="stop")]
    by_the_minute(MORNING, 0)
    alert, notice = Alert.objects.get(), Notice.objects.get()
    told_whole = {"outcome": "told", "settled_at": NOW, "notice": notice, "person": crew["bruna"]}

    for constraint, row in (
        ("alerts_telling_once_a_step", raw(alert)),
        ("alerts_telling_nobody_twice", raw(alert, step=7, **told_whole)),
        ("alerts_telling_settled_whole", raw(alert, step=8, outcome="told", settled_at=NOW)),
        ("alerts_telling_settled_whole", raw(alert, step=8, **told_whole | {"outcome": "taken"})),
    ):
        with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
            row.save(force_insert=True)
    with pytest.raises(IntegrityError, match="alerts_notice_key"), transaction.atomic():
        Notice(key=notice.key, person=crew["bruna"], made_at=NOW).save(force_insert=True)


def test_who_is_told_of_anothers_stop_sees_it_and_may_take_it(watched, crew):
    on_call(crew["teo"])
    watched["test.tag"] = [condition(1, rank="stop"), condition(2)]
    by_the_minute(MORNING, 0)

    assert [alert.rank for alert in Alert.objects.open().for_person(crew["teo"])] == ["stop"]
    assert (
        take_alert(alert=Alert.objects.get(rank="stop"), by=crew["teo"], at=MORNING).taken_by == crew["teo"]
    )
