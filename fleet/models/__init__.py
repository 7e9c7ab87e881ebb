"""Django finds an app's tables through this module, so it names the files that hold them."""

from fleet.models import (
    carts,
    defects,
    equipment,
    evenness,
    permits,
    photos,
    spraying,
    standing,
    water,
    weights,
    wheels,
    yards,
)

__all__ = [
    "carts",
    "defects",
    "equipment",
    "evenness",
    "permits",
    "photos",
    "spraying",
    "standing",
    "water",
    "weights",
    "wheels",
    "yards",
]
