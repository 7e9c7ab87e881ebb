"""A broken cart swapped on its hire: both carts' records right, the gate never bypassed, the customer's link goes on."""

from datetime import timedelta
from functools import partial

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.models.carts import Cart
from hire.actions.agreements import CartPromised, cancel_line
from hire.actions.gate import StoppedAtGate, hand_over
from hire.actions.links import make_link, open_link, revoke_link
from hire.actions.off_hire import (
    AlreadyOffHired,
    NotOnHire,
    NotThen,
    PickUp,
    Swapped,
    cancel_off_hire,
)
from hire.actions.site import make_site_code, open_through_link, open_with_code
from hire.actions.swap import CartOut, NothingLeft, SameCart, swap_cart
from hire.models.agreements import Line
from hire.models.off_hire import OffHire
from hire.site_rules import Asked
from hire.swap_carts import carts_for_the_rest
from hire.swaps import line_now
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import DESK, Role
from people.yard import yard_day
from tests.at_once import at_once
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.hire import AgreementFactory, LineFactory, PencilFactory, given
from tests.factories.inspections import sign
from tests.factories.money import StandDownClaimFactory
from tests.factories.owners import HireInFactory, OwnerPaperFactory
from tests.factories.people import StaffFactory
from tests.factories.sites import SiteSetFactory
from tests.pages import queries_of, text_of, typed_moment

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
PICK_UP = PickUp("Saltbush Road, by the dam", "Under the seat", "The yard, from now")


@pytest.fixture
def line(db, at):
    """Out for three days, expected back in four."""
    return LineFactory(
        cart__fleet_number="RG07", starts_at=at - 3 * DAY, ends_at=at + 4 * DAY, out_at=at - 3 * DAY
    )


@pytest.fixture
def other(db):
    return CartFactory(fleet_number="RG12", tyres=True)


def swap(line, cart, desk, at, **changed):
    asked = {
        "swapped_at": at, "called_by_words": "Aoife Merrin", "why": "Pump shaft sheared", "pick_up": PICK_UP,
    } | changed  # fmt: skip
    return swap_cart(line=line, cart=cart, **asked, by=desk, at=at)


def test_the_other_cart_is_promised_for_the_rest_and_the_charge_of_the_first_stops(line, other, desk, at):
    new = swap(line, other, desk, at, swapped_at=at - HOUR)
    call = OffHire.objects.get(line=line)
    # An hour after the cut-off or before it: a swap stops the charge at its own instant.
    assert (call.stops_at, call.replaced_by, call.number) == (at - HOUR, new, "O2026-00001")
    assert (new.agreement, new.cart) == (line.agreement, other)
    assert (new.promised.lower, new.promised.upper) == (at - HOUR, line.promised.upper)
    assert new.handed_over_at is None
    broken = Cart.objects.get(pk=line.cart_id)
    assert (broken.where_kind, broken.where_words) == ("site", "Saltbush Road, by the dam")
    line.refresh_from_db()
    assert line.is_out


def test_it_is_in_the_journals_of_both_carts_and_the_yards(line, other, desk, at):
    swap(line, other, desk, at)
    entries = Entry.objects.filter(event="hire.line.swapped")
    assert {entry.chain for entry in entries} == {"yard", f"cart:{line.cart_id}", f"cart:{other.pk}"}
    assert len({entry.action_id for entry in entries}) == 1
    assert list(faults_in_journal()) == []


def test_the_new_cart_goes_through_its_own_gate(line, other, desk, at):
    new = swap(line, other, desk, at)
    with pytest.raises(StoppedAtGate, match="RG12 may not leave"):
        hand_over(line=new, given=given(), by=desk, at=at)


def test_not_for_itself(line, desk, at):
    with pytest.raises(SameCart) as refused:
        swap(line, line.cart, desk, at)
    assert refused.value.field == "cart"
    assert not OffHire.objects.exists()


def test_not_for_a_cart_that_is_promised_or_out_and_whose_it_is_is_said(line, other, desk, at):
    promised = LineFactory(
        cart=other, starts_at=at + 3 * DAY, agreement=AgreementFactory(number="H2026-00071")
    )
    with pytest.raises(CartPromised, match="H2026-00071"):
        swap(line, other, desk, at)
    out = LineFactory(starts_at=at - 20 * DAY, ends_at=at - DAY, out_at=at - 20 * DAY)
    with pytest.raises(CartOut, match=out.agreement.number):
        swap(line, out.cart, desk, at)
    assert not OffHire.objects.exists()
    promised.cancelled_at = at
    promised.save()
    assert swap(line, other, desk, at)


