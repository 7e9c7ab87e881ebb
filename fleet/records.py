"""Where the record behind a finding has its page: kinds are told by the app that owns them, so lower code can link up."""

from uuid import UUID

from django.urls import reverse

_pages: dict[str, str] = {}


def register_record(kind: str, url_name: str) -> None:
    """The URL name takes one argument, the record's id. ValueError when the kind already has another page."""
    if _pages.get(kind, url_name) != url_name:
        raise ValueError(f"Records of kind {kind!r} already have a page.")
    _pages[kind] = url_name


def find_record_url(kind: str, record_id: UUID) -> str | None:
    """The page of a record, or None when its kind has none."""
    return record_url(kind, record_id) if kind in _pages else None


def record_url(kind: str, record_id: UUID) -> str:
    return reverse(_pages[kind], args=[record_id])
