"""Everything hire says of a cart to readiness: its promises, and what its site, customer and caller ask."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from uuid import UUID

from fleet.models.carts import Cart
from fleet.readiness import Findings, Window
from hire import needs_check, promises, site_check

PARTS = (promises.findings, site_check.findings, needs_check.findings)


def findings(carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime) -> dict[UUID, Findings]:
    """The findings of every part, by cart id."""
    found: dict[UUID, Findings] = {}
    for part in PARTS:
        for cart_id, more in part(carts, windows=windows, at=at).items():
            one = found.get(cart_id, Findings())
            found[cart_id] = Findings(
                one.blockers + more.blockers, one.cautions + more.cautions, one.limits + more.limits
            )
    return found
