"""The page of what came back, made ready: drawings, values, stations with their pictures side by side, and links to evidence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from django.urls import reverse

from fleet.drawing import lap_svg
from fleet.lap.stations import STATIONS, Station
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from hire.back_again import Again
from hire.back_findings import BACK, OUT, Told
from hire.back_record import METERS, Record
from hire.charging.money import number
from hire.comparing import Look, Pair, change_words, pair_up
from hire.models.agreements import Line
from hire.models.back import BackDecision

WORST = {"do_not_use": 0, "by_date": 1, "watch": 2}
Picture = Mapping[str, str]


@dataclass(frozen=True)
class Side:
    """One side of the lap: the drawing with its pins, and what they are, in the order of their numbers."""

    lap: str
    found: Sequence[Told]


@dataclass(frozen=True)
class Meter:
    """A value out and back, each with its unit; "" where it was not read."""

    label: str
    out: str
    back: str
    change: str

    @property
    def shown(self) -> str:
        return f"{self.out or 'not read'} out, {self.back or 'not read'} back"


@dataclass(frozen=True)
class StationRow:
    """One station: the checks worth showing, and its pictures out and back."""

    station: Station
    pairs: Sequence[Pair]
    out_photos: Sequence[Picture]
    back_photos: Sequence[Picture]


def side_of(cart: Cart, found: Iterable[Told], *, prefix: str) -> Side:
    """The drawing of a cart (loaded for drawing) with these pinned, worst first."""
    ranked = sorted(found, key=lambda told: WORST[told.defect.grade])
    return Side(lap_svg(cart, defects=[told.defect for told in ranked], id_prefix=prefix), ranked)


def meter_rows(record: Record) -> list[Meter]:
    """Fuel, then the meters. The fuel out is the handover's, as it was signed."""
    rows = []
    if record.handover is not None:
        out, read = f"{record.handover.fuel_eighths} of 8", record.facts.fuel_back
        back = f"{number(read)} of 8" if read is not None else ""
        change = change_words(str(record.handover.fuel_eighths), str(read), "of 8") if back else ""
        rows.append(Meter("Fuel", out, back, change))
    rows += [
        Meter(pair.look.title, _value(pair.out), _value(pair.back), pair.change) for pair in _meters(record)
    ]
    return rows


def _meters(record: Record) -> list[Pair]:
    sides = [
        [look for purpose in purposes for look in record.looks.get(purpose, ()) if look.key in METERS]
        for purposes in (OUT, BACK)
    ]
    return sorted(pair_up(*sides), key=lambda pair: METERS.index(pair.look.key))


def _value(look: Look | None) -> str:
    return f"{look.value} {look.unit}".strip() if look else ""


def station_rows(record: Record) -> list[StationRow]:
    """The stations at which anything is worth showing, in lap order: a check, or a picture of how it came back."""
    stops = {stop.station.key: stop.pairs for stop in record.stops}
    out = _pictures(record, OUT, record.on_record)
    for one in record.handover.photos.all() if record.handover else ():
        if one.station:
            shown = picture_of(one.photo, "As it was handed over", "At the handover")
            out[one.station] = [shown, *out.get(one.station, [])]
    back = _pictures(record, BACK, record.new)
    return [
        StationRow(station, stops.get(station.key, ()), out.get(station.key, []), back.get(station.key, []))
        for station in STATIONS
        if station.key in stops or station.key in back
    ]


def _pictures(record: Record, purposes: Sequence[str], told: Iterable[Told]) -> dict[str, list[Picture]]:
    """By station, each picture once: those of the checks, then those of defects told otherwise."""
    found: dict[str, dict[object, Picture]] = {}
    for purpose in purposes:
        for line in record.lines.get(purpose, ()):
            for link, photo in zip(line.answer.photos.all(), line.photos, strict=True):
                caption = ": ".join(filter(None, (line.answer.title, line.said)))
                taken = record.walks[purpose].get_purpose_display()
                here = found.setdefault(line.answer.station, {})
                here.setdefault(link.photo_id, photo | {"caption": caption, "taken": taken})
    for one in told:
        for picture in one.defect.photos.all():
            caption = f"{one.defect.title}: {one.defect.words}" if one.defect.words else one.defect.title
            here = found.setdefault(one.defect.station, {})
            here.setdefault(picture.pk, picture_of(picture, caption, one.told))
    return {station: list(photos.values()) for station, photos in found.items()}


def picture_of(photo: Photo, caption: str, taken: str) -> Picture:
    url = reverse("fleet:photo", args=[photo.pk])
    return {
        "url": f"{url}?size=print", "full_url": url, "alt": f"Photo: {caption}", "caption": caption, "taken": taken,
        "short_hash": photo.original_sha256[:12],
    }  # fmt: skip


def again_pictures(record: Record, again: Again) -> dict[str, list[Picture]]:
    """What was found again: as it came back, the open defect it joined, and its station as it left; each picture once."""
    row = next((row for row in station_rows(record) if row.station.key == again.answer.station), None)
    joined = [
        picture_of(photo, told.defect.title, told.told)
        for told in again.stood
        for photo in told.defect.photos.all()
    ]
    shown = {picture["url"] for picture in joined}
    return {
        "back_photos": [photo | {"taken": again.told} for photo in again.line.photos],
        "joined_photos": joined,
        "out_photos": [each for each in (row.out_photos if row else ()) if each["url"] not in shown],
    }


def gate_pictures(record: Record) -> list[Picture]:
    """The pictures taken at the handover that show no one side."""
    if record.handover is None:
        return []
    return [
        picture_of(one.photo, one.caption or "As it was handed over", "At the handover")
        for one in record.handover.photos.all()
        if not one.station
    ]


def evidence_links(line: Line) -> dict[str, str]:
    """By key of a charge line, where on the page of what came back its evidence stands."""
    page = reverse("hire:out_and_back", args=[line.pk])
    rows = BackDecision.objects.filter(line=line, beside__isnull=False).values_list("beside", "thing")
    return {f"beside {beside}": f"{page}#found-{thing.split(' ')[0]}" for beside, thing in rows}


def compared_table(record: Record) -> Iterator[tuple[object, ...]]:
    """The comparison as it goes into a file: meters first, then station by station."""
    for meter in meter_rows(record):
        yield "Cab", meter.label, "", "", meter.out, "", meter.back, meter.change, False
    for row in record.stops:
        for pair in row.pairs:
            out, back = pair.out, pair.back
            yield (
                row.station.label, pair.look.title, pair.look.where, out.answer_words if out else "", _value(out),
                back.answer_words if back else "", _value(back), pair.change, pair.is_new,
            )  # fmt: skip
