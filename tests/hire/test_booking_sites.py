"""Open bookings whose site has a set: matched to carts the site lets in, or would once they are worked on, and to no others."""

import itertools
import random
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.db import connection
from django.db.backends.postgresql.psycopg_any import DateTimeTZRange
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.gear import GEAR
from hire import suiting
from hire.booking_assigned import NEAR_COST
from hire.booking_carts import propose, without_cart
from hire.booking_sites import sites_for, stops_for_good
from hire.booking_wanted import OFFERED, Wanted
from hire.site_answer import set_for
from hire.site_check import lacking_for
from hire.site_rules import MUST, PUT_ON, Asked, CartFacts, PaperAsked, compare
from hire.site_text import NAMES, SITE_GEAR
from hire.suiting import Build
from people.yard import yard_day, yard_policy
from tests.factories.fleet import CartFactory, DocumentFactory
from tests.factories.hire import AT, BookingFactory, CustomerFactory, LineFactory
from tests.factories.sites import SiteSetFactory
from tests.pages import saved, text_of

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
START = AT + 3 * DAY
TURN = yard_policy().turn_round
PIT = "Callabar pit"


def rows():
    head = "| the site must have | on record of the cart | cost |"
    lines = Path("docs/matching.md").read_text(encoding="utf-8").split(head)[1].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[: lines.index("")]]


@pytest.mark.parametrize("row", rows(), ids=" / ".join)
def test_the_table_of_the_page_is_true(row):
    musts, has = ([word for word in cell.split(", ") if word] for cell in row[:2])
    noise = {Decimal(word.removesuffix(" dB")) for word in musts if word.endswith("dB")}
    asked = Asked(
        gear={word: MUST for word in musts if word in GEAR},
        papers={word: PaperAsked(MUST) for word in musts if word == "registration"},
        noise_db=min(noise, default=None),
        noise_how=MUST,
    )
    facts = CartFacts(
        gear=frozenset(word.split(" ")[0] for word in has if not word.endswith("dB")),
        isolated=frozenset(word.split(" ")[0] for word in has if "isolated" in word),
        noise_db=next((Decimal(word.removesuffix(" dB")) for word in has if word.endswith("dB")), None),
    )
    lacking = compare(asked, facts, first=yard_day(START), last=yard_day(START), names=NAMES)
    cost = "-" if stops_for_good(lacking) else f"{NEAR_COST * sum(one.is_must for one in lacking):.0f}"
    assert cost == row[2]


def test_what_is_put_on_is_gear_a_site_may_ask_for():
    assert set(SITE_GEAR) >= PUT_ON


def waiting(site=PIT, **changed):
    return BookingFactory(**{"made_at": AT - DAY, "starts_at": START, "place_of_work": site} | changed)


def bare(number, *gear, **kwargs):
    return CartFactory(fleet_number=number, tank_capacity_l=15_000, gear=gear, **kwargs)


def asks(booking, **asked):
    return SiteSetFactory(customer=booking.customer, site=booking.place_of_work, asked=Asked(**asked))


def numbers():
    return [one.cart.fleet_number if one.cart else None for one in propose(at=AT).choices]


