"""Promised hires that would have another cart so that more bookings can have one: which may, which stay and why."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models.carts import Cart
from hire.actions.gate import issue_certificate
from hire.actions.packs import record_answer, record_sent
from hire.booking_carts import propose
from hire.booking_wanted import why_they_stay
from hire.models.agreements import Line
from hire.models.packs import SitePack
from hire.site_rules import Asked, PaperAsked
from people.yard import yard_policy
from tests.factories.fleet import CartFactory, HoldFactory
from tests.factories.hire import AT, BookingFactory, JobPlanFactory, LineFactory, walked_line
from tests.factories.people import StaffFactory
from tests.factories.runs import RunNoteFactory
from tests.factories.sites import SitePackFactory, SiteSetFactory
from tests.factories.water import potable_cart
from tests.factories.wet import WetHireFactory

pytestmark = pytest.mark.django_db

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
START = AT + 3 * DAY
TURN = yard_policy().turn_round


def bare(number, litres=15_000, **kwargs):
    return CartFactory(**{"fleet_number": number, "tank_capacity_l": litres, "gear": ()} | kwargs)


def waiting(**changed):
    return BookingFactory(**{"made_at": AT - DAY, "starts_at": START} | changed)


def hired(cart, number="H2026-00010", **changed):
    facts = {"agreement__number": number, "litres": 10_000}
    if number == "H2026-00010":
        facts["agreement__customer__name"] = "Mallee Ridge Wind"
    return LineFactory(**{"cart": cart, "starts_at": START} | facts | changed)


@pytest.fixture
def crossed():
    """The hire that asked for 10,000 L has the large cart, and the booking asks for more than the small one has."""
    line = hired(bare("LARGE", 22_000))
    bare("SMALL", 12_000)
    return line, waiting(litres=20_000, customer__name="Merrin Civil", place_of_work="Pit 4")


def moves(found=None):
    found = found or propose(at=AT, moves=True)
    return [
        (one.line.agreement.number, one.line.cart.fleet_number, one.cart.fleet_number) for one in found.moves
    ]


def carts(found):
    return [one.cart and one.cart.fleet_number for one in found.choices]


def test_a_promised_hire_makes_room_for_a_booking_and_says_for_which(crossed):
    _, booking = crossed
    kept = propose(at=AT)
    assert (carts(kept), kept.moves) == ([None], ())
    assert kept.choices[0].ways[0] == "LARGE if H2026-00010 (Mallee Ridge Wind) moved"
    found = propose(at=AT, moves=True)
    assert (carts(found), moves(found)) == (["LARGE"], [("H2026-00010", "LARGE", "SMALL")])
    [move] = found.moves
    assert move.why.startswith("LARGE is then free for the booking of Merrin Civil, Pit 4, from ")
    assert (move.bookings, move.asked) == ({booking.pk}, "10,000 L")
    assert Line.objects.get().cart.fleet_number == "LARGE"


def test_the_cart_that_is_freed_is_not_held_by_the_hire_that_leaves_it(crossed):
    found = propose(at=AT, moves=True)
    assert "hire.overlap" not in [one.code for one in found.choices[0].answer.blockers]
    assert found.choices[0].state == found.moves[0].state == "ready"
    assert found.ticked == {str(found.choices[0].booking.pk), str(found.moves[0].line.pk)}


def test_nothing_is_moved_where_every_booking_has_a_cart_though_it_would_cost_less(crossed):
    bare("HUGE", 40_000)
    found = propose(at=AT, moves=True)
    assert (carts(found), found.moves) == (["HUGE"], ())


def test_nothing_is_moved_for_a_booking_that_has_no_cart_by_it_either(crossed):
    _, booking = crossed
    booking.litres = 50_000
    booking.save()
    found = propose(at=AT, moves=True)
    assert (carts(found), found.moves) == ([None], ())


def test_two_hires_exchange_their_carts():
    """LARGE goes on for a week more than SMALL: the booking of the days after wants the large one."""
    hired(bare("LARGE", 22_000), "H2026-00010", ends_at=START + 7 * DAY)
    hired(bare("SMALL", 12_000), "H2026-00011", ends_at=START + DAY)
    waiting(litres=20_000, starts_at=START + 3 * DAY)
    found = propose(at=AT, moves=True)
    assert carts(found) == ["LARGE"]
    assert moves(found) == [("H2026-00011", "SMALL", "LARGE"), ("H2026-00010", "LARGE", "SMALL")]
    second, first = found.moves
    assert first.why.startswith("LARGE is then free for the booking of ")
    assert second.why == "SMALL is then free for H2026-00010, which makes room in turn."
    assert first.bookings == second.bookings == {found.choices[0].booking.pk}


@pytest.mark.parametrize(
    ("changed", "is_moved"),
    [
        ({"starts_at": AT + DAY, "ends_at": START + DAY}, False),
        ({"starts_at": AT + DAY + HOUR / 60, "ends_at": START + DAY}, True),
        ({"is_this_cart": True}, False),
        ({"out_at": AT - HOUR, "starts_at": AT - HOUR, "ends_at": START + DAY}, False),
        ({"litres": 13_000}, False),
        # Near is for who has no cart yet: a promise is of all that was asked.
        ({"litres": 12_500}, False),
        ({"gear": ["cannon"]}, False),
        ({"drive_axles": 1}, False),
        ({"agreement__water": "potable"}, False),
    ],
)
def test_which_promise_may_be_of_another_cart(changed, is_moved):
    hired(bare("LARGE", 22_000), **changed)
    bare("SMALL", 12_000)
    waiting(litres=20_000)
    assert moves() == ([("H2026-00010", "LARGE", "SMALL")] if is_moved else [])


def test_the_lead_is_the_yards_to_say(crossed, monkeypatch):
    line, _ = crossed
    lead = line.promised.lower - AT
    for shorter, count in ((timedelta(0), 0), (HOUR / 60, 1)):
        policy = replace(yard_policy(), move_lead=lead - shorter)
        monkeypatch.setattr("hire.booking_wanted.yard_policy", lambda policy=policy: policy)
        assert len(moves()) == count


@pytest.mark.parametrize(("litres", "is_moved"), [(22_000, True), (21_999, False)])
def test_a_hire_that_asked_for_nothing_gets_no_less_than_the_cart_it_has(litres, is_moved):
    hired(bare("LARGE", 22_000), litres=0, ends_at=START + DAY)
    like = bare("LIKE", litres)
    hired(like, "H2026-00011", starts_at=START + 4 * DAY, is_this_cart=True)
    waiting(litres=22_000)
    assert moves() == ([("H2026-00010", "LARGE", "LIKE")] if is_moved else [])


def test_a_hire_whose_certificate_is_issued_stays(hand):
    cart = CartFactory(fleet_number="LARGE", tank_capacity_l=22_000, tyres=True)
    line = walked_line(hand=hand, at=START, cart=cart, litres=10_000)
    bare("SMALL", 12_000, gear=("rops",))
    waiting(litres=20_000)
    assert len(moves()) == 1
    issue_certificate(line=line, by=None, at=START - 2 * HOUR)
    assert why_they_stay([line], at=AT) == {line.pk: "has its certificate"}
    assert moves() == []


def test_a_hire_whose_papers_are_at_the_site_stays_until_they_come_back(crossed):
    line, _ = crossed
    desk = StaffFactory(role="hire_desk")
    pack = SitePackFactory(line=line, made_at=AT - DAY)
    [move] = propose(at=AT, moves=True).moves
    assert f"{pack.number} has the papers of LARGE: make a site pack of SMALL and send that." in move.again
    record_sent(pack=pack, sent_at=AT - HOUR, to_words="Gate", how="email", by=desk, at=AT)
    assert why_they_stay([line], at=AT) == {line.pk: "has its papers at the site already"}
    assert moves() == []
    record_answer(
        pack=pack, answered_at=AT - HOUR / 2, answer="back", why="Old", told_by_words="Gate", by=desk, at=AT
    )
    assert len(moves()) == 1
    assert SitePack.objects.count() == 1


def test_a_promise_too_close_to_another_on_its_cart_stays_as_it_was_promised(crossed):
    line, _ = crossed
    hired(line.cart, "H2026-00011", starts_at=line.promised.upper + TURN - HOUR, is_this_cart=True)
    assert moves() == []


def test_the_site_of_the_hire_stops_a_cart_for_how_it_is_built(crossed):
    line, _ = crossed
    SiteSetFactory(
        customer=line.agreement.customer,
        site=line.agreement.place_of_work,
        asked=Asked(gear={"rops": "must"}),
    )
    assert moves() == []


def test_what_the_site_could_be_given_is_said_beside_the_cart(crossed):
    line, _ = crossed
    papers = {"insurance": PaperAsked("must")}
    SiteSetFactory(
        customer=line.agreement.customer, site=line.agreement.place_of_work, asked=Asked(papers=papers)
    )
    [move] = propose(at=AT, moves=True).moves
    assert len(move.site) == 1
    assert any("wants the papers of SMALL by " in words for words in move.again)


def test_drinking_water_is_moved_to_a_tank_kept_for_it_and_to_none_any_water_was_before():
    hired(potable_cart(fleet_number="LARGE", tank_capacity_l=22_000), agreement__water="potable")
    small = potable_cart(fleet_number="SMALL", tank_capacity_l=12_000)
    waiting(litres=20_000, water="potable")
    assert moves() == [("H2026-00010", "LARGE", "SMALL")]
    hired(small, "H2026-00012", starts_at=AT + HOUR, ends_at=AT + DAY, litres=0)
    assert moves() == []


def test_what_has_to_be_done_again_is_said(crossed):
    line, _ = crossed
    JobPlanFactory(line=line)
    RunNoteFactory(line=line)
    WetHireFactory(line=line)
    [move] = propose(at=AT, moves=True).moves
    who = line.agreement.customer
    assert move.again == (
        "Walk SMALL before it leaves; its certificate is issued then.",
        "The driver’s plan is worked out for SMALL from now on: look at it again.",
        "Work out the road fill of SMALL: there is none on record.",
        "Its run is written down with LARGE in mind: read it again.",
        "It goes with an operator of ours: see that the licence is for SMALL too.",
        f"Tell Mallee Ridge Wind that SMALL comes: {who.contact_name}, {who.phone}.",
    )


def test_neither_the_move_nor_its_booking_is_ticked_where_the_other_cart_is_held(crossed):
    HoldFactory(cart=Cart.objects.get(fleet_number="SMALL"), reason="Gearbox noise")
    other = waiting(litres=9_000, starts_at=START + 60 * DAY)
    found = propose(at=AT, moves=True)
    assert found.moves[0].state == "held"
    assert "Gearbox noise" in found.moves[0].sentence
    assert str(found.moves[0].line.pk) not in found.ticked
    assert str(crossed[1].pk) not in found.ticked
    assert len(found.choices) == 2
    assert (str(other.pk) in found.ticked) == (found.choices[1].state != "held")


def test_what_would_free_one_names_a_hire_that_may_be_moved_as_one_that_may_not(crossed):
    waiting(litres=20_000)
    found = propose(at=AT, moves=True)
    [left] = [one for one in found.choices if one.cart is None]
    assert left.ways[0].startswith("LARGE if the booking of ")
    Line.objects.update(litres=21_000)
    found = propose(at=AT, moves=True)
    assert {one.ways[0] for one in found.choices} == {"LARGE if H2026-00010 (Mallee Ridge Wind) moved"}


def test_it_costs_the_same_for_three_of_each_and_thirty():
    def cost(**how):
        with CaptureQueriesContext(connection) as queries:
            found = propose(at=AT, **how)
        return len(queries), len(found.moves)

    def add(count):
        for _ in range(count):
            hired(CartFactory(tank_capacity_l=22_000, gear=()), f"H2026-{Line.objects.count():05d}")
            CartFactory(tank_capacity_l=12_000, gear=())
            waiting(litres=20_000)

    add(3)
    first, few = cost(moves=True)
    add(27)
    assert few == 3
    assert cost(moves=True) == (first, 30)
