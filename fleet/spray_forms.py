"""Parsing what is typed of spray figures and of a test of heads; rules live in actions and in fleet.water."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID

from django import forms

from fleet.actions.spraying import SpraySheetDetails
from fleet.forms import ABOVE_ZERO, NOT_BELOW, YardMoment, bounds
from fleet.models.spraying import PUMPS, SpraySheet
from people.canonical import sha256_hex

MOST_LINES = 30
LINES = forms.Textarea(attrs={"rows": 4, "autocomplete": "off"})


def _figure(label: str, *, decimals: int = 1, least: float = 0, **more: Any) -> forms.DecimalField:
    """A figure above zero, or from zero on where `least` is 0 and the label's field says so by `or_zero`."""
    or_zero = more.pop("or_zero", False)
    return forms.DecimalField(
        label=label, max_digits=7, decimal_places=decimals, min_value=Decimal(0) if or_zero else Decimal(1).scaleb(-decimals),
        error_messages=bounds(NOT_BELOW if or_zero else ABOVE_ZERO), **more,
    )  # fmt: skip


def _number(text: str, line: int) -> Decimal:
    try:
        found = Decimal(text.strip())
    except InvalidOperation:
        found = Decimal("NaN")
    if not found.is_finite() or abs(found) >= 100_000:
        raise forms.ValidationError(f"Line {line}: “{text.strip()}” is no number.")
    return found


def _wholes(text: str, line: int) -> list[int]:
    words = text.split()
    if not words or not all(word.isascii() and word.isdecimal() and len(word) < 6 for word in words):
        raise forms.ValidationError(
            f"Line {line}: “{text.strip()}” has to be whole numbers with spaces between."
        )
    return [int(word) for word in words]


def _gear(parts: list[str], line: int) -> tuple[str, Decimal, Decimal]:
    return parts[0], round(_number(parts[1], line), 2), round(_number(parts[2], line), 2)


def _head(parts: list[str], line: int) -> tuple[str, str, Decimal]:
    return parts[0], parts[1], round(_number(parts[2], line), 1)


def _opening(parts: list[str], line: int) -> tuple[str, list[int], Decimal | None]:
    width = round(_number(parts[2], line), 2) if len(parts) > 2 and parts[2] else None
    return parts[0], _wholes(parts[1], line), width


class LinesField(forms.CharField):
    """Rows typed one a line, their parts with commas between; `parse` takes the parts and the line's number."""

    def __init__(
        self, *, parse: Callable[[list[str], int], Any], parts: tuple[int, int], **kwargs: Any
    ) -> None:
        super().__init__(widget=LINES, max_length=2000, **kwargs)
        self.parse, self.parts = parse, parts

    def clean(self, value: Any) -> list[Any]:
        text = super().clean(value)
        lines = [line.strip() for line in text.splitlines() if line.strip()]
        if len(lines) > MOST_LINES:
            raise forms.ValidationError(f"At most {MOST_LINES} lines.")
        return [self._row(line, number) for number, line in enumerate(lines, start=1)]

    def _row(self, line: str, number: int) -> Any:
        parts = [part.strip() for part in line.split(",")]
        least, most = self.parts
        if not least <= len(parts) <= most:
            wanted = f"{least}" if least == most else f"{least} or {most}"
            raise forms.ValidationError(
                f"Line {number}: {wanted} parts with commas between, not {len(parts)}."
            )
        if any(len(part) > 30 for part in parts[:1]) or any(len(part) > 40 for part in parts):
            raise forms.ValidationError(f"Line {number}: shorten the names to 30 letters.")
        return self.parse(parts, number)


