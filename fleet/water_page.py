"""What is on record of a cart's tank as its pages show it: fills, what hires told and sanitisings in one list, newest first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db.models import QuerySet

from fleet.models.carts import Cart
from fleet.models.water import Sanitising, WaterCarried
from fleet.records import record_url
from fleet.water.history import AFTER, MAY, NEVER, Standing
from fleet.water_standing import CAUTION, standings
from fleet.water_told import Told, told_of
from people.templatetags.screen import day_year

LATEST = 5
VERDICTS = {
    MAY: ("safe", "May carry drinking water"),
    AFTER: ("caution", "Drinking water only after sanitising"),
    NEVER: ("stop", "Not for drinking water"),
}


@dataclass(frozen=True)
class WaterLine:
    """A fill, what a hire told, or a sanitising. `details` are ready sentences; `wants_test`: a sanitising whose test is not on
    record; `url`: the page of the hire that told it."""

    row: WaterCarried | Sanitising | Told
    at: datetime
    what: str
    details: tuple[str, ...]
    is_fill: bool
    wants_test: bool = False
    url: str = ""


def _number(value: Decimal) -> str:
    return f"{value.normalize():f}"


def _fill(row: WaterCarried) -> WaterLine:
    permit = f" Licence or standpipe {row.permit_words}." if row.permit_words else ""
    return WaterLine(
        row, row.filled_at, row.get_source_display(), (f"{row.place_words}.{permit}",), is_fill=True
    )


def _told(row: Told) -> WaterLine:
    words = f"{row.words[:1].upper()}{row.words[1:]}."
    return WaterLine(
        row, row.at, row.what, (words, *row.places), is_fill=False,
        url=record_url(row.record.kind, row.record.id),
    )  # fmt: skip


def _sanitising(row: Sanitising) -> WaterLine:
    dose = f" at {_number(row.dose_mg_l)} mg/L" if row.dose_mg_l is not None else ""
    residual = f" Residual {_number(row.residual_mg_l)} mg/L." if row.residual_mg_l is not None else ""
    how = f"{row.how.rstrip('.')}. {row.product}{dose}, {row.minutes} min."
    rinsed = f"Rinsed: {row.rinse.rstrip('.')}.{residual} By {row.by_words}."
    test = "No test of its water is on record."
    if row.tested_at is not None:
        result = "passed" if row.test_passed else "failed"
        test = f"Test {result}, sample of {day_year(row.tested_at)}: {row.test_words.rstrip('.')}."
    return WaterLine(
        row,
        row.done_at,
        "Sanitised",
        (how, rinsed, test),
        is_fill=False,
        wants_test=row.tested_at is None and row.struck_at is None,
    )


def _fills(cart: Cart) -> QuerySet[WaterCarried]:
    return WaterCarried.objects.filter(cart=cart).select_related("recorded_by", "struck_by")


def _sanitisings(cart: Cart) -> QuerySet[Sanitising]:
    return Sanitising.objects.filter(cart=cart).select_related("recorded_by", "struck_by", "test_recorded_by")


def _merged(
    fills: Iterable[WaterCarried], sanitisings: Iterable[Sanitising], told: Iterable[Told]
) -> list[WaterLine]:
    lines = [*map(_fill, fills), *map(_told, told), *map(_sanitising, sanitisings)]
    return sorted(lines, key=lambda line: (line.at, getattr(line.row, "recorded_at", line.at)), reverse=True)


def _hires(cart: Cart) -> Sequence[Told]:
    return told_of([cart], whole=True).get(cart.pk, ())


def places_of(cart: Cart) -> list[tuple[UUID | Told, datetime]]:
    """Id and moment of all that is on record of a tank, newest first, so that one page of it can be cut. What hires told has no
    row of its own: it stands for itself."""
    fills = WaterCarried.objects.filter(cart=cart).order_by().values_list("pk", "filled_at")
    others = Sanitising.objects.filter(cart=cart).order_by().values_list("pk", "done_at")
    places: list[tuple[UUID | Told, datetime]] = [*fills, *others, *((one, one.at) for one in _hires(cart))]
    return sorted(places, key=lambda place: place[1], reverse=True)


def lines_at(cart: Cart, places: Iterable[tuple[UUID | Told, datetime]]) -> list[WaterLine]:
    """The lines of a page of places_of, in two queries."""
    keys = [key for key, _ in places]
    ids, told = [one for one in keys if isinstance(one, UUID)], [one for one in keys if isinstance(one, Told)]
    return _merged(_fills(cart).filter(pk__in=ids), _sanitisings(cart).filter(pk__in=ids), told)


def shown(standing: Standing) -> Mapping[str, object]:
    """How a verdict is drawn. Where nothing on record decided, it is a thing to look at, not a stop."""
    shape, words = VERDICTS[standing.verdict]
    is_open = standing.verdict == NEVER and not standing.rests_on
    return {
        "shape": "watch" if is_open else shape,
        "verdict": words,
        "sentence": standing.sentence,
        "clear_words": standing.clear_words,
        "caution": CAUTION,
    }


def panel(cart: Cart, at: datetime) -> Mapping[str, object]:
    """The last few lines of a tank and how it stands. Eight queries."""
    told = told_of([cart], whole=True)
    lines = _merged(
        _fills(cart).filter(filled_at__lte=at)[:LATEST],
        _sanitisings(cart).filter(done_at__lte=at)[:LATEST],
        told.get(cart.pk, ()),
    )
    return {"lines": lines[:LATEST], **shown(standings([cart], told=told)[cart.pk])}


WATER_HEAD = (
    "When", "What", "Where", "Licence or standpipe", "How cleaned", "Product", "Dose mg/L", "Minutes", "Rinse",
    "Residual mg/L", "Done by", "Sample taken", "Test passed", "Test", "Recorded", "Recorded by", "Struck out",
    "Struck out by", "Why struck out",
)  # fmt: skip


def water_table(cart: Cart) -> Iterator[Sequence[object]]:
    """All that is on record of a tank under WATER_HEAD, for a file."""
    for line in _merged(_fills(cart), _sanitisings(cart), _hires(cart)):
        row = line.row
        where: tuple[object, ...] = ("", "")
        done: tuple[object, ...] = ("",) * 10
        if isinstance(row, Told):
            yield line.at, line.what, " ".join(line.details), "", *done, *("",) * 5
            continue
        if isinstance(row, WaterCarried):
            where = row.place_words, row.permit_words
        else:
            done = (
                row.how, row.product, row.dose_mg_l, row.minutes, row.rinse, row.residual_mg_l, row.by_words,
                row.tested_at, row.test_passed, row.test_words,
            )  # fmt: skip
        struck = row.struck_at, row.struck_by.full_name if row.struck_by else None, row.struck_words
        yield line.at, line.what, *where, *done, row.recorded_at, row.recorded_by.full_name, *struck