def test_only_a_cart_that_is_out_and_not_off_hired_for_a_time_that_has_passed(line, other, desk, at):
    with pytest.raises(NotOnHire):
        swap(LineFactory(), other, desk, at)
    for moment in (at + HOUR, at - 4 * DAY):
        with pytest.raises(NotThen):
            swap(line, other, desk, at, swapped_at=moment)
    swap(line, other, desk, at)
    with pytest.raises(AlreadyOffHired, match="O2026-00001"):
        swap(line, CartFactory(), desk, at)


def test_a_late_cart_is_swapped_to_a_new_end_and_its_own_promise_stays(other, desk, at):
    """The cart that is late is promised again already: its period cannot grow, and need not."""
    late = LineFactory(starts_at=at - 9 * DAY, ends_at=at - DAY, out_at=at - 9 * DAY)
    LineFactory(cart=late.cart, starts_at=at + HOUR, ends_at=at + 5 * DAY)
    with pytest.raises(NothingLeft, match="Say until when the hire goes on") as refused:
        swap(late, other, desk, at)
    assert refused.value.field == "expected_back"
    with pytest.raises(NothingLeft, match="That has passed already"):
        swap(late, other, desk, at, expected_back=at)
    assert not OffHire.objects.exists()
    new = swap(late, other, desk, at, expected_back=at + 3 * DAY)
    assert (new.promised.lower, new.promised.upper) == (at, at + 3 * DAY)
    late.refresh_from_db()
    assert late.promised.upper == at - DAY
    assert Entry.objects.filter(event="hire.line.swapped", text__contains='"expected_back"').exists()


def test_the_new_end_is_free_of_the_other_carts_promises_and_pencils(other, desk, at):
    late = LineFactory(starts_at=at - 9 * DAY, ends_at=at - DAY, out_at=at - 9 * DAY)
    LineFactory(cart=other, starts_at=at + 2 * DAY)
    with pytest.raises(CartPromised):
        swap(late, other, desk, at, expected_back=at + 3 * DAY)
    assert swap(late, other, desk, at, expected_back=at + 2 * DAY)


@pytest.mark.parametrize(
    ("ends_in", "asks"), [(-DAY, True), (HOUR, True), (HOUR + timedelta(minutes=2), False)]
)
def test_the_page_asks_for_the_new_end_where_the_old_one_is_near_or_past(client, desk, ends_in, asks):
    now = timezone.now()
    line = LineFactory(starts_at=now - 9 * DAY, ends_at=now + ends_in, out_at=now - 9 * DAY)
    client.force_login(desk)
    page = client.get(reverse("hire:line_swap", args=[line.pk])).content.decode()
    assert ("Expected back now" in page) is asks


def test_the_page_swaps_a_late_cart(client, desk, other):
    now = timezone.now()
    line = LineFactory(starts_at=now - 9 * DAY, ends_at=now - DAY, out_at=now - 9 * DAY)
    client.force_login(desk)
    typed = {
        "cart": str(other.pk), "swapped_at": typed_moment(now - HOUR), "called_by_words": "Aoife Merrin", "why": "Shaft",
        "pick_up_words": "By the dam", "keys_words": "Under the seat", "risk_words": "The yard",
    }  # fmt: skip
    address = reverse("hire:line_swap", args=[line.pk])
    empty = client.post(address, typed)
    assert empty.status_code == 422
    assert "Say until when the hire goes on" in empty.content.decode()
    client.post(address, typed | {"expected_back": typed_moment(now + 2 * DAY)})
    new = Line.objects.get(replaces__line=line)
    assert abs(new.promised.upper - now - 2 * DAY) < timedelta(minutes=1)


@pytest.mark.parametrize("role", sorted(set(Role) - DESK))
def test_only_the_desk_swaps(line, other, people, at, role):
    with pytest.raises(NotAllowed):
        swap(line, other, people[role], at)


def test_half_a_swap_is_not_cancelled(line, other, desk, at):
    new = swap(line, other, desk, at)
    call = OffHire.objects.get()
    with pytest.raises(Swapped, match="RG12"):
        cancel_off_hire(off_hire=call, why="x", by=desk, at=at)
    cancel_line(line=new, why="Mended on site", by=desk, at=at)
    cancel_off_hire(off_hire=call, why="Mended on site", by=desk, at=at)
    assert line_now(line) == line


