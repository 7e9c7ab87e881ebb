"""The run sheet: what a day has on it, what is missing in words, what is typed once, and when it asks."""

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.actions.locks import AgainstARule, constraint_of
from hire.actions.runs import RunOver, RunWords, note_run
from hire.models.runs import RunNote
from hire.run_watch import run_sheets_open
from hire.runs import runs_on, sheet_due
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import yard_day, yard_policy
from tests.factories.fleet import CartFactory
from tests.factories.hire import BookingFactory, LineFactory, OffHireFactory
from tests.factories.runs import RunNoteFactory
from tests.factories.yards import YardFactory
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ADELAIDE = ZoneInfo("Australia/Adelaide")
# A Wednesday; the yard is closed on Sundays.
ON = date(2026, 12, 2)
TYPED = RunWords("Wes Tonkin", time(6), "Aoife, 08 5550 2231", "UHF 22", "North gate")


def local(day, hour=9, minute=0):
    return datetime(2026, 12, day, hour, minute, tzinfo=ADELAIDE)


def sheet(on=ON, at=None):
    return [(run.what, run.cart, run.missing) for run in runs_on(on, at=at or local(1))]


class TestADay:
    def test_what_leaves_moves_and_comes_back_that_day_and_no_other(self):
        def line(number, start, end, **more):
            return LineFactory(cart__fleet_number=number, starts_at=start, ends_at=end, **more)

        line("FIRST", local(2, 0), local(9))
        line("LAST", local(2, 23, 59), local(9), agreement__leaves_by="site")
        line("EARLY", local(1, 23, 59), local(9))
        line("LATE", local(3, 0), local(9))
        line("OFF", local(2), local(9), cancelled_at=local(1))
        line("HOME", local(1) - 9 * DAY, local(2, 16), out_at=local(1) - 9 * DAY)
        line("AWAY", local(1) - 9 * DAY, local(3, 0), out_at=local(1) - 9 * DAY)
        BookingFactory(made_at=local(1), starts_at=local(2, 7), litres=12_000)
        lacks = "No driver, no start, no contact."
        assert sheet() == [
            ("Leaves", "FIRST", lacks), ("Moves", "LAST", lacks), ("Leaves, cart not chosen", "", "No cart."),
            ("Comes back", "HOME", "No driver."),
        ]  # fmt: skip

    def test_a_cart_off_hire_is_a_pick_up_until_it_has_left_the_site(self):
        line = LineFactory(
            cart__fleet_number="SITE",
            starts_at=local(1) - 9 * DAY,
            ends_at=local(2),
            out_at=local(1) - 9 * DAY,
        )
        call = OffHireFactory(line=line, called_at=local(1, 8))
        [run] = runs_on(ON, at=local(1))
        assert (run.what, run.leg) == ("Pick-up", "back")
        assert "Saltbush Road, north gate. Keys: In the site office." in run.said
        assert [what for what, *_ in sheet(on=ON + 9 * DAY)] == ["Pick-up"]
        assert sheet(on=ON - 2 * DAY) == []
        call.left_site_at = local(1, 12)
        call.save()
        assert sheet() == []

    def test_an_overdue_cart_stands_on_the_sheets_to_come_until_it_is_back(self):
        out_at = local(1) - 9 * DAY
        line = LineFactory(cart__fleet_number="OPAL", starts_at=out_at, ends_at=local(1, 16), out_at=out_at)
        overdue = [("Overdue back", "OPAL", "No driver.")]
        assert (sheet(at=local(1, 16)), sheet(at=local(1, 17))) == ([], overdue)
        assert sheet(on=ON - DAY, at=local(1, 17)) == overdue
        assert sheet(on=ON - DAY, at=local(2)) == [("Comes back", "OPAL", "No driver.")]
        OffHireFactory(line=line, called_at=local(1, 18))
        assert [what for what, *_ in sheet(at=local(1, 19))] == ["Pick-up"]

    @pytest.mark.parametrize(
        ("known", "missing"),
        [
            ({}, ""),
            ({"driver_words": ""}, "No driver."),
            ({"start": None, "contact_words": ""}, "No start, no contact."),
            ({"start": time(0)}, ""),
            ({"channel_words": "", "water_point_words": ""}, ""),
        ],
    )
    def test_what_is_missing_is_said(self, known, missing):
        RunNoteFactory(line=LineFactory(starts_at=local(2)), **known)
        assert [lacks for *_, lacks in sheet()] == [missing]

    def test_an_order_number_and_a_float_are_missed_where_they_are_wanted(self):
        line = LineFactory(starts_at=local(2), agreement__order_number="", agreement__leaves_by="float")
        note = RunNoteFactory(line=line)
        assert [lacks for *_, lacks in sheet()] == ["No order number, no float."]
        note.float_words = "Brumby Haulage, loads at 4"
        note.save()
        assert [lacks for *_, lacks in sheet()] == ["No order number."]

    def test_it_costs_the_same_for_three_carts_and_thirty(self):
        def cost():
            with CaptureQueriesContext(connection) as queries:
                runs_on(ON, at=local(1))
            return len(queries)

        def add(number):
            for _ in range(number):
                RunNoteFactory(line__starts_at=local(2))
                RunNoteFactory(
                    leg="back",
                    line__starts_at=local(1) - DAY,
                    line__ends_at=local(2),
                    line__out_at=local(1) - DAY,
                )
                OffHireFactory(line__starts_at=local(1) - 9 * DAY, line__out_at=local(1) - 9 * DAY)
                BookingFactory(made_at=local(1), starts_at=local(2))

        add(3)
        few = cost()
        add(27)
        assert cost() == few


