"""Parsing the corrected work of a hire; rules live in the action."""

from __future__ import annotations

from typing import Any

from django import forms

from hire.agreement_forms import this_cart_field
from hire.models.agreements import LEAVES_BY, PRE_START_BOOKS, WATERS, WORKS_BY, WORKS_ON, Line
from hire.models.needs import NEEDS_FIELDS
from hire.needs_forms import NeedsForm
from hire.where_forms import WHERE_FIELDS, WhereForm
from hire.work_words import WorkSaid, said_of, stamp


class WorkForm(WhereForm, NeedsForm):
    place_of_work = forms.CharField(
        max_length=120,
        help_text="The site's set of its new name counts from now on; the site pack goes out again.",
    )
    leaves_by = forms.ChoiceField(
        label="How it leaves",
        choices=LEAVES_BY,
        help_text="Until it has left. Its certificate is issued anew.",
    )
    works_on = forms.ChoiceField(
        label="Where it works", choices=WORKS_ON, help_text="Of a cart that is out, only where it may work."
    )
    water = forms.ChoiceField(
        label="Water it carries", choices=WATERS, help_text="Potable only: where the tank of every cart may."
    )
    pre_start_book = forms.ChoiceField(
        label="Whose pre-start book", choices=PRE_START_BOOKS, help_text="Pre-starts are owed so from now on."
    )
    shift = forms.ChoiceField(
        label="Works by", choices=WORKS_BY,
        help_text="From now on. What a docket charged stays as charged, and a rate agreed is for the shifts as they were.",
    )  # fmt: skip
    is_this_cart = this_cart_field("The customer asked for it by its number, so no other is proposed.")
    why = forms.CharField(
        label="Why", max_length=240, help_text="It stands in the journal beside the old words."
    )
    # Of the work that was looked at.
    seen = forms.CharField(widget=forms.HiddenInput)
    field_order = (
        "place_of_work", "leaves_by", "works_on", "water", "pre_start_book", "shift", "why", "is_this_cart", "litres",
        "road_litres", "drive_axles", "gear", "time_zone", "holiday_region", "rule_set",
    )  # fmt: skip

    def __init__(self, *args: Any, line: Line, **kwargs: Any) -> None:
        said = vars(said_of(line)) | {name: getattr(line, name) for name in NEEDS_FIELDS}
        kwargs["initial"] = said | {"seen": stamp(line)}
        super().__init__(*args, **kwargs)
        # Of a hire that has left they stay, and are not offered.
        if line.agreement.lines.filter(handed_over_at__isnull=False).exists():
            for name in WHERE_FIELDS:
                del self.fields[name]
        self.was = said_of(line)
        self.fields["litres"].help_text = f"Asked of {line.cart.fleet_number}, as the rest below."
        self.fields["road_litres"].help_text = ""

    def said(self) -> dict[str, Any]:
        """What the action is told; only of a form that is valid."""
        typed, needs = self.without_needs()
        asked = {name: typed.pop(name) for name in ("why", "seen")}
        usual = {name: getattr(self.was, name) for name in WHERE_FIELDS}
        for name in ("time_zone", "rule_set"):
            typed[name] = typed.get(name) or usual[name]
        typed = usual | typed
        return asked | {"work": WorkSaid(**typed, needs=needs)}
