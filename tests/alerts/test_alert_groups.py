"""The page by what alerts are about: many fit on it, filters live in the address, who was told stands beside, and it keeps
itself up to date without asking for more than it must."""

import uuid
from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone

from fleet.alerts.actions import set_alert_aside, sweep, take_alert
from fleet.alerts.models import Alert, SweepRun
from fleet.alerts.notices import put_together
from people.roles import Role
from people.yard import yard_day
from tests.alerts.told import condition, watch
from tests.factories.fleet import CartFactory, ExtinguisherFactory
from tests.factories.people import StaffFactory
from tests.pages import queries_of, text_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def many(number, rule="servicing.extinguisher_due", **changes):
    now = timezone.now()
    return Alert.objects.bulk_create(
        Alert(
            **{
                "rule": rule, "subject_kind": "thing", "subject_id": uuid.uuid4(), "rank": "soon",
                "for_role": "workshop_manager", "what": f"{rule} {n}", "how_we_know": "x", "if_not": "y",
                "raised_at": now - DAY,
            }
            | changes
        )
        for n in range(number)
    )  # fmt: skip


@pytest.fixture
def manager(people, sign_in):
    return sign_in(people[Role.WORKSHOP_MANAGER])


def test_forty_of_one_kind_are_one_line_that_opens(manager):
    many(2, rank="today")
    many(38)
    many(1, rule="servicing.tyre_due", rank="stop")

    answer = manager.get("/alerts/")

    groups = answer.context["groups"]
    assert [(group.heading, group.words, group.is_open, len(group.rows)) for group in groups] == [
        ("Tyres", "1 stop", True, 1),
        ("Extinguishers", "40: 2 today, 38 soon", False, 10),
    ]
    page = text_of(answer)
    assert '<a href="/alerts/?rule=servicing.extinguisher_due">All 40 of Extinguishers</a>' in page
    flat = manager.get("/alerts/?rule=servicing.extinguisher_due")
    assert len(flat.context["rows"]) == 40


def test_ten_thousand_alerts_cost_what_ten_do(manager):
    many(10)
    few = queries_of(manager, "/alerts/")
    many(9_990, rule="servicing.tyre_due")
    assert queries_of(manager, "/alerts/") == few
    assert len(manager.get("/alerts/").content) < 120_000
    flat = manager.get("/alerts/?rule=servicing.tyre_due&page=7")
    assert (len(flat.context["rows"]), flat.context["page"].paginator.count) == (50, 9_990)


@pytest.mark.parametrize(
    ("address", "shown"),
    [
        ("", {"tyre", "extinguisher"}),
        ("?rank=stop", {"tyre"}),
        ("?rule=servicing.extinguisher_due", {"extinguisher"}),
        ("?cart=wc-9", {"tyre"}),
        ("?cart=%00", {"tyre", "extinguisher"}),
        ("?shown=aside", {"aside"}),
        ("?shown=cleared", {"cleared"}),
        ("?shown=cleared&rank=stop", set()),
        ("?rank=nonsense&rule=nonsense&shown=nonsense", {"tyre", "extinguisher"}),
    ],
)
def test_what_is_shown_stands_in_the_address(manager, people, address, shown):
    now = timezone.now()
    cart = CartFactory(fleet_number="WC-99")
    many(1, rule="servicing.tyre_due", rank="stop", what="tyre", cart=cart)
    many(1, what="extinguisher")
    many(1, what="cleared", cleared_at=now - 6 * DAY, raised_at=now - 9 * DAY)
    many(1, what="long gone", cleared_at=now - 8 * DAY, raised_at=now - 9 * DAY)
    (aside,) = many(1, what="aside")
    set_alert_aside(
        alert=aside, until=yard_day(now) + 5 * DAY, because="Part on order", by=people[Role.WORKSHOP_MANAGER], at=now
    )  # fmt: skip

    answer = manager.get(f"/alerts/{address}")

    groups = answer.context.get("groups")
    rows = answer.context.get("rows") if groups is None else [row for group in groups for row in group.rows]
    assert {row.alert.what for row in rows} == shown
    if not shown:
        assert "No alert fits that." in text_of(answer)
    # The head counts what asks now, whatever the page is narrowed to.
    assert answer.context["alert_count"] == 2


def test_it_says_who_was_told_when_and_how(manager, monkeypatch, settings, mailoutbox):
    StaffFactory(role="fleet_manager", full_name="Noor Halloran", email="noor@yard.example")
    found, at = watch(monkeypatch), timezone.now()
    found["servicing.tyre_due"] = [condition(1, rank="stop", for_role=Role.WORKSHOP_MANAGER)]
    sweep(at=at)
    (notice,) = put_together(at=at)
    assert "On its way to" in text_of(manager.get("/alerts/"))
    delivery = notice.deliveries.get()

    delivery.last_error = "451"
    delivery.save()
    assert "Could not be sent to" in text_of(manager.get("/alerts/"))
    assert "1 notice could not be sent yet" in text_of(manager.get("/alerts/"))

    delivery.last_error, delivery.sent_at = "", at
    delivery.save()
    page = text_of(manager.get("/alerts/"))
    assert f"Told {notice.person.full_name} " in page
    assert " by email." in page