@pytest.mark.django_db
class TestProposed:
    def test_a_cart_built_otherwise_is_not_matched_and_the_page_says_why(self):
        bare("A-1")
        asks(waiting(), gear={"rops": MUST, "flag": MUST})
        [choice] = propose(at=AT).choices
        words = (
            "A-1 is stopped at Callabar pit: no rollover frame is fitted. "
            "Workshop: fit it and record it, or hire desk: use another cart."
        )
        assert (choice.cart, choice.ways) == (None, (words,))

    def test_a_cart_that_has_it_is_matched_and_the_other_is_left_for_who_asks_nothing(self):
        bare("A-1")
        bare("B-2", "rops")
        booking = waiting()
        other = waiting("Elsewhere", starts_at=START + HOUR)
        asks(booking, gear={"rops": MUST})
        found = {one.booking.pk: one.cart.fleet_number for one in propose(at=AT).choices}
        assert found == {booking.pk: "B-2", other.pk: "A-1"}

    def test_what_the_yard_can_put_on_is_said_beside_the_cart_and_one_that_has_it_comes_first(self):
        bare("A-1")
        asks(waiting(), gear={"flag": MUST, "cannon": "asked"})
        [choice] = propose(at=AT).choices
        assert choice.cart.fleet_number == "A-1"
        assert [(one.what, one.is_must) for one in choice.site] == [
            ("no flag and call sign is fitted", True), ("no cannon is fitted", False),
        ]  # fmt: skip
        bare("B-2", "flag")
        assert numbers() == ["B-2"]

    def test_what_is_only_asked_for_moves_no_cart(self):
        bare("A-1")
        bare("B-2", "rops")
        asks(waiting(), gear={"rops": "asked"})
        assert numbers() == ["A-1"]

    def test_a_site_without_a_set_of_its_own_has_its_customers_and_the_newest_issue_counts(self):
        bare("A-1")
        booking = waiting()
        asked = SiteSetFactory(customer=booking.customer, site="", asked=Asked(gear={"rops": MUST}))
        assert numbers() == [None]
        SiteSetFactory(customer=asked.customer, site="", issue=2, asked=Asked(gear={}))
        assert numbers() == ["A-1"]
        SiteSetFactory(customer=asked.customer, site=" CALLABAR  pit", asked=Asked(gear={"rops": MUST}))
        assert numbers() == [None]
        SiteSetFactory(asked=Asked(gear={"cannon": MUST}))
        assert numbers() == [None]

    def test_a_way_to_free_one_comes_before_what_the_site_stops(self):
        who = {"agreement__number": "H2025-00077", "agreement__customer__name": "Mallee Ridge Wind"}
        LineFactory(cart=bare("B-2", "rops"), starts_at=START, **who)
        bare("A-1")
        asks(waiting(), gear={"rops": MUST})
        [choice] = propose(at=AT).choices
        assert choice.ways[0] == "B-2 if H2025-00077 (Mallee Ridge Wind) moved"
        assert choice.ways[1].startswith("A-1 is stopped at Callabar pit: ")

    def test_an_age_is_of_the_day_it_leaves(self):
        cart = bare("A-1")
        DocumentFactory(cart=cart, kind="plant_risk", issued_on=yard_day(START) - 30 * DAY, expires_on=None)
        booking = waiting()
        asks(booking, papers={"plant_risk": PaperAsked(MUST, 40)})
        assert not [one for one in propose(at=AT).choices[0].site if one.from_on is None]
        booking.period = DateTimeTZRange(START + 11 * DAY, START + 12 * DAY)
        booking.save()
        [lack] = propose(at=AT).choices[0].site
        assert lack.what.startswith("its plant risk assessment is 41 days old")

    def test_a_hire_elsewhere_voids_a_wash_down_and_one_moved_no_more(self):
        cart = bare("A-1")
        DocumentFactory(cart=cart, kind="wash_down", issued_on=yard_day(AT) - DAY, expires_on=None)
        booking = waiting()
        asks(booking, papers={"wash_down": PaperAsked(MUST, 60)})
        line = LineFactory(cart=cart, starts_at=START - 2 * DAY, ends_at=START - DAY)
        stands = (line.promised.lower, line.promised.upper)
        after = (START + 20 * DAY, START + 25 * DAY)

        def void(moved=None):
            return bool(sites_for([Wanted.booked(booking)], [cart], at=AT, moved=moved).lacking(0, cart))

        assert (void(), void((line, after)), void((line, stands))) == (True, False, True)
        line.promised = DateTimeTZRange(*after)
        line.save()
        assert (void(), void((line, stands)), line.promised.lower) == (False, True, after[0])
        LineFactory(cart=cart, starts_at=AT - 9 * DAY, out_at=AT - 9 * DAY, came_back_at=AT - 5 * DAY)
        assert not void()

    def test_another_booking_of_the_cart_elsewhere_before_voids_a_wash_down_and_no_other_does(self):
        DocumentFactory(cart=bare("A-1"), kind="wash_down", issued_on=yard_day(AT) - DAY, expires_on=None)
        booking = waiting(starts_at=START + 10 * DAY, ends_at=START + 12 * DAY)
        asks(booking, papers={"wash_down": PaperAsked(MUST, 60)})

        def said():
            return {one.booking.pk: [lack.what for lack in one.site] for one in propose(at=AT).choices}[
                booking.pk
            ]

        waiting("Elsewhere", starts_at=START + 20 * DAY)
        waiting(" callabar PIT", customer=booking.customer, starts_at=START, ends_at=START + DAY)
        assert said() == []
        waiting("Elsewhere", starts_at=START + 3 * DAY, ends_at=START + 5 * DAY)
        assert said() == ["its weed-and-seed wash-down is void: the cart is to work elsewhere after it"]

    def test_the_booking_that_would_lose_its_cart_or_gain_one_is_told_by_the_site_too(self):
        bare("A-1")
        line = LineFactory(cart=bare("B-2", "rops"), starts_at=AT, ends_at=AT + DAY)
        booking = waiting()
        asks(booking, gear={"rops": MUST})
        assert without_cart(at=AT) == {}
        longer = line, (AT, START + DAY)
        assert without_cart(at=AT, moved=longer) == {booking.pk: booking}
        line.promised = DateTimeTZRange(*longer[1])
        line.save()
        assert without_cart(at=AT) == {booking.pk: booking}
        assert without_cart(at=AT, moved=(line, (AT, AT + DAY))) == {}

    def test_page_and_file_say_it(self, client, desk):
        client.force_login(desk)
        bare("A-1")
        asks(waiting(starts_at=AT + 900 * DAY), gear={"flag": MUST})
        asks(waiting("Ridge", starts_at=AT + 900 * DAY), gear={"rops": MUST})
        address = reverse("hire:booking_list")
        page = text_of(client.get(address))
        assert "<b>Stopped at the gate for this site:</b> no flag and call sign is fitted." in page
        assert "A-1 is stopped at Ridge: no rollover frame is fitted." in page
        first, second = sorted(saved(client, address), key=lambda row: row["Place of work"])
        assert first["Lacks for the site"] == "no flag and call sign is fitted"
        assert second["What would free one"].startswith("A-1 is stopped at Ridge: ")

    def test_it_costs_the_same_for_three_and_thirty(self):
        def cost():
            with CaptureQueriesContext(connection) as queries:
                propose(at=AT)
            return len(queries)

        def add(count):
            for n in range(count):
                line = LineFactory(starts_at=START)
                DocumentFactory(cart=line.cart, kind="wash_down", issued_on=yard_day(AT) - DAY)
                asks(waiting(f"Site {n}"), papers={"wash_down": PaperAsked(MUST)}, gear={"rops": MUST})

        add(3)
        first = cost()
        add(27)
        assert cost() == first


