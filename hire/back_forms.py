"""Parsing of what the desk decides when a cart is back, and of the kit counted; the rules are the charges’ and the actions’."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from uuid import UUID

from django import forms

from hire.back_terms import BackTerms
from hire.charging.back import REASONS, KitItem, Proposal, Typed, Tyre, gauge_litres, gauge_words
from hire.charging.money import cents, day_words, money
from hire.charging.out_reading import WITHIN_WORDS
from hire.charging.waiver import WAIVED_KINDS
from hire.models.back import AGAIN, KIT_STATES, BackDecision
from hire.risk import Late

NO_TYRE = "none"


def _number(label: str, *, places: int = 2, required: bool = True, **kwargs: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=Decimal(0), max_digits=9, decimal_places=places, required=required, **kwargs
    )


class AgainForm(forms.Form):
    """What was found again: the same as before, or new damage, and why. Neither is chosen beforehand."""

    outcome = forms.ChoiceField(
        label="Is it what was there before?",
        choices=AGAIN,
        widget=forms.RadioSelect,
        error_messages={"required": "Say whether it is the same as before or new damage."},
    )
    words = forms.CharField(
        label="In your words",
        max_length=240,
        help_text="The same: by what you tell. New: what the damage is.",
        error_messages={"required": "Say by what you tell, or what the new damage is."},
    )


class LetGoForm(forms.Form):
    """One thing found that is not charged, and why."""

    reason = forms.ChoiceField(
        label="Why it is let go",
        choices=[("", "Choose why"), *REASONS.items()],
        error_messages={"required": "Say why it is let go."},
    )
    words = forms.CharField(label="In your words", max_length=240, required=False)

    def __init__(
        self,
        *args: Any,
        has_excess: bool = False,
        paid: Sequence[BackDecision] = (),
        is_late: bool = False,
        **kwargs: Any,
    ) -> None:
        """paid: what was charged of events whose excess is paid in full. is_late: it left when damage was no longer the hirer's."""
        super().__init__(*args, **kwargs)
        if has_excess and paid:
            self.fields["same_event"] = _event_field(
                paid, "Where the damage waiver covers it: the excess of that event is paid."
            )
        # The waiver takes on no more than what is over its excess: it is charged, up to that.
        apart = {"waiver"} if has_excess and not paid else set()
        apart |= set() if is_late else {"after"}
        left = [(reason, words) for reason, words in REASONS.items() if reason not in apart]
        self.fields["reason"].choices = [("", "Choose why"), *left]  # type: ignore[attr-defined]


def _event_field(events: Sequence[BackDecision], help_text: str) -> forms.TypedChoiceField:
    choices = [(str(one.pk), f"{one.what}: {money(one.amount or 0)}") for one in events]
    return forms.TypedChoiceField(
        label="The same event as", choices=[("", "By itself"), *choices], required=False, coerce=UUID, empty_value=None,
        help_text=help_text,
    )  # fmt: skip


