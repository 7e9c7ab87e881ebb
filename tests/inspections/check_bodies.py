"""The plain form of an invented check, for tests to bend."""

from typing import Any

from inspections.check import Check
from inspections.library import checks_of

BODY: dict[str, Any] = {
    "key": "bucket",
    "station": "rear",
    "title": "Bucket",
    "look_for": "The bucket on its hook.",
    "sound": "There, no hole.",
    "if_not": "Fetch one before it goes.",
    "grade": "watch",
    "pass": 1,
    "minutes": "0.2",
    "asked": ["daily"],
    "system": "general",
    "basis": "common practice, no source",
}


def one(body: dict[str, Any]) -> Check:
    (check,) = checks_of(body)
    return check
