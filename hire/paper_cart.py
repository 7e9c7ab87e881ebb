"""What a paper says of the cart itself: its build and gear, meters, tyres, extinguishers and documents."""

from __future__ import annotations

from fleet.models.carts import Fitment, MeterReading
from fleet.models.equipment import Document
from fleet.tread_limits import withdrawal_limit
from fleet.water_standing import standing_of
from hire.owner_standing import with_us
from hire.paper_source import Source
from inspections.certificates import parts
from people.yard import yard_day, yard_policy
from servicing.due import current_fittings, extinguishers_for, services_due
from servicing.extinguishers import DUE_WORDS


def build(source: Source) -> parts.Cart:
    """Which cart it is, and what is fitted to it."""
    cart = source.cart
    axles = sum(group.axles for group in cart.axle_groups.all())
    return parts.Cart(
        id=str(cart.pk),
        fleet_number=cart.fleet_number,
        plate=cart.plate,
        vin=cart.vin,
        make=cart.make,
        model=cart.model,
        build_year=cart.build_year,
        tank_l=cart.tank_capacity_l,
        tank_material=cart.get_tank_material_display().lower(),
        axles=f"{axles} axles",
        steering_side=cart.get_steering_side_display().lower(),
        gear=tuple(
            parts.Gear(name=row.get_kind_display(), detail=_gear_words(source, row))
            for row in cart.fitments.all()
            if row.removed_on is None
        ),
    )


def _gear_words(source: Source, fitted: Fitment) -> str:
    """What is written of it; of the tank of a potable hire also how it was last sanitised."""
    if fitted.kind != "potable_tank" or source.line.agreement.water != "potable":
        return fitted.details
    standing = standing_of(source.cart)
    return f"{fitted.details} {standing.sentence}".strip()


def readings(source: Source) -> tuple[parts.Reading, ...]:
    """The newest reading of each of its meters."""
    units = {"engine_hours": "h", "pump_hours": "h", "km": "km"}
    newest = (
        MeterReading.objects.filter(meter__cart=source.cart, meter__removed_at=None, read_at__lte=source.at)
        .order_by("meter", "-read_at")
        .distinct("meter")
        .select_related("meter")
    )
    return tuple(
        parts.Reading(
            name=row.meter.get_kind_display(),
            value=str(row.value),
            unit=units[row.meter.kind],
            read_at=source.moment(row.read_at),
        )
        for row in newest
    )


def tyres(source: Source) -> tuple[parts.Tyre, ...]:
    """Each tyre that was ever measured where it is, beside the depth it is changed out at."""
    policy, rows = yard_policy(), []
    for fitting in current_fittings([source.cart]):
        depth, read_at = getattr(fitting, "last_depth_mm", None), getattr(fitting, "last_read_at", None)
        if depth is None or read_at is None:
            continue
        position = fitting.wheel_position
        limit = withdrawal_limit(
            rule_set=policy.rule_set,
            position="steer" if position.steers else "other",
            yard_mm=policy.tread_steer_mm if position.steers else policy.tread_other_mm,
        )
        rows.append(
            parts.Tyre(
                position=position.code,
                place=position.words,
                depth_mm=str(depth),
                limit_mm=f"{limit.depth_mm.normalize():f}",
                measured_on=read_at.astimezone(source.zone).date().isoformat(),
                make=fitting.tyre.make,
            )
        )
    return tuple(rows)


def extinguishers(source: Source) -> tuple[parts.Extinguisher, ...]:
    """Its extinguishers and what falls due on each."""
    on = yard_day(source.at)
    return tuple(
        parts.Extinguisher(
            serial=item.serial,
            place=item.bracket or "in its bracket",
            kind=f"{item.size_kg.normalize():f} kg {item.get_agent_display().lower()}",
            dates=tuple(
                parts.NextDate(kind=DUE_WORDS[due.kind], due_on=due.on.isoformat())
                for due in services_due(item, on=on)
            ),
        )
        for item in extinguishers_for([source.cart]).get(source.cart.pk, [])
    )


# No owner's name: whose cart it is, and at what price we have it, is between the yard and the owner.
KEPT_BY_ITS_OWNER = "this cart is hired in: its owner keeps and maintains it, and the yard states only what its own check found"


def outside(source: Source) -> tuple[str, ...]:
    """What of the paper does not come from the yard."""
    return (KEPT_BY_ITS_OWNER,) if with_us([source.cart]) else ()


def documents(source: Source) -> tuple[parts.Document, ...]:
    """Of each kind of document, the cart's own and the yard's, the one that lasts longest."""
    rows = Document.objects.filter(cart=source.cart) | Document.objects.filter(cart=None)
    newest: dict[str, Document] = {}
    for row in rows.order_by("expires_on", "recorded_at"):
        newest[row.kind] = row
    return tuple(
        parts.Document(
            kind=row.get_kind_display(),
            number=row.number,
            valid_until_on=row.expires_on.isoformat() if row.expires_on else None,
            note=f"Conditions: {row.conditions}" if row.conditions else "",
        )
        for row in newest.values()
    )
