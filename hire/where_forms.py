"""Parsing by whose clock, holidays and road rules a hire goes; which there are, hire.where and hire.public_holidays say."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from fleet.models.weights import RULE_SETS
from hire.public_holidays import regions
from hire.where import ZONES
from people.yard import COUNTRIES, yard_policy

WHERE_FIELDS = ("time_zone", "rule_set", "holiday_region")


class ZoneInput(forms.TextInput):
    """A text with the country's zones to choose from."""

    def render(
        self, name: str, value: Any, attrs: dict[str, Any] | None = None, renderer: Any = None
    ) -> SafeString:
        listed = f"{name}_zones"
        field = super().render(name, value, (attrs or {}) | {"list": listed, "autocomplete": "off"}, renderer)
        ours = yard_policy().rule_set
        zones = [zone for key in sorted(ZONES, key=lambda key: key != ours) for zone in ZONES[key]]
        options = format_html_join("", '<option value="{}"></option>', ((zone,) for zone in zones))
        return format_html('{}<datalist id="{}">{}</datalist>', field, listed, options)


class WhereForm(forms.Form):
    """Blank is the yard's own. Its fields stand under "More"."""

    time_zone = forms.CharField(
        label="Time zone of the site", max_length=40, required=False, widget=ZoneInput,
        help_text="Days, the off-hire cut-off and the times of this hire go by it. As in “Australia/Perth”.",
    )  # fmt: skip
    holiday_region = forms.ChoiceField(
        label="Public holidays of",
        required=False,
        help_text="What is agreed with the rate counts before this.",
    )
    rule_set = forms.ChoiceField(
        label="Rule set of the site", required=False, choices=RULE_SETS,
        help_text="Tyres keep the stricter of this and ours; a road fill is told where its plates were entered under it.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        policy = yard_policy()
        ours = sorted(RULE_SETS, key=lambda one: one[0] != policy.rule_set)
        known = [(name, [(region, region) for region in regions(COUNTRIES[key])]) for key, name in ours]
        usual = ("", f"The usual: {policy.holiday_region or 'the whole country'}")
        self.fields["holiday_region"].choices = [usual, *known]  # type: ignore[attr-defined]
        for name, value in (("time_zone", policy.zone.key), ("rule_set", policy.rule_set)):
            self.initial.setdefault(name, value)

    def more(self) -> list[forms.BoundField]:
        return [self[name] for name in WHERE_FIELDS if name in self.fields]

    def more_is_open(self) -> bool:
        return any(field.errors for field in self.more())


class SiteWhereForm(WhereForm):
    """Blank is what the set of the site says, else the yard's own."""

    blank_words = "As the set of its site says, else"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs["initial"] = {"time_zone": "", "rule_set": ""} | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        policy, rules = yard_policy(), self.fields["rule_set"]
        rules.choices = [("", f"{self.blank_words} {dict(RULE_SETS)[policy.rule_set]}"), *RULE_SETS]  # type: ignore[attr-defined]
        holidays = self.fields["holiday_region"]
        usual = ("", f"{self.blank_words} {policy.holiday_region or 'the whole country'}")
        holidays.choices = [usual, *list(holidays.choices)[1:]]  # type: ignore[attr-defined]
