"""Readings are derived once a record, parked when they do not fit, and settled by a person; meters are changed on record."""

import uuid
from datetime import timedelta
from decimal import Decimal

import pytest

from fleet.actions.locks import AgainstARule
from fleet.actions.readings import (
    AlreadySettled,
    change_meter,
    derive_meter_reading,
    derive_tread,
    settle_question,
)
from fleet.models.carts import MeterReading, ReadingQuestion
from fleet.models.wheels import TreadReading
from people.refusals import NotAllowed
from people.roles import WORKSHOP, Role
from tests.factories.fleet import (
    CartFactory,
    MeterReadingFactory,
    TreadReadingFactory,
    TyreFittingFactory,
)
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def source():
    return ("walk_round", uuid.uuid4())


def read(cart, value, read_at, *, kind="engine_hours", by=None):
    return derive_meter_reading(
        cart=cart, kind=kind, value=Decimal(value), read_at=read_at, source=by or source()
    )


def gauge(cart, depth, read_at, *, code="1L", by=None):
    return derive_tread(
        cart=cart, position_code=code, depth_mm=Decimal(depth), read_at=read_at, source=by or source()
    )


@pytest.fixture
def cart():
    return CartFactory()


def test_readings_that_fit_are_kept_to_a_tenth_and_once_a_record(cart, at):
    record = source()
    first = read(cart, "8250.49", at, by=record)
    assert (first.value, first.read_at) == (Decimal("8250.4"), at)
    assert read(cart, "8250.49", at, by=record) == first
    assert read(cart, "8250.4", at) != first
    assert MeterReading.objects.count() == 2
    assert not entries_of(cart)


def test_a_meter_lower_than_last_time_is_kept_as_a_question(cart, at):
    read(cart, "8250", at - DAY)
    record = source()
    asked = read(cart, "8249.9", at, by=record)
    assert isinstance(asked, ReadingQuestion)
    assert (asked.value, asked.subject, asked.settled_at) == (Decimal("8249.9"), "meter engine_hours", None)
    assert "lower than 8250.0" in asked.question
    assert read(cart, "8249.9", at, by=record) == asked
    assert MeterReading.objects.count() == ReadingQuestion.objects.count() == 1


def test_neighbours_are_told_by_when_they_were_read_not_by_when_they_came(cart, at):
    read(cart, "8260", at)
    assert isinstance(read(cart, "8255", at - DAY), MeterReading)
    assert isinstance(read(cart, "8250", at - DAY / 2), ReadingQuestion)


@pytest.mark.parametrize("value", ["-1", "NaN", "Infinity", "1E+30", "12345678901.5"])
def test_no_value_is_refused_or_raises(cart, at, value):
    asked = read(cart, value, at)
    assert isinstance(asked, ReadingQuestion)
    assert value in asked.question
    assert isinstance(gauge(cart, value, at), ReadingQuestion)


def test_a_reading_of_a_meter_the_cart_has_not_is_a_question(at):
    asked = read(CartFactory(meters=()), "10", at)
    assert "no such meter on record" in asked.question


def test_each_meter_is_compared_with_itself_alone(cart, at):
    read(cart, "8250", at - DAY)
    assert isinstance(read(cart, "12", at, kind="pump_hours"), MeterReading)


def test_depths_fit_their_tyre(cart, at):
    TyreFittingFactory(cart=cart, tyre__new_depth_mm=Decimal("14.0"))
    record = source()
    first = gauge(cart, "15.0", at - DAY, by=record)
    assert isinstance(first, TreadReading)
    assert gauge(cart, "15.0", at - DAY, by=record) == first
    assert isinstance(gauge(cart, "15.1", at - DAY), ReadingQuestion)
    assert gauge(cart, "9.28", at).depth_mm == Decimal("9.2")
    assert "deeper than 9.2" in gauge(cart, "9.8", at).question


def test_a_depth_where_no_tyre_is_on_record_is_a_question(cart, at):
    assert "no tyre was on record there" in gauge(cart, "9.0", at).question
    assert "no tyre was on record there" in gauge(cart, "9.0", at, code="9Z").question


def test_another_tyre_in_the_place_starts_anew(cart, at):
    TreadReadingFactory(
        fitting=TyreFittingFactory(cart=cart, taken_off_at=at - DAY),
        depth_mm=Decimal("3.0"),
        read_at=at - 2 * DAY,
    )
    TyreFittingFactory(cart=cart, fitted_at=at - DAY)
    assert isinstance(gauge(cart, "15.5", at), TreadReading)
    late = gauge(cart, "2.9", at - 1.5 * DAY)
    assert late.fitting.period.upper == at - DAY


def test_a_wrong_reading_stays_on_record_and_never_counts(cart, fitter, at):
    read(cart, "8250", at - DAY)
    asked = read(cart, "825", at)
    settled = settle_question(question=asked, is_right=False, words=" A figure left out. ", by=fitter, at=at)
    assert (settled.settled_at, settled.settled_words) == (at, "A figure left out.")
    assert MeterReading.objects.count() == 1
    assert events_of(cart) == ["fleet.question.settled"]
    with pytest.raises(AlreadySettled):
        settle_question(question=asked, is_right=True, words="No, right", by=fitter, at=at)


