"""Whether a value keeps its limit: one small rule by table, used wherever a walk-round is judged.

The page on the tablet has a twin of this file. `tests/inspections/limit_cases.json` holds the two together.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from types import MappingProxyType

OPS = (">=", ">", "<=", "<", "between")
GRADES = ("do_not_use", "by_date", "watch")

# Digits with at most one point: no exponent, no plus, no spaces, no comma, none of the words Decimal also takes.
_DECIMAL = re.compile(r"-?[0-9]+(\.[0-9]+)?")
_WORDS = MappingProxyType(
    {
        ">=": "{value} or more",
        ">": "more than {value}",
        "<=": "{value} or less",
        "<": "less than {value}",
    }
)


def decimal_of(text: str) -> Decimal:
    """The exact number a text spells, as it travels: "3.0", "-5", "007".

    ValueError with a plain sentence for a blank, a comma, an exponent, a space, NaN or anything else.
    """
    if not _DECIMAL.fullmatch(text):
        raise ValueError(f"“{text}” is not a number: write digits, with a point for the part below one.")
    return Decimal(text)


def decimal_text(number: Decimal) -> str:
    """A number as it travels, every digit it was given with: Decimal("3.0") is "3.0", never "3" or "3E+0"."""
    return format(number, "f")


@dataclass(frozen=True, slots=True)
class Limit:
    """What a value has to keep to be sound, and how bad it is when it does not.

    op: one of `OPS`, comparing the entered value with `value`; "between" takes both ends as sound and is the only
    one with a `high`. Comparisons are kept as their source prints them: a lining reported "at or below 1/16 in"
    fails at exactly 1.5875 mm (op ">"), one reported "below 1/4 in" passes at exactly 6.35 mm (op ">=").
    ValueError with a plain sentence for an unknown op or grade, an end that is missing, spare or the wrong way round.
    """

    op: str
    value: Decimal
    unit: str
    grade: str
    high: Decimal | None = None

    def __post_init__(self) -> None:
        if self.op not in OPS:
            raise ValueError(f"“{self.op}” is not a comparison: use one of {', '.join(OPS)}.")
        if self.grade not in GRADES:
            raise ValueError(f"“{self.grade}” is not a grade: use one of {', '.join(GRADES)}.")
        if not (self.value.is_finite() and (self.high is None or self.high.is_finite())):
            raise ValueError("A limit is a number.")
        if (self.op == "between") != (self.high is not None):
            raise ValueError("A limit has a high end when it is “between”, and only then.")
        if self.high is not None and self.high < self.value:
            raise ValueError("The high end of a limit is below its low end.")

    @property
    def words(self) -> str:
        """The limit as a person says it: "3.0 mm or more", "120 to 140 psi"."""
        low = decimal_text(self.value)
        if self.high is not None:
            return f"{low} to {_with_unit(decimal_text(self.high), self.unit)}"
        return _WORDS[self.op].format(value=_with_unit(low, self.unit))

    def as_content(self) -> dict[str, str | None]:
        """The limit in plain JSON types, numbers as text, as editions keep it and the wire carries it."""
        return {
            "op": self.op,
            "value": decimal_text(self.value),
            "high": None if self.high is None else decimal_text(self.high),
            "unit": self.unit,
            "grade": self.grade,
        }


def limit_from(content: Mapping[str, object]) -> Limit:
    """The limit `as_content` wrote. ValueError with a plain sentence where a part is missing or wrong."""
    high = content.get("high")
    return Limit(
        op=_text(content, "op"),
        value=decimal_of(_text(content, "value")),
        unit=_text(content, "unit"),
        grade=_text(content, "grade"),
        high=None if high is None else decimal_of(_text(content, "high")),
    )


def keeps(limit: Limit, value: str) -> bool:
    """Whether an entered value, as text in the limit's own unit, is sound.

    Compared exactly, never as floating point. ValueError with a plain sentence when the text is no number.
    """
    entered = decimal_of(value)
    if limit.high is not None:
        return limit.value <= entered <= limit.high
    if limit.op == ">=":
        return entered >= limit.value
    if limit.op == ">":
        return entered > limit.value
    if limit.op == "<=":
        return entered <= limit.value
    return entered < limit.value


def _with_unit(number: str, unit: str) -> str:
    return f"{number} {unit}".rstrip()


def _text(content: Mapping[str, object], name: str) -> str:
    found = content.get(name)
    if isinstance(found, str):
        return found
    raise ValueError(f"The “{name}” of a limit is missing, or is not text.")
