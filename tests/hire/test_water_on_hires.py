"""What a cart carries on a hire is on record of its tank: from its loads, its dockets and its return, until it is made good."""

import uuid
from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.actions.locks import constraint_of
from fleet.actions.water import record_sanitising, record_test
from fleet.models.carts import Cart, Fitment
from fleet.water_standing import standing_of, standings
from hire.actions.agreements import NotForDrinkingWater, make_agreement
from hire.actions.clashes import TankSpoilt
from hire.actions.gate import bring_back
from hire.actions.loads import Teller, record_load, undo_load
from hire.actions.water import NotBackYet, SayWhyOtherwise, WaterUnclear, tell_water
from hire.booking_yard import yard_for
from hire.models.loads import LoadUndone
from hire.models.water import WaterTold
from hire.suiting import Enquiry
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import Role
from people.yard import yard_day, yard_policy
from tests.factories.hire import CustomerFactory, LineFactory, LoadFactory
from tests.factories.water import SanitisingFactory, WaterCarriedFactory, potable_cart
from tests.factories.wet import DailyDocketFactory, wet_out
from tests.factories.yard_of_carts import many_carts

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def after_bore(monkeypatch):
    """A yard where bore and dam water are made good by a sanitise and a test."""
    policy = replace(yard_policy(), potable_after_bore=True)
    monkeypatch.setattr("fleet.water_standing.yard_policy", lambda: policy)
    monkeypatch.setattr("hire.tank_order.yard_policy", lambda: policy)


def out(now, water="any", **made):
    starts = now - 4 * DAY
    return LineFactory(
        **{"cart": potable_cart(), "starts_at": starts, "out_at": starts, "agreement__water": water} | made
    )


def tap(line, source, *, by, at, point="Weir Street", **more):
    return record_load(
        line=line, load_id=uuid.uuid4(), fill_point=point, litres=9000, source=source, taken_at=at, teller=Teller(by=by),
        at=at, **more,
    )  # fmt: skip


def back(line, *, by, at, water=""):
    return bring_back(line=line, where_words="Wash bay", keys_words="Board", water=water, by=by, at=at)


def stands(line):
    return standing_of(Cart.objects.get(pk=line.cart_id))


def offered(line, *, at):
    enquiry = Enquiry(start=at + 30 * DAY, end=at + 31 * DAY, is_potable=True)
    return line.cart_id not in yard_for([enquiry], at=at).never


def promise(line, desk, at):
    return make_agreement(
        customer=CustomerFactory(), place_of_work="x", leaves_by="road", works_on="road", pre_start_book="ours",
        order_number="", cart=line.cart, starts_at=at + 30 * DAY, ends_at=at + 31 * DAY, water="potable", by=desk, at=at,
    )  # fmt: skip


def test_loads_from_a_dam_spoil_the_tank_and_are_named(desk, hand, now):
    line = out(now)
    assert stands(line).verdict == "may"
    for n in range(14):
        tap(line, "dam", by=hand, at=now - n * HOUR, point="Callabar dam")
    first = yard_day(now - 13 * HOUR)
    words = (
        f"The tank carried dam water on hire {line.agreement.number}, 14 loads from {first.day} {first:%b}"
    )
    assert stands(line).verdict == "never"
    assert stands(line).sentence.startswith(words)
    assert not offered(line, at=now)
    with pytest.raises(NotForDrinkingWater, match="14 loads from"):
        promise(line, desk, now)


def test_loads_taken_back_count_for_nothing(desk, hand, now):
    line = out(now)
    before = stands(line)
    loads = [tap(line, "dam", by=hand, at=now - n * HOUR, point="Callabar dam") for n in range(2)]
    undo_load(load=loads[0], teller=Teller(by=hand), at=now)
    assert "1 load from" in stands(line).sentence
    undo_load(load=loads[1], teller=Teller(by=hand), at=now)
    assert replace(stands(line), filled_at=None) == replace(before, filled_at=None)
    assert offered(line, at=now)
    # While it is out it may yet carry any water.
    with pytest.raises(TankSpoilt, match="is out with "):
        promise(line, desk, now)
    back(line, by=hand, at=now, water="potable")
    assert promise(line, desk, now).cart == line.cart


