"""Walking a cart of the demo: a manifest as the tablet would send it, signed through the real action."""

from __future__ import annotations

import json
import random
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal

from config.demo.pictures import photo
from fleet.actions.photos import keep_photo
from fleet.models.carts import Cart
from inspections.actions import sign_walk_round
from inspections.cart_sheets import sheet_for
from inspections.check import Check
from inspections.derived import meter_of
from inspections.editions import checks_of_edition, current_edition, gives_lots
from inspections.limits import Limit
from inspections.manifest import read_manifest
from inspections.models import WalkRound
from inspections.photo_lots import fresh_lot, lot_key
from inspections.sheet import Item
from inspections.vocabulary import PURPOSES
from inspections.walkers import Walker as Walks
from inspections.walkers import person_of, sender_of
from people.say import say
from people.yard import yard_policy

# What a gauge without a limit of its own shows on a sound cart of this yard.
# What is read where no limit is published or set, by family and unit.
_FIGURES = {
    ("air-cut-out", "kPa"): "850",
    ("air-cut-out", "bar"): "8.5",
    ("low-air-warning", "bar"): "4.5",
    ("battery-volts", "V"): "25.2",
    ("cold-pressure", "psi"): "110",
    ("fuel", "eighths"): "6",
    ("pump-pressure", "kPa"): "520",
    ("pump-pressure", "psi"): "75",
    ("pump-pressure", "bar"): "5.2",
}
STATEMENTS = {purpose.key: purpose.statement for purpose in PURPOSES}


@dataclass(frozen=True)
class Fault:
    """Something to be found wrong: the n-th plain check of a system on the sheet, or one check by its key; how bad, in whose words."""

    system: str
    grade: str
    words: str
    has_photo: bool = True
    gear: str = ""
    check: str = ""


@dataclass
class Odometer:
    """Where a cart's meters and treads stand as the story goes on."""

    engine_hours: Decimal
    pump_hours: Decimal
    km: Decimal
    tread_mm: dict[str, Decimal] = field(default_factory=dict)

    def drive(self, hours: int) -> None:
        self.engine_hours += hours
        self.pump_hours += Decimal(hours) / 2
        self.km += hours * 11
        self.tread_mm = {code: depth - Decimal("0.02") * hours / 10 for code, depth in self.tread_mm.items()}


def figure(check: Check, limit: Limit | None, rule_set: str) -> str:
    """A good reading of what is neither a meter nor a tread, in the unit of a rule set."""
    if limit is None:
        return _FIGURES[check.family, check.unit_for(rule_set) or ""]
    if limit.high is not None:
        return f"{(limit.value + limit.high) / 2:.0f}"
    return f"{limit.value * (Decimal('1.2') if limit.op.startswith('>') else Decimal('0.6')):.{1 if limit.value < 20 else 0}f}"


