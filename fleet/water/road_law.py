"""The law's limit for an axle group and for the whole cart, in words with its source, by rule set and the plates of the cart."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.water.mass_limits import (
    KG_PER,
    TABLES,
    RuleSet,
    TableLimit,
    au_gross_kg,
    eu_four_axle_kg,
    table_limit,
    us_gross_lb,
    us_group_lb,
)

WHOSE = {"table": "the law's limit", "maker": "the maker's rating", "tyres": "the tyres' rating"}
# In the United States a group of more than two axles goes by its spread.
BY_SPREAD = "spread"
# Metres are turned to a millionth of a foot, so that an exact half of the bridge formula stays one.
FT_M, IN_M = 0.3048, 0.0254
# The sums a source was seen for; every other sum of two groups is our own.
AU_RIGIDS_SEEN = {("steer", "single_dual"), ("steer", "tandem_dual")}
# What the tables leave out, told beside every figure that rests on them.
LAW_NOTES = {
    "au": "General mass limits; permits, notices and bridges change them.",
    "us": "Every group of axles between the outermost ones has to meet the bridge formula too; states and permits change limits.",
    "uk": "A British source was seen for single axles alone; the other rows are the European ones.",
}


@dataclass(frozen=True, slots=True)
class Law:
    """A limit of the law in kg: words as the law has it, row and tag of the trade facts."""

    kg: float
    words: str
    row: str
    tag: str


def group_keys(rule_set: RuleSet) -> dict[str, str]:
    """Keys an axle group may have under a rule set, with words that say the limit: {"steer": "single steer axle, 6 t"}."""
    keys = {
        key: f"{row.words}, {row.value:,g} {row.unit}"
        for key, row in TABLES[rule_set].items()
        if not key.startswith("gross")
    }
    if rule_set == "us":
        keys[BY_SPREAD] = "three axles or more, by the bridge formula over their spread"
    return keys


def gross_keys(rule_set: RuleSet) -> dict[str, str]:
    """Keys of the gross limit where the law has several; none where it follows from the axles."""
    if rule_set in {"au", "us"}:
        return {}
    return {
        key: f"{row.words}, {row.value:,g} {row.unit}"
        for key, row in TABLES[rule_set].items()
        if key.startswith("gross")
    }


def _by_row(row: TableLimit) -> Law:
    return Law(row.kg, f"{row.words}, {row.value:,g} {row.unit}", row.row, row.tag)


def group_law(rule_set: RuleSet, key: str, *, axles: int, spread_m: float) -> Law | None:
    """The law's limit of a group; None for no key. ValueError for an unknown key, or a spread of zero where it counts."""
    if not key:
        return None
    if rule_set == "us" and key == BY_SPREAD:
        pounds = us_group_lb(spread_in=round(spread_m / IN_M, 6), axles=axles)
        words = f"{axles} axles over {spread_m / FT_M:,.1f} ft, {pounds:,} lb"
        return Law(pounds * KG_PER["lb"], words, "AX-04", "VERIFIED-P")
    return _by_row(table_limit(rule_set=rule_set, key=key))


def gross_law(
    rule_set: RuleSet, *, keys: tuple[str, ...], gross_key: str, axles: int, outer_length_m: float | None
) -> Law | None:
    """The law's gross limit; None where what it needs is not on record: the groups' keys, the key of the gross, or the length
    between the outermost axles. ValueError for an unknown key."""
    if rule_set == "au":
        if not all(keys):
            return None
        kg = au_gross_kg(groups=keys)
        source = ("GM-11", "VERIFIED-S") if keys in AU_RIGIDS_SEEN else ("GM-12", "COMPUTED")
        return Law(kg, f"the groups' limits together, {kg / 1000:g} t", *source)
    if rule_set == "us":
        if outer_length_m is None:
            return None
        pounds = us_gross_lb(outer_length_ft=round(outer_length_m / FT_M, 6), axles=axles)
        words = f"{axles} axles over {outer_length_m / FT_M:,.1f} ft, {pounds:,} lb"
        return Law(pounds * KG_PER["lb"], words, "AX-04", "VERIFIED-P")
    if not gross_key:
        return None
    row = table_limit(rule_set=rule_set, key=gross_key)
    if gross_key == "gross_4":
        if outer_length_m is None:
            return None
        return Law(eu_four_axle_kg(outer_length_m=outer_length_m), row.words, row.row, row.tag)
    return _by_row(row)
