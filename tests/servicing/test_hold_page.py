"""What stands on carts by decision, or waits for one: tags, passes, limits and questions on one page."""

import uuid

import pytest
from django.utils import timezone

from fleet.models.carts import ReadingQuestion
from people.roles import Role
from tests.factories.fleet import CartFactory, HoldFactory, LimitFactory, PassFactory
from tests.pages import queries_of, text_of

pytestmark = pytest.mark.django_db
HOLDS = "/workshop/holds/"


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
    """Session, person, open alerts; then the four lists and a count."""
    client = sign_in(people[Role.WORKSHOP_MANAGER])

    def more(count):
        for _ in range(count):
            cart = CartFactory()
            HoldFactory(cart=cart)
            PassFactory()
            LimitFactory()
            ReadingQuestion.objects.create(
                cart=cart, subject="engine_hours", value="8100.0", read_at=timezone.now(), question="Which is right?",
                source_kind="walk_round", source_id=uuid.uuid4(),
            )  # fmt: skip

    more(3)
    few = queries_of(client, HOLDS)
    more(27)

    assert queries_of(client, HOLDS) == few
