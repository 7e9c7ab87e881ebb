"""From frozen content to the unsealed archive file: PDF/A-3a as declared, tagged, its own letters, its record attached.

The same content and pictures give the same bytes: every date comes from the content, nothing from clock or network.
"""

import datetime
import hashlib
import logging
import warnings
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache

import pydyf  # type: ignore[import-untyped]
from django.template.loader import get_template
from weasyprint import CSS, HTML, Attachment, Document
from weasyprint.logger import LOGGER
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import (
    FatalURLFetchingError,
    URLFetcher,
    URLFetcherResponse,
)

from inspections.certificates.content import Paper
from inspections.certificates.present import present
from inspections.certificates.typeface import STATIC, printable
from inspections.certificates.wording import paper_in_words
from people.say import say_page

RECORD_NAME = "record.json"
_BASE = "https://paper.invalid/"
_TYPES = {".css": "text/css", ".svg": "image/svg+xml", ".woff2": "font/woff2"}


class RenderFault(Exception):
    """The page could not be laid out whole: a paper with a hole in it is not issued."""


class _Refused(FatalURLFetchingError):  # type: ignore[misc]  # the library carries no types
    """Stops the library where it would otherwise go on without the thing it asked for."""


class _Fetcher(URLFetcher):  # type: ignore[misc]  # the library carries no types
    """Hands out our own letters and marks and this paper's photos, by exact address, and nothing else in the world."""

    def __init__(self, photos: Mapping[str, bytes]) -> None:
        super().__init__(allowed_protocols=())
        self._photos = photos

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> URLFetcherResponse:
        name = url.removeprefix(_BASE)
        if name in _files():
            body, kind = _files()[name]
            return URLFetcherResponse(url, body, {"Content-Type": kind})
        photo = self._photos.get(name.removeprefix("photo/"))
        if name.startswith("photo/") and photo is not None:
            return URLFetcherResponse(url, photo)
        LOGGER.error("The paper asked for %s, which is not part of it", url)
        raise _Refused(url)


class _Faults(logging.Handler):
    """Gathers what the library only mumbles into its log: a drawing it gave up on, a picture without words."""

    def __init__(self) -> None:
        super().__init__(logging.ERROR)
        self.sentences: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.sentences.append(record.getMessage())


@dataclass(frozen=True)
class _Kit:
    sheets: tuple[CSS, ...]
    letters: FontConfiguration


def render(content: Paper, *, photos: Mapping[str, bytes], lap_svg: str) -> bytes:
    """Return the unsealed PDF of a paper.

    `photos` holds the print-size JPEG or PNG bytes by their SHA-256, one for each photo of the content; `lap_svg` is
    the cart's lap drawing. ValueError for a photo that is missing or whose bytes are not those the content names; RenderFault
    where any part could not be laid out.
    """
    _check_photos(content, photos)
    kit = _kit()
    page = HTML(string=page_html(content, lap_svg=lap_svg), base_url=_BASE, url_fetcher=_Fetcher(photos))
    issued_at = datetime.datetime.fromisoformat(content.issued_at).astimezone(datetime.UTC)
    record = Attachment(
        string=content.canonical(),
        name=RECORD_NAME,
        description=f"The record of {content.number} as canonical JSON",
        created=issued_at,
        modified=issued_at,
        relationship="Source",
    )
    with _watched(content.number):
        pdf: bytes = page.write_pdf(
            stylesheets=list(kit.sheets),
            font_config=kit.letters,
            attachments=[record],
            pdf_variant="pdf/a-3a",
            finisher=_name_record_once,
        )
    return pdf


@dataclass(frozen=True)
class Enclosed:
    """A file that goes inside a page's PDF as it is."""

    name: str
    data: bytes
    what: str
    made_at: datetime.datetime


def render_sheet(html: str, *, name: str, enclosed: Sequence[Enclosed] = ()) -> bytes:
    """Return the PDF of a page that is no sealed paper, in the papers' letters. RenderFault where a part could not be laid out."""
    kit = _kit()
    page = HTML(string=printable(say_page(html)), base_url=_BASE, url_fetcher=_Fetcher({}))
    with _watched(name):
        pdf: bytes = page.write_pdf(
            stylesheets=list(kit.sheets),
            font_config=kit.letters,
            attachments=[
                Attachment(
                    string=one.data,
                    name=one.name,
                    description=one.what,
                    created=one.made_at,
                    modified=one.made_at,
                    relationship="Supplement",
                )
                for one in enclosed
            ],
            pdf_variant="pdf/ua-1",
        )
    return pdf


@contextmanager
def _watched(number: str) -> Iterator[None]:
    faults = _Faults()
    LOGGER.addHandler(faults)
    try:
        with warnings.catch_warnings():
            # The library forgets to close the colour profile it ships.
            warnings.filterwarnings("ignore", "unclosed file .*sRGB2014.icc", ResourceWarning)
            yield
    except _Refused as refusal:
        faults.sentences.append(f"{refusal} was refused")
    finally:
        LOGGER.removeHandler(faults)
    if faults.sentences:
        raise RenderFault(f"{number} could not be laid out whole: {'; '.join(faults.sentences)}.")


def _name_record_once(_document: Document, pdf: pydyf.PDF) -> None:
    # The library lists an attachment twice among the associated files.
    pdf.catalog["AF"] = pydyf.Array(dict.fromkeys(pdf.catalog["AF"]))


def page_html(content: Paper, *, lap_svg: str) -> str:
    """Return the complete HTML that `render` lays out, photos by the addresses only its fetcher knows."""
    urls = {photo.print_sha256: f"{_BASE}photo/{photo.print_sha256}" for photo in content.photos}
    created = (
        f"{datetime.datetime.fromisoformat(content.issued_at).astimezone(datetime.UTC):%Y-%m-%dT%H:%M:%SZ}"
    )
    context = present(content, photo_urls=urls, lap_svg=lap_svg) | {"created": created}
    return printable(paper_in_words(get_template("certificates/document.html").render(context), content))


def _check_photos(content: Paper, photos: Mapping[str, bytes]) -> None:
    for photo in content.photos:
        data = photos.get(photo.print_sha256)
        if data is None:
            raise ValueError(f"The print of photo {photo.number} is missing.")
        if hashlib.sha256(data).hexdigest() != photo.print_sha256:
            raise ValueError(f"The print of photo {photo.number} is not the one the record names.")


@cache
def _kit() -> _Kit:
    # Reading the sheets and letters costs more than a short paper does: once in a process, then shared.
    letters = FontConfiguration()
    fetcher = _Fetcher({})
    sheets = tuple(
        CSS(
            string=(STATIC / name).read_text(encoding="utf-8"),
            base_url=_BASE,
            font_config=letters,
            url_fetcher=fetcher,
        )
        for name in ("print.css", "paper.css")
    )
    return _Kit(sheets=sheets, letters=letters)


@cache
def _files() -> dict[str, tuple[bytes, str]]:
    paths = (path for path in STATIC.rglob("*") if path.suffix in _TYPES)
    return {path.relative_to(STATIC).as_posix(): (path.read_bytes(), _TYPES[path.suffix]) for path in paths}
