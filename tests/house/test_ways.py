"""The way round: one line for everybody, what is wanted least often behind one word, and nothing out of reach."""

import pytest
from django.urls import reverse

from config.screen import IN_LINE, WAYS, parted, ways_for
from people.roles import Role
from tests.factories.people import StaffFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("role", list(Role))
def test_nobody_has_more_in_line_than_fit_and_nothing_is_lost(role):
    person = StaffFactory(role=role.value)
    line, more = parted(ways_for(person, "/"))
    assert len(line) <= IN_LINE + 1
    assert [way.label for way in (*line, *more)] == [label for label, _, roles in WAYS if role in roles]
    assert len(more) != 1


def test_the_page_one_is_on_is_named_where_it_is_behind_more(client):
    client.force_login(StaffFactory(role="fleet_manager"))
    page = text_of(client.get(reverse("people:staff_list")))
    assert "<summary>More: People</summary>" in page
    assert f'<a href="{reverse("people:staff_list")}" aria-current="page">People</a>' in page
    assert "<summary>More</summary>" in text_of(client.get(reverse("fleet:cart_list")))
