"""Wheel nuts on screen: what is outstanding, one hub's two checks, and a wheel off and on."""

from datetime import timedelta

import pytest
from django.utils import timezone

from people.roles import WORKSHOP, Role
from servicing.models.wheels import Retorque
from tests.factories.fleet import CartFactory
from tests.factories.servicing import RetorqueFactory
from tests.pages import queries_of, text_of, typed_moment

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def two_hours_old(**kwargs):
    return RetorqueFactory(fitted_at=timezone.now() - 2 * HOUR, **kwargs)


def check(client, task, **changes):
    now = timezone.now()
    typed = {"done_at": typed_moment(now), "wrench": "TW-3", "setting_nm": "600", "nuts": "10"}
    if task.first_at is None:
        typed |= {"second_for": "M. Doyle, Callabar", "shift_ends_at": typed_moment(now + 9 * HOUR)}
    else:
        typed |= {"by_words": "M. Doyle, Callabar", "km": ""}
    return client.post(f"/workshop/retorques/{task.pk}/check/", typed | changes)


def test_both_checks_are_recorded_one_after_the_other(people, sign_in):
    task, client = two_hours_old(), sign_in(people[Role.FITTER])
    page = text_of(client.get(f"/workshop/retorques/{task.pk}/"))
    assert "Check before it leaves" in page
    assert "610–678 N·m" in page
    assert "no setting" in page
    assert check(client, task).status_code == 302
    task.refresh_from_db()
    assert task.first_by == people[Role.FITTER]
    answer = client.get(f"/workshop/retorques/{task.pk}/")
    page = text_of(answer)
    assert "Check after the first km" in page
    assert "second check to be done by M. Doyle, Callabar" in page
    # No figure of the first check stands in the form of the second.
    assert set(answer.context["form"].initial) == {"done_at"}
    assert "10 nuts at 600 N·m, wrench TW-3" in page
    Retorque.objects.update(first_at=timezone.now() - HOUR)
    assert check(client, task, done_at=typed_moment(timezone.now())).status_code == 302
    page = text_of(client.get(f"/workshop/retorques/{task.pk}/"))
    assert "checked twice" in page
    assert "Record the second check" not in page
    again = check(client, task)
    assert again.status_code == 302


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"setting_nm": "60"}, "read the wrench again"),
        ({"nuts": "2"}, "count them again"),
        ({"wrench": ""}, "Not filled in yet."),
        ({"second_for": ""}, "Not filled in yet."),
    ],
)
def test_a_check_refused_comes_back_with_what_was_typed(people, sign_in, changes, words):
    task = two_hours_old()
    answer = check(sign_in(people[Role.FITTER]), task, **changes)
    assert answer.status_code == 422
    page = text_of(answer)
    assert words in page
    assert 'value="TW-3"' in page or "wrench" in changes
    task.refresh_from_db()
    assert task.first_at is None


def test_too_early_is_said(people, sign_in):
    task = RetorqueFactory(fitted_at=timezone.now() - timedelta(minutes=20))
    answer = check(sign_in(people[Role.FITTER]), task)
    assert answer.status_code == 422
    assert "has to stand for 30 minutes first" in text_of(answer)


@pytest.mark.parametrize("role", list(Role))
def test_everybody_reads_it_and_the_workshop_records(people, sign_in, role):
    task = two_hours_old()
    page = text_of(sign_in(people[role]).get(f"/workshop/retorques/{task.pk}/"))
    assert "check them again now, before it leaves" in page
    assert ("Record the first check" in page) == (role in WORKSHOP)


def test_the_list_has_what_waits_in_the_yard_first(people, sign_in):
    client = sign_in(people[Role.FITTER])
    assert "No wheel nuts wait for a check." in text_of(client.get("/workshop/retorques/"))
    road, yard = two_hours_old(first=True), two_hours_old(code="2RO")
    RetorqueFactory(replaced_at=timezone.now())
    answer = client.get("/workshop/retorques/")
    assert [(row.task, row.next_words) for row in answer.context["rows"]] == [
        (yard, "First check"),
        (road, "Second check"),
    ]
    few = queries_of(client, "/workshop/retorques/")
    for _ in range(6):
        two_hours_old()
    assert queries_of(client, "/workshop/retorques/") == few


def test_replaced_it_says_where_to_go(people, sign_in):
    task = RetorqueFactory(replaced_at=timezone.now())
    page = text_of(sign_in(people[Role.FITTER]).get(f"/workshop/retorques/{task.pk}/"))
    assert "checked under the newer entry" in page
    assert "Record the first check" not in page


def test_a_wheel_off_and_on_opens_one(people, sign_in):
    cart, client = CartFactory(), sign_in(people[Role.FITTER])
    address = f"/carts/{cart.pk}/wheel-off/"
    assert "With the same tyre" in text_of(client.get(f"{address}?position=2LO")).replace("with", "With")
    typed = {"position_code": "2LO", "refitted_at": typed_moment(timezone.now()), "why": "Brake shoes"}
    assert client.post(address, typed | {"why": ""}).status_code == 422
    answer = client.post(address, typed, follow=True)
    assert "The nuts at axle 2 left of cart" in text_of(answer)
    assert answer.redirect_chain[-1][0] == f"/workshop/retorques/{Retorque.objects.get().pk}/"
