"""Another cart for a hire that has not left: the hire goes on as it is, its paper does not, and one cart goes to one hire."""

from datetime import timedelta
from functools import partial

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.actions.agreements import (
    AlreadyLeft,
    CartNotInFleet,
    NotForDrinkingWater,
    cancel_line,
    make_agreement,
)
from hire.actions.another_cart import SentMeanwhile, send_another
from hire.actions.clashes import AlreadyPencilled, CartPromised
from hire.actions.gate import NoCertificate, StoppedAtGate, hand_over, issue_certificate, valid_certificate
from hire.actions.links import make_link, open_link
from hire.actions.site import open_through_link
from hire.actions.swap import SameCart
from hire.actions.wet import go_wet
from hire.models.agreements import Line
from hire.models.operators import OperatorTurn
from hire.models.packs import PackSending
from hire.packs_due import packs_wanted
from hire.site_rules import Asked, PaperAsked
from hire.swap_carts import carts_instead
from inspections.certificates.models import Certificate
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.outbox.models import Message
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, HoldFactory
from tests.factories.hire import (
    CustomerFactory,
    JobPlanFactory,
    LineFactory,
    PencilFactory,
    given,
    ready_line,
)
from tests.factories.people import StaffFactory
from tests.factories.runs import RunNoteFactory
from tests.factories.sites import SitePackFactory, SiteSetFactory
from tests.factories.wet import OperatorFactory
from tests.pages import queries_of, text_of

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@pytest.fixture
def other(db):
    return CartFactory(fleet_number="RG12", tyres=True)


def send(line, cart, desk, at, **changed):
    asked = {"instead_of": line.cart, "why": "Its pump is stripped"} | changed
    return send_another(line=line, cart=cart, **asked, by=desk, at=at)


def walked(cart, *, hand, at):
    walk.sign(cart, "pre_hire", by=hand, at=at - HOUR)
    walk.sign(cart, "gate_out", by=hand, at=at - HOUR / 2)


def test_everything_of_the_hire_goes_with_the_other_cart(line, other, desk, at):
    plan, note = JobPlanFactory(line=line), RunNoteFactory(line=line)
    operator = OperatorFactory()
    go_wet(line, ["induction"], operator, by=desk, at=at)
    link, token = make_link(line=line, for_words="Aoife", by=desk, at=at)
    before = Line.objects.filter(pk=line.pk).values("agreement", "promised", "litres").get()
    sent = send(line, other, desk, at)
    assert (sent.pk, sent.cart) == (line.pk, other)
    assert Line.objects.filter(pk=line.pk).values("agreement", "promised", "litres").get() == before
    assert Line.objects.count() == 1
    assert (plan.line, note.line, link.line) == (line, line, line)
    assert OperatorTurn.objects.standing().get().operator == operator
    assert open_link(token=token, at=at).line.cart == other


def test_its_certificate_is_withdrawn_at_once_and_the_next_takes_its_place(line, other, hand, desk, at):
    old = valid_certificate(line)
    sent = send(line, other, desk, at)
    assert valid_certificate(sent) is None
    assert Certificate.objects.get(pk=old.pk).withdrawal.why == "RG12 goes instead of RG07."
    assert Message.objects.filter(kind="hire.issue_certificate", subject_id=line.pk, made_at=at).exists()
    with pytest.raises(StoppedAtGate):
        hand_over(line=sent, given=given(), by=desk, at=at)
    walked(other, hand=hand, at=at)
    with pytest.raises(NoCertificate):
        hand_over(line=sent, given=given(), by=desk, at=at)
    new = issue_certificate(line=sent, by=None, at=at)
    assert (new.replaces, new.replaces_why, new.revision) == (old, "RG12 goes instead of RG07.", 2)
    assert hand_over(line=sent, given=given(), by=desk, at=at)


def test_it_is_in_the_journals_of_both_carts_and_the_yards(line, other, desk, at):
    send(line, other, desk, at)
    written = Entry.objects.filter(event="hire.line.another_cart")
    chains = {f"cart:{line.cart_id}", f"cart:{other.pk}", "yard"}
    assert set(written.values_list("chain", flat=True)) == chains
    assert '"before":"RG07"' in written.first().text
    assert '"why":"Its pump is stripped"' in written.first().text
    assert list(faults_in_journal()) == []


