"""How much tread a tyre must have: by law, and before the yard changes it out.

The law's figure is the point at which a tyre may not be on the road at all; the yard's is meant to come
first. Depth is one of several grounds for rejecting a tyre: cuts, bulges and showing cord are judged apart,
at any depth. Site rules and the tyre maker's own figure stand over these where they ask for more.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from types import MappingProxyType
from typing import Literal

RULE_SETS = ("au", "us", "uk")
POSITIONS = ("steer", "other")
MM_PER_INCH = Decimal("25.4")

Number = Decimal | int | float


@dataclass(frozen=True, slots=True)
class TreadLimit:
    """A least tread depth, in millimetres for arithmetic and in its own words for print.

    `as_written` keeps the units of whoever set it (US law counts thirty-seconds of an inch);
    `measured_where` says which part of the tread has to meet it; `source` is the row id and clause, or
    "common practice, no source".
    """

    depth_mm: Decimal
    as_written: str
    measured_where: str
    source: str
    set_by: Literal["law", "yard"]

    def is_met_by(self, depth_mm: Number) -> bool:
        """Whether a measured depth passes. As all three laws print it, a tyre exactly at the figure does."""
        return _exact(depth_mm, "A depth") >= self.depth_mm


@dataclass(frozen=True, slots=True)
class TreadVerdict:
    """How one depth stands: "sound", "under_yard" (legal, but past the yard's figure) or "under_law"."""

    state: Literal["sound", "under_yard", "under_law"]
    legal: TreadLimit
    withdrawal: TreadLimit


def inches_to_mm(inches: Fraction) -> Decimal:
    """Exact millimetres of a fraction of an inch: 2/32 in is 1.5875 mm, never 1.6."""
    return Decimal(inches.numerator) * MM_PER_INCH / Decimal(inches.denominator)


_US_GROOVE = "any point on a major tread groove, clear of tie bars, humps and fillets"
_LAW: Mapping[tuple[str, str], TreadLimit] = MappingProxyType(
    {
        ("us", "steer"): TreadLimit(
            inches_to_mm(Fraction(4, 32)), "4/32 in", _US_GROOVE, "TY-01, 49 CFR 393.75(b)", "law"
        ),
        ("us", "other"): TreadLimit(
            inches_to_mm(Fraction(2, 32)), "2/32 in", _US_GROOVE, "TY-02, 49 CFR 393.75(c)", "law"
        ),
        **{
            ("uk", position): TreadLimit(
                Decimal("1.0"),
                "1.0 mm",
                "a continuous band over three quarters of the breadth, right round; pattern seen elsewhere",
                "TY-07, Road Vehicles (Construction and Use) Regulations 1986 reg 27",
                "law",
            )
            for position in POSITIONS
        },
        **{
            ("au", position): TreadLimit(
                Decimal("1.5"),
                "1.5 mm",
                "a continuous band over at least 75 % of the tread width, right round; wear bars not counted",
                "TY-09, Heavy Vehicle (Vehicle Standards) National Regulation",
                "law",
            )
            for position in POSITIONS
        },
    }
)

# Common practice, no source: deeper at the steers, where a failure can't be held.
YARD_DEFAULT_MM: Mapping[str, Decimal] = MappingProxyType({"steer": Decimal("4.0"), "other": Decimal("3.0")})


def legal_limit(*, rule_set: str, position: str) -> TreadLimit:
    """The least depth the law allows on a heavy vehicle.

    rule_set: "au", "us" or "uk"; position: "steer" or "other". ValueError for any other word.
    Source: TY-01, TY-02 and TY-07 VERIFIED-P, TY-09 VERIFIED-S; the clause is on the result.
    """
    if rule_set not in RULE_SETS:
        raise ValueError(f"{rule_set!r} is not a rule set: use one of {', '.join(RULE_SETS)}.")
    if position not in POSITIONS:
        raise ValueError(f"{position!r} is not a tyre position: use one of {', '.join(POSITIONS)}.")
    return _LAW[rule_set, position]


def strictest(rule_sets: Iterable[str], *, position: str) -> str:
    """Of some rule sets the one whose law asks for the most tread at a position, the first of equals: a cart that leaves one for
    another keeps both. ValueError for an unknown word, or none at all."""
    return max(rule_sets, key=lambda one: legal_limit(rule_set=one, position=position).depth_mm)


def withdrawal_limit(*, rule_set: str, position: str, yard_mm: Number | None = None) -> TreadLimit:
    """The depth a tyre is changed out at: the greater of the yard's own and the law's.

    yard_mm: the yard's figure for that position in mm; None takes `YARD_DEFAULT_MM`. Where the two are
    equal the law's is returned, so that its source is what gets printed. ValueError for an unknown word, a
    negative depth or one that is not a number. Source: the law's row, or "common practice, no source".
    """
    legal = legal_limit(rule_set=rule_set, position=position)
    own_mm = YARD_DEFAULT_MM[position] if yard_mm is None else _exact(yard_mm, "A depth")
    if own_mm <= legal.depth_mm:
        return legal
    return TreadLimit(own_mm, f"{own_mm} mm", legal.measured_where, "common practice, no source", "yard")


def judge(*, depth_mm: Number, rule_set: str, position: str, yard_mm: Number | None = None) -> TreadVerdict:
    """How a measured depth stands against the law and the yard's own figure, with both limits.

    depth_mm: the least depth found where the law says to measure. Gauges repeat to about half a millimetre
    (common practice, no source): a reading that close to a limit wants a second one. ValueError as above.
    """
    legal = legal_limit(rule_set=rule_set, position=position)
    withdrawal = withdrawal_limit(rule_set=rule_set, position=position, yard_mm=yard_mm)
    if not legal.is_met_by(depth_mm):
        return TreadVerdict("under_law", legal, withdrawal)
    if not withdrawal.is_met_by(depth_mm):
        return TreadVerdict("under_yard", legal, withdrawal)
    return TreadVerdict("sound", legal, withdrawal)


def out_of_range(*, rule_set: str, gross_mass_kg: Number) -> tuple[str, ...]:
    """Sentences about a vehicle these figures were not published for; empty when they fit. Never an error.

    gross_mass_kg: the cart's gross limit. Source: TY-07 and TY-08, reg 27, VERIFIED-P.
    """
    if rule_set == "uk" and _exact(gross_mass_kg, "A mass") <= 3500:
        return (
            "Up to 3,500 kg gross the UK figure is 1.6 mm over the central three quarters, not the 1.0 mm "
            "used here for heavier vehicles (TY-08).",
        )
    return ()


def _exact(value: Number, what: str) -> Decimal:
    exact = value if isinstance(value, Decimal) else Decimal(str(value))
    if not exact.is_finite():
        raise ValueError(f"{what} has to be a number.")
    if exact < 0:
        raise ValueError(f"{what} can't be below zero.")
    return exact