def test_the_customers_link_and_the_site_code_open_the_new_cart(line, other, desk, at):
    link, token = make_link(line=line, for_words="Aoife", by=desk, at=at)
    make_site_code(line=line, by=desk, at=at, code="K7QF3MXP")
    new = swap(line, other, desk, at)
    opened = open_link(token=token, at=at)
    assert (opened.pk, opened.line) == (link.pk, new)
    walker, _ = open_through_link(link=opened, name="Ines", at=at)
    assert walker.cart == other
    by_code, _ = open_with_code(plate_code=other.plate_code, code="K7QF-3MXP", name="Ola", address="a", at=at)
    assert by_code.cart == other
    revoke_link(link=link, by=desk, at=at)
    walker.refresh_from_db()
    assert walker.revoked_at == at
    assert open_link(token=token, at=at) is None


def test_after_a_second_swap_the_link_opens_the_last(line, other, desk, hand, at):
    _, token = make_link(line=line, for_words="Aoife", by=desk, at=at)
    new = swap(line, other, desk, at)
    Line.objects.filter(pk=new.pk).update(handed_over_at=at)
    last = swap(new, CartFactory(), desk, at + HOUR)
    assert open_link(token=token, at=at + HOUR).line == last


@pytest.mark.django_db(transaction=True)
def test_of_two_hires_that_want_one_cart_at_once_one_has_it(at):
    desk, cart = StaffFactory(role="hire_desk"), CartFactory()
    lines = [LineFactory(starts_at=at - DAY, out_at=at - DAY) for _ in range(2)]
    outcomes = at_once(*[partial(swap, line, cart, desk, at) for line in lines])
    assert {type(one) for one in outcomes} == {Line, CartPromised}
    assert OffHire.objects.count() == 1
    assert list(faults_in_journal()) == []


@pytest.mark.django_db(transaction=True)
def test_of_two_swaps_of_one_cart_at_once_one_stands(at):
    desk, line = StaffFactory(role="hire_desk"), LineFactory(starts_at=at - DAY, out_at=at - DAY)
    outcomes = at_once(*[partial(swap, line, CartFactory(), desk, at) for _ in range(2)])
    assert {type(one) for one in outcomes} == {Line, AlreadyOffHired}
    assert (OffHire.objects.count(), Line.objects.count()) == (1, 2)
    assert list(faults_in_journal()) == []


def test_what_may_go_first_is_offered_first_and_what_is_promised_not_at_all(line, hand, at):
    held, fit = CartFactory(fleet_number="RG20", tyres=True), CartFactory(fleet_number="RG21", tyres=True)
    DefectFactory(cart=held, grade="do_not_use", title="Park-brake alarm")
    sign(fit, "pre_hire", by=hand, at=at - HOUR)
    LineFactory(cart__fleet_number="RG22", starts_at=at + 3 * DAY)
    LineFactory(
        cart__fleet_number="RG23", starts_at=at - 30 * DAY, ends_at=at - 2 * DAY, out_at=at - 30 * DAY
    )
    free = carts_for_the_rest(line, at=at)
    assert [cart.fleet_number for cart, _ in free] == ["RG21", "RG20"]
    assert "Park-brake alarm" in free[1][1]


@pytest.mark.parametrize(("starts", "ends", "is_offered"), [(3, 5, False), (4, 5, True)])
def test_a_cart_kept_for_a_caller_before_the_hire_ends_is_not_offered(line, at, starts, ends, is_offered):
    PencilFactory(
        cart__fleet_number="RG24",
        made_at=at - HOUR,
        expires_at=at + DAY,
        period=(at + starts * DAY, at + ends * DAY),
    )
    assert bool(carts_for_the_rest(line, at=at)) is is_offered
    assert carts_for_the_rest(line, at=at + DAY)


def test_a_cart_the_site_would_stop_is_offered_last_with_why(line, hand, at):
    SiteSetFactory(customer=line.agreement.customer, asked=Asked(gear={"rops": "must"}))
    for number, gear in (("RG25", ()), ("RG26", ("rops",))):
        sign(CartFactory(fleet_number=number, tyres=True, gear=gear), "pre_hire", by=hand, at=at - HOUR)
    free = carts_for_the_rest(line, at=at)
    assert [cart.fleet_number for cart, _ in free] == ["RG26", "RG25"]
    assert free[1][1].startswith("The site would stop it:")
    assert "The site" not in free[0][1]


