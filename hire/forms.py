"""Parsing what is typed at the hire desk; rules live in actions."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django import forms

from fleet.lap.stations import STATIONS, station
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.photo_forms import ManyPhotos
from fleet.water.history import SOURCES
from hire.actions.gate_given import SIDES
from hire.charge_stop import cut_off_words
from hire.models.customers import Customer
from hire.rights import RIGHTS, SUPERVISOR
from hire.swap_carts import cart_choices
from people.clock import shown_place, shown_zone
from people.yard import yard_policy


class YardMoment(forms.DateTimeField):
    """A local date and time of the yard, given back as an aware instant. On a page of a hire that works in another zone it is of
    the site, and its label says so."""

    def __init__(self, **kwargs: Any) -> None:
        widget = forms.DateTimeInput(attrs={"type": "datetime-local", "step": "300"}, format="%Y-%m-%dT%H:%M")
        super().__init__(widget=widget, **kwargs)

    def to_python(self, value: Any) -> datetime | None:
        found = super().to_python(value)
        if found is not None and not 2000 <= found.year < 2100:
            raise forms.ValidationError("Give a year between 2000 and 2099.")
        return None if found is None else found.replace(tzinfo=shown_zone())

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, datetime) and value.tzinfo is not None:
            return value.astimezone(shown_zone()).replace(tzinfo=None)
        return value

    def get_bound_field(self, form: forms.BaseForm, field_name: str) -> forms.BoundField:
        bound = super().get_bound_field(form, field_name)
        place = shown_place()
        bound.label = f"{bound.label}, {place} time" if place else bound.label
        return bound


class CustomerForm(forms.ModelForm):  # type: ignore[type-arg]  # the class takes no subscript at run time
    class Meta:
        model = Customer
        fields = ("name", "contact_name", "phone", "email", "address", "asks_order_number", "is_stopped")

    # The action checks uniqueness under its own lock and says it in one sentence.
    def _post_clean(self) -> None:
        return


class PeriodForm(forms.Form):
    starts_at = YardMoment(label="Leaves")
    ends_at = YardMoment(label="Expected back")


class WhyForm(forms.Form):
    why = forms.CharField(label="Why", max_length=240)


class LinkForm(forms.Form):
    for_words = forms.CharField(
        label="Who is it for", max_length=80, help_text="A name, so that the right link can be ended."
    )
    rights = forms.ChoiceField(label="What it shows", choices=RIGHTS, initial=SUPERVISOR, required=False)

    def clean_rights(self) -> str:
        return self.cleaned_data["rights"] or SUPERVISOR


def _happened(label: str) -> YardMoment:
    return YardMoment(
        label=label, required=False, help_text="Empty: now. Where you enter it later, the time it happened."
    )


class BackForm(forms.Form):
    happened_at = _happened("When it came back")
    where_words = forms.CharField(label="Where it stands", max_length=80, initial="Wash bay")
    keys_words = forms.CharField(label="Where the keys are", max_length=80)
    water = forms.ChoiceField(
        label="What water it carried on this hire",
        choices=[("", "Nobody knows"), *SOURCES.items()],
        required=False,
        help_text="The worst where there were several. What nobody knows counts as the worst the hire allowed.",
    )


BACK_BY = "From then on the cart may be promised to others."


class PickUpForm(forms.Form):
    """What is written down for the days until pick-up. The words are the yard's to change."""

    pick_up_words = forms.CharField(label="Where it is picked up", max_length=120)
    keys_words = forms.CharField(
        label="Keys until then", max_length=80, help_text="With whom, or where they are left."
    )
    risk_words = forms.CharField(
        label="Who holds the risk until then",
        max_length=120,
        help_text="Who answers for damage and theft, as the agreement says.",
    )
    back_by = YardMoment(label="Back in the yard by", required=False, help_text=BACK_BY)


class OffHireForm(PickUpForm):
    called_at = YardMoment(label="When they called")
    called_by_words = forms.CharField(label="Who called", max_length=120)
    field_order = ("called_by_words", "called_at", "pick_up_words", "keys_words", "risk_words", "back_by")

    def __init__(self, *args: Any, counts_closed: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        words = cut_off_words(
            yard_policy().off_hire_cut_off, counts_closed=counts_closed, place=shown_place()
        )
        self.fields["called_at"].help_text = words


class OffHireByLinkForm(forms.Form):
    """What the customer says for the pick-up; who holds the risk until then is not theirs to change."""

    pick_up_words = forms.CharField(label="Where we pick it up", max_length=120)
    keys_words = forms.CharField(
        label="Where the keys are", max_length=80, help_text="With whom, or where they are left."
    )


class BreakdownForm(forms.Form):
    """The hidden id is made with the page, so that one form sent twice is one report."""

    report_id = forms.UUIDField(widget=forms.HiddenInput)
    words = forms.CharField(label="What happened", max_length=400, widget=forms.Textarea(attrs={"rows": 3}))
    can_be_driven = forms.TypedChoiceField(
        label="Can it be driven",
        choices=[("no", "No, or we are not sure"), ("yes", "Yes, safely")],
        coerce=lambda said: said == "yes",
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether it can be driven. In doubt, no."},
    )
    phone = forms.CharField(
        label="The number we ring back",
        max_length=30,
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "tel"}),
    )
    station = forms.ChoiceField(
        label="Where on the cart",
        required=False,
        choices=[("", "Cannot tell"), *((station.key, station.label) for station in STATIONS)],
    )
    photo = forms.FileField(
        required=False, widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"})
    )


