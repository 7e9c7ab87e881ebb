"""The two papers of a hire: issued by themselves, numbered without a gap, and frozen."""

import contextlib
import hashlib
import json
import uuid
from datetime import UTC, datetime, timedelta
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import DatabaseError, IntegrityError, transaction

from fleet.models.carts import Cart
from hire.actions.gate import (
    AlreadyHandedOver,
    NotFit,
    NothingChanged,
    StoppedAtGate,
    hand_over,
    issue_certificate,
    valid_certificate,
)
from inspections.actions import confirm_name
from inspections.certificates import words
from inspections.certificates.actions import (
    AlreadyReplaced,
    issue_paper,
    paper_of,
)
from inspections.certificates.models import Certificate, Counter
from inspections.certificates.numbers import parse_paper_number
from people.journal.models import Entry
from people.outbox.models import Message
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, DefectFactory, LimitFactory
from tests.factories.hire import LineFactory, given, ready_line, walked_line
from tests.factories.people import StaffFactory
from tests.outbox import deliver

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
ADELAIDE = ZoneInfo("Australia/Adelaide")


def test_the_certificate_comes_by_itself_once_the_pre_hire_check_is_signed(hand, at):
    line = LineFactory(cart=CartFactory(tyres=True), starts_at=at + 2 * DAY)
    signed = walk.sign(line.cart, "pre_hire", by=hand, at=at)
    deliver(at, "walk_round.signed")
    paper = valid_certificate(line)
    assert paper_of(paper).method.walk_round_id == str(signed.pk)
    assert paper.issued_by is None
    assert paper_of(paper).issued_by.role == "Issued when the check was signed"
    assert Message.objects.filter(kind="certificates.render", subject_id=paper.pk).exists()


def test_an_agreement_made_after_the_check_gets_its_certificate_too(hand, desk, at):
    from hire.actions.agreements import make_agreement  # noqa: PLC0415 - beside its one use
    from tests.factories.hire import CustomerFactory  # noqa: PLC0415 - as above

    cart = CartFactory(tyres=True)
    walk.sign(cart, "pre_hire", by=hand, at=at - HOUR)
    line = make_agreement(
        customer=CustomerFactory(), place_of_work="x", leaves_by="road", works_on="road", pre_start_book="ours", order_number="",
        cart=cart, starts_at=at + DAY, ends_at=at + 2 * DAY, by=desk, at=at,
    )  # fmt: skip
    deliver(at, "hire.issue_certificate")
    assert valid_certificate(line) is not None


@pytest.mark.parametrize("purpose", ["daily", "gate_out", "as_returned"])
def test_other_checks_bring_no_certificate(hand, at, purpose):
    line = LineFactory(cart=CartFactory(tyres=True), starts_at=at + 2 * DAY)
    walk.sign(line.cart, purpose, by=hand, at=at)
    deliver(at, "walk_round.signed")
    assert valid_certificate(line) is None


def test_the_next_hire_gets_it_not_one_that_is_over_or_cancelled(hand, at):
    cart = CartFactory(tyres=True)
    LineFactory(cart=cart, starts_at=at - 9 * DAY, ends_at=at - DAY)
    LineFactory(cart=cart, starts_at=at + DAY, cancelled_at=at)
    after = LineFactory(cart=cart, starts_at=at + 12 * DAY)
    line = LineFactory(cart=cart, starts_at=at + 2 * DAY)
    walk.sign(cart, "pre_hire", by=hand, at=at)
    deliver(at, "walk_round.signed")
    assert [paper.subject_id for paper in Certificate.objects.all()] == [line.pk]
    assert valid_certificate(after) is None


def test_an_unfit_cart_gets_none_and_the_work_is_done_all_the_same(hand, at):
    line = LineFactory(cart=CartFactory(tyres=True), starts_at=at + 2 * DAY)
    DefectFactory(cart=line.cart, grade="do_not_use")
    walk.sign(line.cart, "pre_hire", by=hand, at=at)
    deliver(at, "walk_round.signed")
    assert not Certificate.objects.exists()
    with pytest.raises(NotFit) as refusal:
        issue_certificate(line=line, by=None, at=at)
    assert "Cut in the side wall" in refusal.value.sentence
    assert len(refusal.value.blockers) == 1


def test_without_a_pre_hire_check_there_is_none(desk, at):
    line = LineFactory()
    walk.edition()
    with pytest.raises(NotFit, match="No pre-hire check has been signed"):
        issue_certificate(line=line, by=desk, at=at)


def test_a_check_whose_name_is_not_confirmed_gets_its_paper_once_it_is(hand, desk, at):
    ruby = StaffFactory(full_name="Ruby Ferris")
    line = LineFactory(cart=CartFactory(tyres=True), starts_at=at + 2 * DAY)
    signed = walk.sign(line.cart, "pre_hire", by=hand, at=at, **walk.signed_by(ruby))
    deliver(at, "walk_round.signed")
    assert valid_certificate(line) is None
    with pytest.raises(NotFit, match="Ruby Ferris has not confirmed having signed the pre-hire check"):
        issue_certificate(line=line, by=desk, at=at)
    confirm_name(walk=signed, by=ruby, at=at + HOUR, how="session")
    deliver(at + HOUR, "walk_round.signed")
    paper = paper_of(valid_certificate(line))
    assert paper.method.walk_round_id == str(signed.pk)
    assert paper.signatures[0].how == "signed on the yard’s tablet, and confirmed by signing in"


