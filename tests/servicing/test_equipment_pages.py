"""One extinguisher's and one tyre's page: what is due, what was done, what was measured, and what counts."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from people.roles import WORKSHOP, Role
from tests.factories.fleet import ExtinguisherFactory, TreadReadingFactory, TyreFittingFactory
from tests.pages import saved, text_of

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("role", list(Role))
def test_an_extinguisher_tells_what_is_due_and_by_which_rule(people, sign_in, role):
    # The factory's extinguisher was made on 1 December 2025; FE-50 (AS 1851-2012 s 10): six and twelve months.
    item = ExtinguisherFactory(serviced={"routine_6_month": date(2026, 5, 20)})

    answer = sign_in(people[role]).get(f"/extinguishers/{item.pk}/")

    coming = [(one.words, one.on) for one in answer.context["coming"]]
    assert coming[:2] == [
        ("six-month service", date(2026, 11, 20)),
        ("twelve-month service", date(2026, 12, 1)),
    ]
    assert answer.context["done"] == [("six-month service", date(2026, 5, 20), "Tag House, R. Iyer")]
    page = text_of(answer)
    assert "20 Nov 2026" in page
    assert "AS 1851-2012" in page
    assert ("Record a service" in page) == (role in WORKSHOP)


def test_an_extinguisher_on_the_shelf_and_a_used_one_say_so(people, sign_in):
    shelf, used = ExtinguisherFactory(cart=None), ExtinguisherFactory(is_discharged=True)
    client = sign_in(people[Role.FITTER])

    assert "on the shelf" in text_of(client.get(f"/extinguishers/{shelf.pk}/"))
    assert "Used or out of the green" in text_of(client.get(f"/extinguishers/{used.pk}/"))


@pytest.mark.parametrize("role", list(Role))
def test_a_tyre_shows_every_depth_and_which_one_counts(people, sign_in, role):
    fitting = TyreFittingFactory(code="2LO")
    read_at = timezone.now()
    for days, depth in ((9, "5.5"), (5, "4.1"), (1, "4.4")):
        TreadReadingFactory(fitting=fitting, depth_mm=Decimal(depth), read_at=read_at - timedelta(days=days))

    answer = sign_in(people[role]).get(f"/tyre-fittings/{fitting.pk}/")

    assert [(one.depth[:3], one.is_least) for one in answer.context["readings"]] == [
        ("4.4", False),
        ("4.1", True),
        ("5.5", False),
    ]
    page = text_of(answer)
    assert "Change out at" in page
    assert "Legal" in page
    assert ("Take this tyre off" in page) == (role in WORKSHOP)


def test_a_tyre_never_measured_says_so(people, sign_in):
    assert "Never measured in this place." in text_of(
        sign_in(people[Role.FITTER]).get(f"/tyre-fittings/{TyreFittingFactory().pk}/")
    )


def test_an_extinguishers_services_are_saved_done_and_to_come(people, sign_in):
    item = ExtinguisherFactory(serviced={"routine_6_month": date(2026, 5, 20)})
    client, page = sign_in(people[Role.HIRE_DESK]), f"/extinguishers/{item.pk}/"

    coming = saved(client, page, table="coming")
    assert (coming[0]["Service"], coming[0]["Falls due"]) == ("six-month service", "2026-11-20")
    assert coming[0]["Rule"].startswith("AS 1851-2012")
    assert saved(client, page, table="done") == [
        {"Service": "six-month service", "Done": "2026-05-20", "By": "Tag House, R. Iyer"}
    ]


def test_a_tyres_depths_are_saved_as_bare_numbers_latest_first(people, sign_in):
    fitting, read_at = TyreFittingFactory(), timezone.now()
    for days, depth in ((9, "5.5"), (1, "4.4")):
        TreadReadingFactory(fitting=fitting, depth_mm=Decimal(depth), read_at=read_at - timedelta(days=days))
    rows = saved(sign_in(people[Role.HIRE_DESK]), f"/tyre-fittings/{fitting.pk}/")
    assert [row["Depth, mm"] for row in rows] == ["4.4", "5.5"]
