"""Parsing prices, terms and charges; rules live in charges and in actions."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings

from fleet.models.carts import Cart
from hire.forms import YardMoment
from hire.models.agreements import Agreement
from hire.models.deposits import KINDS as DEPOSIT_KINDS
from hire.models.holidays import KINDS as DAY_KINDS
from hire.models.money import CLOCKS, DAYS_IN_WEEK, POOLS, Docket
from hire.public_holidays import holidays_words, regions
from hire.rate_forms import CarriageFields, RateFields, ShiftsAgreed, WayAgreed
from hire.rate_forms import price_field as _money
from hire.rate_forms import times_field as _loading
from hire.terms_text import parse_rates
from hire.wet_text import WET_FIELDS, WET_PRICE
from people.yard import COUNTRIES, yard_policy

RULES = [
    ("", "Choose what was agreed"),
    ("best rate", "Best rate: the least the days can be covered for"),
    ("as agreed", "As agreed: the longest length that fits the stay sets the rate, by the day"),
    ("fixed", "Fixed: the rate of one length, however long it stays"),
    ("agreed minimum", "Agreed minimum: paid in any case, and its rate from the first day"),
]
HOLIDAYS = [("charged", "Charged like any day"), ("free", "Not charged, unless the cart works")]
CLOSED_CALLS = [("any day", "Counts like any day"), ("open day", "Counts from the next day the yard is open")]
COVERS = [
    ("", "Nothing agreed"), ("waiver", "Damage waiver, with an excess and what it leaves out"), ("own", "The hirer’s own cover"),
]  # fmt: skip
# Blank unless there is wet hire; the others have a default on the form.
WET_BLANK = ("wet_travel_price", "wet_overtime_after")
DAY_INPUT = {"type": "date"}


def _hours(label: str, help_text: str = "", **kwargs: Any) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, help_text=help_text, min_value=Decimal(0), max_value=Decimal(24), max_digits=4, decimal_places=2,
        required=False, **kwargs,
    )  # fmt: skip


def _hour(label: str, help_text: str) -> forms.TimeField:
    widget = forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    return forms.TimeField(label=label, help_text=help_text, widget=widget, required=False)


class RatesField(forms.CharField):
    """Lengths and prices, a line each."""

    def __init__(self, **kwargs: Any) -> None:
        words = "A line for each length: its days, a colon, its price. 1: 290.00"
        super().__init__(
            label="Rates",
            widget=forms.Textarea(attrs={"rows": 4}),
            max_length=2000,
            help_text=words,
            **kwargs,
        )

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            return parse_rates(text)
        except ValueError as error:
            raise forms.ValidationError(str(error)) from error


GROUPS = (
    ("The card", ("name", "cart", "litres_from", "starts_on")),
    (
        "Rates",
        ("rule", "rates", "month_price", "month", "fixed_by", "fixed_length", "early_return", "days_in_week", "minimum_days"),
    ),
    ("Shifts", ("shifts", "shifts_two", "shifts_three")),
    ("Wet hire", tuple(WET_FIELDS)),
    ("Delivery", ("delivery_price", "collection_price", "carried_by", "carried_km")),
    ("Hours", ("hours_in_day", "clock", "pool", "hour_price")),
    ("Holidays and the off-hire call", ("holidays", "holiday_region", "closed_calls", "free_call_before")),
    ("Rain and breakdowns", ("rain_told_by", "rain_most_hours", "rain_cap_days", "rain_price", "breakdown_hours")),
    ("Damage", ("cover", "waiver_day", "waiver_pct", "excess", "waiver_excludes", "own_cover", "risk_hours")),
    (
        "When it comes back",
        ("fuel_price", "wash_free_hours", "wash_mud_price", "wash_clay_price", "wash_chemical_price", "tyre_call_out"),
    ),
    ("Tax and fines", ("tax_pct", "fine_fee")),
    ("Besides", ("words",)),
)  # fmt: skip


class TermsForm(RateFields, CarriageFields):
    """What a hire is charged by."""

    field_order = [name for _, names in GROUPS for name in names]

    rates = RatesField()
    days_in_week = forms.TypedChoiceField(
        label="Days in a week", choices=DAYS_IN_WEEK, coerce=int, initial=7,
        help_text="With 5 a week is five hire days, and 5: is its rate.",
    )  # fmt: skip
    minimum_days = forms.IntegerField(label="Minimum hire, days", min_value=0, max_value=366, required=False)
    holidays = forms.ChoiceField(label="Public holidays", choices=HOLIDAYS, required=False)
    holiday_region = forms.ChoiceField(label="Holidays of", required=False)
    hours_in_day = forms.DecimalField(
        label="Hours in a day", min_value=Decimal("0.5"), max_value=Decimal(24), max_digits=4, decimal_places=1,
        required=False, help_text="Blank: hours are not counted.",
    )  # fmt: skip
    clock = forms.ChoiceField(
        label="By which meter", choices=CLOCKS,
        help_text="Hours by the key or by dockets are written down with the charges, with a name of each side.",
    )  # fmt: skip
    pool = forms.ChoiceField(label="Hours are counted over", choices=POOLS)
    hour_price = _money("An hour over")
    rain_told_by = _hour(
        "Rain is told by",
        "The hour of the day itself; blank: at any time. Common practice is before work starts.",
    )
    rain_most_hours = _hours("A rain day has at most, hours on the clock", "Blank: 2.")
    rain_cap_days = forms.IntegerField(
        label="Rain days at most", min_value=0, max_value=366, required=False, help_text="Blank: no limit."
    )
    rain_price = _money("A rain day costs")
    breakdown_hours = _hours("A breakdown takes the day off from, hours lost", "Blank: 4.")
    closed_calls = forms.ChoiceField(label="Off-hire on a closed day", choices=CLOSED_CALLS, required=False)
    free_call_before = _hour(
        "The day of the off-hire call is free before", "Blank: the day of the call is charged, however early."
    )
    cover = forms.ChoiceField(label="Damage to the cart", choices=COVERS, required=False)
    waiver_day = _money("Damage waiver, each day charged")
    waiver_pct = forms.DecimalField(
        label="Or damage waiver, % of the hire", min_value=Decimal(0), max_value=Decimal(100), max_digits=5, decimal_places=2,
        required=False,
    )  # fmt: skip
    excess = _money(
        "Excess, each time", help_text="What the customer pays of damage that the waiver takes on."
    )
    waiver_excludes = forms.CharField(
        label="The waiver leaves out", max_length=400, required=False, widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Such as tyres, glass, overhead strikes, misuse: the yard’s own words.",
    )  # fmt: skip
    own_cover = forms.CharField(
        label="The hirer’s own cover",
        max_length=160,
        required=False,
        help_text="Insurer, policy and until when.",
    )
    risk_hours = forms.IntegerField(
        label="Damage is theirs until, hours after the off-hire call", min_value=1, max_value=999, required=False,
        help_text="Sooner where it is picked up sooner. Blank: until it is picked up.",
    )  # fmt: skip
    fine_fee = _money("Passing on a fine or toll, each")
    wet_hour_price = _money("Wet hire: an hour of cart and operator", help_text="Blank: never wet hire.")
    wet_minimum_hours = _hours("Hours a docket is charged at least", initial=Decimal(8))
    wet_travel_price = _money("An hour of travel")
    wet_overtime_after = _hours("Overtime after, hours a day", "Blank: no overtime.")
    wet_overtime = _loading("Overtime, times", initial=Decimal("1.5"))
    wet_night = _loading(
        "Night, times", help_text="Of overtime, night, Sunday and holiday the greatest counts alone."
    )
    wet_sunday = _loading("Sunday, times")
    wet_holiday = _loading("Public holiday, times")
    fuel_price = forms.DecimalField(
        label="Fuel, a litre", min_value=Decimal(0), max_digits=7, decimal_places=3, required=False,
        help_text="Charged when it comes back with less than it left with.",
    )  # fmt: skip
    wash_free_hours = forms.DecimalField(
        label="Washing: man-hours free", min_value=Decimal(0), max_value=Decimal(99), max_digits=4, decimal_places=2,
        required=False,
    )  # fmt: skip
    wash_mud_price = _money("A man-hour of washing off mud")
    wash_clay_price = _money("A man-hour of washing off set clay")
    wash_chemical_price = _money("A man-hour of washing off binder, oil or lime")
    tyre_call_out = _money("Call-out for a cut tyre")
    tax_pct = forms.DecimalField(
        label="Tax, %", min_value=Decimal(0), max_value=Decimal(99), max_digits=4, decimal_places=2,
        help_text="Of the whole hire: days charged already are put right at it. Changed by law from a day on: go on with a new "
        "agreement.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tax_pct"].initial = settings.YARD_TAX_PCT
        policy = yard_policy()
        own = ("", f"The yard’s own calendar{f', {policy.holiday_region}' if policy.holiday_region else ''}")
        known = [(region, region) for region in regions(policy.holiday_country)]
        self.fields["holiday_region"].choices = [own, *known]  # type: ignore[attr-defined]

    def groups(self) -> list[tuple[str, list[forms.BoundField]]]:
        """Its fields under plain headings, in their order."""
        found = [(title, [self[name] for name in names if name in self.fields]) for title, names in GROUPS]
        return [(title, fields) for title, fields in found if fields]

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or self.cleaned_data
        if any(typed.get(name) is not None for name in WET_BLANK) and typed.get(WET_PRICE) is None:
            self.add_error(WET_PRICE, "Wet hire has prices: give that of an hour of cart and operator.")
        if typed.get("hours_in_day") and typed.get("hour_price") is None and "hour_price" not in self.errors:
            self.add_error("hour_price", "Hours are counted: give the price of an hour over.")
        if typed.get("cover") == "own" and not typed.get("own_cover") and "own_cover" not in self.errors:
            self.add_error("own_cover", "Give the insurer, the policy and until when it runs.")
        if (typed.get("waiver_day") or typed.get("waiver_pct")) and not typed.get("cover"):
            typed["cover"] = "waiver"
        return typed


class CardForm(TermsForm):
    name = forms.CharField(label="Name of the card", max_length=60)
    cart = forms.ModelChoiceField(
        Cart.objects.filter(retired_on=None), label="For one cart", required=False, empty_label="By litres"
    )
    litres_from = forms.IntegerField(
        label="Else for carts from, litres", min_value=0, max_value=60_000, required=False,
        help_text="The card with the most litres that a cart has counts for it.",
    )  # fmt: skip
    starts_on = forms.DateField(
        label="From", widget=forms.DateInput(attrs=DAY_INPUT, format="%Y-%m-%d"), help_text="The card in force ends that day."
    )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        typed = super().clean()
        if typed.get("cart") and typed.get("litres_from"):
            self.add_error("litres_from", "A card is for one cart, or by litres: leave one of the two blank.")
        return typed


class AgreeForm(ShiftsAgreed, WayAgreed, TermsForm):
    rule = forms.ChoiceField(
        label="Rate rule",
        choices=RULES,
        help_text="Nothing is taken for granted: choose it with the customer.",
    )
    words = forms.CharField(label="What else was said", max_length=240, required=False)

    def __init__(
        self, *args: Any, agreement: Agreement | None = None, is_wet: bool = False, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        if agreement is not None:
            own = ("", f"As the agreement has it, {holidays_words(agreement)}")
            known = [(one, one) for one in regions(COUNTRIES[agreement.rule_set])]
            self.fields["holiday_region"].choices = [own, *known]  # type: ignore[attr-defined]
        if is_wet:
            # The hours of the dockets are the hire; the days need no price.
            self.fields["rates"].required = False
        else:
            for name in WET_FIELDS:
                del self.fields[name]


class BesideForm(forms.Form):
    what = forms.CharField(label="What", max_length=80, help_text="Delivery, washing, fuel, a call-out.")
    quantity = forms.DecimalField(
        label="How much", min_value=Decimal("0.001"), max_digits=9, decimal_places=3
    )
    unit = forms.CharField(label="Of what", max_length=12, help_text="trip, h, L, piece")
    unit_price = forms.DecimalField(label="Price each", min_value=Decimal(0), max_digits=9, decimal_places=2)
    words = forms.CharField(label="How we know", max_length=240, required=False)
    is_untaxed = forms.BooleanField(
        label="No tax falls on it", required=False, help_text="As on a fine passed on. An accountant says."
    )

    def said(self) -> dict[str, Any]:
        """What is charged (a clean form)."""
        typed = dict(self.cleaned_data)
        return typed | {"is_taxed": not typed.pop("is_untaxed")}


class WorkedDayForm(forms.Form):
    on = forms.DateField(
        label="Day", widget=forms.DateInput(attrs=DAY_INPUT, format="%Y-%m-%d"),
        help_text="One outside the week agreed, or a free holiday: any other is charged anyhow.",
    )  # fmt: skip
    told_by_words = forms.CharField(
        label="Who says so", max_length=120, help_text="Their name, and whose they are."
    )
    told_at = YardMoment(label="When they said it")
    words = forms.CharField(label="What was said", max_length=240, required=False)


class DocketForm(forms.Form):
    through = forms.DateField(
        label="Up to and with", required=False, widget=forms.DateInput(attrs=DAY_INPUT, format="%Y-%m-%d"),
        help_text="Blank: to the end of the hire, or to today while it is out.",
    )  # fmt: skip
    set_off = _money("Set off from the deposit", help_text="Printed after the tax. Blank: nothing.")


class DepositForm(forms.Form):
    kind = forms.ChoiceField(label="What happened", choices=DEPOSIT_KINDS)
    amount = forms.DecimalField(label="How much", min_value=Decimal("0.01"), max_digits=9, decimal_places=2)
    words = forms.CharField(label="How, and its receipt", max_length=160)
    docket = forms.ModelChoiceField(
        Docket.objects.none(), label="Against which docket", required=False, empty_label="None", help_text="For what is set off.",
    )  # fmt: skip

    def __init__(self, *args: Any, agreement: Agreement, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        dockets = Docket.objects.filter(line__agreement=agreement).select_related("line").order_by("-made_at")
        self.fields["docket"].queryset = dockets  # type: ignore[attr-defined]


class YardDayForm(forms.Form):
    on = forms.DateField(label="Day", widget=forms.DateInput(attrs=DAY_INPUT, format="%Y-%m-%d"))
    kind = forms.ChoiceField(label="Is it", choices=DAY_KINDS)
    what = forms.CharField(label="What it is", max_length=80, help_text="Show day; or why it is none here.")
