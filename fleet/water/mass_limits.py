"""Published axle and gross limits by rule set, and the least of law, maker and tyres.

Each limit keeps the law's own unit; kg are for reckoning. These are a floor for a first look: permits, notices, states, roads and
bridges change them, so read the road's own law. A row known from memory alone is not here (GM-02, the complying steer
axle of 6.5 t). docs/loading.md lists every row with its source and tag.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, get_args

from fleet.water.loading import bridge_formula_lb
from fleet.water.measured import Number, above_zero, whole

RuleSet = Literal["au", "us", "eu", "uk"]
KG_PER = {"t": 1000.0, "lb": 0.45359237}
EU_T_PER_M = 5.0
US_GROSS_LB = 80_000


@dataclass(frozen=True, slots=True)
class TableLimit:
    """One row: `key` within its rule set, the limit in the law's own unit ("t" or "lb"), row id and tag of trade facts."""

    key: str
    words: str
    value: float
    unit: str
    row: str
    tag: str

    @property
    def kg(self) -> float:
        return self.value * KG_PER[self.unit]


@dataclass(frozen=True, slots=True)
class LeastLimit:
    """The limit that counts, in kg, whose it is ("table" | "maker" | "tyres"; ties in that order), and which are not known."""

    kg: float
    governed_by: str
    unknown: tuple[str, ...]

    @property
    def caution(self) -> str:
        """A sentence where a limit that might be less is not known; "" where all are."""
        if not self.unknown:
            return ""
        words = {"table": "the law's limit", "maker": "the maker's rating", "tyres": "the tyres' rating"}
        return f"Not known: {' and '.join(words[each] for each in self.unknown)}. It may be less than this."


def _rows(unit: str, tag: str, rows: tuple[tuple[str, str, float, str], ...]) -> dict[str, TableLimit]:
    return {key: TableLimit(key, words, value, unit, row, tag) for key, words, value, row in rows}


_AU = _rows(
    "t",
    "VERIFIED-S",
    (
        ("steer", "single steer axle", 6.0, "GM-01"),
        ("twin_steer", "twin steer, not load-sharing", 10.0, "GM-03"),
        ("twin_steer_sharing", "twin steer, load-sharing", 11.0, "GM-03"),
        ("single_under_375", "single axle, single tyres under 375 mm", 6.0, "GM-04"),
        ("single_375", "single axle, single tyres of 375 to 449 mm", 6.7, "GM-04"),
        ("single_450", "single axle, single tyres of 450 mm or more", 7.0, "GM-04"),
        ("single_dual", "single axle, dual tyres", 9.0, "GM-05"),
        ("tandem_under_375", "tandem, single tyres under 375 mm", 11.0, "GM-06"),
        ("tandem_375", "tandem, single tyres of 375 to 449 mm", 13.3, "GM-06"),
        ("tandem_450", "tandem, single tyres of 450 mm or more", 14.0, "GM-06"),
        ("tandem_six", "tandem, six tyres: one axle dual, one single", 13.0, "GM-07"),
        ("tandem_dual", "tandem, dual tyres", 16.5, "GM-08"),
        ("tri_under_375", "tri-axle, single tyres under 375 mm", 15.0, "GM-09"),
        ("tri_dual", "tri-axle, dual or wide single tyres", 20.0, "GM-09"),
    ),
)
_US = _rows(
    "lb",
    "VERIFIED-P",
    (
        ("single", "single axle, or axles up to 40 in apart", 20_000, "AX-01"),
        ("tandem", "tandem, over 40 and up to 96 in apart", 34_000, "AX-02"),
        ("gross", "gross on the Interstate", US_GROSS_LB, "AX-03"),
    ),
)
_EU = _rows(
    "t",
    "VERIFIED-S",
    (
        ("undriven", "axle that is not driven", 10.0, "EU-01"),
        ("driven", "driven axle", 11.5, "EU-01"),
        ("gross_2", "two-axle motor vehicle", 18.0, "EU-02"),
        ("gross_3", "three-axle motor vehicle", 25.0, "EU-02"),
        ("gross_3_air", "three-axle, twin tyres and air or like suspension", 26.0, "EU-02"),
        ("gross_4", "four-axle rigid, and 5 t a metre between its outermost axles", 32.0, "EU-03"),
        ("tandem_under_1_0", "motor tandem, under 1.0 m apart", 11.5, "EU-04"),
        ("tandem_1_0", "motor tandem, 1.0 to under 1.3 m apart", 16.0, "EU-04"),
        ("tandem_1_3", "motor tandem, 1.3 to under 1.8 m apart", 18.0, "EU-04"),
        ("tandem_1_3_conditions", "motor tandem, 1.3 to under 1.8 m apart, with conditions", 19.0, "EU-04"),
    ),
)
# A British source was seen for EU-01 alone; the other rows are the European ones and the page says so.
TABLES: dict[RuleSet, dict[str, TableLimit]] = {"au": _AU, "us": _US, "eu": _EU, "uk": _EU}


