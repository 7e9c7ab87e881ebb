"""Canonical JSON (RFC 8785) and its SHA-256: the one form in which anything is hashed or signed.

Our data holds only text, whole numbers, booleans, null, lists and objects. Floats are refused: a measured value
travels as text, so that a record's hash never depends on how a number is printed.
"""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias, cast

import rfc8785

Plain: TypeAlias = "bool | int | str | Sequence[Plain] | Mapping[str, Plain] | None"


def _refuse_floats(value: object) -> None:
    if isinstance(value, float):
        raise TypeError("Canonical records hold no floating-point numbers: write the value as text.")
    if isinstance(value, Mapping):
        for item in value.values():
            _refuse_floats(item)
    elif isinstance(value, list | tuple):
        for item in value:
            _refuse_floats(item)


def canonical_text(value: object) -> str:
    """RFC 8785 text of a plain value. TypeError for a float; ValueError for what JSON cannot carry."""
    _refuse_floats(value)
    return rfc8785.dumps(cast("Any", value)).decode()


def sha256_hex(text: str | bytes) -> str:
    """SHA-256 in lower-case hex; text is hashed as UTF-8."""
    return hashlib.sha256(text.encode() if isinstance(text, str) else text).hexdigest()