def test_a_right_reading_counts_and_strikes_what_cannot_stand_beside_it(cart, fitter, at):
    read(cart, "8200", at - 3 * DAY)
    wrong = MeterReadingFactory(cart=cart, value=Decimal("82500.0"), read_at=at - 2 * DAY)
    asked = read(cart, "8260", at)
    settle_question(question=asked, is_right=True, words="Looked at the dash", by=fitter, at=at)
    assert [str(row.value) for row in MeterReading.objects.all()] == ["8200.0", "8260.0"]
    struck = ReadingQuestion.objects.exclude(pk=asked.pk).get()
    assert (struck.value, struck.read_at, struck.source_id) == (wrong.value, wrong.read_at, wrong.source_id)
    assert struck.settled_at == at
    assert entries_of(cart)[0][1]["struck"] == ["82500.0"]
    assert isinstance(read(cart, "8262", at + DAY / 4), MeterReading)


def test_a_right_depth_counts_and_strikes_what_cannot_stand_beside_it(cart, fitter, at):
    fitting = TyreFittingFactory(cart=cart)
    TreadReadingFactory(fitting=fitting, depth_mm=Decimal("4.0"), read_at=at - DAY)
    asked = gauge(cart, "9.0", at)
    settle_question(question=asked, is_right=True, words="Two gauges", by=fitter, at=at)
    assert [str(row.depth_mm) for row in fitting.tread_readings.all()] == ["9.0"]


def test_what_cannot_be_right_is_not_made_to_count(cart, fitter, at):
    fitting = TyreFittingFactory(cart=cart)
    over_new = gauge(cart, "30", at)
    no_tyre = gauge(cart, "9", at, code="1R")
    no_meter = read(CartFactory(meters=()), "5", at)
    beyond = read(cart, "1E+30", at)
    below = read(cart, "-1", at)
    for asked, words in ((over_new, "when new"), (no_tyre, "Record the tyre"), (no_meter, "Record the meter"),
                         (below, "no meter shows"), (beyond, "no meter shows")):  # fmt: skip
        with pytest.raises(AgainstARule, match=words):
            settle_question(question=asked, is_right=True, words="Sure", by=fitter, at=at)
    assert not fitting.tread_readings.exists()
    assert ReadingQuestion.objects.filter(settled_at=None).count() == 5


def test_settling_wants_words_and_the_workshop(cart, people, fitter, at):
    asked = gauge(cart, "9.0", at)
    with pytest.raises(AgainstARule, match="how you know") as refused:
        settle_question(question=asked, is_right=False, words=" ", by=fitter, at=at)
    assert refused.value.field == "words"
    for role in sorted(set(Role) - WORKSHOP):
        with pytest.raises(NotAllowed):
            settle_question(question=asked, is_right=False, words="Typing", by=people[role], at=at)


def change(cart, by, at, **changes):
    said = {
        "kind": "engine_hours",
        "changed_at": at - DAY,
        "last_value": Decimal(8300),
        "first_value": Decimal(4),
        "words": "",
    }
    return change_meter(cart=cart, by=by, at=at, **said | changes)


def test_a_changed_meter_starts_anew_and_the_old_one_keeps_its_readings(cart, fitter, at):
    old = cart.meters.get(kind="engine_hours")
    MeterReadingFactory(meter=old, value=Decimal(8250), read_at=at - 9 * DAY)
    new = change(cart, fitter, at)
    old.refresh_from_db()
    assert old.removed_at == new.fitted_at == at - DAY
    assert [str(row.value) for row in old.readings.all()] == ["8250.0", "8300.0"]
    assert [str(row.value) for row in new.readings.all()] == ["4.0"]
    assert read(cart, "9", at).meter == new
    assert read(cart, "8280", at - 3 * DAY).meter == old
    assert events_of(cart) == ["fleet.meter.changed"]


def test_a_first_meter_is_recorded_the_same_way(fitter, at):
    cart = CartFactory(meters=())
    assert change(cart, fitter, at, last_value=None).readings.get().value == Decimal(4)


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"changed_at": DAY}, "changed_at", "has passed"),
        ({"changed_at": -10 * DAY}, "changed_at", "still read then"),
        ({"last_value": Decimal(8249)}, "last_value", "lower than 8250"),
        ({"first_value": Decimal(-1)}, "first_value", "no meter shows that"),
        ({"kind": "furlongs"}, "kind", "furlongs"),
    ],
)
def test_a_meter_change_that_cannot_be_is_asked_about_at_once(fitter, at, changes, field, words):
    cart = CartFactory()
    MeterReadingFactory(cart=cart, value=Decimal(8250), read_at=at - 9 * DAY)
    changes = {name: at + value if name == "changed_at" else value for name, value in changes.items()}
    with pytest.raises(AgainstARule, match=words) as refused:
        change(cart, fitter, at, **changes)
    assert refused.value.field == field
    assert MeterReading.objects.count() == 1
    assert not ReadingQuestion.objects.exists()
    assert not entries_of(cart)


@pytest.mark.parametrize("role", sorted(set(Role) - WORKSHOP))
def test_only_the_workshop_changes_meters(cart, people, at, role):
    with pytest.raises(NotAllowed):
        change(cart, people[role], at)
