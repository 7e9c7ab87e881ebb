"""A page asked for in a way it does not answer says so in our words; the wire stays a wire."""

from django.urls import reverse

from people.roles import Role


def test_a_page_says_so_and_names_what_it_answers(client, people):
    client.force_login(people[Role.FLEET_MANAGER])
    answer = client.delete(reverse("hire:line_list"))
    assert (answer.status_code, answer["Allow"]) == (405, "GET, HEAD")
    assert "errors/405.html" in [template.name for template in answer.templates]


def test_the_wire_answers_without_a_page(client, people):
    client.force_login(people[Role.YARD_HAND])
    answer = client.post(reverse("inspections:sync_reference"))
    assert answer.status_code == 405
    assert not answer.templates