def test_made_good_where_the_yard_allows_it_by_a_later_sanitising_and_its_test(
    after_bore, people, desk, hand, now
):
    line = out(now)
    tap(line, "dam", by=hand, at=now - 2 * DAY, point="Callabar dam")
    assert stands(line).verdict == "after sanitising"
    back(line, by=hand, at=now - 2 * HOUR, water="dam")
    SanitisingFactory(cart=line.cart, passed=True, done_at=now - 3 * HOUR - DAY, recorded_at=now)
    assert "as told when it came back" in stands(line).sentence
    details = SanitisingFactory.build(cart=line.cart, done_at=now - HOUR)
    done = record_sanitising(cart=line.cart, details=_details(details), by=hand, at=now)
    assert "no test of its water" in stands(line).sentence
    record_test(
        sanitising=done, tested_at=now - HOUR, test_passed=True, test_words="Report 9", by=hand, at=now
    )
    assert stands(line).verdict == "may"
    assert promise(line, desk, now).cart == line.cart


def _details(row):
    from fleet.actions.water import SanitisingDetails  # noqa: PLC0415 - beside its one use

    return SanitisingDetails(
        row.done_at,
        row.how,
        row.product,
        row.dose_mg_l,
        row.minutes,
        row.rinse,
        row.residual_mg_l,
        row.by_words,
    )


def test_what_no_cleaning_makes_good_is_lost_by_one_load(after_bore, hand, now):
    line = out(now)
    tap(line, "effluent", by=hand, at=now)
    SanitisingFactory(cart=line.cart, passed=True, done_at=now + HOUR, recorded_at=now + DAY)
    assert stands(line).verdict == "never"
    assert "effluent on hire" in stands(line).sentence


def test_a_potable_hire_that_carried_mains_alone_stays_potable(desk, hand, now):
    line = out(now, water="potable")
    tap(line, "potable", by=hand, at=now - HOUR)
    assert stands(line).verdict == "may"
    back(line, by=hand, at=now)
    assert stands(line).verdict == "may"
    assert promise(line, desk, now).cart == line.cart


@pytest.mark.parametrize(("made", "verdict"), [(True, "after sanitising"), (False, "never")])
def test_what_nobody_told_is_the_worst_the_hire_allowed(monkeypatch, hand, now, made, verdict):
    policy = replace(yard_policy(), potable_after_bore=made)
    monkeypatch.setattr("fleet.water_standing.yard_policy", lambda: policy)
    line = out(now)
    # Potable loads say nothing of what else it carried.
    tap(line, "potable", by=hand, at=now - DAY)
    back(line, by=hand, at=now - HOUR)
    found = stands(line)
    assert found.verdict == verdict
    assert found.sentence.startswith(
        f"Nobody told what the tank carried on hire {line.agreement.number}, which came back"
    )
    assert "tell what it carried on that hire" in found.clear_words
    tell_water(line=line, source="potable", by=hand, at=now)
    assert stands(line).verdict == "may"


def test_not_told_is_made_good_by_a_sanitising_after_the_return(after_bore, hand, now):
    line = out(now)
    back(line, by=hand, at=now - 3 * DAY)
    SanitisingFactory(cart=line.cart, passed=True, done_at=now - 3 * DAY - HOUR, recorded_at=now)
    assert stands(line).verdict == "after sanitising"
    SanitisingFactory(cart=line.cart, passed=True, done_at=now - 2 * DAY, recorded_at=now)
    assert stands(line).verdict == "may"


def test_a_dam_nobody_told_more_of_is_in_the_tank_until_the_return(after_bore, hand, now):
    line = out(now)
    tap(line, "dam", by=hand, at=now - 3 * DAY, point="East dam")
    SanitisingFactory(cart=line.cart, passed=True, done_at=now - 2 * DAY, recorded_at=now)
    assert stands(line).verdict == "may"
    back(line, by=hand, at=now - DAY)
    assert stands(line).verdict == "after sanitising"
    assert "dam water on hire" in stands(line).sentence
    SanitisingFactory(cart=line.cart, passed=True, done_at=now - HOUR, recorded_at=now)
    assert stands(line).verdict == "may"


