"""What was wrong when a cart left on a hire, and what was found since that was not on that record. Reads only."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from fleet.lap.stations import station
from fleet.models.defects import Defect
from hire.back_tyres import tyres_that_left
from hire.charging.back import Finding
from hire.comparing import Look
from hire.models.agreements import Line
from inspections.models import Answer, WalkRound
from inspections.vocabulary import WHEEL_STATIONS
from inspections.wording import where_words
from people.yard import yard_day

OUT, BACK = ("pre_hire", "gate_out"), ("as_returned", "after_wash")
# By their key's beginning: a fault told at the first is a tyre's for sure, at the second a tyre's or a rim's or a nut's.
TYRE_CHECKS, WHEEL_CHECKS = ("tyres-by-eye", "tread"), ("wheels-at-a-glance",)


@dataclass(frozen=True)
class Told:
    """A defect with how it came to be known; again: told anew as it came back."""

    defect: Defect
    where: str
    told: str
    again: bool = False


def next_out(line: Line) -> datetime | None:
    """When its cart left the next time; None: it has not."""
    later = Line.objects.filter(cart=line.cart_id, handed_over_at__gt=line.handed_over_at)
    return later.order_by("handed_over_at").values_list("handed_over_at", flat=True).first()


def _until(line: Line, walks: Mapping[str, WalkRound]) -> datetime | None:
    """Up to when a defect counts as found when it came back: the after-wash check, else the next check for a hire or the next
    time it left; None: nothing of these yet."""
    if washed := walks.get("after_wash"):
        return washed.received_at
    since = line.back_at or line.handed_over_at
    next_check = (
        WalkRound.objects.filter(cart=line.cart_id, purpose="pre_hire", signed_at__gt=since)
        .order_by("signed_at")
        .values_list("signed_at", flat=True)
        .first()
    )
    return min((moment for moment in (next_check, next_out(line)) if moment), default=None)


@dataclass(frozen=True)
class Parted:
    """Defects of a cart that stood as it left, and those told since; keys: the check and place of all of the latter, of what turned
    out to be another one too."""

    stood: Sequence[Defect]
    since: Sequence[Defect]
    keys: Collection[tuple[str, str]]


def part(
    rows: Iterable[Defect], *, left: datetime, until: datetime | None, out_ids: Collection[UUID], back_ids: Collection[UUID],
    signed: Mapping[UUID, datetime],
) -> Parted:  # fmt: skip
    """What stood as it left, and what was told since and before the after-wash check was over. A record that was signed before
    it left and came in later still tells of how it left, and so does what was told of such a record later. signed: when the
    walk-rounds were that told them."""
    stood, since, keys = [], [], set()
    for row in rows:
        stands = row.told_at <= left and (row.closed_at is None or row.closed_at > left)
        told = row.told_at > left and (until is None or row.told_at <= until)
        if not (stands or told or row.source_id in out_ids or row.source_id in back_ids):
            continue
        if signed.get(row.source_id, row.told_at) <= left:
            stood.append(row)
            continue
        keys.add((row.check_key, row.place))
        if row.state != "same_as":
            # What turned out to be another one is decided with that one.
            since.append(row)
    return Parted(stood, since, keys)


def near_defects(left: datetime, told_by: Collection[UUID]) -> Q:
    """Those that may matter to a cart that left then, told by these records or otherwise."""
    return Q(closed_at=None) | Q(closed_at__gt=left) | Q(source_id__in=told_by)


def signed_of(rows: Iterable[Defect]) -> dict[UUID, datetime]:
    """When the walk-rounds were signed that told these. One query."""
    return dict(
        WalkRound.objects.filter(pk__in={row.source_id for row in rows}).values_list("pk", "signed_at")
    )


def defects_of(
    line: Line, walks: Mapping[str, WalkRound], back: Sequence[Look]
) -> tuple[list[Told], list[Told], Collection[tuple[str, str]]]:
    """What was on the record of a cart that left, what was told since, and the keys of all of the latter (Parted)."""
    assert line.handed_over_at is not None
    out_ids = {walks[purpose].pk for purpose in OUT if purpose in walks}
    back_ids = {walks[purpose].pk for purpose in BACK if purpose in walks}
    rows = list(
        Defect.objects.filter(near_defects(line.handed_over_at, out_ids | back_ids), cart=line.cart_id)
        .order_by("told_at")
        .prefetch_related("photos")
    )
    parted = part(
        rows, left=line.handed_over_at, until=_until(line, walks), out_ids=out_ids, back_ids=back_ids, signed=signed_of(rows)
    )  # fmt: skip
    wrong = {(look.key, look.place) for look in back if look.grade}
    on_record = [
        Told(
            row,
            where_of(row),
            _told_words(row, walks),
            bool(row.check_key) and (row.check_key, row.place) in wrong,
        )
        for row in parted.stood
    ]
    new = [Told(row, where_of(row), _told_words(row, walks)) for row in parted.since]
    return on_record, new, parted.keys


def where_of(defect: Defect | Answer) -> str:
    """Where on the cart, as a person says it: "left rear outer", else the station."""
    return where_words(defect.place) if defect.place else station(defect.station).label


def _told_words(defect: Defect, walks: Mapping[str, WalkRound]) -> str:
    of = next((walk for walk in walks.values() if walk.pk == defect.source_id), None)
    when = yard_day(of.signed_at if of else defect.told_at)
    how = f"{of.get_purpose_display()}, " if of else ""
    return f"{how}{when.day} {when:%b %Y}, {defect.told_by_words}"


def findings_of(line: Line, new: Sequence[Told]) -> tuple[Finding, ...]:
    """What is new as facts for a proposal, with the tyres each may be."""
    new = [told for told in new if told.defect.state != "no_fault_found"]
    asks_tyres = any(told.defect.station in WHEEL_STATIONS for told in new)
    tyres = tyres_that_left(line) if asks_tyres else {}
    found = []
    for told in new:
        defect, key = told.defect, told.defect.check_key
        is_tyre = key.startswith(TYRE_CHECKS)
        here = tyres.get(defect.station, ()) if is_tyre or key.startswith(WHEEL_CHECKS) or not key else ()
        at_place = tuple(tyre for tyre in here if tyre.code == defect.place)
        shown = f"{told.told}. Not on the record it left with."
        said = " ".join(filter(None, [defect.words.strip().rstrip(".") + "." if defect.words else "", shown]))
        found.append(
            Finding(
                id=str(defect.pk),
                what=defect.title,
                where=told.where,
                shown=said[:400],
                tyres=at_place or here,
                is_tyre=is_tyre,
            )
        )
    return tuple(found)
