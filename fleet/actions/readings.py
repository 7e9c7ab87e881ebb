"""Readings: derived from what was signed, compared with their neighbours in the order they were read, and parked as a
question where they do not fit. Nothing is refused for its value: the signed record stands either way."""

from __future__ import annotations

from datetime import datetime
from decimal import ROUND_DOWN, Decimal
from uuid import UUID

from django.db import transaction
from django.db.models import Q

from fleet.actions.locks import AgainstARule, ask_role, check_fields, lock_cart, rules_of
from fleet.models.carts import Cart, Meter, MeterReading, ReadingQuestion
from fleet.models.wheels import TreadReading, TyreFitting
from fleet.readings import (
    GAUGE_REPEAT_MM,
    MOST,
    meter_doubt,
    meter_subject,
    subject_words,
    tread_doubt,
    tread_subject,
)
from people.journal.actions import cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import Refusal
from people.roles import WORKSHOP

Source = tuple[str, UUID]

TENTH = Decimal("0.1")

# Outbox work for whoever counts by a cart's meters; its subject is the cart.
METERS_CHANGED = "fleet.meters_changed"


def _kept(value: Decimal) -> Decimal:
    """The value as a question can hold it; its sentence says what was really written. What does not fit the column, or is
    no number, is kept as a value that can never be found right."""
    if not value.is_finite():
        return Decimal(-1)
    return max(-MOST, min(MOST, value)).quantize(TENTH, rounding=ROUND_DOWN)


class AlreadySettled(Refusal):
    """Somebody settled the question already."""


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


@transaction.atomic
def settle_question(
    *, question: ReadingQuestion, is_right: bool, words: str, by: Staff, at: datetime
) -> ReadingQuestion:
    """Settle a parked reading. Wrong: it stays on record and never counts. Right: it counts from now, and readings that
    cannot stand beside it are struck, each kept as a settled question.

    NotAllowed, AlreadySettled; AgainstARule when nothing is said, or when even alone it cannot be right (no such meter or
    tyre then, a depth over the new one).
    """
    ask_role(by, WORKSHOP, "Questions about readings are settled by a fitter or a manager.")
    cart = lock_cart(question.cart)
    question = ReadingQuestion.objects.select_for_update(of=("self",)).get(pk=question.pk)
    what = f"{subject_words(question.subject)} of cart {cart.fleet_number}"
    if question.settled_at is not None:
        raise AlreadySettled(f"{what}: this question was settled already.")
    if not words.strip():
        raise AgainstARule("Say how you know.", field="words")
    struck = _count_it(cart, question, what) if is_right else []
    said = words.strip()
    question.settled_at, question.settled_words = at, said[:240]
    question.save(update_fields=["settled_at", "settled_words"])
    if is_right and question.subject.startswith("meter "):
        enqueue(kind=METERS_CHANGED, subject_id=cart.pk, at=at)
    for old in struck:
        old.cart, old.subject, old.settled_at = cart, question.subject, at
        old.settled_words = f"Struck: {question.value} on a later look was found right. {said}"[:240]
        old.save(force_insert=True)
    write_journal(
        event=Event.QUESTION_SETTLED,
        subject=("reading_question", question.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "subject": question.subject,
            "value": question.value,
            "is_right": is_right,
            "words": said,
            "struck": [old.value for old in struck],
        },
    )
    return question


def _count_it(cart: Cart, question: ReadingQuestion, what: str) -> list[ReadingQuestion]:
    """Make the parked reading count. Returns the readings that had to go, as questions not yet saved."""
    kind, _, which = question.subject.partition(" ")
    if kind == "meter":
        return _count_meter(cart, question, which, what)
    return _count_tread(cart, question, which, what)


def _struck(reading: MeterReading | TreadReading, value: Decimal) -> ReadingQuestion:
    return ReadingQuestion(
        value=value,
        read_at=reading.read_at,
        question="This reading could not stand beside another that was found right.",
        source_kind=reading.source_kind,
        source_id=reading.source_id,
    )


