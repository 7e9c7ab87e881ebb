"""Parsing what is said with a pass by authority; the rules live in its actions."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from fleet.forms import WORDS, WithPhoto, YardMoment
from fleet.passing import PASS_REASONS, SECOND_NAME_REASONS, SECOND_NAME_RULES
from people.models import Staff
from people.roles import Role

OUTSIDER = "outsider"
NOBODY_LOOKED = next(iter(SECOND_NAME_REASONS))


class PassForm(WithPhoto):
    reason = forms.ChoiceField(
        choices=[("", "Pick the reason"), *((reason, reason) for reason in PASS_REASONS)]
    )
    words = forms.CharField(label="Why, in your words", max_length=240, widget=WORDS)
    condition_words = forms.CharField(
        label="On what condition it goes",
        max_length=240,
        help_text="What has to hold while it is out: “by day only”, “gauge read at every start”.",
    )
    done_instead = forms.CharField(label="What was done instead", max_length=240)
    told_words = forms.CharField(label="Who was told", max_length=120)
    ends_at = YardMoment(label="Good until")
    ends_event = forms.CharField(
        label="Or until",
        max_length=80,
        required=False,
        help_text="An event that ends it sooner: “back in the yard”.",
    )
    second_person = forms.ChoiceField(label="Second name")
    second_name = forms.CharField(label="Outsider’s name", max_length=80, required=False)
    second_firm = forms.CharField(label="Outsider’s firm", max_length=80, required=False)
    field_order: tuple[str, ...] = (
        "reason", "words", "condition_words", "done_instead", "told_words", "ends_at", "ends_event", "second_person",
        "second_name", "second_firm", "photo", "kept_photo",
    )  # fmt: skip

    def __init__(
        self,
        data: QueryDict | None,
        files: MultiValueDict[str, Any] | None,
        *,
        rule: str,
        by: Staff,
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, files, initial=initial)
        is_asked = rule in SECOND_NAME_RULES
        people = Staff.objects.filter(is_active=True).exclude(pk=by.pk)
        second = forms.ChoiceField(
            label="Second name",
            required=is_asked,
            choices=[
                ("", "Pick who stands beside it" if is_asked else "Nobody"),
                *((str(one.pk), f"{one.full_name}, {one.role_label.lower()}") for one in people),
                (OUTSIDER, "Somebody from outside, named below"),
            ],
            help_text="This rule asks for one: not whoever passes it, nor whoever worked on it."
            if is_asked
            else f"Asked where the reason is “{NOBODY_LOOKED}”.",
        )
        self.fields["second_person"] = second
        self.order_fields(self.field_order)

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        chosen = typed.get("second_person", "")
        if chosen == OUTSIDER and not typed.get("second_name"):
            self.add_error("second_name", "Not filled in yet.")
        if "second_person" in typed:
            is_one_of_ours = chosen not in ("", OUTSIDER)
            typed["second_person"] = Staff.objects.get(pk=chosen) if is_one_of_ours else None
        return typed


class SpokenPassForm(PassForm):
    """The same, entered by another than the manager who gave it by phone."""

    given_by = forms.ModelChoiceField(
        Staff.objects.none(), label="Who passed it, by phone", empty_label="Pick the manager you spoke to"
    )
    spoken_at = YardMoment(label="Spoken at")
    field_order = ("given_by", "spoken_at", *PassForm.field_order)

    def __init__(
        self,
        data: QueryDict | None,
        files: MultiValueDict[str, Any] | None,
        *,
        rule: str,
        by: Staff,
        allowed: frozenset[Role],
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, files, rule=rule, by=by, initial=initial)
        managers = Staff.objects.filter(is_active=True, role__in=allowed).exclude(pk=by.pk)
        given_by = self.fields["given_by"]
        assert isinstance(given_by, forms.ModelChoiceField)
        given_by.queryset = managers
        self.fields["words"].label = "Why, in the manager’s words"
