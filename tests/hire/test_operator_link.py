"""An operator's link: their own dockets on their own phone, without an account, and nothing of anybody else's."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions import daily
from hire.actions.operator_links import (
    OutOfTheBook,
    end_operator_link,
    make_operator_link,
    open_operator_link,
)
from hire.actions.operators import end_operator
from hire.models.daily import DailyDocket
from hire.models.operators import OperatorLink
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.factories.wet import ADELAIDE, DailyDocketFactory, OperatorFactory, TurnFactory, wet_out
from tests.pages import text_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def turn(now):
    return wet_out(at=now, days=4)


@pytest.fixture
def token(turn, desk, now):
    return make_operator_link(operator=turn.operator, by=desk, at=now)[1]


def yesterday(now):
    return now.astimezone(ADELAIDE).date() - DAY


def typed(turn, now, **changed):
    return {
        "operator": turn.operator.pk, "on": yesterday(now).isoformat(), "start": "06:00", "finish": "14:00", "loads": "7",
        "mode": "nobody", "nobody_why": "Gate shut",
    } | changed  # fmt: skip


def test_a_docket_is_made_signed_and_put_right_on_the_phone(client, turn, token, now):
    page = text_of(client.get(reverse("hire:operator_page", args=[token])))
    assert f"Today’s docket, {turn.line.cart.fleet_number}" in page
    answer = client.post(reverse("hire:operator_daily_add", args=[token, turn.line.pk]), typed(turn, now))
    docket = DailyDocket.objects.get()
    assert answer["Location"] == reverse("hire:operator_daily", args=[token, docket.pk])
    assert (answer["Referrer-Policy"], answer["Cache-Control"]) == ("no-referrer", "no-store")
    assert (docket.made_by, docket.by_link.operator) == (None, turn.operator)
    assert client.post(answer["Location"], {"signed_name": ""}).status_code == 422
    assert client.post(answer["Location"], {"signed_name": "Aoife Merrin"}).status_code == 302
    assert "Aoife Merrin, typed" in text_of(client.get(answer["Location"]))
    change = reverse("hire:operator_daily_replace", args=[token, docket.pk])
    assert client.post(change, typed(turn, now, loads="8")).status_code == 422
    assert client.post(change, typed(turn, now, loads="8", why="One more")).status_code == 302
    assert DailyDocket.objects.standing().get().loads == 8
    words = set(
        Entry.objects.filter(event__startswith="hire.daily_docket").values_list("by_words", flat=True)
    )
    assert words == {f"{turn.operator}, by the operator’s link"}


def test_the_desk_sees_who_wrote_it(client, turn, token, now, desk):
    client.post(reverse("hire:operator_daily_add", args=[token, turn.line.pk]), typed(turn, now))
    client.force_login(desk)
    page = text_of(client.get(reverse("hire:daily_detail", args=[DailyDocket.objects.get().pk])))
    assert f"{turn.operator}, on their phone" in page


def test_nothing_of_another_operator_opens(client, turn, token, now):
    other = wet_out(at=now)
    theirs = DailyDocketFactory(turn=other, on=yesterday(now), unsigned_why="Gate shut")
    assert theirs.number not in text_of(client.get(reverse("hire:operator_page", args=[token])))
    for address in (
        reverse("hire:operator_daily_add", args=[token, other.line.pk]),
        reverse("hire:operator_daily", args=[token, theirs.pk]),
        reverse("hire:operator_daily_replace", args=[token, theirs.pk]),
    ):
        assert client.get(address).status_code == 404
        assert client.post(address, typed(other, now) | {"signed_name": "Jo", "why": "x"}).status_code == 404
    # Somebody else's name on one's own form is no choice of it.
    TurnFactory(line=turn.line, operator=OperatorFactory(), shift=2)
    answer = client.post(
        reverse("hire:operator_daily_add", args=[token, turn.line.pk]),
        typed(turn, now, operator=turn.line.turns.get(shift=2).operator_id),
    )
    assert answer.status_code == 422


def test_the_action_asks_again_whose_it_is(turn, desk, now):
    link, _ = make_operator_link(operator=OperatorFactory(), by=desk, at=now)
    docket = DailyDocketFactory(turn=turn, on=yesterday(now), unsigned_why="Gate shut")
    with pytest.raises(NotAllowed):
        daily.sign_daily(docket=docket, signed=daily.Signed("Jo"), by=link, at=now)
    with pytest.raises(NotAllowed):
        daily.sign_daily(docket=docket, signed=daily.Signed("Jo"), at=now)


def test_a_new_link_ends_the_one_before_and_an_ended_one_opens_nothing(client, turn, token, desk, now):
    _, new = make_operator_link(operator=turn.operator, by=desk, at=now)
    assert open_operator_link(token=token, at=now) is None
    assert open_operator_link(token=new, at=now).operator == turn.operator
    assert open_operator_link(token=new, at=now + timedelta(days=4000)) is None
    end_operator_link(operator=turn.operator, by=desk, at=now)
    end_operator_link(operator=turn.operator, by=desk, at=now)
    assert client.get(reverse("hire:operator_page", args=[new])).status_code == 404
    assert Entry.objects.filter(event="hire.operator_link.ended").count() == 1
    assert new not in "".join(Entry.objects.values_list("text", flat=True))


def test_out_of_the_book_no_link_opens_or_is_made(desk, at):
    operator = OperatorFactory()
    _, token = make_operator_link(operator=operator, by=desk, at=at)
    end_operator(operator=operator, by=desk, at=at)
    assert open_operator_link(token=token, at=at) is None
    with pytest.raises(OutOfTheBook):
        make_operator_link(operator=operator, by=desk, at=at)


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_gives_and_ends_links(people, at, role):
    operator = OperatorFactory()
    for act in (make_operator_link, end_operator_link):
        with pytest.raises(NotAllowed):
            act(operator=operator, by=people[role], at=at)


def test_the_page_shows_a_new_link_once(client, desk):
    client.force_login(desk)
    operator = OperatorFactory()
    client.post(reverse("hire:operator_link_make", args=[operator.pk]))
    page = reverse("hire:operator_detail", args=[operator.pk])
    assert "/o/" in client.get(page).content.decode()
    assert "/o/" not in client.get(page).content.decode()


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda link: DailyDocketFactory(by_link=link), "hire_dailydocket_one_writer"),
        (lambda _: DailyDocketFactory(made_by=None), "hire_dailydocket_one_writer"),
        (
            lambda link: OperatorLink.objects.filter(pk=link.pk).update(expires_at=link.made_at),
            "hire_operatorlink_expires_later",
        ),
    ],
)
def test_the_database_refuses_round_the_forms(desk, now, make, name):
    link, _ = make_operator_link(operator=OperatorFactory(), by=desk, at=now)
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        make(link)
