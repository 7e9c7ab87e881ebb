"""The hire a page is of: from there on its times are those of its site."""

from __future__ import annotations

from typing import Protocol, TypeVar
from uuid import UUID

from django.shortcuts import get_object_or_404

from hire.models.agreements import Line
from people.clock import show_by


class OfALine(Protocol):
    @property
    def line(self) -> Line: ...


R = TypeVar("R", bound=OfALine)


def line_asked(line_id: UUID) -> Line:
    """The line, or 404; the page goes by the clock of its agreement."""
    return by_its_clock(get_object_or_404(Line.objects.for_list(), pk=line_id))


def by_its_clock(line: Line) -> Line:
    show_by(line.agreement.zone)
    return line


def of_a_hire(row: R) -> R:
    """The row, of a hire by whose clock the page goes."""
    by_its_clock(row.line)
    return row