def test_another_answer_is_a_managers_and_says_why(people, hand, now):
    line = out(now)
    with pytest.raises(NotBackYet):
        tell_water(line=line, source="dam", by=hand, at=now)
    back(line, by=hand, at=now, water="dam")
    assert tell_water(line=line, source="dam", by=hand, at=now) == WaterTold.objects.get()
    with pytest.raises(NotAllowed, match="Dam water is on record for this hire"):
        tell_water(line=line, source="potable", words="Slip", by=hand, at=now)
    with pytest.raises(NotAllowed):
        tell_water(line=line, source="dam", by=people[Role.FITTER], at=now)
    manager = people[Role.WORKSHOP_MANAGER]
    with pytest.raises(SayWhyOtherwise):
        tell_water(line=line, source="potable", by=manager, at=now)
    with pytest.raises(WaterUnclear):
        tell_water(line=line, source="wine", words="x", by=manager, at=now)
    tell_water(line=line, source="potable", words="The other cart", by=manager, at=now + HOUR)
    assert stands(line).verdict == "may"
    assert Entry.objects.filter(event="hire.water.told").count() == 2


def test_a_load_that_spoilt_a_tank_is_taken_back_late_by_a_manager_alone(people, hand, now):
    line = out(now)
    load = tap(line, "dam", by=hand, at=now - 2 * DAY, point="East dam")
    with pytest.raises(NotAllowed, match="Dam water that is on record for over a day"):
        undo_load(load=load, teller=Teller(by=hand), at=now)
    undo_load(load=load, teller=Teller(by=people[Role.FLEET_MANAGER]), at=now)
    assert LoadUndone.objects.count() == 1


def docket(now, **said):
    turn = wet_out(at=now, cart=potable_cart())
    return DailyDocketFactory(turn=turn, **said)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"water_source": "dam", "water_words": "Callabar"}, "dam water on hire"),
        # Written down before it was asked what water it was.
        ({"water_words": "Station bore, east"}, "bore water on hire"),
        ({"water_words": "Recycled, plant 2"}, "recycled water on hire"),
    ],
)
def test_a_daily_docket_names_the_water(now, said, words):
    found = stands(docket(now, **said).line)
    assert found.verdict == "never"
    assert words in found.sentence
    assert "11 loads from" in found.sentence


@pytest.mark.parametrize("water_words", ["Weir Street", "Hydrant, Dam Road", "Damson Crescent"])
def test_a_docket_that_names_no_other_water_spoils_nothing(now, water_words):
    assert stands(docket(now, water_words=water_words).line).verdict == "may"


def test_a_docket_replaced_counts_no_more(now):
    first = docket(now, water_source="dam")
    assert stands(first.line).verdict == "never"
    DailyDocketFactory(
        turn=None, line=first.line, operator=first.operator, on=first.on, water_source="potable", replaces=first,
        replaces_why="Other cart",
    )  # fmt: skip
    assert stands(first.line).verdict == "may"


def test_a_docket_does_not_count_the_taps_again(hand, now):
    one = docket(now, water_source="dam")
    for n in range(3):
        tap(one.line, "dam", by=hand, at=now - n * HOUR, point="East dam")
    assert "3 loads from" in stands(one.line).sentence


def test_five_hundred_carts_cost_what_ten_do(now):
    carts = many_carts(500, at=now)
    has = set(Fitment.objects.filter(kind="potable_tank", removed_on=None).values_list("cart_id", flat=True))
    Fitment.objects.bulk_create(
        Fitment(cart=cart, kind="potable_tank", fitted_on=yard_day(now) - 90 * DAY)
        for cart in carts
        if cart.pk not in has
    )
    for cart in carts[:30]:
        WaterCarriedFactory(cart=cart, filled_at=now - 9 * DAY)
        SanitisingFactory(cart=cart, passed=True, done_at=now - 8 * DAY)
        starts = now - 5 * DAY
        line = LineFactory(cart=cart, starts_at=starts, out_at=starts, came_back_at=now - DAY)
        LoadFactory(line=line, source="dam", taken_at=now - 2 * DAY, told_at=now)

    def queries(number):
        with CaptureQueriesContext(connection) as seen:
            found = standings(carts[:number])
        assert found[carts[0].pk].sentence.startswith("The tank carried dam water on hire")
        return len(seen)

    assert queries(10) == queries(500) == 6


def test_the_database_knows_the_waters(now):
    line = out(now)
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        WaterTold.objects.create(line=line, source="wine", told_at=now, told_by=line.agreement.made_by)
    assert constraint_of(refused.value) == "hire_watertold_source_known"
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        DailyDocketFactory(water_source="wine")
    assert constraint_of(refused.value) == "hire_dailydocket_water_known"