def table_limit(*, rule_set: RuleSet, key: str) -> TableLimit:
    """The published row of a rule set. ValueError for a rule set or key that isn't there."""
    if rule_set not in get_args(RuleSet):
        raise ValueError(f"No mass limits are kept for “{rule_set}”.")
    if key not in TABLES[rule_set]:
        raise ValueError(f"The mass limits of “{rule_set}” have no row “{key}”.")
    return TABLES[rule_set][key]


def least_limit(
    *, table_kg: Number | None = None, maker_kg: Number | None = None, tyres_kg: Number | None = None
) -> LeastLimit:
    """The least of the law's table, the maker's rating and what the tyres may carry, all kg, for an axle group or for the
    gross (GM-13, VERIFIED-P). None: not known, and said so. ValueError with none known, or one of zero or less.
    """
    given = {"table": table_kg, "maker": maker_kg, "tyres": tyres_kg}
    known = {whose: above_zero(kg, "A limit") for whose, kg in given.items() if kg is not None}
    if not known:
        raise ValueError("No limit is known: neither the law's, the maker's nor the tyres'.")
    whose = min(known, key=lambda each: known[each])
    return LeastLimit(known[whose], whose, tuple(each for each in given if each not in known))


def tyres_kg(*, load_kg_per_tyre: Number, tyres: int) -> float:
    """What the tyres of a group may carry: the maker's figure for one tyre as fitted (single or dual, at its cold
    pressure) times how many. ValueError for zero or less, or tyres that are not whole. Common practice, no source."""
    whole(tyres, 1, "A group has at least one tyre, and whole ones.")
    return above_zero(load_kg_per_tyre, "The load a tyre may carry") * tyres


def au_gross_kg(*, groups: tuple[str, ...]) -> float:
    """The kg a rigid cart may weigh in Australia: its groups' limits together (GM-11 VERIFIED-S, GM-12 COMPUTED), keys of the "au"
    table. ValueError for no groups or an unknown one."""
    if not groups:
        raise ValueError("The gross limit wants the cart's axle groups.")
    return sum(table_limit(rule_set="au", key=key).kg for key in groups)


def us_gross_lb(*, outer_length_ft: Number, axles: int) -> int:
    """The lb a cart may weigh on the Interstate: the bridge formula over all its axles, never over 80,000 (AX-03, AX-04).

    Every group of axles between has to meet the formula too, and single and tandem axles their own limits first. The printed
    table goes by whole feet: a part of a foot is left out, the safe side (common practice, no source). ValueError as
    `bridge_formula_lb`.
    """
    feet = above_zero(outer_length_ft, "The length between the outer axles")
    return min(US_GROSS_LB, bridge_formula_lb(length_ft=max(math.floor(feet), 1), axles=axles))


def us_group_lb(*, spread_in: Number, axles: int) -> int:
    """The lb on a group of axles, spread_in inches between its outer ones: one axle up to 40 in, a tandem up to 96 in, beyond that
    the bridge formula; the caps come first (AX-01, AX-02, AX-04; 5 to 8 ft held at the tandem cap from memory alone).

    ValueError for no whole axle, or a spread below zero.
    """
    whole(axles, 1, "A group has at least one axle, and whole ones.")
    if axles == 1 or above_zero(spread_in, "The spread of the axles") <= 40:
        return int(_US["single"].value)
    if float(spread_in) <= 96:
        return int(_US["tandem"].value)
    formula = bridge_formula_lb(length_ft=float(spread_in) / 12, axles=axles)
    return min(formula, axles * int(_US["single"].value), US_GROSS_LB)


def eu_four_axle_kg(*, outer_length_m: Number) -> float:
    """The kg a four-axle rigid may weigh: 32 t, and no more than 5 t a metre between outermost axles (EU-03, VERIFIED-S)."""
    by_length = above_zero(outer_length_m, "The length between the outermost axles") * EU_T_PER_M
    return min(_EU["gross_4"].kg, by_length * 1000)
