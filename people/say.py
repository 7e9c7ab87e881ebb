"""Putting the yard's words into what leaves the house, by its rule set (people.words). For "au" nothing of this runs.

Whatever was read from the database or sent in by somebody is *typed*: it is never changed. What is shown is put into the yard's
words at its edge (`say` and its kin), and a sentence of ours that is kept is put into them before it is kept. So a text is
either ours, and in the yard's words, or somebody's, and as they gave it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import partial
from typing import Any, TypeVar

from django.apps import apps
from django.conf import settings
from django.db.models import CharField, JSONField, TextField
from django.utils.safestring import SafeString, mark_safe

from people.page_words import page_in_words
from people.words import Typed, Wording, in_words, wording
from people.yard import yard_policy

T = TypeVar("T")
_typed: ContextVar[Typed | None] = ContextVar("typed", default=None)
# Fields that hold what the house itself wrote, word for word: "app.Model.field".
_ours: set[str] = set()
# Apps whose rows are not text for people.
NO_TEXT = frozenset({"contenttypes", "auth", "sessions", "outbox"})
# A worker outside any piece of work forgets what it has read now and then.
MOST_TYPED = 5_000


def yard_words() -> Wording:
    """The words of this yard's rule set; false where they are those of the house."""
    return wording(yard_policy().rule_set)


def typed_here() -> Typed:
    """What was typed, of all that this request or piece of work has read."""
    typed = _typed.get()
    if typed is None or len(typed) > MOST_TYPED:
        typed = _fresh(yard_words())
        _typed.set(typed)
    return typed


def _fresh(words: Wording) -> Typed:
    typed = Typed(words)
    # The yard's own name is a name.
    for name in (settings.YARD_NAME, settings.YARD_ADDRESS, settings.YARD_CONTACT):
        typed.add(name)
    return typed


@contextmanager
def reading() -> Iterator[None]:
    """One request or piece of work: what was read before it does not count in it."""
    if not yard_words():
        yield
        return
    mark = _typed.set(_fresh(yard_words()))
    try:
        yield
    finally:
        _typed.reset(mark)


def typed(value: T) -> T:
    """The value, its texts remembered as typed: text, or plain lists and mappings of it."""
    if yard_words():
        _note(value, typed_here())
    return value


def _note(value: object, here: Typed) -> None:
    if isinstance(value, str):
        here.add(value)
    elif isinstance(value, dict):
        for each in value.values():
            _note(each, here)
    elif isinstance(value, list | tuple):
        for each in value:
            _note(each, here)


def say(text: str, *, most: int | None = None) -> str:
    """A sentence in the yard's words; markup (a safe string) as a fragment of a page. most: so many letters the field holds in
    which it will be kept; what grew beyond them is cut."""
    words = yard_words()
    if not words:
        return text
    if isinstance(text, SafeString):
        return mark_safe(page_in_words(text, words, typed_here()))  # noqa: S308 - words of our table alone are put in
    said = in_words(text, words, typed_here())
    return said if most is None or said == text else said[:most]


def say_page(page: str) -> str:
    """A page or a fragment of one in the yard's words."""
    words = yard_words()
    return page_in_words(page, words, typed_here()) if words else page


def say_all(plain: Any, *, but: Collection[str] = ()) -> Any:
    """Plain lists and mappings with each text in the yard's words; what stands under a name of `but` as it is."""
    words = yard_words()
    if not words:
        return plain
    here, said = typed_here(), dict[str, str]()

    def put(value: Any) -> Any:
        if isinstance(value, str):
            if value not in said:
                said[value] = in_words(value, words, here)
            return said[value]
        if isinstance(value, dict):
            return {key: each if key in but else put(each) for key, each in value.items()}
        if isinstance(value, list | tuple):
            return type(value)(put(each) for each in value)
        return value

    return put(plain)


def ours(*names: str) -> None:
    """Say, from AppConfig.ready(), which fields hold what the house itself wrote ("inspections.Edition.content"): their
    texts are put into the yard's words when they are shown, as those of a template are."""
    _ours.update(names)
    for name in names:
        label, _, field = name.rpartition(".")
        vars(apps.get_model(label)._meta.get_field(field)).pop("from_db_value", None)


def heed_fields() -> None:
    """Remember as typed whatever is read from a field of text, in every model. Once, when the house starts with other words."""
    for model in apps.get_models():
        if model._meta.app_label in NO_TEXT:
            continue
        for field in model._meta.local_concrete_fields:
            if f"{model._meta.label}.{field.name}" in _ours or getattr(field, "choices", None):
                continue
            if isinstance(field, JSONField):
                vars(field)["from_db_value"] = _heeding_json(field)
            elif isinstance(field, CharField | TextField):
                vars(field)["from_db_value"] = _heeding


def let_fields_be() -> None:
    """Undo `heed_fields`."""
    for model in apps.get_models():
        for field in model._meta.local_concrete_fields:
            vars(field).pop("from_db_value", None)


def _heeding(value: Any, _expression: object, _connection: object) -> Any:
    if isinstance(value, str) and yard_words().is_in(value):
        # A record kept as text: what was said stands in its parts.
        if value[:1] in ("{", "["):
            try:
                return typed(json.loads(value)) and value
            except ValueError:
                pass
        typed(value)
    return value


def _heeding_json(field: JSONField[Any, Any]) -> Callable[..., Any]:
    read = partial(JSONField.from_db_value, field)

    def heeding(*given: Any) -> Any:
        return typed(read(*given))

    return heeding
