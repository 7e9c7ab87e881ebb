"""A cart that is called off is kept for its hire until it is fetched, and is others' to have from then."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.readiness import Window, readiness
from fleet.watch import moves_late
from hire.actions.agreements import CartPromised, add_line
from hire.actions.gate import bring_back
from hire.actions.kept import TakenSince
from hire.actions.not_back import not_back
from hire.actions.off_hire import NotThen, PickUp, call_off, cancel_off_hire, record_failed_pick_up
from hire.actions.swap import swap_cart
from hire.availability import answer, taken
from hire.models.agreements import Line
from hire.pick_up import fetched_by
from hire.suiting import Enquiry
from hire.watch import returns_overdue
from people.yard import yard_policy
from tests.factories.fleet import CartFactory, HoldFactory
from tests.factories.hire import AgreementFactory, LineFactory
from tests.factories.standing import MovePermitFactory

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ADELAIDE = ZoneInfo("Australia/Adelaide")
SAID = {"called_by_words": "Aoife Merrin"}


def pick_up(back_by=None):
    return PickUp("Saltbush Road, north gate", "In the site office", "The customer, until pick-up", back_by)


@pytest.fixture
def line(db, at):
    """Out, and promised for three more weeks."""
    return LineFactory(
        cart__fleet_number="RG07", starts_at=at - 7 * DAY, ends_at=at + 21 * DAY, out_at=at - 7 * DAY
    )


def called_off(line, desk, at, back_by):
    return call_off(line=line, called_at=at, **SAID, pick_up=pick_up(back_by), by=desk, at=at)


def promise(cart, starts_at, desk, at):
    return add_line(
        agreement=AgreementFactory(),
        cart=cart,
        starts_at=starts_at,
        ends_at=starts_at + 3 * DAY,
        by=desk,
        at=at,
    )


def kept_of(line):
    return Line.objects.values_list("kept", flat=True).get(pk=line.pk)


@pytest.mark.parametrize(
    ("called", "by"),
    [
        pytest.param(datetime(2026, 11, 25, 9, tzinfo=ADELAIDE), datetime(2026, 11, 27, 17, tzinfo=ADELAIDE), id="Wednesday"),
        pytest.param(datetime(2026, 11, 28, 9, tzinfo=ADELAIDE), datetime(2026, 12, 1, 17, tzinfo=ADELAIDE), id="over a weekend"),
        pytest.param(datetime(2026, 10, 2, 9, tzinfo=ADELAIDE), datetime(2026, 10, 5, 17, tzinfo=ADELAIDE), id="into summer time"),
    ],
)  # fmt: skip
def test_it_is_fetched_within_the_yards_days(called, by):
    assert fetched_by(called.astimezone(UTC)) == by


def test_no_days_at_all_are_never_before_the_call(settings):
    settings.YARD_PICK_UP_DAYS = 0
    yard_policy.cache_clear()
    late = datetime(2026, 11, 25, 20, tzinfo=ADELAIDE)
    try:
        assert fetched_by(late) == late
    finally:
        yard_policy.cache_clear()


def test_the_promise_stays_and_what_is_kept_ends_with_the_pick_up(line, desk, at):
    assert kept_of(line) == DateTimeTZRange(line.promised.lower, line.promised.upper)
    called_off(line, desk, at, at + 2 * DAY)
    line.refresh_from_db()
    assert line.promised.upper == at + 21 * DAY
    assert kept_of(line) == DateTimeTZRange(line.promised.lower, at + 2 * DAY)


def test_where_nobody_says_the_yards_days_count(line, desk, at):
    called_off(line, desk, at, None)
    line.refresh_from_db()
    assert line.kept_until == fetched_by(at)


def test_before_the_call_it_is_not_fetched(line, desk, at):
    with pytest.raises(NotThen, match="fetched after the call") as refused:
        called_off(line, desk, at, at)
    assert refused.value.field == "back_by"


def test_others_may_have_it_from_then_and_not_before(line, desk, at):
    with pytest.raises(CartPromised):
        promise(line.cart, at + 3 * DAY, desk, at)
    called_off(line, desk, at, at + 2 * DAY)
    with pytest.raises(CartPromised):
        promise(line.cart, at + 2 * DAY - HOUR, desk, at)
    assert promise(line.cart, at + 2 * DAY, desk, at).pk


def test_a_caller_hears_that_it_is_off_hire_and_when_it_is_free(line, desk, at):
    called_off(line, desk, at, at + 2 * DAY)
    soon = taken([line.cart], start=at + DAY, end=at + 4 * DAY, at=at)[line.cart_id]
    assert soon.words.startswith("Off hire from ")
    assert soon.free_at == at + 2 * DAY + 4 * HOUR
    assert taken([line.cart], start=at + 3 * DAY, end=at + 9 * DAY, at=at) == {}
    asked = Enquiry(at + 3 * DAY, at + 9 * DAY)
    found = answer(asked, at=at)
    [offer] = [*found.suiting, *found.stopped]
    assert offer.cart == line.cart


def test_one_fetched_after_its_promised_end_is_not_free_before(line, desk, at):
    line.promised = DateTimeTZRange(line.promised.lower, at + HOUR)
    line.save()
    called_off(line, desk, at, at + 5 * DAY)
    found = taken([line.cart], start=at + 2 * DAY, end=at + 4 * DAY, at=at)
    assert found[line.cart_id].free_at == at + 5 * DAY + 4 * HOUR


def test_not_fetched_by_then_nobody_can_say_and_the_desk_is_told(line, desk, at):
    called_off(line, desk, at, at + 2 * DAY)
    assert list(returns_overdue(at + DAY)) == []
    later = at + 2 * DAY + 3 * HOUR
    [told] = returns_overdue(later)
    assert "is not picked up" in told.what
    assert told.due_at == at + 2 * DAY
    found = taken([line.cart], start=at + 9 * DAY, end=at + 12 * DAY, at=later)
    assert found[line.cart_id].free_at is None


def test_called_off_past_its_promised_end_is_no_alert_before_it_was_to_be_fetched(line, desk, at):
    line.promised = DateTimeTZRange(line.promised.lower, at - HOUR)
    line.save()
    called_off(line, desk, at, at + 2 * DAY)
    assert list(returns_overdue(at + DAY)) == []


def test_the_next_hire_is_warned_of_the_day_it_is_back_not_of_the_promised_end(line, desk, at):
    called_off(line, desk, at, at + 2 * DAY)
    window = Window(at + 4 * DAY, at + 6 * DAY)
    said = [one for one in readiness(line.cart, window=window, at=at).cautions if one.code == "hire.out"]
    assert [one.due_at for one in said] == [at + 2 * DAY]
    early = readiness(line.cart, window=Window(at + DAY, at + 6 * DAY), at=at)
    assert "hire.overlap" in [one.code for one in early.blockers]


def test_a_call_by_mistake_takes_the_cart_back(line, desk, at):
    call = called_off(line, desk, at, at + 2 * DAY)
    cancel_off_hire(off_hire=call, why="Wrong cart", by=desk, at=at + HOUR)
    with pytest.raises(CartPromised):
        promise(line.cart, at + 5 * DAY, desk, at)


def test_unless_another_hire_has_it_by_then(line, desk, at):
    call = called_off(line, desk, at, at + 2 * DAY)
    other = promise(line.cart, at + 5 * DAY, desk, at)
    with pytest.raises(TakenSince, match=other.agreement.number):
        cancel_off_hire(off_hire=call, why="Wrong cart", by=desk, at=at + HOUR)
    call.refresh_from_db()
    line.refresh_from_db()
    assert (call.cancelled_at, line.kept_until) == (None, at + 2 * DAY)


def test_a_failed_pick_up_keeps_it_longer(line, desk, at):
    call = called_off(line, desk, at, at + 2 * DAY)
    record_failed_pick_up(
        off_hire=call, tried_at=at + DAY, why="Bogged", back_by=at + 6 * DAY, by=desk, at=at + DAY
    )
    assert kept_of(line).upper == at + 6 * DAY
    with pytest.raises(NotThen):
        record_failed_pick_up(
            off_hire=call, tried_at=at + DAY, why="Bogged", back_by=at, by=desk, at=at + DAY
        )


def test_but_not_into_another_hire_which_waits(line, desk, at):
    call = called_off(line, desk, at, at + 2 * DAY)
    promise(line.cart, at + 3 * DAY, desk, at)
    record_failed_pick_up(
        off_hire=call, tried_at=at + DAY, why="Bogged", back_by=at + 6 * DAY, by=desk, at=at + DAY
    )
    assert kept_of(line).upper == at + 2 * DAY
    [told] = returns_overdue(at + 3 * DAY)
    assert "It is wanted by" in told.if_not


def test_a_swapped_cart_is_kept_until_it_is_fetched(line, desk, at):
    swap_cart(
        line=line,
        cart=CartFactory(),
        swapped_at=at,
        **SAID,
        why="Pump",
        pick_up=pick_up(at + DAY),
        by=desk,
        at=at,
    )
    assert kept_of(line).upper == at + DAY


def test_called_off_before_its_promised_start_it_has_that_behind_it(desk, at, db):
    early = LineFactory(starts_at=at + 2 * DAY, ends_at=at + 9 * DAY, out_at=at - HOUR)
    called_off(early, desk, at, at + DAY)
    kept = kept_of(early)
    assert kept.lower < kept.upper <= at + 2 * DAY + HOUR


def test_one_that_came_home_on_a_move_permit_has_made_its_trip(line, desk, at):
    """Held on site, fetched on a permit: back in the yard the trip is over, and nobody rings for it."""
    HoldFactory(cart=line.cart, placed_at=at - HOUR)
    permit = MovePermitFactory(cart=line.cart, given_at=at - 2 * HOUR, left=True)
    bring_back(line=line, where_words="Bay 2", keys_words="Hook 4", by=desk, at=at)
    permit.refresh_from_db()
    assert (permit.came_at, permit.came_to_words) == (at, "In the yard, Bay 2")
    assert list(moves_late(at + DAY)) == []


def test_back_by_mistake_it_is_kept_as_before(line, desk, at):
    called_off(line, desk, at, at + 2 * DAY)
    bring_back(line=line, where_words="Bay 2", keys_words="Hook 4", by=desk, at=at + DAY)
    promise(line.cart, at + 3 * DAY, desk, at + DAY)
    line.refresh_from_db()
    not_back(line=line, why="Another cart", by=desk, at=at + DAY + HOUR)
    assert kept_of(line).upper == at + 2 * DAY
