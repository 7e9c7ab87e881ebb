"""The long form of a hire's terms: every field once under a plain heading, in that order for the keyboard, faults beside it."""

import pytest
from django.urls import reverse

from hire.money_forms import AgreeForm, CardForm
from tests.factories.hire import LineFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("form", [CardForm, AgreeForm, lambda: AgreeForm(is_wet=True)])
def test_every_field_stands_once_and_in_the_order_it_is_asked(form):
    made = form()
    assert [field.name for _, fields in made.groups() for field in fields] == list(made.fields)


def test_a_hire_that_is_dry_has_no_group_of_wet_hire():
    assert "Wet hire" not in dict(AgreeForm().groups())
    assert "Wet hire" in dict(AgreeForm(is_wet=True).groups())


def test_a_fault_stands_beside_its_field_within_its_group(people, sign_in):
    client, line = sign_in(people["hire_desk"]), LineFactory()
    answer = client.post(
        reverse("hire:terms_agree", args=[line.pk]),
        {"rule": "fixed", "rates": "1: 290", "hours_in_day": "8", "hour_price": "-1"},
    )
    assert answer.status_code == 422
    hours = text_of(answer).split("<legend><h2>Hours</h2></legend>")[1].split("</fieldset>")[0]
    assert 'value="8"' in hours
    assert "field-wrong" in hours
