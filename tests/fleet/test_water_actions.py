"""What a tank carried is written down by those who work on carts, tested once, and struck out by a manager, never rewritten."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from fleet.actions.locks import AgainstARule
from fleet.actions.water import (
    AlreadyTested,
    BeforeTheCart,
    NotYet,
    OnRecordAlready,
    SampledBefore,
    SanitisingDetails,
    StruckOutAlready,
    record_sanitising,
    record_test,
    record_water,
    strike_sanitising,
    strike_water,
)
from fleet.models.water import Sanitising, WaterCarried
from fleet.water_standing import standing_of
from people.refusals import NotAllowed
from people.roles import MANAGERS, WALKERS, Role
from tests.factories.fleet import CartFactory
from tests.factories.water import SanitisingFactory, WaterCarriedFactory, potable_cart
from tests.fleet.journal import entries_of, events_of

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


def fill(cart, by, at, **changes):
    said = {"source": "potable", "filled_at": at - HOUR, "place_words": " Standpipe, Weir Street "}
    return record_water(cart=cart, by=by, at=at, **said | changes)


def sanitise(cart, by, at, **changes):
    details = SanitisingDetails(
        done_at=at - HOUR, how="Scrubbed", product="Hypochlorite", dose_mg_l=Decimal(10), minutes=720, rinse="Twice",
        residual_mg_l=Decimal("0.6"), by_words="Wes Tonkin",
    )  # fmt: skip
    return record_sanitising(cart=cart, details=replace(details, **changes), by=by, at=at)


def result_of(row, by, at, **changes):
    said = {"tested_at": at - HOUR, "test_passed": True, "test_words": "Report 2208"}
    return record_test(sanitising=row, by=by, at=at, **said | changes)


@pytest.mark.parametrize("role", sorted(Role))
def test_who_writes_it_down(people, at, role):
    cart, by = CartFactory(), people[role]
    if role in WALKERS:
        row = fill(cart, by, at)
        assert (row.place_words, row.recorded_by, row.recorded_at) == ("Standpipe, Weir Street", by, at)
        result_of(sanitise(cart, by, at - HOUR), by, at + HOUR)
        assert events_of(cart) == [
            "fleet.water.carried",
            "fleet.sanitising.recorded",
            "fleet.sanitising.tested",
        ]
    else:
        for call in (fill, sanitise):
            with pytest.raises(NotAllowed):
                call(cart, by, at)
        with pytest.raises(NotAllowed):
            result_of(SanitisingFactory(cart=cart), by, at)


@pytest.mark.parametrize("role", sorted(Role))
def test_who_strikes_it_out(people, at, role):
    cart, by = potable_cart(), people[role]
    row, done = WaterCarriedFactory(cart=cart, source="dam", filled_at=at - DAY), cart.sanitisings.get()
    if role in MANAGERS:
        strike_water(row=row, words="Was WC-3", by=by, at=at)
        assert standing_of(cart).verdict == "may"
        strike_sanitising(row=done, words="Other cart", by=by, at=at)
        assert standing_of(cart).verdict == "after sanitising"
        assert [event for event, _ in entries_of(cart)] == ["fleet.water.struck", "fleet.sanitising.struck"]
        assert entries_of(cart)[0][1]["words"] == "Was WC-3"
    else:
        with pytest.raises(NotAllowed):
            strike_water(row=row, words="x", by=by, at=at)
        with pytest.raises(NotAllowed):
            strike_sanitising(row=done, words="x", by=by, at=at)


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"filled_at": HOUR}, NotYet, "filled_at"),
        ({"filled_at": -4000 * DAY}, BeforeTheCart, "filled_at"),
        ({"source": "brine"}, AgainstARule, "source"),
        ({"place_words": "  "}, AgainstARule, "place_words"),
    ],
)
def test_a_fill_that_cannot_be_is_refused(fitter, at, changes, refusal, field):
    changes = {key: at + value if isinstance(value, timedelta) else value for key, value in changes.items()}
    with pytest.raises(refusal) as refused:
        fill(CartFactory(), fitter, at, **changes)
    assert refused.value.field == field
    assert not WaterCarried.objects.exists()


def test_the_same_fill_again_is_the_first_and_another_at_that_time_is_refused(fitter, at):
    cart = CartFactory()
    first = fill(cart, fitter, at)
    assert fill(cart, fitter, at) == first
    with pytest.raises(OnRecordAlready, match="Potable water from Standpipe"):
        fill(cart, fitter, at, source="dam")
    assert events_of(cart) == ["fleet.water.carried"]


def test_a_fill_remembered_late_counts_by_its_own_time(fitter, at):
    cart = potable_cart()
    fill(cart, fitter, at, source="effluent", filled_at=at - 200 * DAY)
    assert standing_of(cart).verdict == "never"


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"done_at": HOUR}, NotYet, "done_at"),
        ({"done_at": -4000 * DAY}, BeforeTheCart, "done_at"),
        ({"how": " "}, AgainstARule, "how"),
        ({"by_words": ""}, AgainstARule, "by_words"),
        ({"minutes": 0}, AgainstARule, None),
        ({"dose_mg_l": Decimal(0)}, AgainstARule, None),
        ({"residual_mg_l": Decimal("-0.1")}, AgainstARule, None),
    ],
)
def test_a_sanitising_that_cannot_be_is_refused(fitter, at, changes, refusal, field):
    changes = {key: at + value if isinstance(value, timedelta) else value for key, value in changes.items()}
    with pytest.raises(refusal) as refused:
        sanitise(CartFactory(), fitter, at, **changes)
    assert refused.value.field == field
    assert not Sanitising.objects.exists()


def test_steam_has_no_dose_and_a_residual_may_be_unmeasured(fitter, at):
    row = sanitise(CartFactory(), fitter, at, product="Steam", dose_mg_l=None, residual_mg_l=None)
    assert (row.dose_mg_l, row.residual_mg_l) == (None, None)


def test_the_same_sanitising_again_is_the_first_and_another_at_that_time_is_refused(fitter, at):
    cart = CartFactory()
    assert sanitise(cart, fitter, at) == sanitise(cart, fitter, at)
    with pytest.raises(OnRecordAlready):
        sanitise(cart, fitter, at, minutes=5)


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [
        ({"tested_at": HOUR}, NotYet),
        ({"tested_at": -2 * DAY}, SampledBefore),
        ({"test_words": " "}, AgainstARule),
    ],
)
def test_a_test_is_of_water_sampled_since(fitter, at, changes, refusal):
    row = SanitisingFactory(done_at=at - DAY)
    changes = {key: at + value if isinstance(value, timedelta) else value for key, value in changes.items()}
    with pytest.raises(refusal):
        result_of(row, fitter, at, **changes)


def test_a_sanitising_is_tested_once_and_nothing_struck_is_touched_again(people, fitter, at):
    row = result_of(SanitisingFactory(done_at=at - DAY), fitter, at)
    with pytest.raises(AlreadyTested):
        result_of(row, fitter, at, test_passed=False)
    manager = people[Role.WORKSHOP_MANAGER]
    with pytest.raises(AgainstARule):
        strike_sanitising(row=row, words=" ", by=manager, at=at)
    strike_sanitising(row=row, words="Other cart", by=manager, at=at)
    for call in (
        lambda: result_of(row, fitter, at),
        lambda: strike_sanitising(row=row, words="x", by=manager, at=at),
    ):
        with pytest.raises(StruckOutAlready):
            call()


def refuses(row, **values):
    with pytest.raises(IntegrityError, match="written once"), transaction.atomic():
        type(row).objects.filter(pk=row.pk).update(**values)


def test_the_database_lets_nothing_be_rewritten(people, at):
    fill_row, done = WaterCarriedFactory(source="dam"), SanitisingFactory(passed=False)
    refuses(fill_row, source="potable")
    refuses(fill_row, filled_at=at - DAY)
    refuses(done, minutes=900)
    refuses(done, test_passed=True)
    for row in (fill_row, done):
        with pytest.raises(IntegrityError, match="written once"), transaction.atomic():
            type(row).objects.filter(pk=row.pk)._raw_delete("default")
    struck = {"struck_at": at, "struck_by": people[Role.FLEET_MANAGER], "struck_words": "Other cart"}
    WaterCarried.objects.filter(pk=fill_row.pk).update(**struck)
    refuses(fill_row, struck_at=None, struck_by=None, struck_words="")


def test_a_time_struck_out_may_be_taken_again(people, fitter, at):
    cart = CartFactory()
    strike_water(row=fill(cart, fitter, at), words="Wrong", by=people[Role.WORKSHOP_MANAGER], at=at)
    assert fill(cart, fitter, at, source="bore").source == "bore"
