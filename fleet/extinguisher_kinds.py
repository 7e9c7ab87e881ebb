"""Which services an extinguisher can have: servicing knows, by the yard's rule set, and tells them here at start-up."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from fleet.models.equipment import Extinguisher

Kinds = Callable[[Extinguisher], Sequence[tuple[str, str]]]

_kinds: list[Kinds] = []


def register_kinds(kinds: Kinds) -> None:
    """`kinds(extinguisher)` gives (word kept, words on screen). ValueError when another is registered."""
    if _kinds and _kinds[0] is not kinds:
        raise ValueError("The kinds of extinguisher service have been told already.")
    _kinds[:] = [kinds]


def kinds_for(extinguisher: Extinguisher) -> list[tuple[str, str]]:
    """Services this extinguisher can have, as (word, words on screen); empty while nobody has told them."""
    return list(_kinds[0](extinguisher)) if _kinds else []
