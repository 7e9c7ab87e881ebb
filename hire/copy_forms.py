"""Parsing the weekly copy of pre-starts that are not kept with us."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from django import forms

from fleet.photo_forms import ManyFiles, ManyPhotos, WithPhotos
from hire.copies import CopyWeek, week_words

STATES = {
    "sent": "a copy is here", "none": "none will come", "late": "late", "wanted": "wanted", "running": "not over yet",
}  # fmt: skip
WHOLE = "The whole page, so that its dates, names and ticks can be read. Or a picture of the screen."


class _WeekForm(forms.Form):
    week = forms.TypedChoiceField(label="Week", coerce=date.fromisoformat)

    def __init__(self, *args: Any, weeks: Sequence[date], known: Sequence[CopyWeek], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        states = {week.on: STATES[week.state] for week in known}
        choices = [(f"{on}", week_words(on) + (f", {states[on]}" if on in states else "")) for on in weeks]
        self.fields["week"].choices = choices or [("", "No week is wanted")]  # type: ignore[attr-defined]
        missing = [week.on for week in known if week.is_missing]
        self.fields["week"].initial = f"{min(missing)}" if missing else choices[0][0] if choices else ""


class CopyForm(_WeekForm, WithPhotos):
    """At the desk, of a page that came by mail or on paper."""

    sent_by_words = forms.CharField(label="Who sent it", max_length=120)
    field_order = ("week", "sent_by_words", "photos", "kept_photos")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["photos"].help_text = WHOLE


class NoCopyForm(_WeekForm):
    told_by_words = forms.CharField(label="Who said so", max_length=120)
    why = forms.CharField(label="Why none will come", max_length=240)


class SendCopyForm(_WeekForm):
    """Through the customer's link."""

    photos = ManyPhotos(
        label="Photos of the pages",
        help_text=WHOLE,
        widget=ManyFiles(attrs={"accept": "image/*", "multiple": True}),
        error_messages={"required": "Add a photo of the page."},
    )
    name = forms.CharField(label="Your name", max_length=80)
