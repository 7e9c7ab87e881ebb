"""Which services an extinguisher can have, and when each falls due: servicing knows, by the yard's rule set, and tells it
here at start-up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from fleet.models.equipment import Extinguisher


@dataclass(frozen=True)
class Due:
    """A service that falls due: its words on screen, the day, and the published rule behind it."""

    words: str
    on: date
    source: str


# (word kept, words on screen) of each service this extinguisher can have.
Kinds = Callable[[Extinguisher], Sequence[tuple[str, str]]]
# Services falling due as seen on a day, soonest first; the extinguisher's services are loaded.
Dates = Callable[[Extinguisher, date], Sequence[Due]]

_told: list[tuple[Kinds, Dates]] = []


def register_extinguisher_services(kinds: Kinds, dates: Dates) -> None:
    """ValueError when others have been told already."""
    if _told and _told[0] != (kinds, dates):
        raise ValueError("The services of extinguishers have been told already.")
    _told[:] = [(kinds, dates)]


def kinds_for(extinguisher: Extinguisher) -> list[tuple[str, str]]:
    """Services this extinguisher can have, as (word, words on screen); empty while nobody has told them."""
    return list(_told[0][0](extinguisher)) if _told else []


def due_for(extinguisher: Extinguisher, *, on: date) -> list[Due]:
    """Services of an extinguisher that fall due, soonest first; empty while nobody has told them."""
    return list(_told[0][1](extinguisher, on)) if _told else []
