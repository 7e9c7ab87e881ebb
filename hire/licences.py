"""Which driving licence a cart asks for, by its allowed mass and axles. Pure.

Common practice, no source: the law of the place, the licence itself and the site say what may be driven.
"""

from __future__ import annotations

# By rule set: each class with its words, the lightest first.
CLASSES: dict[str, tuple[tuple[str, str], ...]] = {
    "au": (
        ("LR", "LR, light rigid"),
        ("MR", "MR, medium rigid"),
        ("HR", "HR, heavy rigid"),
        ("HC", "HC, heavy combination"),
        ("MC", "MC, multi-combination"),
    ),
    "us": (
        ("D", "D, ordinary"),
        ("B", "B, commercial, heavy single"),
        ("A", "A, commercial, combination"),
    ),
    "uk": (("B", "B, car"), ("C1", "C1, medium"), ("C", "C, large"), ("CE", "C+E, large with trailer")),
}
TWO_AXLES = 2
# The allowed mass above which the class above is asked for. Common practice, no source.
AU_LIGHT_KG, US_ORDINARY_KG, UK_CAR_KG, UK_MEDIUM_KG = 8_000, 11_793, 3_500, 7_500


def licence_needed(*, rule_set: str, gross_kg: int, axles: int) -> str:
    """The least class that drives a cart of this allowed mass (kg) on so many axles. ValueError for an unknown rule set."""
    if rule_set == "au":
        if gross_kg <= AU_LIGHT_KG:
            return "LR"
        return "MR" if axles <= TWO_AXLES else "HR"
    if rule_set == "us":
        return "D" if gross_kg <= US_ORDINARY_KG else "B"
    if rule_set == "uk":
        if gross_kg <= UK_CAR_KG:
            return "B"
        return "C1" if gross_kg <= UK_MEDIUM_KG else "C"
    raise ValueError(f"There is no rule set called {rule_set}.")


def drives(held: str, needed: str, *, rule_set: str) -> bool:
    """Whether a licence of the class held drives what asks for the class needed. A class that is not known drives nothing."""
    order = [code for code, _ in CLASSES[rule_set]]
    return held in order and order.index(held) >= order.index(needed)
