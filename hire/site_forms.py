"""Parsing what a site asks, and a cart turned away; rules live in site_rules and in actions."""

from __future__ import annotations

from typing import Any

from django import forms

from fleet.gear import GEAR
from fleet.models.equipment import AGENTS, DOCUMENT_KINDS
from hire.actions.sites import Turned
from hire.forms import YardMoment
from hire.models.sites import FAILED, WHOSE_COST, TurnedAway
from hire.site_rules import MUST, WANTED, Asked, PaperAsked
from hire.site_text import SITE_GEAR
from hire.site_where import Where
from hire.where_forms import WHERE_FIELDS, SiteWhereForm

HOW = [
    ("", "Not asked"),
    (WANTED, "Asked for: a caution at the gate"),
    (MUST, "Must: the cart stays without it"),
]
FIRM = HOW[1:]
# Of many in columns the words have to be short; what they mean stands over them.
HOW_GEAR = [("", "Not asked"), (WANTED, "Asked for"), (MUST, "Must")]


class SiteSetForm(SiteWhereForm):
    """Every kind of gear is a choice, every kind of paper a choice and an age. kept: gear asked so far that sites seldom want."""

    blank_words = "Not said:"

    site = forms.CharField(
        label="Site", max_length=120, required=False,
        help_text="As the agreement’s place of work says it. Blank: every site of theirs that has no set of its own.",
    )  # fmt: skip
    issue = forms.IntegerField(widget=forms.HiddenInput, min_value=0, initial=0)
    tread_mm = forms.DecimalField(
        label="Least tread, mm", min_value=0, max_value=30, max_digits=4, decimal_places=1, required=False
    )
    tread_how = forms.ChoiceField(label="Least tread is", choices=FIRM, required=False)
    extinguisher_how = forms.ChoiceField(label="Extinguisher aboard", choices=HOW, required=False)
    extinguisher = forms.ChoiceField(
        label="Kind of extinguisher", choices=[("", "Any kind"), *AGENTS], required=False
    )
    extinguisher_kg = forms.DecimalField(
        label="Extinguisher, kg at least",
        min_value=0,
        max_value=100,
        max_digits=4,
        decimal_places=1,
        required=False,
    )
    noise_db = forms.DecimalField(
        label="Noise, dB at most", min_value=40, max_value=130, max_digits=4, decimal_places=1, required=False
    )
    noise_how = forms.ChoiceField(label="The noise limit is", choices=FIRM, required=False)
    axles = forms.CharField(
        label="Axle figures, in words", max_length=240, required=False, help_text="People read this; nothing is compared with it."
    )  # fmt: skip
    notes = forms.CharField(
        label="Notes", max_length=600, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    why = forms.CharField(
        label="How we know", max_length=240, help_text="Their plant standard and its issue, a call, a cart turned away."
    )  # fmt: skip

    def __init__(self, *args: Any, kept: frozenset[str] = frozenset(), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["time_zone"].help_text = "As in “Australia/Perth”. Blank: the yard’s own."
        self.fields["rule_set"].help_text = "Tyres, road fills and holidays go by it."
        self.fields["holiday_region"].help_text = "Of the rule set’s country."
        self.gear_kinds = [*SITE_GEAR, *sorted(kept - set(SITE_GEAR))]
        for kind in self.gear_kinds:
            self.fields[f"gear_{kind}"] = forms.ChoiceField(
                label=GEAR[kind], choices=HOW_GEAR, required=False
            )
        for kind, label in DOCUMENT_KINDS:
            self.fields[f"paper_{kind}"] = forms.ChoiceField(label=label, choices=HOW, required=False)
            self.fields[f"age_{kind}"] = forms.IntegerField(
                label=f"{label}: days old at most", min_value=0, max_value=3650, required=False
            )

    def gear(self) -> list[forms.BoundField]:
        return [self[f"gear_{kind}"] for kind in self.gear_kinds]

    def papers(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"paper_{kind}"], self[f"age_{kind}"]) for kind, _ in DOCUMENT_KINDS]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        for kind, label in DOCUMENT_KINDS:
            if typed.get(f"age_{kind}") is not None and not typed.get(f"paper_{kind}"):
                self.add_error(
                    f"paper_{kind}",
                    f"An age is given for {label.lower()}: say whether it is asked for or a must.",
                )
        return typed

    def where(self) -> Where:
        """By whose clock, holidays and rules its hires go; only of a form that is valid."""
        return Where(**{name: self.cleaned_data[name] for name in WHERE_FIELDS})

    def asked(self) -> Asked:
        """What is asked; only of a form that is valid."""
        typed = self.cleaned_data
        gear = {kind: how for kind in self.gear_kinds if (how := typed[f"gear_{kind}"])}
        papers = {
            kind: PaperAsked(typed[f"paper_{kind}"], typed[f"age_{kind}"])
            for kind, _ in DOCUMENT_KINDS
            if typed[f"paper_{kind}"]
        }
        has_fire = bool(typed["extinguisher_how"])
        return Asked(
            gear=gear, papers=papers, least_tread_mm=typed["tread_mm"], tread_how=typed["tread_how"] or WANTED,
            extinguisher=typed["extinguisher"] if has_fire else "", extinguisher_kg=typed["extinguisher_kg"] if has_fire else None,
            extinguisher_how=typed["extinguisher_how"], noise_db=typed["noise_db"], noise_how=typed["noise_how"] or WANTED,
            axles=typed["axles"], notes=typed["notes"],
        )  # fmt: skip


