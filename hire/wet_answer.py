"""A caller's answer with the operators who could go with each cart of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from hire.availability import Answer, Offer, Operators
from hire.models.customers import Customer
from hire.operator_fitness import LICENCE
from hire.shifts import WORKED
from hire.suiting import Enquiry
from hire.wet_reading import Asks, Choice, asks_of, choices_for

# So many are named, of those who could go and of those who could not.
NAMED = 3
FOR_SHIFT = {"day": "", "night": " for the night shift", "both": " for both shifts"}


def with_operators(
    found: Answer, enquiry: Enquiry, customer: Customer | None, place: str, *, at: datetime
) -> Answer:
    """The answer with who of the book could go with each cart, in the period and at the place asked about: one for each shift, for
    whoever is with a cart, on whichever shift, is in one place all of that time. Five queries."""
    offers = (*found.suiting, *found.stopped, *found.taken)
    asked = asks_of([one.cart for one in offers], customer, place)
    choices = choices_for(asked.values(), start=enquiry.start, end=enquiry.end, at=at)
    said = {asks: _operators(asks, some, enquiry.shift) for asks, some in choices.items()}

    def driven(some: tuple[Offer, ...]) -> tuple[Offer, ...]:
        return tuple(replace(one, operators=said[asked[one.cart.pk]]) for one in some)

    return replace(
        found, suiting=driven(found.suiting), stopped=driven(found.stopped), taken=driven(found.taken)
    )


def _operators(asks: Asks, choices: Sequence[Choice], shift: str) -> Operators:
    wanted = ", ".join(asks.words(kind) for kind in (LICENCE, *asks.wants))
    free = [str(one.operator) for one in choices if not one.words]
    if len(free) >= len(WORKED[shift]):
        more = f" and {len(free) - NAMED} more" if len(free) > NAMED else ""
        names = f"{'; '.join(free[:NAMED])}{more}"
        return Operators(f"{names}: free then{FOR_SHIFT[shift]}, with the {wanted}.", is_free=True)
    others = [one for one in choices if one.words]
    reasons = [f"{one.operator}. {one.words}" for one in others[:NAMED]]
    if len(others) > NAMED:
        reasons.append(f"Nor any of the other {len(others) - NAMED} in the book.")
    words = f"Nobody is free then with the {wanted}." if choices else "Nobody is in the book of operators."
    if free:
        words = f"{free[0]} alone is free then with the {wanted}, and each shift wants its own."
    return Operators(words, is_free=False, reasons=tuple(reasons))
