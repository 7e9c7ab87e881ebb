"""Faults that come back, and faults many carts have: what counts, at the boundary, and how the queue and its pages say it."""

from datetime import timedelta

import pytest
from django.utils import timezone

from fleet.models.defects import Defect
from people.roles import Role
from servicing.returning import came_back, patterns, returning, with_return
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import NOW
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db

DAY = timedelta(days=1)
SECOND = timedelta(seconds=1)


def repaired(cart, *, at=NOW - 9 * DAY, **kwargs):
    given = {
        "state": "verified",
        "check_key": "hose-weeps",
        "place": "",
        "repaired_at": at,
        "told_at": at - DAY,
    }
    return DefectFactory(cart=cart, **given | kwargs)


def told(cart, **kwargs):
    given = {"check_key": "hose-weeps", "place": "", "told_at": NOW, "grade": "watch"}
    return DefectFactory(cart=cart, **given | kwargs)


def back(defect):
    return came_back(with_return(Defect.objects.all()).get(pk=defect.pk))


def test_a_fault_told_again_soon_after_its_repair_says_when_and_by_whom():
    cart, teo = CartFactory(), StaffFactory(full_name="Teo Marr", role="fitter")
    earlier = repaired(cart, repaired_by=teo)

    found = back(told(cart))

    assert found.defect_id == earlier.pk
    assert found.words == "Came back: repaired Sun 22 Nov by Teo Marr, told again 9 days later"
    assert returning(Defect.objects.open()).count() == 1


@pytest.mark.parametrize(
    ("earlier", "again", "is_back"),
    [
        pytest.param({"at": NOW - 90 * DAY + SECOND}, {}, True, id="just within 90 days"),
        pytest.param({"at": NOW - 90 * DAY}, {}, False, id="90 days"),
        pytest.param({"at": NOW + SECOND}, {}, False, id="repaired after it was told"),
        pytest.param({"state": "repaired"}, {}, False, id="without its second look"),
        pytest.param({"place": "2LO"}, {}, False, id="at another place"),
        pytest.param({"check_key": "belt"}, {}, False, id="of another check"),
        pytest.param({"check_key": ""}, {"check_key": ""}, False, id="told by hand, of no check"),
    ],
)
def test_what_counts_as_coming_back(earlier, again, is_back):
    cart = CartFactory()
    repaired(cart, **earlier)

    defect = told(cart, **again)

    assert (back(defect) is not None) == is_back
    assert returning(Defect.objects.filter(pk=defect.pk)).exists() == is_back


def test_another_cart_s_repair_and_the_end_of_a_temporary_fix_are_no_coming_back():
    cart = CartFactory()
    fix = repaired(cart)

    assert back(told(CartFactory())) is None
    assert back(told(cart, source_kind="temporary_fix", source_id=fix.pk)) is None


def fleet_with(count, *, of=12, **kwargs):
    carts = [CartFactory() for _ in range(of)]
    for cart in carts[:count]:
        told(cart, title="Spray head dribbles", **kwargs)
    return carts


@pytest.mark.parametrize(
    ("count", "of", "seen"), [(2, 12, False), (3, 12, True), (3, 30, False), (4, 30, True)]
)
def test_a_pattern_is_on_three_carts_and_on_more_than_a_tenth_of_the_fleet(count, of, seen):
    fleet_with(count, of=of)

    found = patterns(at=NOW)

    assert [(one.title, one.carts, one.since) for one in found] == (
        [("Spray head dribbles", count, NOW)] if seen else []
    )


@pytest.mark.parametrize(
    ("kwargs", "seen"),
    [
        pytest.param({"state": "verified", "told_at": NOW - 60 * DAY}, True, id="closed, told 60 days ago"),
        pytest.param({"state": "verified", "told_at": NOW - 61 * DAY}, False, id="closed, told before that"),
        pytest.param({"told_at": NOW - 300 * DAY}, True, id="open, however old"),
        pytest.param({"state": "no_fault_found"}, False, id="no fault found"),
        pytest.param({"check_key": ""}, False, id="of no check"),
    ],
)
def test_what_a_pattern_counts(kwargs, seen):
    fleet_with(3, **kwargs)

    assert bool(patterns(at=NOW)) == seen


def test_two_of_one_cart_are_one_cart():
    cart = CartFactory()
    for _ in range(5):
        told(cart)

    assert patterns(at=NOW) == []


def test_the_queue_shows_what_came_back_and_the_pattern_and_its_page_the_carts(people, sign_in):
    now = timezone.now()
    carts = fleet_with(3, told_at=now)
    repaired(carts[0], at=now - 3 * DAY)
    client = sign_in(people[Role.WORKSHOP_MANAGER])

    page = text_of(client.get("/workshop/"))
    pattern = text_of(client.get("/workshop/patterns/hose-weeps/"))
    narrowed = text_of(client.get("/workshop/?returning=on"))

    assert "told again 3 days later" in page
    assert "<b>Spray head dribbles:</b> 3 carts since" in page
    assert "/workshop/patterns/hose-weeps/" in page
    for cart in carts[:3]:
        assert cart.fleet_number in pattern
    assert "3 carts with it" in pattern
    assert "1 open defect<" in narrowed
    assert client.get("/workshop/patterns/no-such/").status_code == 404


def test_a_pattern_of_thirty_carts_costs_as_many_queries_as_one_of_three(people, sign_in):
    client = sign_in(people[Role.FITTER])
    fleet_with(3)
    few = queries_of(client, "/workshop/patterns/hose-weeps/")
    fleet_with(27, of=27)

    assert queries_of(client, "/workshop/patterns/hose-weeps/") == few


def test_a_patterns_carts_are_saved_every_page_of_them(people, sign_in):
    for number in range(60):
        told(CartFactory(fleet_number=f"K{number:02}"), title="=Hose weeps")
    page = "/workshop/patterns/hose-weeps/"
    rows = saved(sign_in(people[Role.FITTER]), page, page="2")
    assert {row["Cart"] for row in rows} == {f"K{number:02}" for number in range(60)}
    assert {row["What"] for row in rows} == {"'=Hose weeps"}
    assert sign_in(people[Role.HIRE_DESK]).get(page, {"as": "csv"}).status_code == 403
    assert sign_in(people[Role.FITTER]).get("/workshop/patterns/none/", {"as": "csv"}).status_code == 404
