"""The tyres a cart left with, and the tread each had: what a cut one is charged by."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from django.db.models import OuterRef, Subquery

from fleet.drawing import lap_cart
from fleet.lap.stations import station_of_wheel
from fleet.models.carts import Cart
from fleet.models.wheels import TreadReading, TyreFitting
from fleet.tread_limits import withdrawal_limit
from hire.charging.back import Tyre
from hire.models.agreements import Line
from people.yard import yard_policy


def tyres_that_left(line: Line) -> Mapping[str, tuple[Tyre, ...]]:
    """By station, the tyres that were on the cart when it was handed over, each with its last depth read by then. A cart whose
    axles are not on record has none."""
    left = line.handed_over_at
    last = TreadReading.objects.filter(fitting=OuterRef("pk"), read_at__lte=left).order_by("-read_at")
    fittings = (
        TyreFitting.objects.filter(wheel_position__cart=line.cart_id, period__contains=left)
        .annotate(left_with_mm=Subquery(last.values("depth_mm")[:1]))
        .select_related("tyre", "wheel_position")
        .order_by("wheel_position__axle", "wheel_position__code")
    )
    try:
        axles = lap_cart(Cart.objects.for_drawing().get(pk=line.cart_id)).axles
    except ValueError:
        return {}
    found: defaultdict[str, list[Tyre]] = defaultdict(list)
    for fitting in fittings:
        found[station_of_wheel(fitting.wheel_position.code, axles)].append(_tyre(fitting))
    return {station: tuple(tyres) for station, tyres in found.items()}


def _tyre(fitting: TyreFitting) -> Tyre:
    policy, position, tyre = yard_policy(), fitting.wheel_position, fitting.tyre
    limit = withdrawal_limit(
        rule_set=policy.rule_set,
        position="steer" if position.steers else "other",
        yard_mm=policy.tread_steer_mm if position.steers else policy.tread_other_mm,
    )
    read = getattr(fitting, "left_with_mm", None)
    return Tyre(
        code=position.code,
        where=position.words,
        new_mm=tyre.new_depth_mm,
        # A gauge may show a little over the new depth on record; nobody pays for more than a new tyre.
        out_mm=None if read is None else min(read, tyre.new_depth_mm),
        change_out_mm=limit.depth_mm,
        cost=tyre.cost,
    )