def test_the_act_leads_to_what_it_is_about(manager):
    item = ExtinguisherFactory(cart=CartFactory())
    many(1, subject_kind="extinguisher", subject_id=item.pk, act="Record its service", what="Tag 9 ends.")

    page = text_of(manager.get("/alerts/"))

    address = f"/extinguishers/{item.pk}/"
    assert f'href="{address}" aria-label="Record its service: Tag 9 ends.">Record its service</a>' in page
    assert manager.get(address).status_code == 200


def test_setting_aside_by_the_page_and_back(manager, people):
    (alert,) = many(1, what="Tag 9 ends.")
    address = f"/alerts/{alert.pk}/set-aside/"
    until = yard_day(timezone.now()) + 3 * DAY
    for typed, words in (
        ({"because": "x"}, "Not filled in yet."),
        ({"until": until + 30 * DAY, "because": "x"}, "Choose a day from tomorrow to 14 days from now."),
        ({"until": yard_day(timezone.now()), "because": "x"}, "Choose a day from tomorrow"),
    ):
        refused = manager.post(address, typed)
        assert refused.status_code == 422
        assert words in text_of(refused)
    done = manager.post(address, {"until": until, "because": "Part on order"}, follow=True)
    assert "Set aside: Tag 9 ends." in text_of(done)
    assert "Nothing asks" in text_of(done) or "No alert is open." in text_of(done)
    aside = text_of(manager.get("/alerts/?shown=aside"))
    assert f"by {people[Role.WORKSHOP_MANAGER].full_name}, because: Part on order" in aside
    back = manager.post(f"/alerts/{alert.pk}/bring-back/", follow=True)
    assert "Asks again: Tag 9 ends." in text_of(back)


def test_a_stop_offers_no_setting_aside(manager):
    (alert,) = many(1, rank="stop")
    assert "set-aside" not in text_of(manager.get("/alerts/"))
    refused = manager.post(
        f"/alerts/{alert.pk}/set-aside/", {"until": yard_day(timezone.now()) + DAY, "because": "x"}
    )
    assert "A stop is never set aside." in text_of(refused)


def live(client, answer, more=""):
    return client.get(f"/alerts/live/?seen={answer.context['mark']}{more}")


def test_a_page_left_open_is_sent_only_what_changed(manager, people):
    (alert,) = many(1)
    page = manager.get("/alerts/")
    assert live(manager, page).status_code == 204
    assert manager.get("/alerts/count/?seen=1").status_code == 204

    take_alert(alert=alert, by=people[Role.WORKSHOP_MANAGER], at=timezone.now())
    fresh = live(manager, page)
    assert fresh.status_code == 200
    assert "has it" in text_of(fresh)
    assert "<html" not in text_of(fresh)
    assert live(manager, fresh).status_code == 204
    many(1)
    counted = manager.get("/alerts/count/?seen=1")
    assert "2<span" in text_of(counted)
    assert "?seen=2" in text_of(counted)


def test_a_watch_that_stops_changes_the_page_left_open(manager):
    now = timezone.now()
    run = SweepRun.objects.create(started_at=now, finished_at=now)
    page = manager.get("/alerts/")
    assert live(manager, page).status_code == 204
    SweepRun.objects.filter(pk=run.pk).update(finished_at=now - timedelta(minutes=11))
    assert "Something may have lapsed since" in text_of(live(manager, page))


def test_a_page_left_open_keeps_its_filters(manager):
    many(1, rank="stop", what="A stop.")
    many(1, what="A soon.")
    page = manager.get("/alerts/?rank=stop")
    assert 'hx-get="/alerts/live/?rank=stop&amp;seen=' in page.content.decode()
    fresh = manager.get("/alerts/live/?rank=stop&seen=other")
    assert "A stop." in text_of(fresh)
    assert "A soon." not in text_of(fresh)


def test_asking_again_keeps_nobody_signed_in(manager):
    """A screen left on asks for ever; its session must end all the same."""
    session = Session.objects.get()
    manager.get("/alerts/live/")
    manager.get("/alerts/count/")
    again = Session.objects.get()
    assert (again.expire_date, again.session_data) == (session.expire_date, session.session_data)


@pytest.mark.parametrize(("role", "told"), [(Role.WORKSHOP_MANAGER, True), (Role.FITTER, False)])
def test_every_page_of_a_manager_says_when_the_watch_has_stopped(people, sign_in, role, told):
    client, now = sign_in(people[role]), timezone.now()
    words = "The watch over the yard stopped 11\xa0min ago"
    SweepRun.objects.create(started_at=now, finished_at=now - timedelta(minutes=9))
    assert words not in client.get("/carts/").content.decode()
    SweepRun.objects.update(finished_at=now - timedelta(minutes=11))
    assert (words in client.get("/carts/").content.decode()) is told
