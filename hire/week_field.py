"""How many days of a week a hire works, as a form asks it."""

from __future__ import annotations

from typing import Any

from django import forms

from hire.models.agreements import WEEKS
from people.yard import yard_policy


def _weeks() -> list[tuple[int | str, str]]:
    return [("", f"Not said: {dict(WEEKS)[yard_policy().hire_days_in_week]}"), *WEEKS]


class WeekField(forms.TypedChoiceField):
    """Days worked in a week; blank is None, as the yard's hires do."""

    def __init__(self, **kwargs: Any) -> None:
        words = "On other days, and on public holidays, no pre-start is owed unless the cart is used."
        super().__init__(
            label="Works, days in a week", choices=_weeks, coerce=int, empty_value=None, required=False, help_text=words,
            **kwargs,
        )  # fmt: skip
