"""The builder's form: a yard check as a person fills it in, and its body as the library reads it."""

from __future__ import annotations

import re
from typing import Any

from django import forms

from fleet.gear import GEAR
from fleet.lap.stations import STATIONS
from inspections.check import TEXT_MOST, TITLE_MOST, Check
from inspections.limits import OPS, decimal_text
from inspections.vocabulary import GRADES, PASSES, PURPOSES, RULE_SETS, SYSTEMS
from people.yard import yard_policy

ANSWER_KINDS = [("sound", "Good or something’s wrong"), ("measure", "A value with a unit")]
LIMIT_OPS = [("", "No limit"), *((op, op) for op in OPS if op != "between"), ("between", "between")]


class CheckForm(forms.Form):
    """One check. `body()` gives the plain form that inspections.library.checks_of reads."""

    title = forms.CharField(max_length=TITLE_MOST, help_text="A few words a fitter would say.")
    station = forms.ChoiceField(label="Where", choices=[(station.key, station.label) for station in STATIONS])
    walk_pass = forms.TypedChoiceField(
        label="When on the walk", coerce=int, choices=[(one.number, one.label) for one in PASSES]
    )
    system = forms.ChoiceField(label="Belongs to", choices=list(SYSTEMS.items()))
    look_for = forms.CharField(label="What to look for", max_length=TEXT_MOST)
    sound = forms.CharField(label="How good looks", max_length=TEXT_MOST)
    if_not = forms.CharField(label="What to do if not", max_length=TEXT_MOST)
    grade = forms.ChoiceField(label="Usual grade", choices=[(grade.key, grade.label) for grade in GRADES])
    asked = forms.MultipleChoiceField(
        label="Asked at",
        choices=[(purpose.key, purpose.label) for purpose in PURPOSES],
        widget=forms.CheckboxSelectMultiple,
    )
    needs = forms.MultipleChoiceField(
        label="Only with this gear",
        required=False,
        choices=list(GEAR.items()),
        widget=forms.SelectMultiple(attrs={"size": 8}),
    )
    minutes = forms.DecimalField(min_value=0, max_value=30, decimal_places=2, initial="0.3")
    answer = forms.ChoiceField(label="Answered by", choices=ANSWER_KINDS)
    unit = forms.CharField(max_length=12, required=False, help_text="For a value: mm, kPa, psi, h, km.")
    limit_op = forms.ChoiceField(label="Sound when the value is", required=False, choices=LIMIT_OPS)
    limit_value = forms.DecimalField(label="Limit", required=False)
    limit_high = forms.DecimalField(label="Upper end", required=False, help_text="Only for “between”.")
    required = forms.BooleanField(label="Must be checked: a “couldn’t check” holds the cart", required=False)
    may_be_absent = forms.BooleanField(label="May be answered “not on this cart”", required=False)
    photo = forms.BooleanField(label="Ask for a photo even when good", required=False)
    second_look_always = forms.BooleanField(
        label="A repair here always takes a second person", required=False
    )
    basis = forms.CharField(
        max_length=120, initial="common practice, no source", help_text="What it rests on."
    )

    def body(self, key: str) -> dict[str, Any]:
        """The check's body under this key; what is wrong with it is said by the library, not here."""
        typed = self.cleaned_data
        rule_set = yard_policy().rule_set
        body: dict[str, Any] = {name: typed[name] for name in SAME_NAMES}
        body |= {
            "key": key,
            "pass": typed["walk_pass"],
            "minutes": decimal_text(typed["minutes"]),
            "second_look": "always" if typed["second_look_always"] else "later",
        }
        if typed["answer"] == "measure":
            body["unit"] = dict.fromkeys(RULE_SETS, typed["unit"])
            if typed["limit_op"] and typed["limit_value"] is not None:
                high = typed["limit_high"]
                body["limit"] = {
                    rule_set: {
                        "op": typed["limit_op"],
                        "value": decimal_text(typed["limit_value"]),
                        "high": None if high is None else decimal_text(high),
                        "unit": typed["unit"],
                        "grade": typed["grade"],
                        "basis": typed["basis"],
                    }
                }
        return body


SAME_NAMES = (
    "title", "station", "system", "look_for", "sound", "if_not", "grade", "asked", "needs", "answer", "required",
    "may_be_absent", "photo", "basis",
)  # fmt: skip


def initial_of(check: Check) -> dict[str, Any]:
    """A check as the form's first content."""
    rule_set = yard_policy().rule_set
    limit = check.limit_for(rule_set)
    initial: dict[str, Any] = {name: getattr(check, name) for name in SAME_NAMES}
    return initial | {
        "walk_pass": check.walk_pass,
        "minutes": check.minutes,
        "unit": check.unit_for(rule_set) or "",
        "limit_op": limit.op if limit else "",
        "limit_value": limit.value if limit else None,
        "limit_high": limit.high if limit else None,
        "second_look_always": check.second_look == "always",
    }


def key_from(title: str, taken: frozenset[str]) -> str:
    """A free key made of a title: small letters and hyphens, "yard-" in front so that no library key is hit by chance."""
    stem = "yard-" + (re.sub(r"[^a-z0-9]+", "-", title.lower()).strip("-") or "check")
    key, n = stem[:70], 2
    while key in taken:
        key, n = f"{stem[:66]}-{n}", n + 1
    return key


class PublishForm(forms.Form):
    why = forms.CharField(label="Why this issue", max_length=240)


class RestQuestionForm(forms.Form):
    words = forms.CharField(
        label="What you found out",
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Who you asked and what it was. It stays on record, for managers.",
    )