def test_a_phone_opened_on_the_hire_walks_the_old_cart_no_more(line, other, desk, at):
    link, _ = make_link(line=line, for_words="Aoife", by=desk, at=at)
    walker, _ = open_through_link(link=link, name="Tam", at=at)
    send(line, other, desk, at)
    walker.refresh_from_db()
    assert walker.over_at == at
    link.refresh_from_db()
    again, _ = open_through_link(link=link, name="Tam", at=at)
    assert again.cart == other


def test_a_pack_sent_before_is_wanted_again(line, other, desk, at):
    SiteSetFactory(
        customer=line.agreement.customer, site=line.agreement.place_of_work,
        asked=Asked(papers={"insurance": PaperAsked("must")}),
    )  # fmt: skip
    pack = SitePackFactory(line=line, made_at=at - DAY)
    PackSending.objects.create(
        pack=pack, sent_at=at - DAY, to_words="Gate", how="email", recorded_at=at - DAY, by=desk
    )
    soon = at - HOUR
    assert line not in packs_wanted(at=soon)
    send(line, other, desk, soon)
    assert line in packs_wanted(at=soon)


class TestRefused:
    def test_promised_or_pencilled_elsewhere(self, line, other, desk, at):
        clash = LineFactory(cart=other, starts_at=line.promised.lower + DAY)
        with pytest.raises(CartPromised, match=clash.agreement.number):
            send(line, other, desk, at)
        cancel_line(line=clash, why="Rain", by=desk, at=at)
        pencil = PencilFactory(
            cart=other, period=line.promised, made_at=at - HOUR, expires_at=at + HOUR, made_by=desk
        )
        with pytest.raises(AlreadyPencilled, match=f"RG12 is pencilled for {pencil.caller_words}"):
            send(line, other, desk, at)
        # Lapsed it makes room.
        assert send(line, other, desk, at + 2 * HOUR).cart == other

    def test_a_cart_that_left_or_a_hire_that_is_cancelled(self, line, other, desk, at):
        out = LineFactory(starts_at=at - DAY, out_at=at - DAY)
        with pytest.raises(AlreadyLeft, match="Swap it instead"):
            send(out, other, desk, at)
        cancel_line(line=line, why="Rain", by=desk, at=at)
        with pytest.raises(AlreadyLeft, match="is cancelled"):
            send(line, other, desk, at)

    def test_the_same_cart_one_that_leaves_the_fleet_and_a_tank_that_may_never(self, line, other, desk, at):
        with pytest.raises(SameCart):
            send(line, line.cart, desk, at)
        other.retired_on = line.promised.upper.date()
        other.save()
        with pytest.raises(CartNotInFleet):
            send(line, other, desk, at)
        line.agreement.water = "potable"
        line.agreement.save()
        with pytest.raises(NotForDrinkingWater, match="not for potable water"):
            send(line, CartFactory(), desk, at)
        line.refresh_from_db()
        assert line.cart.fleet_number == "RG07"
        assert valid_certificate(line)

    def test_whoever_looked_before_another_desk_chose(self, line, other, desk, at):
        seen = line.cart
        send(line, other, desk, at)
        with pytest.raises(SentMeanwhile, match="RG12 was chosen instead of RG07 meanwhile"):
            send(line, CartFactory(), desk, at, instead_of=seen)

    @pytest.mark.parametrize("role", set(Role) - DESK)
    def test_by_nobody_but_the_desk(self, role, line, other, at):
        with pytest.raises(NotAllowed):
            send(line, other, StaffFactory(role=role), at)


def test_the_free_carts_are_listed_those_that_may_go_first(line, at):
    LineFactory(cart__fleet_number="RG20", starts_at=line.promised.upper - HOUR)
    LineFactory(cart__fleet_number="RG21", starts_at=at - 9 * DAY, ends_at=at - DAY, out_at=at - 9 * DAY)
    PencilFactory(cart__fleet_number="RG22", period=line.promised, made_at=at, expires_at=at + DAY)
    LineFactory(cart__fleet_number="RG23", starts_at=line.promised.upper)
    HoldFactory(cart=CartFactory(fleet_number="RG09", tyres=True))
    found = carts_instead(line, at=at)
    assert [cart.fleet_number for cart, _ in found] == ["RG23", "RG09"]
    assert found[1][1].startswith("Held: ")


