"""Walk-rounds as a tablet signs them: the cart's real sheet answered whole, with whatever a test wants answered otherwise."""

from __future__ import annotations

import copy
import uuid
from collections.abc import Iterable, Mapping
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

from fleet.models.carts import Cart
from inspections.actions import sign_walk_round
from inspections.cart_sheets import sheet_for
from inspections.derived import meter_of
from inspections.editions import checks_of_edition, publish_edition
from inspections.limits import Limit, decimal_text
from inspections.manifest import read_manifest
from inspections.models import Edition, WalkRound
from inspections.sheet import Item, Sheet
from inspections.vocabulary import PURPOSES
from inspections.walkers import Walker
from people.models import Staff
from people.yard import yard_policy

LOADED_AT = datetime(2026, 1, 2, 0, 0, tzinfo=UTC)
STROKES = [[[12, 40, 0], [60, 22, 90], [110, 48, 190]]]
# What a meter shows on a day rises with the days, so that walk-rounds in their order always fit.
DAILY_RISE = {"engine_hours": (8000, 5), "pump_hours": (3000, 2), "km": (120_000, 80)}


def edition() -> Edition:
    """The newest issue of the check sheets; the library as it comes, when none is published."""
    newest = Edition.objects.order_by("-number").first()
    return newest or publish_edition(why="The library as it comes", by=None, at=LOADED_AT)


def sheet(cart: Cart, purpose: str) -> Sheet:
    whole = Cart.objects.for_sheets().get(pk=cart.pk)
    return sheet_for(whole, purpose=purpose, checks=checks_of_edition(edition()))


def meter_value(kind: str, at: datetime) -> str:
    base, rise = DAILY_RISE[kind]
    return f"{base + rise * (at - LOADED_AT).days}.0"


def sound_value(limit: Limit) -> str:
    """A value well inside a limit; for a bare minimum 5 above it, since a sound tyre has more than it must."""
    if limit.op == "between":
        return decimal_text((limit.value + (limit.high or limit.value)) / 2)
    return decimal_text(limit.value + {">=": 5, ">": 5, "<=": 0, "<": Decimal(-1)}[limit.op])


def sound_answer(item: Item, number: int, at: datetime) -> dict[str, Any]:
    """One look answered as a sound cart would have it."""
    check, answer = item.check, {"value": None, "unit": None, "choice": None}
    if check.answer == "measure":
        meter = meter_of(check)
        value = meter_value(meter, at) if meter else sound_value(item.limit) if item.limit else "7"
        answer |= {"value": value, "unit": check.unit_for(yard_policy().rule_set)}
    elif check.answer == "date":
        answer |= {"value": "2027-03"}
    elif check.answer == "choice":
        answer |= {"choice": next(choice.key for choice in check.choices if choice.grade is None)}
    return answer | {
        "n": number, "check": check.key, "place": item.place, "answer": "good", "grade": None, "words": "", "why": None,
        "photos": [], "at": (at - timedelta(minutes=10)).isoformat(),
    }  # fmt: skip


def manifest(
    cart: Cart,
    purpose: str = "daily",
    *,
    at: datetime,
    answers: Mapping[str | tuple[str, str], Mapping[str, Any]] | None = None,
    leave_out: Iterable[str] = (),
    typed: bool = False,
    **changed: Any,
) -> dict[str, Any]:
    """The JSON body a tablet would PUT for this cart, signed at `at`.

    answers: what is answered otherwise, by check key or (check key, place); leave_out: check keys not answered at
    all; changed: members of the body to set instead. KeyError when an override names what the sheet does not ask.
    """
    issue, items = (
        edition(),
        [item for item in sheet(cart, purpose).items if item.check.key not in set(leave_out)],
    )
    given = [sound_answer(item, number, at) for number, item in enumerate(items, start=1)]
    for key, change in (answers or {}).items():
        wanted = [one for one in given if key in (one["check"], (one["check"], one["place"]))]
        if not wanted:
            raise KeyError(key)
        for one in wanted:
            one.update(change)
    statement = next(one.statement for one in PURPOSES if one.key == purpose)
    return {
        "version": 1,
        "id": str(uuid.uuid4()),
        "cart": str(cart.pk),
        "purpose": purpose,
        "edition": {"number": issue.number, "sha256": issue.sha256},
        "rule_set": yard_policy().rule_set,
        "started_at": (at - timedelta(minutes=25)).isoformat(),
        "signed_at": at.isoformat(),
        "device": {"id": "tablet-3", "time_zone": "Australia/Adelaide", "offset_ms": 0},
        "answers": given,
        "signature": {
            "kind": "typed" if typed else "drawn",
            "name": "Marg Pengilly",
            "statement": statement,
            "strokes": [] if typed else copy.deepcopy(STROKES),
        },
    } | changed


def signed_by(person: Staff) -> dict[str, Any]:
    """The members of a record that names who signed it, for `manifest` and `sign`."""
    return {"version": 2, "author": {"id": str(person.pk), "name": person.full_name}}


def sign(cart: Cart, purpose: str, *, by: Walker, at: datetime, **options: Any) -> WalkRound:
    """Sign a walk-round of the cart by the real action, received the moment it was signed."""
    walk, _ = sign_walk_round(manifest=read_manifest(manifest(cart, purpose, at=at, **options)), by=by, at=at)
    return walk
