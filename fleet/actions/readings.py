"""Readings: derived from what was signed, compared with their neighbours in the order they were read, and parked as a
question where they do not fit. Nothing is refused for its value: the signed record stands either way."""

from __future__ import annotations

from datetime import datetime
from decimal import ROUND_DOWN, Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from fleet.actions.locks import lock_cart, rules_of
from fleet.models.carts import Cart, Meter, MeterReading, ReadingQuestion
from fleet.models.wheels import TreadReading, TyreFitting
from fleet.readings import meter_doubt, meter_subject, tread_doubt, tread_subject

Source = tuple[str, UUID]

# The widest value a question's column holds.
MOST = Decimal("999999999.9")
TENTH = Decimal("0.1")


def _kept(value: Decimal) -> Decimal:
    """The value as a question can hold it; its sentence says what was really written."""
    if not value.is_finite():
        return Decimal(0)
    return max(-MOST, min(MOST, value)).quantize(TENTH, rounding=ROUND_DOWN)


def _cut(value: Decimal) -> Decimal:
    """To a tenth, towards zero, as it is stored and compared; a figure nothing shows stays as it was written."""
    if not value.is_finite() or abs(value) > MOST:
        return value
    return value.quantize(TENTH, rounding=ROUND_DOWN)


def _park(
    cart: Cart, subject: str, value: Decimal, question: str, *, read_at: datetime, source: Source
) -> ReadingQuestion:
    """Keep the reading as a question; the same record again returns the one already asked."""
    asked, _ = ReadingQuestion.objects.get_or_create(
        cart=cart,
        subject=subject,
        source_kind=source[0],
        source_id=source[1],
        defaults={"value": _kept(value), "read_at": read_at, "question": question[:240]},
    )
    return asked


def meter_at(cart: Cart, kind: str, *, at: datetime) -> Meter | None:
    """The meter of that kind the cart had at an instant."""
    return (
        Meter.objects.filter(cart=cart, kind=kind, fitted_at__lte=at)
        .filter(Q(removed_at=None) | Q(removed_at__gt=at))
        .first()
    )


@transaction.atomic
def derive_meter_reading(
    *, cart: Cart, kind: str, value: Decimal, read_at: datetime, source: Source
) -> MeterReading | ReadingQuestion:
    """A meter reading from a signed record: kept where it fits its neighbours, else parked as a question.

    kind: a word of Meter.KINDS; value: hours or km as read, cut to a tenth; source: the record, (kind, id). A reading
    that is lower than an earlier one, higher than a later one, or rose faster than the clock allows does not fit. The
    same record again returns what it gave the first time. Part of another action: writes no journal entry.
    """
    cart, value = lock_cart(cart), _cut(value)
    subject = meter_subject(kind)
    meter = meter_at(cart, kind, at=read_at)
    if meter is None:
        question = f"{value} was read, but the cart had no such meter on record then. Record the meter, or correct the reading."
        return _park(cart, subject, value, question, read_at=read_at, source=source)
    kept = meter.readings.filter(source_kind=source[0], source_id=source[1]).first()
    if kept is not None:
        return kept
    doubt = meter_doubt(
        kind,
        value,
        read_at=read_at,
        before=_nearest(meter.readings.filter(read_at__lte=read_at).order_by("-read_at", "-value").first()),
        after=_nearest(meter.readings.filter(read_at__gt=read_at).order_by("read_at", "value").first()),
    )
    if doubt:
        return _park(cart, subject, value, doubt, read_at=read_at, source=source)
    reading = MeterReading(
        meter=meter, value=_kept(value), read_at=read_at, source_kind=source[0], source_id=source[1]
    )
    with rules_of(MeterReading):
        reading.save(force_insert=True)
    return reading


def _nearest(reading: MeterReading | None) -> tuple[datetime, Decimal] | None:
    return None if reading is None else (reading.read_at, reading.value)


def fitting_at(cart: Cart, position_code: str, *, at: datetime) -> TyreFitting | None:
    """The tyre in that position of the cart at an instant."""
    return (
        TyreFitting.objects.filter(
            wheel_position__cart=cart, wheel_position__code=position_code, period__contains=at
        )
        .select_related("tyre", "wheel_position")
        .first()
    )


@transaction.atomic
def derive_tread(
    *, cart: Cart, position_code: str, depth_mm: Decimal, read_at: datetime, source: Source
) -> TreadReading | ReadingQuestion:
    """A tread depth from a signed record: kept where it fits the tyre then fitted there, else parked as a question.

    depth_mm is cut to a tenth. It does not fit when no tyre was fitted there, when it is below zero or more than 1 mm
    above that tyre's depth when new, or when it is more than a gauge's repeat (0.5 mm, common practice, no source)
    deeper than an earlier reading of the same tyre there, or shallower than a later one. The same record again returns
    what it gave the first time. Part of another action: writes no journal entry.
    """
    cart, depth_mm = lock_cart(cart), _cut(depth_mm)
    subject = tread_subject(position_code)
    fitting = fitting_at(cart, position_code, at=read_at)
    if fitting is None:
        question = f"{depth_mm} mm was read, but no tyre was on record there then. Record the tyre, or correct the reading."
        return _park(cart, subject, depth_mm, question, read_at=read_at, source=source)
    kept = fitting.tread_readings.filter(source_kind=source[0], source_id=source[1]).first()
    if kept is not None:
        return kept
    before = fitting.tread_readings.filter(read_at__lte=read_at).order_by("-read_at").first()
    after = fitting.tread_readings.filter(read_at__gt=read_at).order_by("read_at").first()
    doubt = tread_doubt(
        depth_mm,
        new_depth_mm=fitting.tyre.new_depth_mm,
        before=(before.read_at, before.depth_mm) if before else None,
        after=(after.read_at, after.depth_mm) if after else None,
    )
    if doubt:
        return _park(cart, subject, depth_mm, doubt, read_at=read_at, source=source)
    reading = TreadReading(
        fitting=fitting, depth_mm=_kept(depth_mm), read_at=read_at, source_kind=source[0], source_id=source[1]
    )
    with rules_of(TreadReading):
        reading.save(force_insert=True)
    return reading
