"""The readings of one tyre with the km they were read at, for its picture."""

from __future__ import annotations

from uuid import UUID

from django.shortcuts import get_object_or_404

from fleet.models.wheels import TyreFitting
from servicing.odometer import odometers
from servicing.tread import TreadPrior
from servicing.tyre_limits import limits_at
from servicing.tyre_pages import forecast_of
from servicing.tyre_plot import WearPicture


def picture_of(fitting_id: UUID) -> WearPicture | None:
    """What is drawn of a tyre; None when no depth was read at a known km. The line is drawn from the readings as they are now, the
    mark from the stored forecast. Http404."""
    found = TyreFitting.objects.select_related("wheel_position", "forecast__fleet_wear")
    fitting = get_object_or_404(found, pk=fitting_id)
    cart_id = fitting.wheel_position.cart_id
    odometer, row = odometers([cart_id]).get(cart_id), forecast_of(fitting)
    if odometer is None:
        return None
    depths = fitting.tread_readings.order_by("read_at").values_list("read_at", "depth_mm")
    known = [(odometer.at(read_at), float(depth)) for read_at, depth in depths]
    readings = tuple((km, depth) for km, depth in known if km is not None)
    if not readings:
        return None
    change_out, legal = limits_at(steers=fitting.wheel_position.steers)
    fleet = row.fleet_wear if row else None
    return WearPicture(
        readings=readings,
        change_out_mm=float(change_out.depth_mm),
        legal_mm=float(legal.depth_mm),
        prior=TreadPrior(fleet.wear_mm_per_1000_km, fleet.spread_mm_per_1000_km) if fleet else None,
        km_change_out=row.km_change_out if row else None,
        km_change_out_low=row.km_change_out_low if row else None,
        km_change_out_high=row.km_change_out_high if row else None,
    )