class Walker:
    """Walks carts for the demo; one seed, so that every load tells the same story."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)  # noqa: S311 - chance for variety, not for secrets
        self.meters: dict[uuid.UUID, Odometer] = {}
        self.photos = 0

    def walk(
        self,
        cart: Cart,
        purpose: str,
        *,
        by: Walks,
        at: datetime,
        faults: tuple[Fault, ...] = (),
        hasty: bool = False,
        chosen: Mapping[str, str] | None = None,
    ) -> WalkRound:
        """Sign one walk-round of a cart at an instant, with these things found wrong; hasty: in a fifth of its minutes; chosen:
        what is chosen at checks with choices, by key."""
        loaded = Cart.objects.for_sheets().get(pk=cart.pk)
        edition = current_edition()
        sheet = sheet_for(loaded, purpose=purpose, checks=checks_of_edition(edition))
        wrong = self._place(sheet.items, faults)
        lot = fresh_lot(cart.pk, sheet, key=lot_key()) if gives_lots(edition, purpose=purpose) else None
        picks = [tuple(pick) for pick in lot["picks"]] if lot and not hasty else []
        began = at - timedelta(minutes=max(sheet.minutes, 3)) / (5 if hasty else 1)
        answers = [
            self._answer(
                n,
                item,
                wrong.get(n),
                loaded,
                began + (at - began) * n / (len(sheet.items) + 1),
                by,
                is_picked=(item.check.key, item.place) in picks,
                choice=(chosen or {}).get(item.check.key, ""),
            )
            for n, item in enumerate(sheet.items, start=1)
        ]
        is_drawn = self.chance.random() < 0.5
        manifest = {
            "version": 2,
            "id": str(uuid.UUID(int=self.chance.getrandbits(128), version=4)),
            "cart": str(cart.pk),
            "purpose": purpose,
            "edition": {"number": edition.number, "sha256": edition.sha256},
            "rule_set": yard_policy().rule_set,
            "lot": lot["id"] if lot else None,
            "author": {name: person_of(by)[name] for name in ("id", "name")},
            "started_at": began.isoformat(),
            "signed_at": at.isoformat(),
            "device": {"id": "yard-tablet-1", "time_zone": str(yard_policy().zone), "offset_ms": 0},
            "answers": answers,
            "signature": {
                "kind": "drawn" if is_drawn else "typed",
                "name": person_of(by)["name"],
                "statement": say(STATEMENTS[purpose]),
                "strokes": self._strokes() if is_drawn else [],
            },
        }
        walk, _ = sign_walk_round(manifest=read_manifest(json.loads(json.dumps(manifest))), by=by, at=at)
        return walk

    def _place(self, items: tuple[Item, ...], faults: tuple[Fault, ...]) -> dict[int, Fault]:
        """Which look finds which fault: the first free plain check of its system, or of its gear."""
        placed: dict[int, Fault] = {}
        for fault in faults:
            for n, item in enumerate(items, start=1):
                if fault.check:
                    fits = item.check.key == fault.check
                else:
                    fits = item.check.gear == fault.gear if fault.gear else item.check.system == fault.system
                if fits and item.check.answer == "sound" and n not in placed:
                    placed[n] = fault
                    break
        return placed

    def _answer(
        self,
        n: int,
        item: Item,
        fault: Fault | None,
        cart: Cart,
        at: datetime,
        by: Walks,
        *,
        is_picked: bool,
        choice: str,
    ) -> dict[str, object]:
        value = self._value(item, cart)
        if item.check.choices and not choice:
            choice = next(one.key for one in item.check.choices if one.grade is None)
        is_shown = is_picked or (fault is not None and fault.has_photo)
        hashes = [self._photo(by, at)] if is_shown else []
        return {
            "n": n,
            "check": item.check.key,
            "place": item.place,
            "answer": "wrong" if fault else "good",
            "value": value,
            "unit": item.check.unit_for(yard_policy().rule_set),
            "choice": choice,
            "grade": fault.grade if fault else None,
            "words": fault.words if fault else "",
            "why": None,
            "photos": hashes,
            "at": at.isoformat(),
        }

    def _value(self, item: Item, cart: Cart) -> str | None:
        if item.check.answer == "date":
            return "2027-05"
        if item.check.answer != "measure":
            return None
        meters = self.meters[cart.pk]
        if kind := meter_of(item.check):
            return f"{getattr(meters, kind):.{0 if kind == 'km' else 1}f}"
        if item.check.limit_from == "tread":
            return f"{meters.tread_mm[item.place]:.1f}"
        return figure(item.check, item.limit, yard_policy().rule_set)

    def picture(self) -> bytes:
        """The next drawn photo; no two are alike."""
        self.photos += 1
        return photo(self.photos)

    def _photo(self, by: Walks, at: datetime) -> str:
        return keep_photo(raw=self.picture(), expected_sha256=None, by=sender_of(by), at=at).original_sha256

    def _strokes(self) -> list[list[list[int]]]:
        strokes, x = [], 20
        for _ in range(4):
            stroke = []
            for step in range(9):
                x += self.chance.randrange(4, 12)
                stroke.append([x, 60 + self.chance.randrange(-34, 34), step * 24])
            strokes.append(stroke)
            x += 8
        return strokes
