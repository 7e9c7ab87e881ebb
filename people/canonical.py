"""Canonical JSON (RFC 8785) and its SHA-256: the one form in which anything is hashed or signed.

Our data holds only text, whole numbers, booleans, null, lists and objects. Floats are refused: a measured value
travels as text, so that a record's hash never depends on how a number is printed.
"""

import hashlib
from typing import Any, TypeAlias, cast

import rfc8785

Plain: TypeAlias = "bool | int | str | list[Plain] | dict[str, Plain] | None"

# Beyond this a reader that keeps every number as a double would see a neighbouring one.
LARGEST_INTEGER = 2**53 - 1


def _refuse_what_is_not_plain(value: object) -> None:
    if isinstance(value, dict):
        if not all(isinstance(key, str) for key in value):
            raise ValueError("Every key of a record is text.")
        for item in [*value, *value.values()]:
            _refuse_what_is_not_plain(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _refuse_what_is_not_plain(item)
    elif fault := _fault_of(value):
        raise ValueError(fault)


def _fault_of(value: object) -> str:
    """Why a single value cannot stand in a record; "" when it can."""
    if value is not None and not isinstance(value, bool | int | str):
        return f"A record holds text, whole numbers, true, false and null, not {type(value).__name__}."
    if isinstance(value, int) and abs(value) > LARGEST_INTEGER:
        return f"The whole number {value} is too large for every reader of JSON to keep."
    if isinstance(value, str) and any("\ud800" <= letter <= "\udfff" for letter in value):
        return "The record holds half a surrogate pair, which no JSON text can carry."
    return ""


def canonical_json(value: object) -> bytes:
    """The RFC 8785 bytes of a plain value.

    ValueError for a float, a whole number beyond 2**53 - 1, half a surrogate pair, a key that is no text, or any type
    that JSON does not have.
    """
    _refuse_what_is_not_plain(value)
    return rfc8785.dumps(cast("Any", value))


def canonical_text(value: object) -> str:
    """`canonical_json` as text."""
    return canonical_json(value).decode()


def sha256_hex(text: str | bytes) -> str:
    """SHA-256 in lower-case hex; text is hashed as UTF-8."""
    return hashlib.sha256(text.encode() if isinstance(text, str) else text).hexdigest()


def record_hash(value: object) -> str:
    """SHA-256 of a value's canonical bytes, 64 lower-case hex digits."""
    return sha256_hex(canonical_json(value))
