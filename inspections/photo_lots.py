"""Drawing a lot for the tablet's list, and working out from a signed record which looks its lot fell on."""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, TypedDict
from uuid import UUID

from django.conf import settings

from fleet.lap.stations import station
from inspections.check import Check
from inspections.editions import checks_of_edition, gives_lots
from inspections.lot import Candidate, pick
from inspections.models import WalkRound
from inspections.sheet import Sheet
from inspections.walk_facts import PhotoLot, PickedLook
from inspections.wording import where_words

LOT_BYTES = 16


class FreshLot(TypedDict):
    """A lot as the list carries it: picks are pairs of check and place."""

    id: str
    picks: list[list[str]]


def lot_key() -> bytes:
    """The key of the draw: of its own, so that nothing else made with the yard's secret gives it away."""
    return hmac.digest(
        settings.SECRET_KEY.encode(), b"inspections: which looks are photographed", hashlib.sha256
    )


def _candidate(check: Check, place: str) -> Candidate:
    return Candidate(check.key, place, check.station, check.walk_pass, check.photo, check.may_be_absent)


def fresh_lot(cart: UUID, sheet: Sheet, *, key: bytes) -> FreshLot | None:
    """A lot for the next walk-round on this sheet. None where nothing can be photographed."""
    lot = secrets.token_hex(LOT_BYTES)
    looks = [_candidate(item.check, item.place) for item in sheet.items]
    picks = [[look.check, look.place] for look in pick(lot, cart=str(cart), looks=looks, key=key)]
    return FreshLot(id=lot, picks=picks) if picks else None


def picked_looks(walks: Sequence[WalkRound]) -> dict[UUID, PhotoLot]:
    """What the lot of each walk-round (edition read) asked for, worked out from its signed record alone. One query.

    Nothing for a sheet that gives no lots, and nothing for a record of version 1, from before there were any.
    """
    given = {walk.pk: walk for walk in walks if gives_lots(walk.edition, purpose=walk.purpose)}
    if not given:
        return {}
    key, found = lot_key(), {}
    for pk, text in WalkRound.objects.filter(pk__in=list(given)).values_list("pk", "manifest"):
        record = json.loads(text)
        if record["version"] > 1:
            found[pk] = _lot_of(record, checks_of_edition(given[pk].edition), key)
    return found


def _lot_of(record: Mapping[str, Any], checks: Iterable[Check], key: bytes) -> PhotoLot:
    known = {check.key: check for check in checks}
    answers = {(one["check"], one["place"]): one for one in record["answers"] if one["check"] in known}
    looks = [_candidate(known[check], place) for check, place in answers]
    # The cart as the list wrote it, however the record spells its id.
    picks = pick(record.get("lot") or "", cart=str(UUID(record["cart"])), looks=looks, key=key)
    return PhotoLot(
        is_named=bool(record.get("lot")),
        picked=tuple(_picked(known[look.check], answers[look.check, look.place]) for look in picks),
    )


def _picked(check: Check, given: Mapping[str, Any]) -> PickedLook:
    place = where_words(given["place"]) if given["place"] else ""
    return PickedLook(
        title=check.title,
        where=", ".join(filter(None, (station(check.station).label, place))),
        answer=given["answer"],
        words=given.get("words") or "",
        has_photo=bool(given["photos"]),
    )