@pytest.mark.django_db(transaction=True)
class TestRace:
    def lines(self, at):
        return [LineFactory(starts_at=at + DAY, cart=CartFactory(layout__none=True)) for _ in range(2)]

    def test_two_desks_choose_the_same_cart_and_one_of_them_is_told(self, at):
        desk = StaffFactory(role="hire_desk")
        for _ in range(6):
            cart = CartFactory(layout__none=True, gear=(), meters=())
            given_back = at_once(*(partial(send, line, cart, desk, at) for line in self.lines(at)))
            won, lost = sorted(given_back, key=lambda result: isinstance(result, Exception))
            assert isinstance(won, Line), given_back
            assert isinstance(lost, CartPromised), given_back
            assert won.agreement.number in lost.sentence
            assert Line.objects.unfinished().filter(cart=cart).count() == 1
        assert list(faults_in_journal()) == []

    def test_a_desk_chooses_it_the_moment_another_promises_it_to_a_caller(self, at):
        desk = StaffFactory(role="hire_desk")
        for _ in range(6):
            line = self.lines(at)[0]
            cart = CartFactory(layout__none=True, gear=(), meters=())

            def caller(cart=cart):
                return make_agreement(
                    customer=CustomerFactory(), place_of_work="x", leaves_by="road", works_on="road", pre_start_book="ours",
                    order_number="", cart=cart, starts_at=at + DAY, ends_at=at + 3 * DAY, by=desk, at=at,
                )  # fmt: skip

            given_back = at_once(partial(send, line, cart, desk, at), caller)
            assert sorted(type(one).__name__ for one in given_back) == ["CartPromised", "Line"], given_back

    def test_two_hires_that_want_each_others_carts_never_wait_for_ever(self, at):
        desk = StaffFactory(role="hire_desk")
        one, two = self.lines(at)
        given_back = at_once(partial(send, one, two.cart, desk, at), partial(send, two, one.cart, desk, at))
        assert {type(result) for result in given_back} == {CartPromised}

    def test_it_goes_through_the_gate_the_moment_another_is_sent(self, at):
        desk, hand = StaffFactory(role="hire_desk"), StaffFactory(role="yard_hand")
        for _ in range(4):
            line = ready_line(hand=hand, at=at)
            cart = CartFactory(layout__none=True, gear=(), meters=())
            given_back = at_once(
                partial(send, line, cart, desk, at),
                partial(hand_over, line=line, given=given(), by=desk, at=at),
            )
            # Whoever waited sees the hire as the other left it.
            names = {type(one).__name__ for one in given_back}
            assert names in ({"AlreadyLeft", "Handover"}, {"Line", "StoppedAtGate"}), given_back

    def test_two_desks_choose_for_one_hire(self, at):
        desk = StaffFactory(role="hire_desk")
        line = self.lines(at)[0]
        carts = [CartFactory(layout__none=True, gear=(), meters=()) for _ in range(2)]
        given_back = at_once(*(partial(send, line, cart, desk, at) for cart in carts))
        assert sorted(type(one).__name__ for one in given_back) == ["Line", "SentMeanwhile"]


@pytest.mark.django_db
class TestPages:
    @pytest.fixture
    def client(self, client, desk):
        client.force_login(desk)
        return client

    @pytest.fixture
    def line(self, hand):
        now = timezone.now()
        cart = CartFactory(fleet_number="RG07", tyres=True)
        return ready_line(hand=hand, at=now, starts_at=now + HOUR, cart=cart)

    def test_from_the_page_of_the_hire_and_back_to_it(self, client, line, other):
        address = reverse("hire:another_cart", args=[line.pk])
        assert address in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
        assert "RG12, " in text_of(client.get(address))
        typed = {"cart": other.pk, "why": "Pump", "instead_of": line.cart_id}
        page = text_of(client.post(address, typed, follow=True))
        assert f"RG12 goes on {line.agreement.number}" in page
        assert "withdrawn" in page

    def test_refused_it_comes_back_with_what_was_typed(self, client, line, other):
        LineFactory(cart=other, promised=line.promised)
        typed = {"cart": other.pk, "why": "Pump stripped", "instead_of": line.cart_id}
        answer = client.post(reverse("hire:another_cart", args=[line.pk]), typed)
        assert answer.status_code == 422
        assert "is promised to" in str(answer.context["form"].errors["cart"])
        assert "Pump stripped" in text_of(answer)

    def test_it_says_so_where_no_cart_is_free(self, client, line):
        page = text_of(client.get(reverse("hire:another_cart", args=[line.pk])))
        assert "No other cart is free for this period." in page

    def test_it_costs_the_same_for_three_carts_and_thirty(self, client, line):
        address = reverse("hire:another_cart", args=[line.pk])
        CartFactory.create_batch(3)
        few = queries_of(client, address)
        CartFactory.create_batch(27)
        assert queries_of(client, address) == few
