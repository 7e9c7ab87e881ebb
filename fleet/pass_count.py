"""How often who passed what, in one month of the yard: by person and rule, each figure with the passes it counts."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, cast
from uuid import UUID

from django.db.models import Count, F, Q, QuerySet

from fleet.models.standing import Pass
from fleet.passing import rule_words
from people.yard import day_bounds

HEADS = {
    "all": "Passed",
    "phone": "By phone",
    "late": "Confirmed late",
    "unconfirmed": "Not confirmed",
    "unclosed": "Left open",
    "disowned": "Never given",
}
COUNT_HEAD = ("Person", "Rule", *HEADS.values())
LIST_HEAD = (
    "Cart", "Rule", "What was found", "Passed by", "Given", "Spoken", "Entered by", "Confirmed", "Never given, said", "Second name",
    "Ends", "Closed",
)  # fmt: skip


@dataclass(frozen=True)
class Month:
    """A calendar month by its first day."""

    first: date

    @property
    def after(self) -> date:
        return (
            self.first.replace(year=self.first.year + 1, month=1)
            if self.first.month == 12
            else self.first.replace(month=self.first.month + 1)
        )

    @property
    def text(self) -> str:
        """As an address carries it: 2026-11."""
        return f"{self.first:%Y-%m}"

    @property
    def words(self) -> str:
        return f"{self.first:%B %Y}"

    def given(self) -> QuerySet[Pass]:
        """Passes given, or entered, in it by the yard's clock, half-open."""
        return Pass.objects.filter(
            given_at__gte=day_bounds(self.first)[0], given_at__lt=day_bounds(self.after)[0]
        )


def counted_as(which: str, *, at: datetime) -> Q:
    """The passes a column counts, as they stand at `at`. Those never given count in their own column alone. Left open: they
    ended before anybody closed them, whether somebody has since. KeyError for no such column."""
    given = Q(disowned_at=None)
    return {
        "all": given,
        "phone": given & Q(spoken_at__isnull=False),
        "late": Q(confirmed_at__gte=F("confirm_by_at")),
        "unconfirmed": given & Q(confirmed_at=None, confirm_by_at__lte=at),
        "unclosed": given & (Q(closed_at=None, ends_at__lte=at) | Q(closed_at__gt=F("ends_at"))),
        "disowned": Q(disowned_at__isnull=False),
    }[which]


@dataclass(frozen=True)
class Cell:
    """One figure: its column's key and head, and how many."""

    which: str
    label: str
    count: int


@dataclass(frozen=True)
class Row:
    """What one person passed by one rule."""

    by: UUID
    person: str
    rule: str
    rule_words: str
    cells: Sequence[Cell]


def month_rows(month: Month, *, at: datetime) -> list[Row]:
    """One row a person and rule, by name and rule, in one query."""
    figures = {f"n_{which}": Count("pk", filter=counted_as(which, at=at)) for which in HEADS}
    found = month.given().order_by("given_by__full_name", "given_by", "rule")
    counted = found.values("given_by", "given_by__full_name", "rule").annotate(**figures)
    return [
        Row(
            row["given_by"],
            row["given_by__full_name"],
            row["rule"],
            rule_words(row["rule"]),
            [Cell(which, label, row[f"n_{which}"]) for which, label in HEADS.items()],
        )
        for row in cast("Iterable[dict[str, Any]]", counted)
    ]


def count_table(rows: Iterable[Row]) -> Iterator[Sequence[object]]:
    """The rows under COUNT_HEAD, for a file."""
    for row in rows:
        yield row.person, row.rule_words, *(cell.count for cell in row.cells)


def list_table(passes: Iterable[Pass]) -> Iterator[Sequence[object]]:
    """Passes under LIST_HEAD, for a file."""
    for one in passes:
        yield (
            one.cart.fleet_number, rule_words(one.rule), one.found, one.given_by.full_name, one.given_at, one.spoken_at,
            one.entered_by and one.entered_by.full_name, one.confirmed_at, one.disowned_at, one.second_words, one.ends_at,
            one.closed_at,
        )  # fmt: skip
