"""What stands on carts by decision, or waits for one: tags, passes, limits and questions on one page."""

import uuid
from datetime import datetime, timedelta

import pytest
from django.utils import timezone

from fleet.models.carts import ReadingQuestion
from people.roles import Role
from tests.factories.fleet import CartFactory, HoldFactory, LimitFactory, PassFactory
from tests.factories.standing import MovePermitFactory
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db
HOLDS = "/workshop/holds/"
HOUR = timedelta(hours=1)


def question_on(cart):
    ReadingQuestion.objects.create(
        cart=cart, subject="engine_hours", value="8100.0", read_at=timezone.now(), question="Which is right?",
        source_kind="walk_round", source_id=uuid.uuid4(),
    )  # fmt: skip


def test_holds_passes_limits_and_questions_are_listed_with_what_ends_them(people, sign_in):
    cart = CartFactory()
    HoldFactory(cart=cart, reason="Gearbox noise", keys_words="With the fleet manager", is_tag_hung=False)
    PassFactory(cart=cart, ends_event="when it comes back")
    LimitFactory()
    HoldFactory(reason="Lifted one", lifted_at=timezone.now(), lifted_by=people[Role.FLEET_MANAGER])

    page = text_of(sign_in(people[Role.FITTER]).get(HOLDS))

    for words in (
        "Gearbox noise",
        "With the fleet manager",
        "not hung",
        "when it comes back",
        "Cannon isolated and tagged",
    ):
        assert words in page
    assert "Lifted one" not in page
    assert "No reading is in question." in page


def test_thirty_of_each_cost_as_many_queries_as_three(people, sign_in):
    """Session, person, open alerts; then the five lists and a count."""
    client = sign_in(people[Role.WORKSHOP_MANAGER])

    def more(count):
        for _ in range(count):
            cart = CartFactory()
            HoldFactory(cart=cart)
            PassFactory()
            LimitFactory()
            MovePermitFactory(cart=cart, expires_at=timezone.now() + HOUR)
            question_on(cart)

    addresses = [
        HOLDS,
        *(f"{HOLDS}?as=csv&table={table}" for table in ("tags", "permits", "passes", "limits", "readings")),
    ]
    more(3)
    few = [queries_of(client, address) for address in addresses]
    more(27)

    assert [queries_of(client, address) for address in addresses] == few


def test_open_move_permits_are_listed_and_others_are_not(people, sign_in):
    now = timezone.now()
    ready = MovePermitFactory(
        cart=CartFactory(fleet_number="K1"), to_words="Mill Road", expires_at=now + HOUR
    )
    MovePermitFactory(
        cart=CartFactory(fleet_number="K2"),
        to_words="Weir Street",
        left=True,
        given_at=now - 3 * HOUR,
        expires_at=now - HOUR,
    )
    MovePermitFactory(to_words="Nowhere, ended")
    MovePermitFactory(to_words="There already", came=True, expires_at=now + HOUR)
    answer = sign_in(people[Role.FITTER]).get(HOLDS)
    page = text_of(answer)
    assert "To Mill Road" in page
    assert "Not come by its end" in page
    assert "Nowhere, ended" not in page
    assert "There already" not in page
    assert f"/move-permits/{ready.pk}/" in answer.content.decode()
    rows = saved(sign_in(people[Role.FITTER]), HOLDS, table="permits")
    assert [row["Cart"] for row in rows] == ["K2", "K1"]


def test_a_manager_lifts_a_hold_from_here_and_others_open_its_cart(people, sign_in):
    hold = HoldFactory()
    lift = f"/holds/{hold.pk}/lift/"
    assert lift in sign_in(people[Role.WORKSHOP_MANAGER]).get(HOLDS).content.decode()
    assert lift not in sign_in(people[Role.FITTER]).get(HOLDS).content.decode()


def test_each_of_the_four_is_saved_as_its_own_file(people, sign_in):
    cart, now = CartFactory(fleet_number="K7"), timezone.now()
    HoldFactory(cart=cart, reason="=Gearbox noise", is_tag_hung=False)
    HoldFactory(reason="Lifted one", lifted_at=now, lifted_by=people[Role.FLEET_MANAGER])
    given, limit = PassFactory(cart=cart, ends_event="when it comes back"), LimitFactory(cart=cart)
    for _ in range(60):
        question_on(cart)
    client = sign_in(people[Role.FITTER])

    [tag] = saved(client, HOLDS, table="tags")
    assert (tag["Cart"], tag["Why"], tag["Tag hung"]) == ("K7", "'=Gearbox noise", "no")
    [row] = saved(client, HOLDS, table="passes")
    assert (row["Let go by"], row["Or ends"], row["Time"]) == (
        given.given_by.full_name,
        "when it comes back",
        "1",
    )
    assert datetime.fromisoformat(row["Ends"]) == given.ends_at
    [row] = saved(client, HOLDS, table="limits")
    assert (row["Limit"], row["Defect"]) == (limit.words, limit.defect.title)
    readings = saved(client, HOLDS, table="readings", page="2")
    assert [row["Value"] for row in readings] == ["8100.0"] * 60


def test_the_desk_is_given_none_of_the_files(people, sign_in):
    client = sign_in(people[Role.HIRE_DESK])
    for table in ("tags", "passes", "limits", "readings"):
        assert client.get(HOLDS, {"as": "csv", "table": table}).status_code == 403