class ChargeForm(forms.Form):
    """One thing found that is charged: what makes the amount for its kind. events: what it may have happened with; late: it left
    when damage was no longer the hirer's."""

    def __init__(
        self,
        *args: Any,
        proposal: Proposal,
        terms: BackTerms,
        events: Sequence[BackDecision] = (),
        late: Late | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        waiver = _waiver_fields(proposal, terms)
        self.fields |= _late_fields(late) | _fields(proposal, terms) | waiver
        if waiver and events:
            self.fields["same_event"] = _event_field(
                events, "Then the excess is paid once: what is left of it, at most, is charged."
            )
        self.fields["words"] = forms.CharField(
            label="In your words",
            max_length=240,
            required=proposal.kind not in ("fuel", "cleaning"),
            help_text="Read out to the customer: what it was, and what it takes to put right.",
        )
        self.fields["is_untaxed"] = forms.BooleanField(
            label="No tax falls on it", required=False, help_text="An accountant says."
        )

    def came_before(self) -> str | None:
        """By what it is told that it came before, where that is ticked (a clean form)."""
        return self.cleaned_data["came_before_words"] if self.cleaned_data.get("came_before") else None

    def typed(self) -> Typed:
        """What was typed of the amount (a clean form)."""
        data = self.cleaned_data
        tyre = data.get("tyre", "")
        return Typed(
            amount=data.get("amount"),
            tyre="" if tyre == NO_TYRE else tyre,
            fitted_cost=data.get("fitted_cost"),
            call_out=data.get("call_out") or Decimal(0),
            docket=data.get("docket", ""),
            litres=data.get("litres"),
            tank_l=data.get("tank_l"),
            price=data.get("price"),
            man_hours=data.get("man_hours"),
            is_waived=data.get("is_waived", False),
            old_why=data.get("old_why", ""),
        )


def _fields(proposal: Proposal, terms: BackTerms) -> dict[str, forms.Field]:
    if proposal.kind == "tyre":
        return _tyre_fields(proposal, terms)
    if proposal.kind == "fuel":
        return _fuel_fields(proposal, terms)
    if proposal.kind == "cleaning":
        return _cleaning_fields(proposal, terms)
    return {
        "amount": _number("Amount, before tax", error_messages={"required": "Give the amount, before tax."})
    }


def _late_fields(late: Late | None) -> dict[str, forms.Field]:
    """Asked where the cart left its site when damage was no longer the hirer's; the action refuses what is not said."""
    if late is None:
        return {}
    return {
        "came_before": forms.BooleanField(label=f"It came before {late.ends}", required=False),
        "came_before_words": forms.CharField(
            label="By what you tell that",
            max_length=240,
            required=False,
            help_text="Such as a photo, its date, or who saw it on site. Kept with your name.",
        ),
    }


def _waiver_fields(proposal: Proposal, terms: BackTerms) -> dict[str, forms.Field]:
    if proposal.kind not in WAIVED_KINDS or terms.excess is None:
        return {}
    leaves_out = f" It leaves out: {terms.waiver_excludes}" if terms.waiver_excludes else ""
    return {
        "is_waived": forms.BooleanField(
            label="The damage waiver takes it on",
            required=False,
            initial=proposal.kind == "damage",
            help_text=f"Then the lesser is charged: the amount, or the excess of {money(terms.excess)}.{leaves_out}",
        )
    }


def _tyre_fields(proposal: Proposal, terms: BackTerms) -> dict[str, forms.Field]:
    tyres = [(tyre.code, f"{tyre.where}: {_tread_words(tyre)}") for tyre in proposal.tyres]
    other = [] if proposal.is_tyre else [(NO_TYRE, "No tyre: a rim, a nut, a guard")]
    costs = {tyre.cost for tyre in proposal.tyres if tyre.cost is not None}
    fields: dict[str, forms.Field] = {
        "tyre": forms.ChoiceField(label="Which tyre", choices=[("", "Choose it"), *tyres, *other]),
        "fitted_cost": _number(
            "A new tyre, fitted",
            required=proposal.is_tyre,
            initial=max(costs) if len(costs) == 1 else None,
            help_text="The tread left when it went out is charged, not the whole tyre.",
        ),
        "call_out": _number("Call-out", required=False, initial=terms.tyre_call_out),
    }
    if any(tyre.old for tyre in proposal.tyres):
        fields["old_why"] = forms.CharField(
            label="Why the old reading still counts", max_length=160, required=False,
            help_text=f"Read within {WITHIN_WORDS} of the handover, a tread counts. Else say why, or charge nothing.",
        )  # fmt: skip
    if not proposal.is_tyre:
        fields["amount"] = _number("Amount when it is no tyre, before tax", required=False)
    return fields


def _tread_words(tyre: Tyre) -> str:
    if tyre.out_mm is None:
        return "not measured before it left"
    read = f", read {day_words(tyre.read_on)}" if tyre.read_on else ""
    return f"{tyre.out_mm} mm when it left{read}{f', {tyre.old}' if tyre.old else ''}"


def _fuel_fields(proposal: Proposal, terms: BackTerms) -> dict[str, forms.Field]:
    fields: dict[str, forms.Field] = {
        "litres": _number(
            "Litres it was filled with", required=False, help_text="By the docket of the fill."
        ),
        "docket": forms.CharField(label="Fuel docket", max_length=30, required=False),
        "tank_l": _number(
            "No docket: the fuel tank holds, L",
            required=False,
            initial=proposal.fuel_tank_l,
            help_text=_gauge_help(proposal, terms),
        ),
    }
    if terms.fuel_price is None:
        fields["price"] = _number("Price a litre", places=3)
    return fields


def _gauge_help(proposal: Proposal, terms: BackTerms) -> str:
    """Where the tank is on record, the estimate it gives with its working."""
    says = "Then the gauge gives an estimate, and the line says so."
    if proposal.fuel_tank_l is None:
        return says
    estimate = f"By the cart’s record {gauge_words(proposal.short, proposal.fuel_tank_l)}"
    if terms.fuel_price:
        amount = cents(gauge_litres(proposal.short, proposal.fuel_tank_l) * terms.fuel_price)
        estimate = f"{estimate} × {money(terms.fuel_price)} = {money(amount)}"
    return f"{says} {estimate}."


def _cleaning_fields(proposal: Proposal, terms: BackTerms) -> dict[str, forms.Field]:
    free = f"Free man-hours: {terms.wash_free_hours.normalize():f}."
    fields: dict[str, forms.Field] = {"man_hours": _number("Man-hours it took to wash", help_text=free)}
    if proposal.dirt not in terms.wash_prices:
        fields["price"] = _number("Price a man-hour")
    return fields


class KitForm(forms.Form):
    """A choice and a few words for each thing on the handover's list."""

    def __init__(self, *args: Any, items: Sequence[KitItem], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.items = items
        for item in items:
            self.fields[f"state_{item.number}"] = forms.ChoiceField(
                label=item.what, choices=KIT_STATES, widget=forms.RadioSelect, initial=item.state or None,
                error_messages={"required": f"Say how it came back: {item.what}."},
            )  # fmt: skip
            self.fields[f"words_{item.number}"] = forms.CharField(
                label=f"Words for {item.what}", max_length=120, required=False, initial=item.words
            )

    def counted(self) -> dict[int, tuple[str, str]]:
        data = self.cleaned_data
        return {
            item.number: (data[f"state_{item.number}"], data[f"words_{item.number}"]) for item in self.items
        }