def typed_of(asked: Asked) -> dict[str, Any]:
    """A set as the form shows it."""
    shown: dict[str, Any] = {
        "tread_mm": asked.least_tread_mm, "tread_how": asked.tread_how, "extinguisher_how": asked.extinguisher_how,
        "extinguisher": asked.extinguisher, "extinguisher_kg": asked.extinguisher_kg, "noise_db": asked.noise_db,
        "noise_how": asked.noise_how, "axles": asked.axles, "notes": asked.notes,
    }  # fmt: skip
    shown |= {f"gear_{kind}": how for kind, how in asked.gear.items()}
    for kind, one in asked.papers.items():
        shown |= {f"paper_{kind}": one.how, f"age_{kind}": one.max_age_days}
    return shown


def with_what_failed(shown: dict[str, Any], turned: TurnedAway) -> dict[str, Any]:
    """The form with what a cart was turned away for as a must, for a person to look over."""
    more: dict[str, Any] = {"why": f"Turned away: {turned.words}"[:240]}
    if turned.gear:
        more[f"gear_{turned.gear}"] = MUST
    if turned.paper:
        more[f"paper_{turned.paper}"] = MUST
    if not (turned.gear or turned.paper):
        more["notes"] = "\n".join(filter(None, (shown.get("notes", ""), turned.words)))[:600]
    return shown | more


class TurnedAwayForm(forms.Form):
    at = YardMoment(label="When it was turned away")
    failed = forms.ChoiceField(label="What failed", choices=FAILED)
    gear = forms.ChoiceField(
        label="Which gear",
        choices=[("", "None"), *sorted(GEAR.items(), key=lambda one: one[1])],
        required=False,
    )
    paper = forms.ChoiceField(label="Which paper", choices=[("", "None"), *DOCUMENT_KINDS], required=False)
    words = forms.CharField(label="What they said", max_length=240)
    told_by_words = forms.CharField(label="Who turned it away", max_length=120)
    done_words = forms.CharField(
        label="What was done",
        max_length=240,
        help_text="Brought back, fixed at their gate, another cart sent.",
    )
    whose_cost = forms.ChoiceField(label="Whose cost", choices=WHOSE_COST, initial="open")

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        failed = typed.get("failed")
        for name in ("gear", "paper"):
            if failed == name and not typed.get(name):
                self.add_error(name, f"Say which {name} it was.")
            elif failed and failed != name:
                typed[name] = ""
        return typed

    def turned(self) -> Turned:
        return Turned(**self.cleaned_data)
