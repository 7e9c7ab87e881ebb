"""A cart comes back: what is new beside the record it left with, its kit, and each thing charged once or let go, by name."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from hire.actions import back as acts
from hire.actions import money
from hire.actions.gate import hand_over
from hire.back_decisions import decidables
from hire.back_record import read_record
from hire.charging.back import Typed
from hire.models.back import BackDecision
from hire.models.money import BesideCharge
from people.journal.models import Entry
from people.refusals import NotAllowed
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.back import DAY, HOUR, REAR, back_line, returned_line, wrong
from tests.factories.fleet import CartFactory, DefectFactory, TreadReadingFactory
from tests.factories.hire import given, ready_line
from tests.factories.money import BODY, AgreedTermsFactory

pytestmark = pytest.mark.django_db

GLANCE = "wheels-at-a-glance-left-rear-wheels"


def dented(hand, at):
    """Walked as it came back, with a dent."""
    return returned_line(hand=hand, at=at, found={REAR: wrong("Side board bent in")})


def told_of(at):
    """Back a day before `at`, with a dent told while it was out."""
    return back_line(at=at)[0]


def proposals(line):
    return {one.proposal.key: one for one in decidables(read_record(line))}


def dent_key(line):
    (key,) = [key for key, one in proposals(line).items() if one.proposal.kind == "damage"]
    return key


def charge(line, key, desk, at, words="New side board", **typed):
    typed = typed or {"amount": Decimal("240.00")}
    return acts.charge_found(line=line, key=key, typed=Typed(**typed), words=words, by=desk, at=at)


def test_what_was_told_since_it_left_is_new_and_what_stood_is_said_to_be_so(hand, at):
    old = DefectFactory(
        cart=CartFactory(fleet_number="RG07", tyres=True), title="Mud flap torn", grade="watch", told_at=at - 9 * DAY,
        station="rear", place="", check_key=REAR,
    )  # fmt: skip
    mended = DefectFactory(
        cart=old.cart, grade="watch", state="verified", told_at=at - 9 * DAY, closed_at=at - DAY
    )
    out_there = DefectFactory(
        cart=old.cart, title="Lamp broken", grade="watch", station="front", place="", told_at=at + DAY
    )
    line = returned_line(
        hand=hand,
        at=at,
        cart=old.cart,
        found={REAR: wrong("Flap gone", "watch"), "as-it-came-back-left-side": wrong("Dent")},
    )
    record = read_record(line)
    assert [(told.defect.pk, told.again) for told in record.on_record] == [(old.pk, True)]
    assert mended.pk not in {told.defect.pk for told in (*record.on_record, *record.new)}
    assert [told.defect.title for told in record.new] == ["Lamp broken", "As it came back"]
    assert record.new[0].defect == out_there
    assert record.new[1].told.startswith("As returned, 6 Dec 2026, ")
    shown = {(pair.look.key, pair.is_new) for stop in record.stops for pair in stop.pairs if pair.is_wrong}
    assert shown == {(REAR, False), ("as-it-came-back-left-side", True)}


def test_a_check_signed_before_it_left_that_came_in_later_tells_how_it_left(hand, at):
    line = returned_line(hand=hand, at=at, out={"rear-lights": wrong("One out", "watch")})
    stood = line.cart.defects.get(check_key="rear-lights")
    type(stood).objects.filter(pk=stood.pk).update(told_at=at + HOUR)
    record = read_record(line)
    assert [told.defect.pk for told in record.on_record] == [stood.pk]
    assert record.new == []


def test_what_is_found_after_the_wash_counts_and_what_comes_later_does_not(hand, at):
    line = returned_line(
        hand=hand, at=at, washed={"chassis-left-side": wrong("Crack by the bracket", "do_not_use")}
    )
    DefectFactory(cart=line.cart, title="Found by the workshop", grade="watch", told_at=at + 8 * DAY)
    assert [told.defect.words for told in read_record(line).new] == ["Crack by the bracket"]
    assert read_record(line).new[0].told.startswith("After wash, 7 Dec 2026")


def test_the_next_hire_of_the_cart_is_no_part_of_it(hand, at):
    line = dented(hand, at)
    assert list(read_record(line).walks) == ["pre_hire", "gate_out", "as_returned"]
    later = at + 12 * DAY
    again = ready_line(hand=hand, at=later, cart=CartFactory(tyres=True))
    again.cart = line.cart
    again.handed_over_at = later
    again.save()
    walk.sign(
        line.cart, "as_returned", by=hand, at=later + DAY, answers={"as-it-came-back-front": wrong("Bumper")}
    )
    assert [told.defect.words for told in read_record(line).new] == ["Side board bent in"]
    assert [told.defect.words for told in read_record(again).on_record] == ["Side board bent in"]
    assert [told.defect.words for told in read_record(again).new] == ["Bumper"]


def test_nothing_is_decided_while_the_cart_is_out(hand, desk, at):
    line = ready_line(hand=hand, at=at, cart=CartFactory(tyres=True))
    hand_over(line=line, given=given(), by=hand, at=at)
    dent = DefectFactory(cart=line.cart, grade="watch", told_at=at + HOUR)
    assert proposals(line) == {}
    with pytest.raises(acts.NotProposed, match="Look at the page"):
        charge(line, f"defect-{dent.pk}", desk, at + DAY)


def test_a_dent_is_charged_and_stands_on_the_docket_to_the_cent(hand, desk, at):
    line = dented(hand, at)
    AgreedTermsFactory(line=line)
    decision = charge(line, dent_key(line), desk, at + 6 * DAY, amount=Decimal("240.50"))
    docket = money.make_docket(line=line, by=desk, at=at + 6 * DAY)
    (row,) = [one for one in docket.body["lines"] if one["key"] == f"beside {decision.beside.pk}"]
    assert (row["what"], row["amount"]) == ("Damage, rear", "240.50")
    assert row["working"].startswith("New side board. Side board bent in. As returned, 6 Dec 2026, ")
    assert row["working"].endswith("Not on the record it left with.")
    # Six days at 290 are dearer than a week.
    assert docket.net == Decimal("1450.00") + Decimal("240.50")
    entry = Entry.objects.get(event="hire.found.charged", subject_id=line.pk, chain="yard")
    assert entry.by == desk


def test_nothing_is_charged_twice(desk, at):
    line = told_of(at)
    key = dent_key(line)
    charge(line, key, desk, at + 6 * DAY)
    with pytest.raises(acts.AlreadyCharged, match="Strike that charge out"):
        charge(line, key, desk, at + 6 * DAY)
    with pytest.raises(acts.AlreadyCharged):
        acts.let_go_found(line=line, key=key, reason="fair_wear", by=desk, at=at + 6 * DAY)
    assert BesideCharge.objects.count() == BackDecision.objects.count() == 1


def test_the_database_refuses_a_second_charge_for_one_thing(desk, at):
    line = told_of(at)
    beside = charge(line, dent_key(line), desk, at + 6 * DAY).beside
    with pytest.raises(IntegrityError, match="hire_besidecharge_thing_once"), transaction.atomic():
        BesideCharge.objects.create(
            line=line, what="Again", quantity=1, unit="piece", unit_price=1, thing=beside.thing, told_at=at, told_by=desk
        )  # fmt: skip


@pytest.mark.parametrize(
    ("facts", "constraint"),
    [
        ({"outcome": "let_go", "reason": ""}, "charged_or_let_go"),
        ({"outcome": "let_go", "reason": "fair_wear", "amount": Decimal(5)}, "charged_or_let_go"),
        ({"outcome": "charged", "amount": Decimal(5)}, "charged_or_let_go"),
        ({"kind": "tyre", "outcome": "charged", "amount": Decimal(5), "charged": True}, "tyre_was_measured"),
        ({"thing": "taken", "outcome": "let_go", "reason": "fair_wear"}, "first_word_once"),
    ],
)
def test_the_database_refuses_a_decision_that_makes_no_sense(desk, at, facts, constraint):
    line = told_of(at)
    taken = {
        "line": line,
        "kind": "damage",
        "what": "Dent",
        "shown": "Dent",
        "decided_at": at,
        "decided_by": desk,
    }
    BackDecision.objects.create(thing="taken", outcome="let_go", reason="goodwill", **taken)
    if facts.pop("charged", False):
        facts["beside"] = BesideCharge.objects.create(
            line=line, what="Tyre", quantity=1, unit="tyre", unit_price=5, told_at=at, told_by=desk
        )
    with pytest.raises(IntegrityError, match=f"hire_backdecision_{constraint}"), transaction.atomic():
        BackDecision.objects.create(**taken | {"thing": "dent"} | facts)


def test_struck_out_it_is_credited_and_may_be_decided_anew(desk, at):
    line = told_of(at)
    AgreedTermsFactory(line=line)
    key = dent_key(line)
    first = charge(line, key, desk, at)
    money.make_docket(line=line, by=desk, at=at)
    money.strike_beside(beside=first.beside, why="Their photo shows it before", by=desk, at=at + DAY)
    assert proposals(line)[key].is_open
    second = acts.let_go_found(line=line, key=key, reason="before", by=desk, at=at + 2 * DAY)
    assert second.replaces == first
    assert money.make_docket(line=line, by=desk, at=at + 2 * DAY).net == Decimal("-240.00")
    third = charge(line, key, desk, at + 3 * DAY, amount=Decimal(100))
    assert third.replaces == second
    assert proposals(line)[key].decision == third


def test_two_defects_that_turned_out_to_be_one_are_charged_once(desk, at):
    line, first = back_line(at=at)
    other = DefectFactory(cart=line.cart, grade="watch", station="rear", told_at=at - DAY)
    charge(line, f"defect-{other.pk}", desk, at)
    type(other).objects.filter(pk=other.pk).update(state="same_as", same_as=first, closed_at=at)
    assert list(proposals(line)) == [f"defect-{first.pk}"]
    with pytest.raises(acts.AlreadyCharged):
        charge(line, f"defect-{first.pk}", desk, at + DAY)


def test_no_fault_found_is_nothing_to_decide(at):
    line = told_of(at)
    line.cart.defects.update(state="no_fault_found", closed_at=at + 6 * DAY)
    assert proposals(line) == {}
    assert len(read_record(line).new) == 1


def test_what_is_let_go_has_a_reason_and_a_name(desk, at):
    line = told_of(at)
    key = dent_key(line)
    with pytest.raises(acts.ReasonWanted):
        acts.let_go_found(line=line, key=key, reason="", by=desk, at=at + 6 * DAY)
    decision = acts.let_go_found(
        line=line, key=key, reason="fair_wear", words="Scuffed", by=desk, at=at + 6 * DAY
    )
    assert (decision.decided_by, decision.amount, decision.beside) == (desk, None, None)
    assert not proposals(line)[key].is_open
    assert not BesideCharge.objects.exists()


def test_a_cut_tyre_is_charged_by_the_depth_it_left_with(hand, desk, at):
    """Pre-hire readings are the limit and 5 mm more; the tyre was 16 mm new."""
    line = returned_line(hand=hand, at=at, found={GLANCE: wrong("Cut to the cord", "do_not_use")})
    (found,) = [one.proposal for one in proposals(line).values()]
    tyre = next(one for one in found.tyres if one.code == "2LO")
    assert [one.code for one in found.tyres] == ["2LI", "2LO", "3LI", "3LO"]
    assert tyre.out_mm == tyre.change_out_mm + 5
    decision = charge(
        line, found.key, desk, at + 6 * DAY, tyre="2LO", fitted_cost=Decimal(600), call_out=Decimal(90)
    )
    expected = Decimal(600) * 5 / (16 - tyre.change_out_mm) + 90
    assert decision.amount == expected.quantize(Decimal("0.01"))
    assert decision.out_mm == tyre.out_mm


def test_a_depth_read_after_it_left_is_no_depth_it_left_with(hand, desk, at):
    line = returned_line(hand=hand, at=at, found={GLANCE: wrong("Cut to the cord", "do_not_use")})
    for position in line.cart.wheel_positions.filter(code="2LO"):
        fitting = position.fittings.get()
        fitting.tread_readings.all().delete()
        TreadReadingFactory(fitting=fitting, depth_mm=Decimal(12), read_at=at + HOUR)
    (found,) = [one.proposal for one in proposals(line).values()]
    with pytest.raises(acts.NotCharged, match="no depth was read when it went out") as no:
        charge(line, found.key, desk, at + 6 * DAY, tyre="2LO", fitted_cost=Decimal(600))
    assert no.value.field == "tyre"


def test_agreed_prices_stand_over_what_is_typed(hand, desk, at):
    line = returned_line(hand=hand, at=at, fuel_eighths=8, found={"how-dirty": {"choice": "clay"}})
    AgreedTermsFactory(
        line=line, body=BODY | {"fuel_price": "1.985", "wash_clay_price": "110.00", "wash_free_hours": "1"}
    )
    assert set(proposals(line)) == {"fuel", "cleaning"}
    fuel = charge(line, "fuel", desk, at + 6 * DAY, litres=Decimal("48.5"), docket="F-204", price=Decimal(9))
    assert fuel.amount == Decimal("96.27")
    washed = charge(line, "cleaning", desk, at + 6 * DAY, man_hours=Decimal(3), price=Decimal(9))
    assert washed.amount == Decimal("220.00")


def test_only_the_desk_decides(people, hand, at):
    line = told_of(at)
    key = dent_key(line)
    with pytest.raises(NotAllowed):
        charge(line, key, hand, at)
    with pytest.raises(NotAllowed):
        acts.let_go_found(line=line, key=key, reason="fair_wear", by=people["workshop_manager"], at=at)


@pytest.mark.django_db(transaction=True)
def test_two_desks_at_once_charge_it_once(people, at):
    line = told_of(at)
    key, desks = dent_key(line), (people["hire_desk"], people["fleet_manager"])
    answers = at_once(*(lambda desk=desk: charge(line, key, desk, at + 6 * DAY) for desk in desks))
    assert sorted(type(one).__name__ for one in answers) == ["AlreadyCharged", "BackDecision"]
    assert BesideCharge.objects.filter(struck_at=None).count() == 1


def test_reading_costs_the_same_however_much_was_found(at):
    line = told_of(at)
    with CaptureQueriesContext(connection) as few:
        decidables(read_record(line))
    for n in range(20):
        DefectFactory(cart=line.cart, grade="watch", station="rear", told_at=at - timedelta(hours=30 + n))
    with CaptureQueriesContext(connection) as many:
        assert len(decidables(read_record(line))) == 21
    assert len(many) == len(few)