def test_a_gate_out_checks_name_holds_the_cart_and_not_its_paper(hand, desk, at):
    ruby = StaffFactory(full_name="Ruby Ferris")
    line = LineFactory(cart=CartFactory(tyres=True), starts_at=at - HOUR)
    walk.sign(line.cart, "pre_hire", by=hand, at=at - 3 * HOUR)
    signed = walk.sign(line.cart, "gate_out", by=hand, at=at - HOUR / 2, **walk.signed_by(ruby))
    assert issue_certificate(line=line, by=desk, at=at).number
    with pytest.raises(StoppedAtGate, match="Ruby Ferris has not confirmed having signed the gate-out check"):
        hand_over(line=line, given=given(), by=desk, at=at)
    confirm_name(walk=signed, by=ruby, at=at, how="pin")
    assert hand_over(line=line, given=given(), by=desk, at=at).line == line


def test_a_hire_whose_time_ran_out_before_it_left_still_gets_its_answer(hand, desk, at):
    line = walked_line(hand=hand, at=at, ends_at=at - HOUR, starts_at=at - DAY)
    assert issue_certificate(line=line, by=desk, at=at).number


def test_the_paper_says_what_is_true_of_the_hire(hand, at):
    cart = CartFactory(fleet_number="RG07", tyres=True)
    LimitFactory(defect__cart=cart, defect__grade="do_not_use")
    DefectFactory(cart=cart, grade="watch", title="Mudflap split")
    line = ready_line(hand=hand, at=at, cart=cart)
    paper = paper_of(valid_certificate(line))
    assert (paper.cart.fleet_number, paper.customer.name) == ("RG07", line.agreement.customer.name)
    assert paper.outcome == "conditions"
    assert [limit.what for limit in paper.limits] == ["Cannon isolated and tagged: not for use."]
    assert {defect.title: defect.isolated for defect in paper.defects} == {
        "Cannon does not swing": True,
        "Mudflap split": False,
    }
    assert paper.holds_until_at == "2026-12-04T04:30:00+10:30"
    # No closed day near: nothing is said of longer.
    assert paper.holds_longer == ""
    assert len(paper.tyres) == 10
    assert {reading.name for reading in paper.readings} >= {"Engine hours", "Odometer km"}
    signed = cart.walk_rounds.get(purpose="pre_hire")
    assert (paper.method.walk_round_sha256, paper.method.edition) == (signed.manifest_sha256, 1)
    assert sum(len(station.results) for station in paper.stations) == signed.answers.count()


def test_near_a_closed_day_the_certificate_says_until_when_and_on_what(hand):
    """Signed on a Saturday at noon: Sunday is closed, so 96 hours at the most."""
    line = ready_line(hand=hand, at=datetime(2026, 11, 28, 1, 30, tzinfo=UTC))
    paper = paper_of(valid_certificate(line))
    signed_at = line.cart.walk_rounds.get(purpose="pre_hire").signed_at
    assert datetime.fromisoformat(paper.holds_until_at) == signed_at + timedelta(hours=72)
    until = words.moment((signed_at + timedelta(hours=96)).astimezone(ADELAIDE).isoformat())
    assert paper.holds_longer == (
        f"Over days the yard is closed at the latest {until}, only where the cart was put away locked with its keys in, nothing "
        "new was told of it, and the gate-out check reads no more than 0.5 h and 5 km over this check."
    )


def test_the_number_of_the_journals_head_is_printed(hand, at):
    line = ready_line(hand=hand, at=at)
    paper = paper_of(valid_certificate(line))
    entry = Entry.objects.get(chain=paper.journal.chain, position=paper.journal.position)
    assert entry.hash == paper.journal.sha256
    assert paper.journal.chain == f"cart:{line.cart_id}"


def test_a_correction_is_a_new_number_that_names_the_old_and_says_why(hand, desk, at):
    line = ready_line(hand=hand, at=at)
    old = valid_certificate(line)
    with pytest.raises(NothingChanged):
        issue_certificate(line=line, by=desk, at=at)
    new = issue_certificate(line=line, by=desk, at=at, why="Wrong order number")
    assert (new.revision, new.replaces, new.replaces_why) == (2, old, "Wrong order number")
    assert new.number != old.number
    assert paper_of(new).replaces.number == old.number
    assert paper_of(new).replaces.why == "Wrong order number"
    assert valid_certificate(line) == new
    with pytest.raises(AlreadyReplaced):
        issue_paper(
            kind="pre_hire", subject=("hire_line", line.pk), write=lambda _numbered: paper_of(old), lap_svg="", chains=[],
            by=desk, at=at, replaces=old, why="Again",
        )  # fmt: skip