def _count_meter(cart: Cart, question: ReadingQuestion, kind: str, what: str) -> list[ReadingQuestion]:
    meter, value, read_at = meter_at(cart, kind, at=question.read_at), question.value, question.read_at
    if meter is None:
        raise AgainstARule(f"{what}: no such meter was on record then. Record the meter first.")
    if doubt := meter_doubt(kind, value, read_at=read_at, before=None, after=None):
        raise AgainstARule(doubt)
    against = meter.readings.filter(
        Q(read_at__lte=read_at, value__gt=value) | Q(read_at__gt=read_at, value__lt=value)
    )
    struck = [_struck(reading, reading.value) for reading in against]
    against.delete()
    MeterReading.objects.create(
        meter=meter,
        value=value,
        read_at=read_at,
        source_kind=question.source_kind,
        source_id=question.source_id,
    )
    return struck


def _count_tread(cart: Cart, question: ReadingQuestion, code: str, what: str) -> list[ReadingQuestion]:
    fitting, depth_mm, read_at = fitting_at(cart, code, at=question.read_at), question.value, question.read_at
    if fitting is None:
        raise AgainstARule(f"{what}: no tyre was on record there then. Record the tyre first.")
    if doubt := tread_doubt(depth_mm, new_depth_mm=fitting.tyre.new_depth_mm, before=None, after=None):
        raise AgainstARule(doubt)
    against = fitting.tread_readings.filter(
        Q(read_at__lte=read_at, depth_mm__lt=depth_mm - GAUGE_REPEAT_MM)
        | Q(read_at__gt=read_at, depth_mm__gt=depth_mm + GAUGE_REPEAT_MM)
    )
    struck = [_struck(reading, reading.depth_mm) for reading in against]
    against.delete()
    TreadReading.objects.create(
        fitting=fitting,
        depth_mm=depth_mm,
        read_at=read_at,
        source_kind=question.source_kind,
        source_id=question.source_id,
    )
    return struck


@transaction.atomic
def change_meter(
    *,
    cart: Cart,
    kind: str,
    changed_at: datetime,
    last_value: Decimal | None,
    first_value: Decimal,
    words: str,
    by: Staff,
    at: datetime,
) -> Meter:
    """Record a new meter, and its first reading; the old one of that kind, if there was one, ends at that instant.

    last_value: what the old meter showed at the end, None where it could not be read or there was none. NotAllowed;
    AgainstARule for a time to come or before the old meter's last reading, or a value that cannot be.
    """
    ask_role(by, WORKSHOP, "A meter change is recorded by a fitter or a manager.")
    cart = lock_cart(cart)
    if changed_at > at:
        raise AgainstARule(
            "Record a meter once it is fitted: give a time that has passed.", field="changed_at"
        )
    old = cart.meters.filter(kind=kind, removed_at=None).first()
    if old is not None:
        _close_meter(cart, old, changed_at=changed_at, last_value=last_value)
    meter = Meter(cart=cart, kind=kind, fitted_at=changed_at)
    check_fields(meter)
    with rules_of(Meter):
        meter.save(force_insert=True)
    _first(cart, kind, first_value, read_at=changed_at, source=("meter", meter.pk), field="first_value")
    enqueue(kind=METERS_CHANGED, subject_id=cart.pk, at=at)
    write_journal(
        event=Event.METER_CHANGED,
        subject=("meter", meter.pk),
        chains=[cart_chain(cart.pk)],
        by=by,
        at=at,
        facts={
            "kind": kind,
            "changed_at": changed_at,
            "last_value": last_value,
            "first_value": first_value,
            "words": words.strip(),
        },
    )
    return meter


def _close_meter(cart: Cart, old: Meter, *, changed_at: datetime, last_value: Decimal | None) -> None:
    latest = old.readings.order_by("-read_at").first()
    if changed_at <= old.fitted_at or (latest is not None and changed_at < latest.read_at):
        raise AgainstARule(
            f"The old meter of cart {cart.fleet_number} was still read then. Give a later time.",
            field="changed_at",
        )
    if last_value is not None:
        source = ("meter_end", old.pk)
        _first(cart, old.kind, last_value, read_at=changed_at, source=source, field="last_value")
    old.removed_at = changed_at
    with rules_of(Meter):
        old.save(update_fields=["removed_at"])


def _first(cart: Cart, kind: str, value: Decimal, *, read_at: datetime, source: Source, field: str) -> None:
    """A reading typed in by a person at a desk: one that does not fit is asked about at once, not parked."""
    reading = derive_meter_reading(cart=cart, kind=kind, value=value, read_at=read_at, source=source)
    if not isinstance(reading, MeterReading):
        raise AgainstARule(reading.question, field=field)
