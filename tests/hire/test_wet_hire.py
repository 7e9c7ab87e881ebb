"""The operator of a wet hire: one in one place, asked for at the gate, followed through moves, swaps and the end."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.readiness import Window, readiness
from hire.actions import agreements, gate, wet
from hire.actions.off_hire import PickUp
from hire.actions.swap import swap_cart
from hire.models.agreements import Line
from hire.models.operators import OperatorTurn, WetHire
from hire.promises import window_of
from people.journal.models import Entry
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.at_once import at_once
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, CustomerFactory, LineFactory
from tests.factories.wet import OperatorFactory, TurnFactory, WetHireFactory, wet_out
from tests.pages import text_of

DAY = timedelta(days=1)


def operator_codes(answer):
    stops = [one.code for one in answer.blockers if one.code.startswith("operator.")]
    falls_due = [one.code for one in answer.cautions if one.code.startswith("operator.")]
    return stops, falls_due


def judged(line, at, **window):
    about = window_of(line)
    window = Window(**{"start": about.start, "end": about.end, "line_id": line.pk} | window)
    return readiness(line.cart, window=window, at=at)


def put(line, operator, desk, **said):
    whole = {"starts_at": line.promised.lower, "ends_at": line.promised.upper, "by": desk, "at": AT}
    return wet.put_operator(line=line, operator=operator, **whole | said)


# Chosen with the booking, or later.


def agree(desk, at, **said):
    starts = at + 2 * DAY
    return agreements.make_agreement(
        **{
            "customer": CustomerFactory(), "place_of_work": "Pit", "leaves_by": "road", "works_on": "site",
            "pre_start_book": "ours", "order_number": "", "cart": CartFactory(), "starts_at": starts,
            "ends_at": starts + 7 * DAY, "by": desk, "at": at,
        }
        | said
    )  # fmt: skip


def test_an_operator_chosen_with_the_booking_goes_for_all_of_it(db, desk, at):
    operator = OperatorFactory()
    line = agree(desk, at, wants=("induction",), operator=operator)
    turn = line.turns.get()
    assert (turn.operator, turn.shift, turn.period) == (operator, 1, line.promised)
    assert line.wet.wants == ["induction"]
    assert str(operator) in Entry.objects.filter(event="hire.agreement.made").first().text


def test_an_operator_taken_elsewhere_makes_no_agreement(db, desk, at):
    line = agree(desk, at, wants=(), operator=OperatorFactory())
    with pytest.raises(wet.OperatorTaken, match=line.agreement.number):
        agree(desk, at, wants=(), operator=line.turns.get().operator)
    assert Line.objects.count() == 1


def test_an_operator_on_a_dry_hire_is_refused(db, desk, at):
    with pytest.raises(wet.NotWet):
        agree(desk, at, operator=OperatorFactory())


def test_the_form_of_an_agreement_asks_wet_or_dry(client, db, desk):
    client.force_login(desk)
    typed = {
        "place_of_work": "Saltbush Road", "leaves_by": "road", "works_on": "site", "pre_start_book": "ours", "shift": "day",
        "water": "any", "starts_at": "2027-02-01T05:30", "ends_at": "2027-02-08T17:00", "customer": CustomerFactory().pk,
        "cart": CartFactory().pk, "operator": OperatorFactory().pk,
    }  # fmt: skip
    refused = client.post(reverse("hire:line_add"), typed | {"goes": "dry"})
    assert refused.status_code == 422 and "Make it wet" in text_of(refused)
    assert client.post(reverse("hire:line_add"), typed | {"goes": "wet"}).status_code == 302
    assert Line.objects.get().turns.count() == 1


def test_put_later_and_taken_off(db, desk):
    line = WetHireFactory().line
    turn = put(line, OperatorFactory(), desk)
    wet.take_off(turn=turn, why="Ill", by=desk, at=AT)
    turn.refresh_from_db()
    assert turn.cancelled_why == "Ill"
    with pytest.raises(wet.TurnOver):
        wet.take_off(turn=turn, why="Again", by=desk, at=AT)
    events = set(Entry.objects.values_list("event", flat=True))
    assert {"hire.turn.made", "hire.turn.ended"} <= events


def test_taken_off_half_way_keeps_what_was_worked(db, desk, at):
    turn = wet_out(at=at)
    wet.take_off(turn=turn, why="Ill", by=desk, at=at)
    turn.refresh_from_db()
    assert (turn.cancelled_at, turn.period.upper) == (None, at)


@pytest.mark.parametrize(
    ("said", "no"),
    [
        ({"starts_at": AT + DAY}, wet.OutsideTheHire),
        ({"ends_at": AT + 10 * DAY}, wet.OutsideTheHire),
        ({"starts_at": AT + 5 * DAY, "ends_at": AT + 5 * DAY}, wet.OutsideTheHire),
    ],
)
def test_an_operators_time_lies_inside_the_hire(db, desk, said, no):
    with pytest.raises(no):
        put(WetHireFactory().line, OperatorFactory(), desk, **said)


def test_a_hire_that_is_dry_over_or_has_its_operator_takes_none(db, desk, at):
    with pytest.raises(wet.NotWet):
        put(LineFactory(), OperatorFactory(), desk)
    with pytest.raises(wet.NotWet):
        put(WetHireFactory(line__cancelled_at=AT).line, OperatorFactory(), desk)
    turn = TurnFactory()
    with pytest.raises(wet.OperatorTaken, match=str(turn.operator)):
        put(turn.line, OperatorFactory(), desk)
    with pytest.raises(wet.OperatorTaken, match="out of the book"):
        put(WetHireFactory().line, OperatorFactory(ended_at=AT), desk)


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_says_who_goes(db, people, role):
    turn, by = TurnFactory(), people[role]
    for act in (
        lambda: wet.set_wet(line=turn.line, wants=(), by=by, at=AT),
        lambda: wet.set_dry(line=turn.line, by=by, at=AT),
        lambda: put(turn.line, OperatorFactory(), by),
        lambda: wet.take_off(turn=turn, why="x", by=by, at=AT),
    ):
        with pytest.raises(NotAllowed):
            act()


# One operator in one place, whoever asks.


@pytest.mark.parametrize(
    ("make", "name"),
    [
        (lambda: TurnFactory(operator=TurnFactory().operator), "hire_turn_one_place_an_operator"),
        (lambda: TurnFactory(line=TurnFactory().line), "hire_turn_one_operator_a_shift"),
        (lambda: TurnFactory(starts_at=AT + DAY, ends_at=AT + DAY), "hire_turn_period_in_order"),
        (lambda: TurnFactory(shift=3), "hire_turn_shift_known"),
        (lambda: TurnFactory(cancelled_at=AT), "hire_turn_cancelled_with_why"),
    ],
)
def test_the_database_refuses_round_the_forms(db, make, name):
    with pytest.raises(IntegrityError, match=name), transaction.atomic():
        make()


def test_the_end_of_one_is_the_start_of_the_next_and_a_cancelled_one_keeps_nobody(db):
    turn = TurnFactory()
    after = WetHireFactory(line__starts_at=turn.period.upper).line
    TurnFactory(line=after, operator=turn.operator)
    TurnFactory(operator=turn.operator, cancelled_at=AT, cancelled_why="Ill")
    TurnFactory(line=turn.line, shift=2)
    assert OperatorTurn.objects.count() == 4


@pytest.mark.django_db(transaction=True)
def test_two_desks_put_one_operator_in_two_places(people):
    desk, operator = people[Role.HIRE_DESK], OperatorFactory()
    lines = [WetHireFactory().line for _ in range(2)]
    results = at_once(*[lambda line=line: put(line, operator, desk) for line in lines])
    refused = [one for one in results if isinstance(one, wet.OperatorTaken)]
    assert len(refused) == 1
    winner = OperatorTurn.objects.get()
    assert winner.line.agreement.number in refused[0].sentence


# What becomes of the operator.


def test_a_longer_hire_keeps_its_operator_to_the_end(db, desk):
    turn = TurnFactory()
    line, end = turn.line, turn.period.upper
    agreements.move_line(line=line, starts_at=line.promised.lower, ends_at=end + 3 * DAY, by=desk, at=AT)
    turn.refresh_from_db()
    assert turn.period.upper == end + 3 * DAY


def test_a_longer_hire_whose_operator_is_elsewhere_by_then_says_so(db, desk):
    turn = TurnFactory()
    line, end = turn.line, turn.period.upper
    after = WetHireFactory(line__starts_at=end).line
    TurnFactory(line=after, operator=turn.operator)
    line = agreements.move_line(
        line=line, starts_at=line.promised.lower, ends_at=end + 3 * DAY, by=desk, at=AT
    )
    turn.refresh_from_db()
    assert turn.period.upper == end
    assert operator_codes(judged(line, AT)) == ([], ["operator.none"])


def test_a_shorter_or_moved_hire_frees_them(db, desk):
    first = TurnFactory()
    line = first.line
    agreements.move_line(
        line=line, starts_at=line.promised.lower, ends_at=line.promised.upper - 3 * DAY, by=desk, at=AT
    )
    first.refresh_from_db()
    assert first.period.upper == line.promised.upper - 3 * DAY
    part = TurnFactory(starts_at=AT + 3 * DAY, ends_at=AT + 4 * DAY)
    agreements.move_line(line=part.line, starts_at=AT + 20 * DAY, ends_at=AT + 24 * DAY, by=desk, at=AT)
    part.refresh_from_db()
    assert part.cancelled_at == AT


def test_a_cancelled_hire_and_a_cart_back_free_them(db, desk, at):
    turn = TurnFactory()
    agreements.cancel_line(line=turn.line, why="Rain", by=desk, at=AT)
    turn.refresh_from_db()
    assert turn.cancelled_at == AT
    out = wet_out(at=at)
    gate.bring_back(line=out.line, where_words="Bay", keys_words="Board", by=desk, at=at)
    out.refresh_from_db()
    assert out.period.upper == at


def test_a_swap_takes_the_operator_along(db, desk, at):
    turn = wet_out(at=at, wants=["induction"])
    line, end, swapped_at = turn.line, turn.period.upper, at - timedelta(hours=1)
    new = swap_cart(
        line=line, cart=CartFactory(), swapped_at=swapped_at, called_by_words="Site", why="Pump",
        pick_up=PickUp("Pit", "Office", "Theirs"), by=desk, at=at,
    )  # fmt: skip
    turn.refresh_from_db()
    follows = new.turns.get()
    assert (turn.period.upper, follows.period.lower, follows.period.upper) == (swapped_at, swapped_at, end)
    assert (follows.operator, new.wet.wants) == (turn.operator, ["induction"])


def test_dry_again_frees_them(db, desk):
    turn = TurnFactory()
    wet.set_dry(line=turn.line, by=desk, at=AT)
    turn.refresh_from_db()
    assert turn.cancelled_at == AT and not WetHire.objects.exists()


def test_the_page_offers_everybody_with_what_stands_in_the_way(client, db, desk):
    client.force_login(desk)
    turn = wet_out(at=timezone.now())
    OperatorFactory(name="Ola Brand")
    line = wet_out(at=timezone.now()).line
    page = text_of(client.get(reverse("hire:operator_put", args=[line.pk])))
    assert "Ola Brand, Moran Plant Operators. Ola Brand has no licence of class" in page
    assert f"With {turn.line.cart.fleet_number} on {turn.line.agreement.number}" in page