def test_a_cart_whose_owner_wants_it_back_before_the_hire_ends_is_offered_after_the_others_with_when(
    line, at
):
    theirs, _ours = CartFactory(fleet_number="RG27", tyres=True), CartFactory(fleet_number="RG28", tyres=True)
    owner = HireInFactory(cart=theirs, starts_at=at - 9 * DAY, ends_at=at + DAY).owner
    OwnerPaperFactory(owner=owner)
    free = carts_for_the_rest(line, at=at)
    assert [cart.fleet_number for cart, _ in free] == ["RG28", "RG27"]
    assert f"It is hired in from {owner.name}, until" in free[1][1]
    assert "hired in" not in free[0][1]


def test_on_a_potable_hire_a_tank_that_may_not_is_not_said_to_be_ready(line, at):
    line.agreement.water = "potable"
    line.agreement.save()
    CartFactory(fleet_number="RG30")
    [(cart, words)] = carts_for_the_rest(line, at=at)
    assert cart.fleet_number == "RG30"
    assert "potable" in words.lower()


class TestPages:
    @pytest.fixture
    def now(self):
        return timezone.now()

    @pytest.fixture
    def line(self, db, now):
        return LineFactory(
            cart__fleet_number="RG07", starts_at=now - 3 * DAY, ends_at=now + 4 * DAY, out_at=now - 3 * DAY
        )

    @pytest.fixture
    def client(self, client, desk):
        client.force_login(desk)
        return client

    def typed(self, cart, now):
        return {
            "cart": cart.pk, "swapped_at": typed_moment(now - HOUR), "called_by_words": "Aoife", "why": "Shaft sheared",
            "pick_up_words": "By the dam", "keys_words": "Under the seat", "risk_words": "The yard",
        }  # fmt: skip

    def test_swapped_at_the_desk_and_seen_by_the_customer(self, client, line, other, desk, now):
        _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
        address = reverse("hire:line_swap", args=[line.pk])
        assert "RG12, " in text_of(client.get(address))
        page = text_of(client.post(address, self.typed(other, now), follow=True))
        assert "RG12 takes the place of RG07" in page
        assert "Its charge stopped with the swap" in page
        new = Line.objects.get(cart=other)
        assert "For Aoife" in text_of(client.get(reverse("hire:line_detail", args=[new.pk])))
        seen = text_of(client.get(reverse("hire:customer_page", args=[token])))
        assert "RG12" in seen
        assert "It waits for pick-up: By the dam." in seen
        assert "RG12 is not handed over yet." in seen

    def test_what_was_claimed_of_the_broken_cart_is_read_on_the_others_pages_too(
        self, client, line, other, desk, now
    ):
        _, token = make_link(line=line, for_words="Aoife", by=desk, at=now)
        claim = StandDownClaimFactory(line=line, on=yard_day(now), told_at=now - HOUR, made_at=now)
        new = swap(line, other, desk, now)
        theirs = text_of(client.get(reverse("hire:customer_page", args=[token])))
        assert f"told by {claim.told_by_words}" in theirs
        assert "Claim a stand-down day" not in theirs
        ours = text_of(client.get(reverse("hire:line_detail", args=[new.pk])))
        assert ", RG07, " in ours
        assert reverse("hire:claim_agree", args=[claim.pk]) in ours
        asked = text_of(client.get(reverse("hire:claim_agree", args=[claim.pk])))
        assert f"“{claim.why}”, told by {claim.told_by_words}" in asked

    def test_an_agreement_names_its_other_carts_and_what_is_off_hired_has_no_more_to_change(
        self, client, line, other, desk, now
    ):
        before = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
        assert reverse("hire:line_move", args=[line.pk]) in before
        assert "Its other carts" not in before
        new = swap(line, other, desk, now)
        page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
        assert f'<a href="{reverse("hire:line_detail", args=[new.pk])}">RG12</a> promised' in page
        assert reverse("hire:line_move", args=[line.pk]) not in page
        assert "Tell the workshop what is broken" in page

    def test_refused_it_comes_back_with_what_was_typed(self, client, line, other, now):
        LineFactory(cart=other, starts_at=now + DAY)
        answer = client.post(reverse("hire:line_swap", args=[line.pk]), self.typed(other, now))
        assert answer.status_code == 422
        assert "is promised to" in str(answer.context["form"].errors["cart"])
        assert "Shaft sheared" in answer.content.decode()

    def test_it_costs_the_same_for_three_carts_and_thirty(self, client, line):
        address = reverse("hire:line_swap", args=[line.pk])
        for _ in range(3):
            CartFactory()
        few = queries_of(client, address)
        for _ in range(27):
            CartFactory()
        assert queries_of(client, address) == few
