"""Frozen dataclasses to plain JSON and back, refusing everything that would not come back the same."""

import datetime
import types
import typing
from dataclasses import Field, field, fields, is_dataclass
from functools import cache
from typing import Any, TypeVar, cast

from people.canonical import Plain

T = TypeVar("T")
LATER = "later"


def to_plain(value: object) -> Plain:
    """Return the plain JSON of a frozen dataclass: its fields by name, tuples as lists."""
    if is_dataclass(value) and not isinstance(value, type):
        told = ((field, getattr(value, field.name)) for field in fields(value))
        return {field.name: to_plain(each) for field, each in told if not _is_silent(field, each)}
    if isinstance(value, tuple | list):
        return [to_plain(item) for item in value]
    if value is None or isinstance(value, bool | int | str):
        return value
    raise ValueError(
        f"A paper holds text, whole numbers, true, false and nothing, not {type(value).__name__}."
    )


def _is_silent(field: Field[Any], value: object) -> bool:
    """A field of `later` that says what it said before it was there: records from then keep their hash."""
    return LATER in field.metadata and value == field.default


def later(default: str | None) -> Any:
    """A field that papers did not have from the first: where it is missing it says `default`, and that is never written."""
    return field(default=default, metadata={LATER: True})


def from_plain(kind: type[T], plain: object) -> T:
    """Return the dataclass `kind` from its plain JSON.

    Every field must be there, save those of `later`, and none besides: a record with a field this version does not know is
    refused, never quietly cut. ValueError names the field.
    """
    return cast(T, _read(kind, plain, kind.__name__))


def check_frozen(value: Any) -> None:
    """Raise ValueError naming the first field whose value is not of its declared type.

    Names carry meaning: `_at` fields are ISO 8601 instants with an offset, `_on` fields are ISO days or months
    (2027-03-31, 2027-03). An empty or missing one is for the declared type to allow.
    """
    for name, hint in _hints(type(value)).items():  # type: ignore[arg-type]  # a class is hashable
        _check(hint, getattr(value, name), f"{type(value).__name__}.{name}")


@cache
def _hints(kind: Any) -> dict[str, Any]:
    hints = typing.get_type_hints(kind)
    return {field.name: hints[field.name] for field in fields(kind)}


def _read(hint: Any, plain: object, where: str) -> object:
    if is_dataclass(hint) and isinstance(hint, type):
        if not isinstance(plain, dict):
            raise ValueError(f"{where} is written as named fields.")
        hints = _hints(hint)
        plain = {one.name: one.default for one in fields(hint) if LATER in one.metadata} | plain
        if stray := sorted(set(plain) ^ set(hints)):
            raise ValueError(f"{where} does not match this version: {', '.join(map(str, stray))}.")
        return hint(**{name: _read(part, plain[name], f"{where}.{name}") for name, part in hints.items()})
    if typing.get_origin(hint) is tuple:
        if not isinstance(plain, list):
            raise ValueError(f"{where} is written as a list.")
        return tuple(_read(_item(hint), item, where) for item in plain)
    if typing.get_origin(hint) is types.UnionType:
        return None if plain is None else _read(_present(hint), plain, where)
    return plain


def _check(hint: Any, value: object, where: str) -> None:
    if typing.get_origin(hint) is types.UnionType:
        if value is not None:
            _check(_present(hint), value, where)
    elif typing.get_origin(hint) is tuple:
        if not isinstance(value, tuple):
            raise ValueError(f"{where} is a tuple.")
        for item in value:
            _check(_item(hint), item, where)
    elif type(value) is not hint:
        raise ValueError(f"{where} is {hint.__name__}, not {type(value).__name__}.")
    elif is_dataclass(hint):
        check_frozen(value)
    elif isinstance(value, str):
        _check_date(value, where)


def _check_date(value: str, where: str) -> None:
    if where.endswith("_at") and not _is_instant(value):
        raise ValueError(f"{where} is an instant with its offset in ISO 8601, not {value!r}.")
    if where.endswith("_on") and not _is_day(value):
        raise ValueError(f"{where} is a day or a month in ISO 8601, not {value!r}.")


def _is_instant(value: str) -> bool:
    try:
        return datetime.datetime.fromisoformat(value).tzinfo is not None
    except ValueError:
        return False


def _is_day(value: str) -> bool:
    try:
        day = datetime.date.fromisoformat(value if len(value) > len("2027-03") else f"{value}-01")
    except ValueError:
        return False
    # The standard library also takes 20270331, which another program may not.
    return day.isoformat().startswith(value)


def _item(hint: Any) -> Any:
    return typing.get_args(hint)[0]


def _present(hint: Any) -> Any:
    return next(part for part in typing.get_args(hint) if part is not types.NoneType)