class SpraySheetForm(forms.Form):
    pump = forms.ChoiceField(label="The pump is driven", choices=PUMPS, widget=forms.RadioSelect)
    pump_l_min = _figure("The pump gives, L/min", help_text="Measured with all heads open.")
    pump_kpa = _figure("At a pressure of, kPa", help_text="100 kPa is 14.5 psi.")
    pump_rpm = forms.IntegerField(
        label="At an engine rpm of", min_value=1, max_value=9999, error_messages=bounds(ABOVE_ZERO)
    )
    gears = LinesField(
        label="Gears",
        parse=_gear,
        parts=(3, 3),
        help_text="One a line: name, km/h, metres wetted. Second, 8, 6",
    )
    gears_rpm = forms.IntegerField(
        label="The gears’ speeds are at rpm", min_value=1, max_value=9999, error_messages=bounds(ABOVE_ZERO)
    )
    rpms = forms.CharField(
        label="Rpm wanted in the table", max_length=80, help_text="With spaces between: 1200 1500 1800"
    )
    heads = LinesField(
        label="Heads",
        parse=_head,
        parts=(3, 3),
        help_text="One a line: name, nozzle, L/min when new. Rear left, fan 60, 240",
    )
    head_kpa = _figure("The heads’ flow when new is at, kPa")
    openings = LinesField(
        label="Heads open together",
        parse=_opening,
        parts=(2, 3),
        help_text="One a line: name, heads by their line, metres wetted where narrower. Left side only, 1 3, 4",
    )
    words = forms.CharField(label="How the figures were come by", max_length=160)

    def clean_rpms(self) -> list[int]:
        found = _wholes(self.cleaned_data["rpms"], 1)
        if len(found) > 8:
            raise forms.ValidationError("At most eight.")
        return sorted(set(found))

    def details(self) -> SpraySheetDetails:
        """What was typed, once the form is valid."""
        return SpraySheetDetails(**self.cleaned_data)

    @staticmethod
    def as_typed(sheet: SpraySheet) -> dict[str, object]:
        """The newest figures, for the form that follows them; how they were come by is asked anew."""
        plain = {
            name: getattr(sheet, name)
            for name in (
                "pump",
                "pump_l_min",
                "pump_kpa",
                "pump_rpm",
                "gears_rpm",
                "head_kpa",
            )
        }
        return plain | {
            "rpms": " ".join(map(str, sheet.rpms)),
            "gears": "\n".join(f"{g.name}, {g.speed_km_h:f}, {g.width_m:f}" for g in sheet.gears.all()),
            "heads": "\n".join(f"{h.name}, {h.nozzle}, {h.nominal_l_min:f}" for h in sheet.heads.all()),
            "openings": "\n".join(
                ", ".join([o.name, " ".join(map(str, o.heads)), *([f"{o.width_m:f}"] if o.width_m else [])])
                for o in sheet.openings.all()
            ),
        }


class SprayAskForm(forms.Form):
    """Which heads are open and how much is in the tank; a GET form, so that the table has an address."""

    heads = forms.ChoiceField(label="Heads open", required=False)
    load_l = forms.DecimalField(
        label="Litres in the tank",
        min_value=1,
        max_digits=7,
        decimal_places=0,
        required=False,
        error_messages=bounds("Above zero, and no more than the tank holds."),
    )

    def __init__(self, *args: Any, openings: list[str], capacity_l: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["heads"].choices = [(name, name) for name in openings]  # type: ignore[attr-defined]
        self.fields["load_l"].initial = capacity_l
        self.capacity_l = capacity_l

    def clean_load_l(self) -> Decimal:
        load: Decimal = self.cleaned_data["load_l"] or Decimal(self.capacity_l)
        if load > self.capacity_l:
            raise forms.ValidationError(f"The tank holds {self.capacity_l:,} L.")
        return load


class EvennessForm(forms.Form):
    """Litres and seconds of each head, both or neither. `shown`: the mark of the values whose figures were shown."""

    done_at = YardMoment(label="When it was done")
    pressure_kpa = _figure("Pressure at the heads, kPa", help_text="100 kPa is 14.5 psi.")
    words = forms.CharField(label="Anything to add", max_length=160, required=False)
    shown = forms.CharField(required=False, widget=forms.HiddenInput, max_length=64)

    def __init__(self, *args: Any, sheet: SpraySheet, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.heads = list(sheet.heads.all())
        for head in self.heads:
            self.fields[f"litres_{head.position}"] = _figure(
                f"{head.name}: litres caught", decimals=2, or_zero=True, required=False
            )
            self.fields[f"seconds_{head.position}"] = _figure(f"{head.name}: seconds", required=False)

    def pairs(self) -> list[tuple[Any, Any, Any]]:
        """(head, litres, seconds) for the page."""
        return [
            (head, self[f"litres_{head.position}"], self[f"seconds_{head.position}"]) for head in self.heads
        ]

    def clean(self) -> dict[str, Any]:
        typed = self.cleaned_data
        for head in self.heads:
            names = f"litres_{head.position}", f"seconds_{head.position}"
            if any(name in self.errors for name in names):
                continue
            given = [name for name in names if typed.get(name) is not None]
            if len(given) == 1:
                lacking = next(name for name in names if name not in given)
                self.add_error(lacking, "Give both, or leave both empty.")
        if not self.errors and not self.caught():
            self.add_error(None, "Give litres and seconds of at least one head.")
        return typed

    def caught(self) -> Mapping[UUID, tuple[Decimal, Decimal]]:
        typed = self.cleaned_data
        return {
            head.pk: (typed[f"litres_{head.position}"], typed[f"seconds_{head.position}"])
            for head in self.heads
            if typed.get(f"litres_{head.position}") is not None
            and typed.get(f"seconds_{head.position}") is not None
        }

    def mark(self) -> str:
        """Stands for the values: with another value it is another mark, and the figures are shown again before they are signed."""
        typed = self.cleaned_data
        values = [f"{typed['pressure_kpa'].normalize():f}"]
        for head, (litres, seconds) in sorted(self.caught().items()):
            values.append(f"{head} {litres.normalize():f} {seconds.normalize():f}")
        return sha256_hex("|".join(values))