class TestWrittenDown:
    def test_once_and_journalled_with_what_changed(self, desk, at):
        line = LineFactory()
        note = note_run(line=line, leg="out", typed=TYPED, by=desk, at=at)
        assert (note.driver_words, note.start, note.noted_by) == ("Wes Tonkin", time(6), desk)
        note_run(line=line, leg="out", typed=TYPED, by=desk, at=at + HOUR)
        note_run(line=line, leg="out", typed=replace(TYPED, driver_words=" Ruby "), by=desk, at=at + HOUR)
        note_run(line=line, leg="back", typed=RunWords(), by=desk, at=at)
        assert RunNote.objects.get(leg="out").driver_words == "Ruby"
        texts = [entry.text for entry in Entry.objects.filter(event="hire.run.noted").order_by("position")]
        assert len(texts) == 3
        assert '"driver_words":["Wes Tonkin","Ruby"]' in texts[1]
        assert "contact_words" not in texts[1]

    def test_not_of_a_run_that_is_over(self, desk, at):
        left = LineFactory(starts_at=at - DAY, out_at=at - DAY)
        back = LineFactory(starts_at=at - DAY, out_at=at - DAY, came_back_at=at)
        for line, leg in ((LineFactory(cancelled_at=at), "out"), (left, "out"), (back, "back")):
            with pytest.raises(RunOver, match=line.cart.fleet_number):
                note_run(line=line, leg=leg, typed=TYPED, by=desk, at=at)
        assert note_run(line=left, leg="back", typed=TYPED, by=desk, at=at)

    @pytest.mark.parametrize("role", sorted(set(Role) - DESK))
    def test_by_the_desk_alone(self, people, at, role):
        with pytest.raises(NotAllowed):
            note_run(line=LineFactory(), leg="out", typed=TYPED, by=people[role], at=at)

    def test_of_no_other_way(self, desk, at):
        with pytest.raises(AgainstARule):
            note_run(line=LineFactory(), leg="up", typed=TYPED, by=desk, at=at)

    @pytest.mark.parametrize(
        ("rule", "wrong"), [("hire_runnote_leg_known", {"leg": "up"}), ("hire_runnote_once_a_leg", {})]
    )
    def test_the_database_itself_refuses(self, rule, wrong):
        note = RunNoteFactory()
        with pytest.raises(IntegrityError) as error, transaction.atomic():
            RunNoteFactory(line=note.line, **wrong)
        assert constraint_of(error.value) == rule


class TestTheHour:
    @pytest.mark.parametrize(
        ("on", "due"),
        [
            pytest.param(date(2026, 12, 2), local(1, 15), id="the day before"),
            pytest.param(date(2026, 12, 7), local(5, 15), id="a Monday's on Saturday"),
            pytest.param(date(2026, 12, 6), local(5, 15), id="a Sunday's on Saturday"),
        ],
    )
    def test_the_sheet_is_due_when_somebody_is_there(self, on, due):
        assert sheet_due(on) == due

    def test_a_yard_that_is_never_open_is_asked_the_day_before(self, monkeypatch):
        policy = replace(yard_policy(), working_days=frozenset())
        monkeypatch.setattr("hire.runs.yard_policy", lambda: policy)
        assert sheet_due(ON) == local(1, 15)

    @pytest.mark.parametrize(
        ("at", "asks"),
        [(local(1, 14, 59), False), (local(1, 15), True), (local(2, 5, 59), True), (local(2, 6), False)],
    )
    def test_it_asks_from_its_hour_until_the_cart_was_to_leave(self, at, asks):
        LineFactory(cart__fleet_number="RG07", starts_at=local(2, 6))
        found = list(run_sheets_open(at))
        assert bool(found) is asks
        if asks:
            assert "its run has no driver, no start and no contact." in found[0].what
            assert (found[0].for_role, found[0].rank) == (Role.HIRE_DESK, "today")

    def test_it_is_quiet_once_the_three_are_known_and_for_what_may_wait(self):
        line = LineFactory(starts_at=local(2, 6), agreement__order_number="")
        RunNoteFactory(line=line, channel_words="")
        assert list(run_sheets_open(local(1, 16))) == []

    def test_two_queries_for_three_and_thirty(self, django_assert_num_queries):
        for _ in range(30):
            LineFactory(starts_at=local(2, 6))
        with django_assert_num_queries(2):
            assert len(list(run_sheets_open(local(1, 16)))) == 30