def test_a_newer_check_brings_its_own_certificate_in_place_of_the_old(hand, at):
    line = ready_line(hand=hand, at=at)
    old = valid_certificate(line)
    walk.sign(line.cart, "pre_hire", by=hand, at=at - HOUR)
    deliver(at, "walk_round.signed")
    assert valid_certificate(line).replaces == old
    assert valid_certificate(line).replaces_why == "A newer pre-hire check was signed."


def test_after_leaving_there_is_no_new_certificate(hand, desk, at):
    line = ready_line(hand=hand, at=at)
    hand_over(line=line, given=given(), by=desk, at=at)
    with pytest.raises(AlreadyHandedOver):
        issue_certificate(line=line, by=desk, at=at, why="Late")


def test_what_the_paper_says_stays_whatever_becomes_of_the_cart(hand, desk, at):
    line = ready_line(hand=hand, at=at, cart=CartFactory(fleet_number="RG07", tyres=True))
    paper = valid_certificate(line)
    before = (paper.content, paper.lap_svg, paper.record_sha256)
    Cart.objects.filter(pk=line.cart_id).update(fleet_number="RG99", plate="OTHER")
    DefectFactory(cart=line.cart)
    line.agreement.customer.name = "Somebody else"
    line.agreement.customer.save()
    paper = Certificate.objects.get(pk=paper.pk)
    assert (paper.content, paper.lap_svg, paper.record_sha256) == before
    assert paper_of(paper).cart.fleet_number == "RG07"
    assert hashlib.sha256(paper.content.encode()).hexdigest() == paper.record_sha256
    paper.content = paper.content.replace("RG07", "RG99")
    with pytest.raises(DatabaseError, match="rows are sealed"), transaction.atomic():
        paper.save()


def test_numbers_follow_one_another_with_a_check_digit(hand, desk, at):
    line = ready_line(hand=hand, at=at)
    issue_certificate(line=line, by=desk, at=at, why="First")
    hand_over(line=line, given=given(), by=desk, at=at)
    numbers = [parse_paper_number(number) for number in Certificate.objects.values_list("number", flat=True)]
    assert sorted(number.serial for number in numbers) == [1, 2, 3]
    assert {(number.prefix, number.year) for number in numbers} == {("RGF", 2026)}


def _simple(by, at, fails=False):  # noqa: FBT002 - a test's own switch
    def write(numbered):
        if fails:
            raise ZeroDivisionError
        return _Paper(numbered.number)

    return issue_paper(
        kind="receipt", subject=("hire_line", uuid.uuid4()), write=write, lap_svg="", chains=[], by=by, at=at
    )


class _Paper:
    """As much of a paper as numbering asks for."""

    def __init__(self, number):
        self.text = json.dumps({"number": number})
        self.record_sha256 = hashlib.sha256(self.text.encode()).hexdigest()

    def canonical(self):
        return self.text.encode()


@pytest.mark.django_db(transaction=True)
def test_numbers_have_no_gap_under_a_race_and_after_roll_backs(at):
    by = StaffFactory(role="hire_desk")

    def issue_some(number):
        for n in range(10):
            with contextlib.suppress(ZeroDivisionError):
                _simple(by, at, fails=(n + number) % 3 == 0)

    assert at_once(*[partial(issue_some, number) for number in range(4)]) == [None] * 4
    serials = sorted(parse_paper_number(row.number).serial for row in Certificate.objects.all())
    assert serials == list(range(1, len(serials) + 1))
    assert len(serials) > 20
    assert Counter.objects.get().last_serial == len(serials)


def test_a_new_year_begins_at_one(db, at):
    by = StaffFactory(role="hire_desk")
    assert parse_paper_number(_simple(by, at).number).serial == 1
    next_year = parse_paper_number(_simple(by, at + 40 * DAY).number)
    assert (next_year.year, next_year.serial) == (2027, 1)


def test_the_database_keeps_a_number_and_a_code_once_and_a_replacement_with_its_why(db, at):
    by = StaffFactory(role="hire_desk")
    first, second = _simple(by, at), _simple(by, at)

    def copy(**changed):
        row = Certificate.objects.get(pk=second.pk)
        row.pk = row.id = uuid.uuid4()
        row.number, row.code = "RGF-2026-90000-0", "0000-0000-00000"
        for name, value in changed.items():
            setattr(row, name, value)
        row.save(force_insert=True)

    for constraint, changed in {
        "certificates_certificate_number_key": {"number": first.number},
        "certificates_certificate_code_key": {"code": first.code},
        "certificates_certificate_replacement_says_why": {"replaces": first},
    }.items():
        with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
            copy(**changed)
    copy(replaces=first, replaces_why="A reason")
    with (
        pytest.raises(IntegrityError, match="certificates_certificate_replaces_id_key"),
        transaction.atomic(),
    ):
        copy(replaces=first, replaces_why="Another", number="RGF-2026-90001-0", code="0000-0000-00001")
