"""Which yard's carts a person looks at, where the business has more than one. It lives in the address, and is remembered."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from django.db.models import Model, QuerySet
from django.http import HttpRequest

from fleet.models.yards import Yard

REMEMBERED = "yard"
ALL = "all"
Rows = TypeVar("Rows", bound="QuerySet[Model]")


@dataclass(frozen=True)
class Yards:
    """all: the yards there are, none of them where there are fewer than two. name: the one looked at; "": every one."""

    all: Sequence[Yard] = ()
    name: str = ""

    def narrow(self, rows: Rows, cart: str = "") -> Rows:
        """The rows of that yard's carts; cart: how a row names its cart, as in "cart__"."""
        return rows.filter(**{f"{cart}home_yard": self.name}) if self.name else rows


def several_yards() -> list[Yard]:
    """The yards, where there is a choice. One query."""
    found = list(Yard.objects.all())
    return found if len(found) > 1 else []


def yards_for(request: HttpRequest) -> Yards:
    """The yard asked for by ?yard=, else the one this person chose last since signing in. What nobody offers counts as not said."""
    found = several_yards()
    if not found:
        return Yards()
    known = {yard.name for yard in found}
    asked = request.GET.get("yard", "")
    if asked in known or asked == ALL:
        if request.session.get(REMEMBERED) != asked:
            request.session[REMEMBERED] = asked
    else:
        asked = request.session.get(REMEMBERED, "")
    return Yards(found, asked if asked in known else "")
