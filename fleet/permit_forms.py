"""Parsing what is typed of a move permit; rules live in fleet.moving and in the actions."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.actions.permits import MoveDetails
from fleet.forms import WORDS, WithPhoto, YardMoment
from fleet.models.carts import WHERE_KINDS
from fleet.moving import WAYS
from people.models import Staff
from people.yard import yard_policy

TO_KINDS = [kind for kind in WHERE_KINDS if kind[0] in ("yard", "site", "workshop")]


class MovePermitForm(WithPhoto):
    way = forms.ChoiceField(label="How it goes", choices=WAYS, widget=forms.RadioSelect)
    to_kind = forms.ChoiceField(label="Where to", choices=TO_KINDS)
    to_words = forms.CharField(
        label="Which place there", max_length=80, help_text="The tyre shop on Mill Road, the wash bay, home."
    )
    reason = forms.CharField(label="Why it is moved", max_length=240)
    driver = forms.ModelChoiceField(
        Staff.objects.none(), label="Driver", required=False, empty_label="Somebody from outside, named below"
    )
    driver_words = forms.CharField(
        label="Driver from outside",
        max_length=120,
        required=False,
        help_text="Name and firm. Of a float: who drives the float.",
    )
    licence_words = forms.CharField(
        label="Class of licence",
        max_length=60,
        required=False,
        help_text="As the driver says it. Asked for on a public road.",
    )
    speed_km_h = forms.IntegerField(label="Fastest, km/h", required=False)
    controls_words = forms.CharField(
        label="Brakes, steering and wheels: who tried them, and what they found",
        max_length=200,
        required=False,
        widget=WORDS,
        help_text="For this trip, on the spot. Asked for whenever it is driven.",
    )
    is_empty = forms.BooleanField(label="The tank is empty", required=False)
    empty_words = forms.CharField(label="Who looked that it is empty", max_length=80)
    conditions = forms.CharField(
        max_length=240,
        required=False,
        widget=WORDS,
        help_text="Beacon on, behind a pilot, by daylight, not through the town.",
    )
    expires_at = YardMoment(label="Good until")
    field_order = (
        "way", "to_kind", "to_words", "reason", "driver", "driver_words", "licence_words", "speed_km_h", "controls_words",
        "is_empty", "empty_words", "conditions", "expires_at", "photo", "kept_photo",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        policy = yard_policy()
        self.fields["driver"].queryset = Staff.objects.filter(is_active=True)  # type: ignore[attr-defined]
        self.fields["speed_km_h"].help_text = f"{policy.permit_km_h} at most. Left out on a float."
        hours = int(policy.permit_longest.total_seconds() // 3600)
        self.fields["expires_at"].help_text = f"{hours} hours at most."
        self.fields["photo"].help_text = "Of how it stands. A cart held for an incident moves only with one."

    def details(self) -> MoveDetails:
        """What was typed, once the form is valid."""
        typed = self.cleaned_data
        return MoveDetails(**{name: typed[name] for name in MoveDetails.__dataclass_fields__})


class CameForm(forms.Form):
    where_kind = forms.ChoiceField(label="Where it is now", choices=TO_KINDS, widget=forms.RadioSelect)
    where_words = forms.CharField(label="Which place there", max_length=80)
    keys_words = forms.CharField(label="Who has the keys", max_length=80)


class WithdrawForm(forms.Form):
    words = forms.CharField(label="Why it is withdrawn", max_length=240, widget=WORDS)
