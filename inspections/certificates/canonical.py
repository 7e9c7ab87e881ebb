"""Canonical JSON: one spelling of a record in bytes, so that its hash outlives every refactor.

Source: RFC 8785 (JSON Canonicalization Scheme). Our records hold no fractions as numbers (measurements travel as
decimal strings), so the part of that scheme about printing floating-point numbers is never needed: a float is refused.
"""

import hashlib
import json
from typing import TypeAlias

Plain: TypeAlias = "bool | int | str | list[Plain] | dict[str, Plain] | None"

# Beyond this a reader that keeps every number as a double would see a neighbouring integer.
LARGEST_INTEGER = 2**53 - 1


def canonical_json(value: Plain) -> bytes:
    """Return the canonical UTF-8 bytes of a JSON value.

    Keys are sorted by UTF-16 code units, nothing is spaced, only what must be escaped is. ValueError for a float, an
    integer beyond 2**53 - 1, a key that is no string, half a surrogate pair, or any type that JSON does not have.
    """
    text = json.dumps(_checked(value), ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    try:
        return text.encode("utf-8")
    except UnicodeEncodeError as error:
        raise ValueError("The record holds half a surrogate pair, which no JSON text can carry.") from error


def record_hash(value: Plain) -> str:
    """Return the SHA-256 of the canonical bytes, 64 lower-case hex digits."""
    return hashlib.sha256(canonical_json(value)).hexdigest()


def _checked(value: object) -> object:
    if value is None or isinstance(value, bool | str):
        return value
    if isinstance(value, int):
        if abs(value) > LARGEST_INTEGER:
            raise ValueError(f"The whole number {value} is too large for every reader of JSON to keep.")
        return value
    if isinstance(value, list | tuple):
        return [_checked(item) for item in value]
    if isinstance(value, dict):
        return _sorted(value)
    raise ValueError(f"A record holds text, whole numbers, true, false and null, not {type(value).__name__}.")


def _sorted(value: dict[object, object]) -> dict[str, object]:
    keys = [key for key in value if isinstance(key, str)]
    if len(keys) != len(value):
        raise ValueError("Every key of a record is text.")
    # The scheme sorts by UTF-16 code units, which differs from Python's order above U+FFFF.
    keys.sort(key=lambda key: key.encode("utf-16-be", "surrogatepass"))
    return {key: _checked(value[key]) for key in keys}
