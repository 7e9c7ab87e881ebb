"""Two desks on two connections promise one cart: exactly one wins, and the other is told whose hire stands.

FAULT_PAIRS says how many pairs race; ./run faults has ten thousand.
"""

import os
import random
import threading
from datetime import timedelta

import pytest
from django.db import connection

from hire.actions.agreements import CartPromised, add_line, make_agreement, move_line
from hire.models.agreements import Line
from people.journal.verify import faults_in_journal
from tests.factories.fleet import CartFactory
from tests.factories.hire import AgreementFactory, CustomerFactory, LineFactory
from tests.factories.people import StaffFactory

DAY = timedelta(days=1)
PAIRS = int(os.environ.get("FAULT_PAIRS", "200"))

pytestmark = pytest.mark.django_db(transaction=True)


def race(*desks):
    """Each desk is a list of jobs; the n-th jobs of all desks start together. Returns what each gave, by desk."""
    gate = threading.Barrier(len(desks))
    results = [[] for _ in desks]

    def work(jobs, given):
        try:
            for job in jobs:
                gate.wait(30)
                try:
                    given.append(job())
                except CartPromised as refusal:
                    given.append(refusal)
        finally:
            connection.close()

    threads = [threading.Thread(target=work, args=pair) for pair in zip(desks, results, strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(240 + PAIRS // 10)
    assert not any(thread.is_alive() for thread in threads)
    return results


@pytest.mark.race
def test_of_each_racing_pair_one_wins_and_the_loser_hears_whose_it_is(at):
    desk = StaffFactory(role="hire_desk")
    carts = [CartFactory(layout__none=True, gear=(), meters=()) for _ in range(4)]
    agreements = [AgreementFactory(customer=CustomerFactory(name=f"Desk {n} Civil")) for n in (1, 2)]
    chance = random.Random(7)
    spans = []
    for n in range(PAIRS):
        starts_at = at + 10 * n * DAY
        # The two wish for periods that overlap, seldom for the very same.
        spans.append(
            [(starts_at + chance.random() * DAY, starts_at + (2 + chance.random()) * DAY) for _ in range(2)]
        )

    def promise(desk_number, n):
        starts_at, ends_at = spans[n][desk_number]
        return lambda: add_line(
            agreement=agreements[desk_number],
            cart=carts[n % 4],
            starts_at=starts_at,
            ends_at=ends_at,
            by=desk,
            at=at,
        )

    first, second = race(*[[promise(number, n) for n in range(PAIRS)] for number in (0, 1)])
    for pair in zip(first, second, strict=True):
        winners = [one for one in pair if isinstance(one, Line)]
        losers = [one for one in pair if isinstance(one, CartPromised)]
        assert (len(winners), len(losers)) == (1, 1)
        assert winners[0].agreement.number in losers[0].sentence
        assert winners[0].agreement.customer.name in losers[0].sentence
    assert Line.objects.count() == PAIRS
    assert list(faults_in_journal()) == []


def test_two_new_agreements_at_once_have_two_numbers_and_one_cart_one_promise(at):
    desk, cart = StaffFactory(role="hire_desk"), CartFactory()

    def make(customer):
        return lambda: make_agreement(
            customer=customer, place_of_work="x", leaves_by="road", works_on="road", pre_start_book="ours", order_number="",
            cart=cart, starts_at=at + DAY, ends_at=at + 2 * DAY, by=desk, at=at,
        )  # fmt: skip

    first, second = race([make(CustomerFactory())], [make(CustomerFactory())])
    assert sorted(type(one).__name__ for one in first + second) == ["CartPromised", "Line"]
    other = race(*[[_free(desk, at)] for _ in range(4)])
    numbers = [given[0].agreement.number for given in other]
    assert len(set(numbers)) == 4


def _free(desk, at):
    cart, customer = CartFactory(layout__none=True, gear=(), meters=()), CustomerFactory()
    return lambda: make_agreement(
        customer=customer, place_of_work="x", leaves_by="road", works_on="road", pre_start_book="ours", order_number="",
        cart=cart, starts_at=at + DAY, ends_at=at + 2 * DAY, by=desk, at=at,
    )  # fmt: skip


def test_two_hires_stretched_into_the_same_gap_at_once(at):
    desk, cart = StaffFactory(role="hire_desk"), CartFactory()
    before = LineFactory(cart=cart, starts_at=at, ends_at=at + 2 * DAY)
    after = LineFactory(cart=cart, starts_at=at + 4 * DAY, ends_at=at + 6 * DAY)
    first, second = race(
        [lambda: move_line(line=before, starts_at=at, ends_at=at + 3.5 * DAY, by=desk, at=at)],
        [lambda: move_line(line=after, starts_at=at + 2.5 * DAY, ends_at=at + 6 * DAY, by=desk, at=at)],
    )
    assert sorted(type(one).__name__ for one in first + second) == ["CartPromised", "Line"]
