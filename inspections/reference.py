"""What the capture page needs to walk any cart: the carts, their sheets, the wording of every check."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.urls import reverse

from fleet.board import BoardRow, board_rows
from fleet.lap.stations import STATIONS
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.records import record_url
from fleet.sentences import moment_words
from inspections import heads_tests
from inspections.cart_sheets import sheet_for
from inspections.check import Check
from inspections.editions import checks_of_edition, current_edition, gives_lots
from inspections.models import Edition, WalkRound
from inspections.photo_lots import FreshLot, fresh_lot, lot_key
from inspections.querysets import last_pre_start
from inspections.sheet import Sheet
from inspections.vocabulary import GRADES, PASSES, PHRASES, PURPOSES, WHY_NOT
from inspections.walkers import person_of
from people.models import Staff
from people.yard import yard_day, yard_policy

PURPOSE_CONTENT = {
    purpose.key: {"label": purpose.label, "statement": purpose.statement} for purpose in PURPOSES
}


def check_content(check: Check) -> dict[str, object]:
    return {
        "title": check.title,
        "look_for": check.look_for,
        "sound": check.sound,
        "if_not": check.if_not,
        "grade": check.grade,
        "answer": check.answer,
        "unit": check.unit_for(yard_policy().rule_set),
        "choices": [
            {"key": choice.key, "label": choice.label, "grade": choice.grade} for choice in check.choices
        ],
        "station": check.station,
        "pass": check.walk_pass,
        "required": check.required,
        "may_be_absent": check.may_be_absent,
        "photo": check.photo,
    }


def _sheet(sheet: Sheet, lot: FreshLot | None) -> dict[str, object]:
    content: dict[str, object] = {
        "looks": sheet.looks,
        "minutes": sheet.minutes,
        "items": [
            {
                "check": item.check.key,
                "place": item.place,
                "place_label": item.place_label,
                "limit": item.limit.as_content() if item.limit else None,
            }
            for item in sheet.items
        ],
    }
    return content | {"lot": lot} if lot else content


def _defect(defect: Defect, person: Staff, at: datetime) -> dict[str, object]:
    # A defect nobody has looked at is told, and when it was told stands beside it.
    state = "" if defect.state == "reported" else defect.get_state_display().lower()
    who = defect.assigned_to.full_name if defect.assigned_to else ""
    return {
        "id": str(defect.pk),
        "title": defect.title,
        "grade": defect.grade,
        "station": defect.station,
        "place": defect.place,
        "told_words": f"told {moment_words(defect.told_at, at=at)}",
        "state_words": ", ".join(filter(None, (state, who))),
        # Where this person may give its second look; "" when there is none to give, or the repair is theirs.
        "second_look": record_url("defect", defect.pk)
        if defect.state == "repaired" and defect.repaired_by_id != person.pk
        else "",
    }


def purposes_due(row: BoardRow, *, last_pre_start: datetime | None, at: datetime) -> list[str]:
    """What this cart wants walked, most pressing first: a check for its next hire; at work, the pre-start of this shift until
    it is signed."""
    if row.need is None:
        return []
    if row.need.is_out:
        if row.cart.where_kind == "yard":
            return ["as_returned"]
        shift_from = row.need.shift_from
        is_done = shift_from is None or (last_pre_start is not None and last_pre_start >= shift_from)
        return [] if is_done else ["daily"]
    codes = {caution.code for caution in row.answer.cautions} | {
        blocker.code for blocker in row.answer.blockers
    }
    due = [purpose for purpose in ("pre_hire", "gate_out") if f"walk_round.{purpose}" in codes]
    if "gate_out" in due and row.need.window.start - at > timedelta(hours=12):
        due.remove("gate_out")
    return due


def _cart(
    row: BoardRow,
    sheets: dict[str, dict[str, object]],
    defects: Sequence[dict[str, object]],
    last: datetime | None,
    at: datetime,
) -> dict[str, object]:
    need = row.need
    return {
        "id": str(row.cart.pk),
        "fleet_number": row.cart.fleet_number,
        "plate": row.cart.plate,
        "make_model": row.cart.make_model,
        "right_to_go": {"state": row.answer.state, "sentence": row.sentence},
        "leaves_at": need.window.start.isoformat() if need and not need.is_out else None,
        "leaves_words": row.wanted_words,
        "where": row.cart.where_words or row.cart.get_where_kind_display(),
        "hire": {"line": str(need.record_id), "label": need.label} if need else None,
        "defects": list(defects),
        "sheets": sheets,
        "purposes_due": purposes_due(row, last_pre_start=last, at=at),
        "lap": reverse("fleet:lap", args=[row.cart.pk]),
    }


def sheets_of(cart: Cart, edition: Edition, *, purposes: Iterable[str]) -> dict[str, dict[str, object]]:
    """The cart's sheets that ask anything, by purpose, each with a fresh lot where these sheets give one."""
    found, checks, key = {}, checks_of_edition(edition), lot_key()
    for purpose in purposes:
        sheet = sheet_for(cart, purpose=purpose, checks=checks)
        if sheet.items:
            is_drawn = gives_lots(edition, purpose=purpose)
            found[purpose] = _sheet(sheet, fresh_lot(cart.pk, sheet, key=key) if is_drawn else None)
    return found


def reference_for(person: Staff, *, csrf: str, at: datetime) -> dict[str, object]:
    """The reference document for one person, in a number of queries that does not grow with the carts."""
    edition = current_edition()
    checks = checks_of_edition(edition)
    carts = list(Cart.objects.in_fleet(on=yard_day(at)).for_sheets())
    defects: defaultdict[UUID, list[dict[str, object]]] = defaultdict(list)
    for defect in Defect.objects.open().filter(cart__in=carts).worst_first().select_related("assigned_to"):
        defects[defect.cart_id].append(_defect(defect, person, at))
    signed = WalkRound.objects.last_pre_starts(carts=[cart.pk for cart in carts], at=at)
    every, sprays = [purpose.key for purpose in PURPOSES], heads_tests.spray_of(carts)
    rows = []
    for row in board_rows(carts, at=at):
        sheets = sheets_of(row.cart, edition, purposes=every)
        last = last_pre_start(signed, row.cart.pk, row.need.record_id if row.need else None)
        listed = _cart(row, sheets, defects[row.cart.pk], last, at)
        # Null: no heads on record to test.
        rows.append(listed | {"spray": sprays.get(row.cart.pk)})
    about = document(edition, checks, csrf=csrf, at=at)
    asked: dict[str, object] = {**PURPOSE_CONTENT, heads_tests.PURPOSE: heads_tests.what_it_asks()}
    return about | {"purposes": asked, "person": person_of(person), "site": None, "carts": rows}


def document(edition: Edition, checks: Sequence[Check], *, csrf: str, at: datetime) -> dict[str, object]:
    """What a reference document says to everybody: the fixed words, and every check of the issue."""
    return {
        "version": 1,
        "server_time": at.isoformat(),
        "csrf": csrf,
        "rule_set": yard_policy().rule_set,
        "time_zone": settings.YARD_TIME_ZONE,
        "edition": {"number": edition.number, "sha256": edition.sha256},
        "purposes": PURPOSE_CONTENT,
        "grades": [{"key": grade.key, "label": grade.label, "means": grade.means} for grade in GRADES],
        "stations": [{"key": station.key, "label": station.label} for station in STATIONS],
        "passes": [{"number": one.number, "label": one.label, "note": one.note} for one in PASSES],
        "why_not": [{"key": key, "label": label} for key, label in WHY_NOT.items()],
        "phrases": list(PHRASES),
        "checks": {check.key: check_content(check) for check in checks},
    }
