"""Parsing the customer's people, the letters to them, and an order number; rules live in actions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms

from hire.models.agreements import Line
from hire.models.contacts import Contact
from hire.rights import SUPERVISOR
from inspections.certificates.models import Certificate


class ContactForm(forms.ModelForm):  # type: ignore[type-arg]  # the class takes no subscript at run time
    class Meta:
        model = Contact
        fields = ("name", "rights", "phone", "email", "gets_papers")

    # The action checks under its own lock and says it in one sentence.
    def _post_clean(self) -> None:
        return


class LetterForm(forms.Form):
    """The paper is the valid certificate or the newest pack of the hire."""

    paper = forms.ChoiceField(label="Which paper")
    contacts = forms.ModelMultipleChoiceField(
        Contact.objects.none(), label="To whom", widget=forms.CheckboxSelectMultiple,
        help_text="Supervisors of this customer who have an email address. Each gets a link of their own.",
    )  # fmt: skip

    def __init__(self, *args: Any, line: Line, certificate: Certificate | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.certificate, self.pack = certificate, line.packs.order_by("-made_at").first()
        choices = [("certificate", f"Certificate {certificate.number}")] if certificate else []
        choices += [("pack", f"Site pack {self.pack.number}")] if self.pack else []
        self.fields["paper"].choices = choices or [("", "None yet")]  # type: ignore[attr-defined]
        theirs = Contact.objects.current().filter(customer=line.agreement.customer_id, rights=SUPERVISOR)
        self.fields["contacts"].queryset = theirs.exclude(email="")  # type: ignore[attr-defined]

    def sent(self) -> dict[str, Any]:
        """What the action is told; only of a form that is valid."""
        is_pack = self.cleaned_data["paper"] == "pack"
        return {
            "certificate": None if is_pack else self.certificate, "pack": self.pack if is_pack else None,
            "contacts": list(self.cleaned_data["contacts"]),
        }  # fmt: skip


class CameBackForm(forms.Form):
    words = forms.CharField(
        label="What the answer said",
        max_length=240,
        help_text="Mailbox full, no such person, out until Monday.",
    )


class OrderForm(forms.Form):
    order_number = forms.CharField(label="Order number", max_length=40, required=False)
    order_value = forms.DecimalField(
        label="Good for, before tax", min_value=Decimal("0.01"), max_digits=12, decimal_places=2, required=False,
        help_text="Blank: nobody said. The desk is told when it runs low.",
    )  # fmt: skip