class SwapForm(PickUpForm):
    """The cart is chosen among those free for the rest of the hire; whether it may be had is the action’s to say. asks_end: the
    hire is near its end; is_over: it should have ended."""

    cart = forms.ModelChoiceField(Cart.objects.filter(retired_on=None), label="Swap it for")
    swapped_at = YardMoment(label="From when", help_text="This stops the charge of the broken cart.")
    called_by_words = forms.CharField(label="Who told us", max_length=120)
    expected_back = YardMoment(
        label="Expected back now",
        error_messages={"required": "Say until when the hire goes on: its cart was to be back by now."},
        help_text="Until when the hire goes on. The other cart is promised to then; the period of this one stays as it was.",
    )
    why = forms.CharField(label="What is broken", max_length=240)
    field_order = (
        "cart", "swapped_at", "expected_back", "called_by_words", "why", "pick_up_words", "keys_words", "risk_words", "back_by",
    )  # fmt: skip

    def __init__(
        self, *args: Any, free: Iterable[tuple[Cart, str]], asks_end: bool, is_over: bool, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["expected_back"].required = is_over
        if not asks_end:
            del self.fields["expected_back"]
        self.fields["pick_up_words"].label = "Where the broken cart stands"
        self.fields["back_by"].label = "Broken cart back in the yard by"
        self.fields["cart"].widget.choices = cart_choices(free)


class LookForm(forms.Form):
    words = forms.CharField(label="What came of it", max_length=240)


class LeftSiteForm(forms.Form):
    left_site_at = YardMoment(label="When it left the site")


class FailedPickUpForm(forms.Form):
    tried_at = YardMoment(label="When we came for it")
    why = forms.CharField(
        label="Why it could not be taken",
        max_length=240,
        help_text="Gate locked, bogged, no keys, water on board.",
    )
    back_by = YardMoment(label="Back in the yard by now", required=False, help_text=BACK_BY)


class SidesForm(forms.Form):
    """A picture of the cart from each side: its file, and the photo kept of it when the form comes back with a fault."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for key in SIDES:
            self.fields[f"side_{key}"] = forms.FileField(
                label=station(key).label,
                required=False,
                widget=forms.FileInput(attrs={"accept": "image/*", "capture": "environment"}),
            )
            self.fields[f"kept_{key}"] = forms.ModelChoiceField(
                Photo.objects.all(), required=False, widget=forms.HiddenInput
            )

    @property
    def sides(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """For each side its file, and the photo kept from before."""
        return [(self[f"side_{key}"], self[f"kept_{key}"]) for key in SIDES]

    def side_photos(self) -> tuple[tuple[str, Photo], ...]:
        """The photos by side (a clean form)."""
        kept = ((key, self.cleaned_data[f"kept_{key}"]) for key in SIDES)
        return tuple((key, photo) for key, photo in kept if photo is not None)


class HandoverForm(SidesForm):
    mode = forms.ChoiceField(
        label="Who takes it",
        choices=[("signed", "Signed by the customer"), ("left", "Left, nobody present")],
        widget=forms.RadioSelect,
    )
    happened_at = _happened("When it was handed over")
    place_words = forms.CharField(label="Where it was handed over", max_length=120)
    keys_words = forms.CharField(label="Keys", max_length=80, help_text="With whom, or where they were left.")
    fuel_eighths = forms.TypedChoiceField(
        label="Fuel, eighths",
        coerce=int,
        choices=[("", "Read the gauge")] + [(n, f"{n} of 8") for n in range(9)],
    )
    condition_words = forms.CharField(label="Condition as it leaves", max_length=240)
    items_words = forms.CharField(
        label="What goes with it",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="One thing a line, with its serial: standpipe, hydrant key, hose, spare.",
    )
    photos = ManyPhotos(label="Photos", required=False)
    # Photos of a form that came back with a fault: taken in already, so that nobody walks out to take them again.
    kept_photos = forms.ModelMultipleChoiceField(
        Photo.objects.all(), required=False, widget=forms.MultipleHiddenInput
    )
    limits_accepted = forms.BooleanField(label="The limits were read out and are accepted", required=False)
    although_words = forms.CharField(
        label="Why it left all the same",
        required=False,
        max_length=240,
        help_text="Only of a cart that is gone and was stopped as it left: who let it go, and why.",
    )
    signed_name = forms.CharField(required=False, max_length=80)
    strokes = forms.CharField(required=False, max_length=400_000)
