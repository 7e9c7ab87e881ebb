"""Parsing what became of a site pack."""

from __future__ import annotations

from django import forms

from hire.forms import YardMoment
from hire.models.packs import ANSWERS, HOW_SENT


class SentForm(forms.Form):
    sent_at = YardMoment(label="When it was sent")
    to_words = forms.CharField(label="To whom", max_length=160)
    how = forms.ChoiceField(label="How", choices=HOW_SENT)


class AnswerForm(forms.Form):
    answered_at = YardMoment(label="When they answered")
    answer = forms.ChoiceField(label="What they said", choices=ANSWERS)
    why = forms.CharField(label="Why it was sent back", max_length=240, required=False)
    told_by_words = forms.CharField(label="Who said so", max_length=120)
