"""The one button of a cart's row."""

from django import template
from django.template.context import RequestContext

from fleet.board import BoardRow
from fleet.screens import Way, next_step
from people.permissions import staff_of

register = template.Library()


@register.simple_tag(takes_context=True, name="next_step")
def next_step_of_row(context: RequestContext, row: BoardRow) -> Way:
    """What the person signed in does next with the cart of a row: the button's words and address."""
    return next_step(row.cart, row.answer, person=staff_of(context["request"]))
