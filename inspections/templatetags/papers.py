"""A paper shown within a page of the yard, in the words it was frozen with and not in those the page around it has by now."""

from __future__ import annotations

from django import template
from django.template.base import FilterExpression, NodeList, Parser, Token
from django.template.context import Context
from django.utils.safestring import SafeString, mark_safe

from inspections.certificates.wording import paper_in_words
from people.say import yard_words

register = template.Library()


class PaperNode(template.Node):
    def __init__(self, paper: FilterExpression, inside: NodeList) -> None:
        self.paper, self.inside = paper, inside

    def render(self, context: Context) -> SafeString:
        said = paper_in_words(self.inside.render(context), self.paper.resolve(context))
        return mark_safe(f"<div data-typed>{said}</div>" if yard_words() else said)  # noqa: S308 - rendered by a template


@register.tag
def in_its_words(parser: Parser, token: Token) -> PaperNode:
    """What stands between {% in_its_words paper %} and {% end_in_its_words %} is part of that paper."""
    _, paper = token.split_contents()
    inside = parser.parse(("end_in_its_words",))
    parser.delete_first_token()
    return PaperNode(parser.compile_filter(paper), inside)
