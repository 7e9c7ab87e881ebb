"""The workshop's queue on its page: what a row says, what narrows and pages it, and that a long one costs no more."""

from datetime import timedelta

import pytest
from django.utils import timezone

from people.roles import Role
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.people import StaffFactory
from tests.factories.servicing import line_of
from tests.pages import queries_of, text_of

pytestmark = pytest.mark.django_db
QUEUE = "/workshop/"


def test_the_queue_with_nothing_in_it_says_so(people, sign_in):
    assert "No defects are open." in text_of(sign_in(people[Role.FITTER]).get(QUEUE))


def test_a_row_says_cart_place_grade_time_in_hand_state_and_one_next_step(people, sign_in):
    now = timezone.now()
    cart = CartFactory()
    line_of(cart, starts_at=now + timedelta(hours=5, minutes=30))
    defect = DefectFactory(cart=cart, told_at=now - timedelta(minutes=1))

    page = text_of(sign_in(people[Role.WORKSHOP_MANAGER]).get(QUEUE))

    for words in (cart.fleet_number, defect.title, "Left rear wheels, 2LO", "do not use", "told today"):
        assert words in page
    assert "3 h 29 min in hand" in page
    assert f'aria-label="Look at it: {defect.title} on {cart.fleet_number}"' in page
    assert "common practice, no source" in page


@pytest.mark.parametrize(
    ("query", "shown"),
    [
        ("grade=watch", {"Weep"}),
        ("state=assessed", {"Mirror"}),
        ("cart=n 7", {"Weep"}),
        ("grade=watch&state=assessed", set()),
        ("grade=awful&state=&person=x", {"Weep", "Mirror"}),
    ],
)
def test_filters_live_in_the_address_and_a_bad_one_narrows_nothing(people, sign_in, query, shown):
    DefectFactory(title="Weep", grade="watch", cart=CartFactory(fleet_number="N-7"))
    DefectFactory(title="Mirror", grade="by_date", state="assessed", cart=CartFactory(fleet_number="X1"))

    page = text_of(sign_in(people[Role.FITTER]).get(f"{QUEUE}?{query}"))

    assert {title for title in ("Weep", "Mirror") if f"<b>{title}</b>" in page} == shown


def test_the_queue_is_narrowed_to_one_person_s_jobs(people, sign_in):
    DefectFactory(title="Weep", state="in_repair", assigned_to=people[Role.FITTER])
    DefectFactory(title="Mirror")

    page = text_of(sign_in(people[Role.FITTER]).get(f"{QUEUE}?person={people[Role.FITTER].pk}"))

    assert "<b>Weep</b>" in page
    assert "<b>Mirror</b>" not in page


def test_repairs_this_person_may_look_at_come_first_and_their_own_do_not(people, sign_in):
    DefectFactory(title="Mine", state="repaired", repaired_by=people[Role.FITTER])
    DefectFactory(title="Theirs", state="repaired")

    answer = sign_in(people[Role.FITTER]).get(QUEUE)

    assert [row.defect.title for row in answer.context["second"]] == ["Theirs"]
    assert [row.defect.title for row in answer.context["rows"]] == ["Mine"]
    assert [row.next_word for row in answer.context["second"]] == ["Give a second look"]
    assert [row.next_word for row in answer.context["rows"]] == ["Open it"]


def test_the_queue_is_paged_in_fifties_and_keeps_its_filters(people, sign_in):
    cart = CartFactory()
    teller = StaffFactory()
    for _ in range(51):
        DefectFactory(cart=cart, told_by=teller)
    client = sign_in(people[Role.FITTER])

    first, second = client.get(f"{QUEUE}?grade=do_not_use"), client.get(f"{QUEUE}?grade=do_not_use&page=2")

    assert [len(answer.context["rows"]) for answer in (first, second)] == [50, 1]
    assert "?grade=do_not_use&amp;page=2" in first.content.decode()


def test_thirty_carts_in_the_queue_cost_as_many_queries_as_three(people, sign_in):
    """Session, person, open alerts; then keys, carts, needs, rows, people to choose."""
    now = timezone.now()
    client = sign_in(people[Role.WORKSHOP_MANAGER])

    def more(count):
        for number in range(count):
            cart = CartFactory()
            line_of(cart, starts_at=now + timedelta(hours=number + 1))
            DefectFactory(cart=cart)
            DefectFactory(cart=cart, state="repaired")

    more(3)
    few = queries_of(client, QUEUE)
    more(27)

    assert queries_of(client, QUEUE) == few
