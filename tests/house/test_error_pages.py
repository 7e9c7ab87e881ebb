"""Our error pages: each comes whole, for a person signed in and for one who came by a link; 500 needs nothing at all."""

from types import SimpleNamespace

import pytest
from django.template.loader import get_template, render_to_string
from django.test import RequestFactory

PAGES = ["400", "403", "404", "405", "csrf"]


def request(*, signed_in):
    made = RequestFactory().get("/somewhere/")
    made.user = SimpleNamespace(is_authenticated=signed_in)
    return made


def render(name, *, signed_in):
    # Without the context processors: an error page may not lean on what they would ask of the database.
    return render_to_string(f"errors/{name}.html", {"request": request(signed_in=signed_in)})


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("signed_in", [True, False])
def test_an_error_page_says_what_happened_and_has_a_title(name, signed_in):
    page = render(name, signed_in=signed_in)
    heading = page.split("<h1>")[1].split("</h1>")[0]
    assert f"<title>{heading} – Slake</title>" in page
    assert "<nav" not in page


@pytest.mark.parametrize("name", ["400", "403", "404", "405", "csrf"])
def test_a_person_who_came_by_a_link_is_told_whom_to_ring(name):
    assert "Ring the number on that paper" in render(name, signed_in=False)
    assert "Back to the yard" in render(name, signed_in=True)


def test_the_broken_page_needs_no_context_no_query_and_no_lookup():
    page = get_template("errors/500.html").render()
    assert "<title>Something broke on our side – Slake</title>" in page
    assert 'href="/static/css/main.css"' in page
    assert "{%" not in page
