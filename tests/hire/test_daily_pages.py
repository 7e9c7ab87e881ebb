"""The pages of daily dockets: made on a phone, listed with what is missing, signed by the customer's person, saved as a file."""

import csv
import io
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.models.daily import DailyDocket
from people.roles import Role
from tests.factories.hire import CustomerLinkFactory
from tests.factories.wet import ADELAIDE, DailyDocketFactory, OperatorFactory, TurnFactory, wet_out
from tests.pages import queries_of, text_of

pytestmark = pytest.mark.django_db
LIST = reverse("hire:daily_list")
TOKEN = "token-of-the-customer-000000001"


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


@pytest.fixture
def turn(now, hand):
    return wet_out(at=now, operator=OperatorFactory(staff=hand), days=4)


def day_of(now, back=1):
    return now.astimezone(ADELAIDE).date() - timedelta(days=back)


def typed(turn, now, **changed):
    return {
        "operator": turn.operator.pk, "on": day_of(now).isoformat(), "start": "06:00", "finish": "16:30", "break_minutes": "30",
        "loads": "9", "mode": "signed", "signed_name": "Aoife Merrin", "strokes": "[[[1,2,0],[3,4,9]]]",
    } | changed  # fmt: skip


def test_the_operator_makes_it_on_their_phone_and_the_customers_person_signs(client, turn, now, hand):
    client.force_login(hand)
    page = text_of(client.get(LIST))
    assert f"Today’s docket, {turn.line.cart.fleet_number}" in page
    answer = client.post(reverse("hire:daily_add", args=[turn.line.pk]), typed(turn, now))
    docket = DailyDocket.objects.get()
    assert answer["Location"] == reverse("hire:daily_detail", args=[docket.pk])
    shown = client.get(answer["Location"]).content.decode()
    assert "06:00 to 16:30, 10 h" in shown and "Signature drawn by Aoife Merrin" in shown
    # It was yesterday's: both times are shown.
    assert "Finished " in shown and "entered " in shown


def test_a_night_ends_on_the_next_day(client, turn, now, hand):
    client.force_login(hand)
    night = {"on": day_of(now, 2).isoformat(), "start": "18:00", "finish": "04:30", "is_night": "on"}
    assert (
        client.post(reverse("hire:daily_add", args=[turn.line.pk]), typed(turn, now, **night)).status_code
        == 302
    )
    assert (DailyDocket.objects.get().hours, DailyDocket.objects.get().is_night) == (10, True)


@pytest.mark.parametrize(
    "wrong",
    [
        {"on": ""},
        {"on": "2019-01-01"},
        {"start": ""},
        {"finish": "soon"},
        {"break_minutes": "-1"},
        {"loads": "\x00"},
        {"operator": "7"},
        {"mode": ""},
        {"mode": "nobody"},
        {"signed_name": ""},
        {"strokes": "[[[1,2"},
        {"standby_hours": "2"},
        {"standby_hours": "NaN"},
        {"travel_hours": "25"},
        {"fuel_l": "1e9"},
    ],
)
def test_a_faulty_docket_comes_back_with_everything_typed(client, turn, now, hand, wrong):
    client.force_login(hand)
    answer = client.post(
        reverse("hire:daily_add", args=[turn.line.pk]), typed(turn, now, water_words="Dam 2") | wrong
    )
    assert answer.status_code == 422
    assert "Dam 2" in answer.content.decode() and not DailyDocket.objects.exists()


def test_who_worked_is_asked_only_where_there_is_a_choice(client, turn, now, hand, desk):
    address, question = reverse("hire:daily_add", args=[turn.line.pk]), '<select name="operator"'
    TurnFactory(line=turn.line, operator=OperatorFactory(), shift=2)
    client.force_login(hand)
    page = text_of(client.get(address))
    assert question not in page and f"Worked by {turn.operator}." in page
    sent = {**typed(turn, now), "operator": client.get(address).context["form"]["operator"].value()}
    assert client.post(address, sent).status_code == 302
    assert DailyDocket.objects.get().operator == turn.operator
    client.force_login(desk)
    page = text_of(client.get(address))
    assert question in page and "Worked by" not in page


def test_unsigned_ones_come_first_and_the_desk_sees_what_is_missing(client, turn, now, desk):
    client.force_login(desk)
    signed = DailyDocketFactory(turn=turn, on=day_of(now))
    unsigned = DailyDocketFactory(turn=turn, on=day_of(now, 3), unsigned_why="Gate shut")
    page = client.get(LIST).content.decode()
    assert page.index(unsigned.number) < page.index(signed.number)
    assert "Not signed: Gate shut" in page
    missing = {day_of(now, 2), day_of(now, 4)}
    assert all(f"?on={on.isoformat()}" in page for on in missing)
    assert f"?on={day_of(now).isoformat()}" not in page


