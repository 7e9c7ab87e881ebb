"""Parsing what is said about a docket line; rules live in the actions."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any
from uuid import UUID

from django import forms

from fleet.forms import WithPhoto
from fleet.models.photos import Photo
from hire.actions.disputes import Said
from hire.charging.money import day_words
from hire.forms import YardMoment
from hire.models.disputes import OUTCOMES, SIDES, WAYS
from hire.models.money import Docket
from hire.templatetags.charges import money

Record = tuple[str, UUID, str]
NO_DAY = "none"


class SaidForm(WithPhoto):
    words = forms.CharField(label="What is said", max_length=2000, widget=forms.Textarea(attrs={"rows": 4}))
    by_words = forms.CharField(label="Who says it", max_length=120)
    how = forms.ChoiceField(label="How we were told", choices=WAYS)
    told_at = YardMoment(label="When")
    record = forms.ChoiceField(label="It rests on", required=False, help_text="A record of this hire.")
    field_order: tuple[str, ...] = ("words", "by_words", "how", "told_at", "record", "photo", "kept_photo")

    def __init__(self, *args: Any, records: Sequence[Record], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.records = {f"{kind}.{record_id}": (kind, record_id, words) for kind, record_id, words in records}
        choices = [("", "No record"), *((key, words) for key, (_, _, words) in self.records.items())]
        self.fields["record"].choices = choices  # type: ignore[attr-defined]
        self.fields["photo"].label = "A photo"

    def said(self, photo: Photo | None) -> Said:
        typed = self.cleaned_data
        return Said(
            words=typed["words"], by_words=typed["by_words"], how=typed["how"], told_at=typed["told_at"], photo=photo,
            record=self.records.get(typed["record"]),
        )  # fmt: skip


class OpenDisputeForm(SaidForm):
    line_no = forms.TypedChoiceField(label="Which line is disputed", coerce=int)
    field_order = ("line_no", *SaidForm.field_order)

    def __init__(self, *args: Any, docket: Docket, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["words"].label = "What the customer says"
        self.fields["line_no"].choices = [  # type: ignore[attr-defined]
            (number, f"{number}. {line['what']}: {money(line['amount'])}")
            for number, line in enumerate(docket.body["lines"], start=1)
            if Decimal(line["amount"]) > 0
        ]


class AddWordsForm(SaidForm):
    side = forms.ChoiceField(label="Whose words", choices=SIDES)
    field_order = ("side", *SaidForm.field_order)


class DecideForm(forms.Form):
    outcome = forms.ChoiceField(label="Decided", choices=OUTCOMES, widget=forms.RadioSelect)
    given_up = forms.DecimalField(
        label="Given up, before tax", min_value=Decimal("0.01"), max_digits=12, decimal_places=2, required=False,
        help_text="For a part. Blank: nothing where it stands, all of it where it is given up.",
    )  # fmt: skip
    days = forms.MultipleChoiceField(
        label="For which days", required=False, widget=forms.CheckboxSelectMultiple,
        help_text="For a part: a day given up here is not stood down besides. All of the line is all its days.",
    )  # fmt: skip
    words = forms.CharField(
        label="Why", max_length=400, help_text="It is printed on the docket that credits it."
    )

    def __init__(self, *args: Any, days: Sequence[date], **kwargs: Any) -> None:
        """days: those that the line charges; none for a line that is not by the day."""
        super().__init__(*args, **kwargs)
        if not days:
            del self.fields["days"]
            return
        choices = [(NO_DAY, "For no single day"), *((on.isoformat(), day_words(on)) for on in days)]
        self.fields["days"].choices = choices  # type: ignore[attr-defined]

    def clean_days(self) -> list[date] | None:
        """None where nothing was ticked."""
        ticked = self.cleaned_data["days"]
        if NO_DAY in ticked and len(ticked) > 1:
            raise forms.ValidationError("It is for days, or for no single day: leave one of the two.")
        return [date.fromisoformat(on) for on in ticked if on != NO_DAY] if ticked else None
