"""What the workshop shows on a cart's page: each extinguisher with its next dates, each tyre with its depth and limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from fleet.models.carts import Cart
from fleet.models.equipment import Extinguisher
from fleet.models.wheels import TyreFitting
from fleet.tread_limits import judge
from people.templatetags.screen import day, quantity
from people.yard import yard_day, yard_policy
from servicing.due import current_fittings, extinguishers_for, services_due
from servicing.extinguishers import KIND_WORDS, DueService

TEMPLATE = "servicing/_cart_panel.html"
_TREAD_WORDS = {"under_law": "below the legal depth", "under_yard": "change it out"}


@dataclass(frozen=True)
class NextService:
    """One service an extinguisher needs: its words, its day, and whether that day has come."""

    words: str
    on: date
    is_due: bool


@dataclass(frozen=True)
class ExtinguisherRow:
    """An extinguisher with its services still to come, soonest first."""

    item: Extinguisher
    services: tuple[NextService, ...]


@dataclass(frozen=True)
class TyreRow:
    """A tyre on the cart. depth: None when it was never measured; verdict_words: empty while it is sound."""

    fitting: TyreFitting
    depth: str | None
    read_words: str
    change_out: str
    legal_words: str
    verdict_words: str


def _service(due: DueService, today: date) -> NextService:
    return NextService(KIND_WORDS[due.kind], due.on, due.on <= today)


def _tyre(fitting: TyreFitting) -> TyreRow:
    policy, steers = yard_policy(), fitting.wheel_position.steers
    depth, read_at = getattr(fitting, "last_depth_mm", None), getattr(fitting, "last_read_at", None)
    verdict = judge(
        # The limits are the same whatever the depth; an unmeasured tyre gets them without a verdict.
        depth_mm=fitting.tyre.new_depth_mm if depth is None else depth,
        rule_set=policy.rule_set,
        position="steer" if steers else "other",
        yard_mm=policy.tread_steer_mm if steers else policy.tread_other_mm,
    )
    return TyreRow(
        fitting=fitting,
        depth=None if depth is None else quantity(depth, "mm"),
        read_words="never measured" if read_at is None else f"measured {day(read_at)}",
        change_out=quantity(verdict.withdrawal.depth_mm, "mm"),
        legal_words=f"legal {verdict.legal.as_written}",
        verdict_words="" if depth is None else _TREAD_WORDS.get(verdict.state, ""),
    )


def equipment(cart: Cart, at: datetime) -> Mapping[str, object] | None:
    """The cart's extinguishers and tyres; None when it has neither. Three queries."""
    today = yard_day(at)
    extinguishers = [
        ExtinguisherRow(item, tuple(_service(due, today) for due in services_due(item, on=today)))
        for item in extinguishers_for([cart]).get(cart.pk, [])
    ]
    tyres = [_tyre(fitting) for fitting in current_fittings([cart])]
    return {"extinguishers": extinguishers, "tyres": tyres} if extinguishers or tyres else None
