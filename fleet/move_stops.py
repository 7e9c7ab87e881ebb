"""What holds a cart that is to be moved, as readiness finds it, with what the rules of moving ask of a defect."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta

from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.moving import ROAD, Stop, holds_a_move, part_of
from fleet.readiness import Blocker, Window, readiness
from fleet.wanted import Wanted, wanted

# Long enough to be a window; what falls due in it is a caution and holds nothing.
SHORT = timedelta(minutes=1)


def move_stops(cart: Cart, *, way: str, at: datetime) -> list[Stop]:
    """What holds the cart now for a move that way (of fleet.moving.WAYS), worst first. What was passed by authority does not.

    Road papers count on a road alone. A repair that waits for its second look holds here as at the gate.
    """
    leg = "road" if way == ROAD else "float"
    window = Window(at, at + SHORT, leaves_by=leg, works_on="road" if way == ROAD else "site")
    found = [
        blocker for blocker in readiness(cart, window=window, at=at).blockers if holds_a_move(blocker.code)
    ]
    told = Defect.objects.in_bulk([one.record.id for one in found if one.record.kind == "defect"])
    checks = wanted({defect.check_key for defect in told.values() if defect.check_key})
    return [_stop(blocker, told.get(blocker.record.id), checks) for blocker in found]


def _stop(blocker: Blocker, defect: Defect | None, checks: Mapping[str, Wanted]) -> Stop:
    if defect is None:
        return Stop(blocker.code, blocker.sentence)
    check = checks.get(defect.check_key)
    return Stop(
        blocker.code,
        blocker.sentence,
        part=part_of(check.system if check else "", station=defect.station),
        is_do_not_use=defect.grade == "do_not_use",
        always_second=defect.second_look_always,
    )