class TestPages:
    @pytest.fixture
    def client(self, client, desk):
        client.force_login(desk)
        return client

    @pytest.fixture
    def line(self):
        now = timezone.now()
        return LineFactory(cart__fleet_number="RG07", starts_at=now + DAY, ends_at=now + 4 * DAY)

    def test_typed_once_and_read_from_the_sheet_and_its_file(self, client, line):
        typed = {
            "driver_words": "Wes Tonkin", "start": "06:30", "contact_words": "Aoife, 08 5550 2231", "channel_words": "UHF 22",
            "water_point_words": "North gate standpipe",
        }  # fmt: skip
        page = reverse("hire:run_sheet")
        assert "1 run lacks something a driver needs." in text_of(client.get(page))
        done = client.post(reverse("hire:run_note", args=[line.pk, "out"]), typed, follow=True)
        for words in (
            "The run of RG07 is written down.",
            "Wes Tonkin",
            "6.30 am",
            "UHF 22",
            "North gate standpipe",
            "PO 88412",
        ):
            assert words in text_of(done)
        [row] = saved(client, page)
        assert (row["Driver"], row["Start"], row["Order number"], row["Missing"]) == (
            "Wes Tonkin",
            "06:30",
            "PO 88412",
            "",
        )
        # The same of it again: the form has it.
        assert "Wes Tonkin" in text_of(client.get(reverse("hire:run_note", args=[line.pk, "out"])))

    def test_the_next_run_to_that_place_begins_with_what_was_said_last(self, client, line):
        place = reverse("hire:run_note", args=[line.pk, "out"])
        assert "Aoife Merrin, 08 5550 2231" in text_of(client.get(place))
        about = line.agreement
        RunNoteFactory(line__agreement=about, contact_words="Ines at the gate")
        form = text_of(client.get(place))
        assert "Ines at the gate" in form
        assert "UHF 22" in form
        assert "Wes Tonkin" not in form

    def test_the_run_back_of_an_overdue_cart_is_read_from_the_sheet_one_comes_to(self, client):
        now = timezone.now()
        overdue = LineFactory(starts_at=now - 9 * DAY, ends_at=now - 2 * DAY, out_at=now - 9 * DAY)
        typed = {"driver_words": "Wes Tonkin"}
        done = client.post(reverse("hire:run_note", args=[overdue.pk, "back"]), typed, follow=True)
        assert "Overdue back, expected" in text_of(done)
        assert "Wes Tonkin" in text_of(done)

    def test_refused_it_comes_back_with_what_was_typed(self, client, line):
        line.cancelled_at = timezone.now()
        line.save()
        answer = client.post(reverse("hire:run_note", args=[line.pk, "out"]), {"driver_words": "Wes Tonkin"})
        assert answer.status_code == 422
        assert "is cancelled" in text_of(answer)
        assert "Wes Tonkin" in text_of(answer)
        assert client.get(reverse("hire:run_note", args=[line.pk, "up"])).status_code == 404

    def test_a_yard_hand_reads_it_and_fills_in_nothing(self, client, people, line):
        client.force_login(people[Role.YARD_HAND])
        page = text_of(client.get(reverse("hire:run_sheet")))
        assert "RG07" in page
        assert "Fill in" not in page

    @pytest.mark.parametrize("asked", ["never", "0001-01-01", "9999-12-31", "\x00"])
    def test_a_day_that_makes_no_sense_is_tomorrow(self, client, line, asked):
        assert "RG07" in text_of(client.get(reverse("hire:run_sheet"), {"on": asked}))

    def test_a_pick_up_stands_on_the_first_day_alone(self, client):
        now = timezone.now()
        call = OffHireFactory(
            line__starts_at=now - 9 * DAY, line__out_at=now - 9 * DAY, line__ends_at=now + 30 * DAY
        )
        assert [row["Cart"] for row in saved(client, reverse("hire:run_sheet"))] == [
            call.line.cart.fleet_number
        ]

    def test_of_the_yard_looked_at(self, client, line):
        YardFactory()
        YardFactory(name="Saltbush Crossing")
        LineFactory(
            cart=CartFactory(fleet_number="RG08", home_yard="Saltbush Crossing"),
            starts_at=timezone.now() + DAY,
        )
        rows = saved(client, reverse("hire:run_sheet"), yard="Saltbush Crossing")
        assert [row["Cart"] for row in rows] == ["RG08"]

    def test_it_costs_the_same_for_three_and_thirty(self, client):
        page = f"{reverse('hire:run_sheet')}?on={yard_day(timezone.now()) + DAY:%Y-%m-%d}"

        def add(number):
            for _ in range(number):
                RunNoteFactory(line__starts_at=timezone.now() + DAY)

        add(3)
        few = queries_of(client, page)
        add(27)
        assert queries_of(client, page) == few
