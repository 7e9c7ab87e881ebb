"""What the caller asked of a cart goes on with the pencil, the booking and the promise, and what is promised is held to it."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.models.carts import Fitment
from fleet.readiness import readiness_each
from hire.actions import gate
from hire.actions.bookings import promise_bookings
from hire.actions.swap import swap_cart
from hire.booking_carts import propose
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.pencils import Pencil
from hire.needs_check import ISOLATED, NOT_FITTED
from hire.promises import window_of
from hire.suiting import Needs
from hire.swap_carts import carts_for_the_rest
from people.journal.models import Entry
from tests.factories.fleet import CartFactory, DefectFactory, LimitFactory
from tests.factories.hire import (
    BookingFactory,
    CustomerFactory,
    LineFactory,
    PencilFactory,
    given,
    ready_line,
)
from tests.factories.weights import TankMeasuredFactory, WeightSheetFactory
from tests.hire.test_swap import PICK_UP
from tests.pages import queries_of, text_of, today

pytestmark = pytest.mark.django_db
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NEEDS = Needs(litres=10_000, road_litres=9_000, gear=frozenset({"cannon", "rops"}), drive_axles=2)
TYPED = {
    "litres": "10000", "road_litres": "9000", "gear": ["cannon", "rops"], "drive_axles": "2", "leaves_by": "float",
    "works_on": "site", "water": "any",
}  # fmt: skip


def measured(number, **more):
    """A cart with a road fill on record."""
    made = CartFactory(fleet_number=number, tank_capacity_l=12_500, **more)
    TankMeasuredFactory(cart=made)
    WeightSheetFactory(cart=made)
    return made


def asking(gear=(), **more):
    return LineFactory(gear=sorted(gear), **more)


class TestFromTheCallToTheHire:
    @pytest.fixture
    def client(self, client, desk):
        client.force_login(desk)
        return client

    @pytest.fixture
    def period(self):
        return {
            "starts_at": f"{today() + DAY:%Y-%m-%d}T06:00",
            "ends_at": f"{today() + 8 * DAY:%Y-%m-%d}T06:00",
        }

    def agreed(self, cart, period):
        more = {
            "customer": CustomerFactory().pk,
            "place_of_work": "Pit 4",
            "pre_start_book": "ours",
            "shift": "day",
        }
        return TYPED | period | more | {"cart": cart.pk}

    def test_the_answer_carries_all_that_was_asked_to_the_promise(self, client, period):
        cart = CartFactory(fleet_number="WC-07", tank_capacity_l=12_500)
        carried = client.get(reverse("hire:enquiry"), TYPED | period).context["carried"]
        form = client.get(f"{reverse('hire:line_add')}?cart={cart.pk}&{carried}").context["form"]
        assert {name: form.initial[name] for name in TYPED} == TYPED
        made = client.post(reverse("hire:line_add"), self.agreed(cart, period))
        line = Line.objects.get()
        assert made["Location"] == reverse("hire:line_detail", args=[line.pk])
        assert (line.needs, line.agreement.leaves_by) == (NEEDS, "float")
        assert '"gear":["cannon","rops"]' in Entry.objects.filter(event="hire.agreement.made").first().text

    def test_it_is_on_the_page_of_the_hire_with_what_the_cart_lacks_of_it(self, client):
        line = LineFactory(
            cart__tank_capacity_l=9_500, litres=10_000, gear=["cannon", "hose_reel"], drive_axles=1
        )
        Fitment.objects.filter(cart=line.cart, kind="hose_reel").delete()
        page = text_of(client.get(reverse("hire:line_detail", args=[line.pk])))
        assert "<dt>Asked for</dt><dd>10,000 L, cannon, hose reel, one driven axle" in page
        assert "This cart: 500 L less than asked; " in page
        assert "no hose reel" in page

    def test_nothing_asked_shows_nothing(self, client):
        line = LineFactory()
        assert "Asked for" not in text_of(client.get(reverse("hire:line_detail", args=[line.pk])))

    @pytest.mark.parametrize("page", ["hire:line_add", "hire:booking_add"])
    def test_a_pencil_keeps_it_and_it_goes_on_from_there(self, client, period, page):
        cart = CartFactory()
        carried = client.get(reverse("hire:enquiry"), TYPED | period).context["carried"]
        address = f"{reverse('hire:pencil_add', args=[cart.pk])}?{carried}"
        form = client.get(address).context["form"]
        assert {name: form.initial[name] for name in TYPED} == TYPED
        caller = {
            "caller_words": "Ada Kell",
            "phone": "08 5550 0171",
            "expires_at": f"{today() + DAY:%Y-%m-%d}T05:00",
        }
        assert client.post(address, TYPED | period | caller).status_code == 302
        pencil = Pencil.objects.get()
        assert (pencil.needs, pencil.leaves_by, pencil.works_on) == (NEEDS, "float", "site")
        assert "Asked: 10,000 L, 9,000 L on the road, cannon" in text_of(
            client.get(reverse("hire:line_list"))
        )
        form = client.get(f"{reverse(page)}?pencil={pencil.pk}").context["form"]
        shown = {name: str(form[name]) for name in ("litres", "road_litres", "gear")}
        assert 'value="10000"' in shown["litres"]
        assert 'value="9000"' in shown["road_litres"]
        assert shown["gear"].count("checked") == 2
        assert form.initial["leaves_by"] == "float"

    def test_a_booking_keeps_it_and_the_cart_promised_for_it_has_it(self, client, period, desk):
        cart = measured("WC-07")
        typed = self.agreed(cart, period)
        assert client.post(reverse("hire:booking_add"), typed).status_code == 302
        booking = Booking.objects.get()
        assert booking.needs == booking.enquiry().needs == NEEDS
        [line] = promise_bookings(chosen={booking: cart}, by=desk, at=timezone.now())
        assert line.needs == NEEDS


def test_the_bookings_page_proposes_no_cart_without_the_road_litres_asked():
    now = timezone.now()
    unweighed = CartFactory(fleet_number="WC-01", tank_capacity_l=12_500)
    weighed = measured("WC-02")
    BookingFactory(made_at=now, starts_at=now + DAY, road_litres=9_000)
    [choice] = propose(at=now).choices
    assert choice.cart == weighed
    assert choice.asked == "9,000 L on the road"
    Booking.objects.update(road_litres=0)
    [choice] = propose(at=now).choices
    assert choice.cart == unweighed
    # Near is not enough: the road fill of this one is under 12,000 L by less than a tenth.
    Booking.objects.update(road_litres=12_000)
    [choice] = propose(at=now).choices
    assert choice.cart is None


class TestSwap:
    @pytest.fixture
    def line(self, at):
        return asking(
            {"cannon"}, litres=10_000, starts_at=at - 3 * DAY, ends_at=at + 4 * DAY, out_at=at - 3 * DAY
        )

    def test_it_says_of_each_cart_what_it_lacks_and_calls_none_ready_without_the_cannon(self, line, at):
        without = CartFactory(fleet_number="RG01", tank_capacity_l=12_500, tyres=True)
        Fitment.objects.filter(cart=without, kind="cannon").delete()
        LimitFactory(defect__cart=CartFactory(fleet_number="RG02", tank_capacity_l=12_500))
        CartFactory(fleet_number="RG03", tank_capacity_l=9_400)
        CartFactory(fleet_number="RG04", tank_capacity_l=12_500)
        CartFactory(fleet_number="RG05", tank_capacity_l=5_000)
        found = {cart.fleet_number: words for cart, words in carts_for_the_rest(line, at=at)}
        assert list(found) == ["RG04", "RG03", "RG01", "RG05", "RG02"]
        assert found["RG01"].startswith("Not what is asked: no cannon. But for that: ")
        assert found["RG02"].startswith("Not what is asked: its cannon is isolated. But for that: ")
        assert found["RG03"].startswith("Near: 600 L less than asked. ")
        assert found["RG05"].startswith("Not what is asked: 5,000 L less than asked. ")
        assert "asked" not in found["RG04"]

    def test_the_road_litres_are_asked_of_the_carts(self, line, at):
        Line.objects.filter(pk=line.pk).update(road_litres=9_000, litres=0, gear=[])
        line.refresh_from_db()
        CartFactory(fleet_number="RG01", tank_capacity_l=12_500)
        measured("RG02")
        assert [cart.fleet_number for cart, _ in carts_for_the_rest(line, at=at)] == ["RG02", "RG01"]

    def test_what_was_asked_goes_to_the_new_line(self, line, at, desk):
        new = swap_cart(
            line=line, cart=CartFactory(), swapped_at=at, called_by_words="Aoife", why="Shaft", pick_up=PICK_UP, by=desk, at=at
        )  # fmt: skip
        assert Line.objects.get(pk=new.pk).needs == line.needs

    def test_it_costs_the_same_for_three_carts_and_thirty(self, client, desk):
        now = timezone.now()
        line = asking({"cannon"}, road_litres=9_000, starts_at=now - DAY, ends_at=now + DAY, out_at=now - DAY)
        client.force_login(desk)
        address = reverse("hire:line_swap", args=[line.pk])
        CartFactory.create_batch(3)
        few = queries_of(client, address)
        CartFactory.create_batch(27)
        assert queries_of(client, address) == few


class TestAtTheGate:
    def found(self, line, at):
        return gate.gate_readiness(Line.objects.for_list().get(pk=line.pk), at=at)

    def test_isolated_gear_the_hire_asks_for_stops_the_cart_and_not_its_paper(self, at, hand, desk):
        line = ready_line(hand=hand, at=at, gear=["cannon"])
        assert self.found(line, at).may_go
        defect = DefectFactory(cart=line.cart, gear="cannon", grade="by_date", told_at=at - 2 * HOUR)
        LimitFactory(defect=defect)
        [blocker] = self.found(line, at).blockers
        assert (blocker.code, blocker.passed_by) == (ISOLATED, frozenset())
        assert blocker.sentence == (
            f"{line.agreement.number} asks for its cannon, and that is isolated and tagged: it may not go with that limit."
        )
        with pytest.raises(gate.StoppedAtGate, match="may not go with that limit"):
            gate.hand_over(line=line, given=given(limits_accepted=True), by=desk, at=at)
        # The certificate goes to the site days ahead and prints the limit.
        assert gate.issue_certificate(line=line, by=desk, at=at, why="It goes with a limit").number

    def test_a_hire_that_does_not_ask_for_it_goes_with_the_limit(self, at, hand):
        line = ready_line(hand=hand, at=at, gear=["rear_heads"])
        LimitFactory(
            defect=DefectFactory(cart=line.cart, gear="cannon", grade="by_date", told_at=at - 2 * HOUR)
        )
        answer = self.found(line, at)
        assert (answer.state, answer.may_go) == ("limits", True)

    def test_gear_that_is_not_fitted_is_said_too(self, at, hand):
        line = ready_line(hand=hand, at=at, gear=["cannon"])
        Fitment.objects.filter(cart=line.cart, kind="cannon").delete()
        assert [one.code for one in self.found(line, at).blockers] == [NOT_FITTED]

    def test_once_it_is_out_it_is_only_said(self, at):
        line = asking({"cannon"}, starts_at=at - DAY, ends_at=at + DAY, out_at=at - DAY)
        LimitFactory(
            defect=DefectFactory(cart=line.cart, gear="cannon", grade="by_date", told_at=at - 2 * HOUR)
        )
        answer = self.found(line, at)
        assert ISOLATED not in [one.code for one in answer.blockers]
        assert ISOLATED in [one.code for one in answer.cautions]

    def test_queries_do_not_grow_with_the_carts(self, at):
        def cost(lines):
            windows = {line.cart_id: window_of(line) for line in lines}
            with CaptureQueriesContext(connection) as queries:
                readiness_each([line.cart for line in lines], windows=windows, at=at)
            return len(queries)

        few = [asking({"cannon"}) for _ in range(2)]
        assert cost([*few, *(asking({"cannon"}) for _ in range(10))]) == cost(few)


@pytest.mark.parametrize("make", [LineFactory, PencilFactory, BookingFactory])
def test_the_database_knows_one_or_two_driven_axles_or_any(make):
    with pytest.raises(IntegrityError, match="drive_known"), transaction.atomic():
        make(drive_axles=3)
