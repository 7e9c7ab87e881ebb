"""Off-hire at the desk: what the pages ask, say and keep."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.models.off_hire import OffHire
from tests.factories.hire import LineFactory, OffHireFactory
from tests.pages import queries_of, text_of, typed_moment

DAY = timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def line(db, now):
    return LineFactory(
        cart__fleet_number="RG07", starts_at=now - 3 * DAY, ends_at=now + DAY, out_at=now - 3 * DAY
    )


@pytest.fixture
def client(client, desk):
    client.force_login(desk)
    return client


def typed(now, **changed):
    return {
        "called_at": typed_moment(now - DAY), "called_by_words": "Aoife Merrin", "pick_up_words": "North gate",
        "keys_words": "Site office", "risk_words": "The customer",
    } | changed  # fmt: skip


def test_the_call_is_made_and_its_number_told_with_what_it_does(client, line, now):
    form = text_of(client.get(reverse("hire:off_hire_call", args=[line.pk])))
    assert "from 2.00 pm on, at 2.00 pm the next day" in form
    page = text_of(client.post(reverse("hire:off_hire_call", args=[line.pk]), typed(now), follow=True))
    call = OffHire.objects.get()
    assert f"Give them this number: {call.number}. " in page
    assert "Off-hired, awaiting pick-up." in page
    assert "the charge stop" in page.replace("The charge", "the charge")
    for words in ("North gate", "Site office", "The customer"):
        assert words in page
    assert reverse("hire:off_hire_call", args=[line.pk]) not in page


def test_a_call_refused_comes_back_with_what_was_typed(client, line, now):
    answer = client.post(
        reverse("hire:off_hire_call", args=[line.pk]), typed(now, called_at=typed_moment(now + DAY))
    )
    assert answer.status_code == 422
    assert "still to come" in str(answer.context["form"].errors["called_at"])
    assert 'value="North gate"' in answer.content.decode()


def test_the_day_sheet_sets_it_apart_from_what_is_out(client, line):
    page = text_of(client.get(reverse("hire:line_list")))
    assert "awaiting pick-up" not in page
    call = OffHireFactory(line=line)
    answer = client.get(reverse("hire:line_list"))
    assert call.number in text_of(answer)
    assert "Off-hired, awaiting pick-up." in text_of(answer)
    assert (answer.context["back"], answer.context["out"]) == ([], [])
    rows = client.get(reverse("hire:line_list"), {"as": "csv"}).content.decode()
    assert '"Off-hired, awaiting pick-up",RG07' in rows


def test_the_day_sheet_costs_the_same_for_three_and_thirty(client, now):
    def add(number):
        for _ in range(number):
            OffHireFactory(line__out_at=now - 3 * DAY)

    add(3)
    few = queries_of(client, reverse("hire:line_list"))
    add(27)
    assert queries_of(client, reverse("hire:line_list")) == few


def test_pick_up_failed_then_gone_and_what_is_still_offered(client, line, now):
    call = OffHireFactory(line=line, called_at=now - DAY)
    client.post(
        reverse("hire:off_hire_failed", args=[call.pk]),
        {"tried_at": typed_moment(now - DAY / 2), "why": "Gate locked"},
    )
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "Gate locked" in page
    assert reverse("hire:off_hire_cancel", args=[call.pk]) in page
    client.post(reverse("hire:off_hire_left", args=[call.pk]), {"left_site_at": typed_moment(now)})
    page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
    assert "Left the site" in page
    assert reverse("hire:off_hire_cancel", args=[call.pk]) not in page
    answer = client.post(reverse("hire:off_hire_cancel", args=[call.pk]), {"why": "Too late"})
    assert answer.status_code == 422
    assert "has left the site" in text_of(answer)


def test_called_by_mistake_it_is_on_hire_as_before(client, line, now):
    call = OffHireFactory(line=line)
    page = text_of(
        client.post(reverse("hire:off_hire_cancel", args=[call.pk]), {"why": "Meant another"}, follow=True)
    )
    assert f"{call.number} is cancelled" in page
    assert reverse("hire:off_hire_call", args=[line.pk]) in page