# Every assignment there is of small yards, each pair judged as a caller's cart is.


def small_yard(seed):
    """Up to three carts and four bookings of two customers with sets of their own, some carts hired for a part of the time."""
    chance = random.Random(seed)
    carts = [
        bare(f"C{n}", *chance.sample(["rops", "flag", "cannon", "spill_kit"], chance.randint(0, 3)))
        for n in range(3)
    ]
    for cart in chance.sample(carts, 2):
        DocumentFactory(
            cart=cart, kind="noise", number=f"{chance.choice([78, 84])} dB", issued_on=yard_day(AT)
        )
        begins = START + chance.randint(0, 8) * DAY
        LineFactory(cart=cart, starts_at=begins, ends_at=begins + chance.randint(1, 3) * DAY)
    customers = [CustomerFactory(), CustomerFactory()]
    for customer in customers:
        gear = {
            kind: chance.choice([MUST, "asked"]) for kind in chance.sample(["rops", "flag", "spill_kit"], 2)
        }
        noise = {"noise_db": Decimal(80), "noise_how": MUST} if chance.random() < 0.5 else {}
        SiteSetFactory(customer=customer, site=PIT, asked=Asked(gear=gear, **noise))
    bookings = []
    for _ in range(4):
        begins = START + chance.randint(0, 8) * DAY
        bookings.append(
            waiting(
                chance.choice([PIT, PIT, "Elsewhere"]), customer=chance.choice(customers), starts_at=begins,
                ends_at=begins + chance.randint(1, 3) * DAY, gear=chance.choice([[], ["cannon"]]),
            )
        )  # fmt: skip
    return carts, sorted(bookings, key=lambda one: (one.period.lower, one.pk))


def price(booking, cart):
    """What a pair costs, None where it cannot be: by the rule of the page."""
    enquiry = booking.enquiry()
    build = Build(cart.tank_capacity_l, 0, frozenset(cart.fitments.values_list("kind", flat=True)))
    found = set_for(booking.customer, booking.place_of_work)
    site = lacking_for([cart], found, start=enquiry.start, end=enquiry.end)[cart.pk] if found else ()
    musts = [one for one in site if one.is_must]
    if any(one.subject == "rops" or one.what.startswith("its noise figure") for one in musts):
        return None
    if suiting.lacks(enquiry, build, names=GEAR):
        return None
    if any(near(booking.period, line.promised) for line in cart.lines.all()):
        return None
    return suiting.excess(enquiry, build, offered=OFFERED, falls_due=0) + 100 * len(musts)


def near(one, other):
    return one.lower < other.upper + TURN and other.lower < one.upper + TURN


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(12))
def test_no_assignment_there_is_meets_more_or_costs_less(seed):
    carts, bookings = small_yard(seed)
    costs = {(b, c): price(b, c) for b in bookings for c in carts}

    def can_be(ways):
        given = [(b, c) for b, c in zip(bookings, ways, strict=True) if c is not None]
        return all(costs[pair] is not None for pair in given) and not any(
            c == d and near(a.period, b.period) for (a, c), (b, d) in itertools.combinations(given, 2)
        )

    def worth(ways):
        met = [costs[b, c] for b, c in zip(bookings, ways, strict=True) if c is not None]
        return -len(met), sum(met)

    best = min(worth(ways) for ways in itertools.product([None, *carts], repeat=4) if can_be(ways))
    mine = {one.booking: one.cart for one in propose(at=AT).choices}
    ways = [mine[booking] for booking in bookings]
    assert can_be(ways)
    assert worth(ways) == pytest.approx(best)
