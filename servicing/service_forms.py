"""Parsing what is typed of services that come round and of workshop days; rules live in actions."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict

from fleet.forms import ABOVE_ZERO, NOT_BELOW, WORDS, DayInput, YardMoment, bounds
from fleet.models.carts import Cart
from servicing.models.plans import ServicePlan, Visit
from servicing.service_actions import PlanDetails


class PlanForm(forms.Form):
    name = forms.CharField(
        max_length=60, help_text="As the workshop says it: 500-hour service, grease round."
    )
    fleet_number = forms.CharField(
        label="For one cart",
        required=False,
        max_length=12,
        help_text="Its fleet number; empty for a make and model, or every cart.",
    )  # fmt: skip
    make = forms.CharField(required=False, max_length=40)
    model = forms.CharField(required=False, max_length=40)
    engine_hours = forms.IntegerField(
        label="Every so many engine hours", required=False, min_value=1, error_messages=bounds(ABOVE_ZERO)
    )
    km = forms.IntegerField(
        label="Every so many km", required=False, min_value=1, error_messages=bounds(ABOVE_ZERO)
    )
    months = forms.IntegerField(
        label="Every so many months",
        required=False,
        min_value=1,
        max_value=240,
        error_messages=bounds("1 to 240 months."),
        help_text="Whichever comes first.",
    )
    tolerance_pct = forms.IntegerField(
        label="It may run over by, %",
        min_value=0,
        max_value=50,
        initial=10,
        error_messages=bounds("0 to 50 percent."),
        help_text="Of the interval. Past that the cart does not leave.",
    )
    stops = forms.BooleanField(label="Past its tolerance it stops the cart", required=False, initial=True)
    set_by = forms.ChoiceField(label="Whose interval", choices=ServicePlan._meta.get_field("set_by").choices)  # type: ignore[arg-type]
    source_words = forms.CharField(
        label="Where it is written",
        required=False,
        max_length=120,
        help_text="Handbook and page, or who decided it.",
    )
    minutes = forms.IntegerField(
        label="Takes, minutes",
        min_value=5,
        max_value=4800,
        initial=120,
        error_messages=bounds("5 to 4,800 minutes."),
    )
    tasks = forms.CharField(
        label="What is done, a line each",
        required=False,
        max_length=4000,
        widget=forms.Textarea(attrs={"rows": 8}),
    )
    includes = forms.ModelMultipleChoiceField(
        ServicePlan.objects.none(), label="It includes", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="Done with it, and counted anew from then.",
    )  # fmt: skip

    def __init__(self, data: QueryDict | None = None, *, plan: ServicePlan | None = None) -> None:
        super().__init__(data, initial=_initial(plan) if plan else None)
        others = ServicePlan.objects.filter(ended_on=None)
        if plan is not None:
            others = others.exclude(pk=plan.pk)
        self.fields["includes"].queryset = others  # type: ignore[attr-defined]
        self.fields["includes"].label_from_instance = _plan_words  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = super().clean() or self.cleaned_data
        number = typed.pop("fleet_number", "")
        typed["cart"] = (
            Cart.objects.filter(fleet_number__iexact=number, retired_on=None).first() if number else None
        )
        if number and typed["cart"] is None:
            self.add_error("fleet_number", f"No cart of the fleet is numbered {number}. Look at its door.")
        return typed

    def details(self) -> PlanDetails:
        """What was typed, once the form is valid."""
        return PlanDetails(**{name: value for name, value in self.cleaned_data.items() if name != "includes"})


def _initial(plan: ServicePlan) -> dict[str, object]:
    names = [name for name in PlanForm.base_fields if name not in ("includes", "fleet_number")]
    first = {name: getattr(plan, name) for name in names}
    return first | {
        "includes": plan.includes.all(),
        "fleet_number": plan.cart.fleet_number if plan.cart else "",
    }


def whose_words(plan: ServicePlan) -> str:
    """Which carts a plan is for, as said on screen."""
    if plan.cart:
        return plan.cart.fleet_number
    return " ".join(part for part in (plan.make, plan.model) if part) or "every cart"


def _plan_words(plan: ServicePlan) -> str:
    return f"{plan.name} ({whose_words(plan)})"


class RecordServiceForm(forms.Form):
    plan = forms.ModelChoiceField(ServicePlan.objects.none(), label="Service", empty_label="Choose a service")
    done_at = YardMoment(label="Done")
    engine_hours = forms.DecimalField(
        label="Engine hours then",
        required=False,
        min_value=0,
        max_digits=10,
        decimal_places=1,
        error_messages=bounds(NOT_BELOW),
    )
    km = forms.DecimalField(
        label="Odometer then, km",
        required=False,
        min_value=0,
        max_digits=10,
        decimal_places=1,
        error_messages=bounds(NOT_BELOW),
    )
    by_words = forms.CharField(
        label="Who did it", required=False, max_length=120, help_text="Where it was not you: name and firm."
    )
    words = forms.CharField(label="What was done and found", required=False, max_length=2000, widget=WORDS)
    cost = forms.DecimalField(
        label="Cost, parts and outside work",
        required=False,
        min_value=0,
        max_digits=10,
        decimal_places=2,
        error_messages=bounds(NOT_BELOW),
    )

    def __init__(self, data: QueryDict | None, *, plans: list[ServicePlan], **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.fields["plan"].queryset = ServicePlan.objects.filter(pk__in=[plan.pk for plan in plans])  # type: ignore[attr-defined]


class StrikeForm(forms.Form):
    words = forms.CharField(label="What was wrong with it", max_length=240, widget=WORDS)


class VisitForm(forms.Form):
    on = forms.DateField(label="Day", widget=DayInput())
    where = forms.ChoiceField(choices=Visit._meta.get_field("where").choices, widget=forms.RadioSelect)  # type: ignore[arg-type]
    words = forms.CharField(label="What for", max_length=240, widget=WORDS)
    minutes = forms.IntegerField(
        label="Takes, minutes",
        min_value=5,
        max_value=4800,
        initial=60,
        error_messages=bounds("5 to 4,800 minutes."),
    )


class WeeksFilter(forms.Form):
    """What the plan of weeks is narrowed by. A word nobody offers narrows nothing."""

    KINDS = (
        ("", "Everything"), ("service", "Services"), ("tyre", "Tyres"), ("extinguisher", "Extinguishers"),
        ("paper", "Papers"), ("defect", "Defects"), ("retorque", "Re-torques"),
    )  # fmt: skip
    cart = forms.CharField(
        required=False, max_length=12, widget=forms.TextInput(attrs={"type": "search", "size": "10"})
    )
    kind = forms.ChoiceField(required=False, label="What", choices=KINDS)
    wants = forms.ChoiceField(
        required=False,
        label="Day",
        choices=[("", "Any"), ("booked", "Booked"), ("open", "Not booked yet"), ("gives", "No free day")],
    )

    def __init__(self, data: QueryDict) -> None:
        super().__init__(data, auto_id="narrow_%s")

    def chosen(self, name: str) -> Any:
        """What was chosen, or None for nothing and for a word nobody offers."""
        return None if name in self.errors else self.cleaned_data[name] or None
