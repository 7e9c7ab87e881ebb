"""Parsing what was said of a lapsed pre-start."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from hire.forms import YardMoment
from hire.lapsed import Lapsed


class _ShiftForm(forms.Form):
    shift = forms.ChoiceField(label="Which pre-start")
    words = forms.CharField(label="What was said", max_length=240)

    def __init__(self, *args: Any, lapsed: Sequence[Lapsed], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(one.key, one.words[:1].upper() + one.words[1:]) for one in lapsed]
        self.fields["shift"].choices = choices or [("", "None is lapsed")]  # type: ignore[attr-defined]


class SaidForm(_ShiftForm):
    """At the desk, of what somebody told the yard."""

    said_by_words = forms.CharField(label="Who said it", max_length=120)
    said_at = YardMoment(label="When")
    field_order = ("shift", "said_by_words", "said_at", "words")


class SayForm(_ShiftForm):
    """Through the customer's link, by who says it."""

    name = forms.CharField(label="Your name", max_length=80)
    field_order = ("shift", "words", "name")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["words"].label = "What happened"
