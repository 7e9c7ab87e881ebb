"""Parsing a service offered on site and its answer; rules live in actions."""

from __future__ import annotations

from typing import Any

from django import forms

from hire.actions.service_offers import Answered, Offered
from hire.forms import YardMoment
from hire.models.agreements import Line
from servicing.models.plans import ServicePlan

ANSWERS = [("agreed", "Agreed: the time is kept"), ("refused", "Refused")]


class OfferForm(forms.Form):
    plan = forms.ModelChoiceField(ServicePlan.objects.none(), label="Service", empty_label="Choose a service")
    offered_to = forms.CharField(
        label="Who was asked", max_length=80, help_text="The person on site, by name."
    )
    offered_at = YardMoment(label="When they were asked")
    starts_at = YardMoment(label="From when it could be done")
    ends_at = YardMoment(label="Until when")
    access_words = forms.CharField(
        label="Access and induction", max_length=240, required=False,
        help_text="What the fitter needs to be let in: gate, escort, induction, level ground, the cart empty.",
    )  # fmt: skip

    def __init__(self, *args: Any, line: Line, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plans = ServicePlan.objects.filter(dues__cart=line.cart_id).order_by("name").distinct()
        self.fields["plan"].queryset = plans  # type: ignore[attr-defined]

    def said(self) -> dict[str, Any]:
        typed = dict(self.cleaned_data)
        return {"plan": typed.pop("plan"), "said": Offered(**typed)}


class AnswerByLinkForm(forms.Form):
    answer = forms.ChoiceField(label="The answer", choices=ANSWERS, widget=forms.RadioSelect)
    by_words = forms.CharField(label="Who answers", max_length=80)
    words = forms.CharField(
        label="Words",
        max_length=240,
        required=False,
        help_text="Why it is refused; or what the fitter should know.",
    )

    def answered(self) -> Answered:
        typed = self.cleaned_data
        return Answered(typed["answer"] == "agreed", typed["by_words"], typed["words"])


class AnswerForm(AnswerByLinkForm):
    told_at = YardMoment(label="When they answered")
