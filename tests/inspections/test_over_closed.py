"""A pre-hire check past its 72 hours holds over a day the yard is closed, where the cart was put away locked with its keys in,
nothing new was told of it and its meters are unmoved; docs/good-until.md. It is signed on a Friday, and Sunday is closed."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.actions.carts import move_cart
from fleet.actions.put_away import put_away
from fleet.models.carts import Meter
from fleet.readiness import Window, readiness
from fleet.sentences import readiness_sentence
from hire.actions.holidays import decide_day
from inspections import panels, standing
from people.roles import Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, DefectFactory

HOUR = timedelta(hours=1)
# Friday 2 pm in the yard; its 72 hours end Monday 2 pm, and it is good until Tuesday 2 pm.
SIGNED = datetime(2026, 11, 27, 3, 30, tzinfo=UTC)
PLAIN, UNTIL = SIGNED + 72 * HOUR, SIGNED + 96 * HOUR
GATE = SIGNED + 90 * HOUR
OWN = {"engine-hours": "8100.0", "odometer": "40000.0"}
PAGE = Path(__file__).parents[2] / "docs" / "good-until.md"


def rows():
    section = PAGE.read_text(encoding="utf-8").split("## On what\n")[1].split("\n## ")[0]
    found = [line.strip("|").split("|") for line in section.splitlines() if line.startswith("|")]
    return [tuple(cell.strip() for cell in row) for row in found if len(row) == len(OWN) * 2 + 1][2:]


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


@pytest.fixture
def cart(db):
    walk.edition()
    return CartFactory(fleet_number="RG07")


def check(cart, hand, purpose, at, values):
    """A check whose meters read so; "none": left out as one that nobody could read."""
    unread = {"answer": "could_not_check", "why": "dark", "value": None, "unit": None}
    answers = {key: unread if value == "none" else {"value": value} for key, value in values.items()}
    return walk.sign(cart, purpose, by=hand, at=at, answers=answers)


@pytest.fixture
def signed(cart, hand):
    return check(cart, hand, "pre_hire", SIGNED, OWN)


@pytest.fixture
def away(cart, hand, signed):
    return put_away(cart=cart, keys_words="Board", by=hand, at=SIGNED + HOUR)


def gate_out(cart, hand, **values):
    told = {key.replace("_", "-"): value for key, value in values.items()}
    return check(cart, hand, "gate_out", GATE - HOUR / 2, OWN | told)


def fault(cart, *, starts_at=GATE, at=None):
    cart.refresh_from_db()
    return standing.pre_hire_faults([cart], starts={cart.pk: starts_at}, at=at or starts_at).get(cart.pk, "")


def found(cart, *, starts_at, at):
    window = Window(start=starts_at, end=starts_at + timedelta(days=7))
    answer = standing.findings([cart], windows={cart.pk: window}, at=at).get(cart.pk)
    return [] if answer is None else [*answer.blockers, *answer.cautions]


def test_unmoved_it_holds_past_its_hours(cart, hand, signed, away):
    gate_out(cart, hand)
    assert fault(cart) == ""
    assert found(cart, starts_at=GATE, at=GATE) == []
    assert standing.latest_fit_pre_hire(cart, at=GATE) == signed


@pytest.mark.parametrize(
    ("starts_at", "holds"), [(UNTIL - HOUR / 60, True), (UNTIL, False), (UNTIL + HOUR, False)]
)
@pytest.mark.usefixtures("away")
def test_it_holds_until_the_longer_moment_and_no_longer(cart, hand, starts_at, holds):
    check(cart, hand, "gate_out", starts_at - HOUR, OWN)
    said = fault(cart, starts_at=starts_at)
    assert (said == "") is holds
    if not holds:
        assert "more than 72 hours old. Over the day the yard is closed it is good until" in said
        assert said.endswith("2.00 pm at the most.")


def test_with_no_day_closed_between_72_hours_are_72_hours(cart, hand, monkeypatch):
    monkeypatch.setattr("inspections.over_closed.closed_days", lambda *_: lambda _: False)
    check(cart, hand, "pre_hire", SIGNED, OWN)
    put_away(cart=cart, keys_words="Board", by=hand, at=SIGNED + HOUR)
    gate_out(cart, hand)
    assert fault(cart) == "The pre-hire check (Fri 27 Nov 2.00 pm) will be more than 72 hours old."


def test_a_holiday_of_the_yard_is_a_closed_day(cart, hand, people, signed, away):
    start = SIGNED + 110 * HOUR
    check(cart, hand, "gate_out", start - HOUR, OWN)
    assert "at the most" in fault(cart, starts_at=start)
    decide_day(
        on=date(2026, 11, 30),
        kind="added",
        what="Show day",
        by=people[Role.FLEET_MANAGER],
        at=SIGNED,
    )
    assert fault(cart, starts_at=start) == ""


NOT_SAID = "nobody said in that time that it was put away locked, its keys in"


def test_somebody_has_to_have_put_it_away(cart, hand, signed):
    gate_out(cart, hand)
    assert fault(cart) == (
        "The pre-hire check (Fri 27 Nov 2.00 pm) will be more than 72 hours old. Over the day the yard is closed it would hold "
        f"until today 2.00 pm, but {NOT_SAID}."
    )
    assert standing.latest_fit_pre_hire(cart, at=GATE) is None


@pytest.mark.parametrize(
    ("moment", "counts"),
    [
        (SIGNED - HOUR / 60, False),
        (SIGNED, True),
        (PLAIN - HOUR / 60, True),
        (PLAIN, False),
        (GATE - HOUR, False),
    ],
)
def test_it_is_said_within_the_hours_of_the_check(cart, hand, signed, moment, counts):
    put_away(cart=cart, keys_words="Board", by=hand, at=moment)
    gate_out(cart, hand)
    assert (fault(cart) == "") is counts
    assert (NOT_SAID in fault(cart)) is not counts


def test_while_there_is_time_it_says_until_when_to_say_so(cart, hand, signed):
    said = fault(cart, starts_at=GATE, at=SIGNED + 2 * HOUR)
    assert (
        "nobody has said yet that it is put away locked, its keys in (on its page, by Monday 2.00 pm)."
        in said
    )
    assert len(said) <= 240


def test_keys_that_change_hands_end_it(cart, hand, signed, away):
    move_cart(
        cart=cart,
        where_kind="yard",
        where_words="",
        keys_words="Isla’s pocket",
        by=hand,
        at=SIGNED + 20 * HOUR,
    )
    gate_out(cart, hand)
    assert NOT_SAID in fault(cart)


def test_said_again_with_the_same_keys_it_stands(cart, hand, signed, away):
    put_away(cart=cart, keys_words="Board", by=hand, at=GATE - HOUR)
    gate_out(cart, hand)
    assert fault(cart) == ""


def test_a_defect_told_since_ends_it_and_the_check_s_own_does_not(cart, hand, signed, away):
    gate_out(cart, hand)
    DefectFactory(
        cart=cart, grade="watch", told_at=SIGNED + HOUR, source_kind="walk_round", source_id=signed.pk
    )
    DefectFactory(cart=cart, grade="watch", told_at=SIGNED - HOUR)
    assert fault(cart) == ""
    DefectFactory(cart=cart, grade="watch", told_at=GATE - HOUR)
    assert "a defect was told since" in fault(cart)


@pytest.mark.parametrize("row", rows(), ids=lambda row: row[-1])
def test_its_meters_of_the_worked_table(cart, hand, row):
    hours, hours_at, km, km_at, says = row
    check(cart, hand, "pre_hire", SIGNED, {"engine-hours": hours, "odometer": km})
    put_away(cart=cart, keys_words="Board", by=hand, at=SIGNED + HOUR)
    gate_out(cart, hand, engine_hours=hours_at, odometer=km_at)
    said = fault(cart)
    assert (says == "holds") is (said == "")
    assert said == "" or f", but {says}." in said


def test_a_reading_of_the_days_between_says_nothing_of_the_gate(cart, hand, signed, away):
    check(cart, hand, "daily", GATE - 3 * HOUR, OWN)
    assert "its engine hours and odometer are still to be read at the gate-out check" in fault(cart)


def test_a_meter_that_is_not_on_the_cart_is_not_asked_for(cart, hand, signed, away):
    Meter.objects.filter(cart=cart, kind="km").update(removed_at=SIGNED + HOUR)
    gate_out(cart, hand)
    assert fault(cart) == ""
    Meter.objects.filter(cart=cart).update(removed_at=SIGNED + HOUR)
    assert "none of its meters is on record" in fault(cart)


def test_before_it_leaves_the_meters_are_a_caution_and_no_fault(cart, hand, signed, away):
    now = PLAIN - HOUR
    assert fault(cart, starts_at=GATE, at=now) == ""
    meters, gate = found(cart, starts_at=GATE, at=now)[::-1]
    assert gate.code == "walk_round.gate_out"
    assert meters.code == "walk_round.meters"
    assert meters.sentence == (
        "The pre-hire check (Fri 27 Nov 2.00 pm) is good until tomorrow 2.00 pm, the yard being closed meanwhile, once the "
        "gate-out check has read its engine hours and odometer, risen by no more than 0.5 h and 5 km."
    )
    # At the gate it stops the cart until they are read.
    assert standing.latest_fit_pre_hire(cart, at=GATE) is None
    stops = {one.code: one.sentence for one in found(cart, starts_at=GATE, at=GATE)}
    assert "are still to be read at the gate-out check" in stops["walk_round.pre_hire"]


def test_the_sentence_of_the_cart_says_that_a_reading_is_wanted(cart, hand, signed, away):
    cart.refresh_from_db()
    walk.sign(
        cart,
        "gate_out",
        by=hand,
        at=GATE - HOUR,
        leave_out=["odometer"],
        answers={"engine-hours": {"value": "8100.0"}},
    )
    answer = readiness(cart, window=Window(start=GATE, end=GATE + HOUR), at=GATE - HOUR / 4)
    assert readiness_sentence(answer) == "Ready once its meter reading is taken, by today 8.00 am."


def test_a_moment_gone_by_is_judged_as_it_was(cart, hand, signed, away):
    """Moved, told of and read since: none of it says anything of the moment it left."""
    gate_out(cart, hand)
    move_cart(cart=cart, where_kind="road", where_words="Out", keys_words="Driver", by=hand, at=GATE + HOUR)
    DefectFactory(cart=cart, grade="watch", told_at=GATE + HOUR)
    cart.refresh_from_db()
    window = Window(GATE, GATE + HOUR, as_then=True)
    assert standing.findings([cart], windows={cart.pk: window}, at=GATE) == {}


def test_the_cart_page_says_until_when_and_on_what(cart, hand, signed):
    def said(at):
        return panels.walk_rounds(cart, at)["good_until"]

    assert said(SIGNED + HOUR) == (
        "Its pre-hire check is good until Monday 2.00 pm, unless the cart is moved or worked on. Over days the yard is closed "
        "until Tuesday 2.00 pm, only where the cart was put away locked with its keys in, nothing new was told of it, and the "
        "gate-out check reads no more than 0.5 h and 5 km over this check."
    )
    assert said(UNTIL - HOUR) != ""
    assert said(UNTIL) == ""
    check(cart, hand, "pre_hire", UNTIL, {"engine-hours": "8200.0", "odometer": "41000.0"})
    assert (
        said(UNTIL + HOUR)
        == "Its pre-hire check is good until Friday 2.00 pm, unless the cart is moved or worked on."
    )


def test_many_checks_past_their_hours_cost_what_one_does(db, people, hand):
    walk.edition()
    carts = CartFactory.create_batch(4)
    for cart in carts:
        check(cart, hand, "pre_hire", SIGNED, OWN)

    def queries(few):
        windows = {cart.pk: Window(start=GATE, end=GATE + HOUR) for cart in few}
        with CaptureQueriesContext(connection) as seen:
            assert len(standing.findings(few, windows=windows, at=GATE)) == len(few)
        return len(seen)

    assert queries(carts[:1]) == queries(carts) == 7