def test_filters_narrow_the_list_and_the_file(client, turn, now, desk):
    client.force_login(desk)
    mine = DailyDocketFactory(turn=turn, on=day_of(now))
    other = DailyDocketFactory(turn=wet_out(at=now), on=day_of(now, 2), unsigned_why="Gate shut")

    def numbers(**asked):
        saved = client.get(LIST, asked | {"as": "csv"})
        rows = list(csv.reader(io.StringIO(saved.content.decode("utf-8-sig"))))
        return {row[0] for row in rows[1:]}

    assert numbers() == {mine.number, other.number}
    assert numbers(hire=turn.line.agreement.number) == {mine.number}
    assert numbers(hire=other.line.cart.fleet_number.lower()) == {other.number}
    assert numbers(operator=str(turn.operator.pk)) == {mine.number}
    assert numbers(day=day_of(now, 2).isoformat()) == {other.number}
    assert numbers(signed="no") == {other.number}
    assert numbers(operator="7", day="soon") == {mine.number, other.number}
    assert "No docket is like that" in client.get(LIST, {"day": "2019-01-01"}).content.decode()


def test_an_operator_sees_their_own_dockets_and_no_others(client, turn, now, hand):
    client.force_login(hand)
    mine = DailyDocketFactory(turn=turn, on=day_of(now))
    other = DailyDocketFactory(turn=wet_out(at=now), on=day_of(now))
    page = client.get(LIST).content.decode()
    assert mine.number in page and other.number not in page
    for name in ("hire:daily_detail", "hire:daily_replace", "hire:daily_sign"):
        assert client.get(reverse(name, args=[other.pk])).status_code == 404
        assert client.get(reverse(name, args=[mine.pk])).status_code == 200
    assert client.get(reverse("hire:daily_add", args=[other.line.pk])).status_code == 404


def test_it_is_put_right_by_another(client, turn, now, desk):
    client.force_login(desk)
    first = DailyDocketFactory(turn=turn, on=day_of(now))
    address = reverse("hire:daily_replace", args=[first.pk])
    assert 'value="06:00"' in client.get(address).content.decode()
    assert client.post(address, typed(turn, now)).status_code == 422
    assert client.post(address, typed(turn, now, why="Ten loads", loads="10")).status_code == 302
    page = text_of(client.get(reverse("hire:daily_detail", args=[first.pk])))
    assert "Replaced by" in page and "Ten loads" in page and "Put it right" not in page
    assert first.number not in text_of(client.get(LIST))


def test_the_customer_reads_and_signs_through_the_link(client, turn, now):
    CustomerLinkFactory(line=turn.line, token=TOKEN)
    docket = DailyDocketFactory(turn=turn, on=day_of(now), unsigned_why="Gate shut")
    hire = client.get(reverse("hire:customer_page", args=[TOKEN])).content.decode()
    address = reverse("hire:link_daily", args=[TOKEN, docket.pk])
    assert address in hire
    assert client.post(address, {"signed_name": ""}).status_code == 422
    assert client.post(address, {"signed_name": "Aoife Merrin", "strokes": "[]"}).status_code == 302
    page = client.get(address).content.decode()
    assert "Aoife Merrin, typed" in page and "Sign the docket" not in page
    assert client.post(address, {"signed_name": "Jo"}).status_code == 422


def test_another_hires_docket_is_not_there_through_the_link(client, turn, now):
    CustomerLinkFactory(line=turn.line, token=TOKEN)
    other = DailyDocketFactory(turn=wet_out(at=now), on=day_of(now), unsigned_why="Gate shut")
    address = reverse("hire:link_daily", args=[TOKEN, other.pk])
    assert client.get(address).status_code == 404
    assert client.post(address, {"signed_name": "Jo"}).status_code == 404
    assert not DailyDocket.objects.exclude(signature=None).exists()


def test_the_list_costs_the_same_for_many(client, turn, now, desk):
    client.force_login(desk)
    DailyDocketFactory(turn=turn, on=day_of(now))
    few = queries_of(client, LIST)
    for back in range(2, 5):
        DailyDocketFactory(turn=turn, on=day_of(now, back), unsigned_why="Gate shut")
        DailyDocketFactory(turn=wet_out(at=now), on=day_of(now, back))
    assert queries_of(client, LIST) == few


def test_the_hire_page_shows_the_operator_the_dockets_and_what_is_missing(client, turn, now, desk):
    client.force_login(desk)
    docket = DailyDocketFactory(turn=turn, on=day_of(now))
    page = text_of(client.get(reverse("hire:line_detail", args=[turn.line.pk])))
    assert docket.number in page and str(turn.operator) in page
    assert "No docket for" in page
