"""Readiness asked of every provider at once: silence is never a yes, and a thousand carts cost what ten do."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet import readiness as registry
from fleet.readiness import GoesWith, Window, provider_names, readiness, readiness_of, register_provider
from fleet.sentences import moment_words, readiness_sentence
from tests.factories.fleet import CartFactory, HoldFactory, TreadReadingFactory, TyreFittingFactory
from tests.factories.hire import LineFactory
from tests.factories.yard_of_carts import many_carts

WEEK = timedelta(days=7)


def test_all_four_providers_are_told_of(settings):
    assert (
        provider_names()
        == frozenset(settings.READINESS_PROVIDERS)
        == {"fleet", "inspections", "servicing", "hire"}
    )
    with pytest.raises(ValueError, match="already has a provider"):
        register_provider("fleet", many_carts)


@pytest.mark.parametrize("name", ["fleet", "inspections", "servicing", "hire"])
def test_a_provider_that_breaks_holds_the_cart(db, at, monkeypatch, name):
    def broken(carts, *, windows, at):
        raise RuntimeError("no answer")

    cart = CartFactory()
    monkeypatch.setitem(registry._providers, name, broken)
    answer = readiness(cart, window=Window(start=at + WEEK, end=at + 2 * WEEK), at=at)
    assert [blocker.code for blocker in answer.blockers] == [f"{name}.could_not_be_checked"]
    assert not answer.may_go
    assert readiness_sentence(answer).startswith("Held: Could not be checked:")


def test_a_provider_whose_query_fails_does_not_take_the_others_with_it(db, at, monkeypatch):
    def broken(carts, *, windows, at):
        connection.cursor().execute("SELECT * FROM no_such_table")

    cart = CartFactory()
    HoldFactory(cart=cart)
    monkeypatch.setitem(registry._providers, "servicing", broken)
    answer = readiness(cart, window=Window(start=at + WEEK, end=at + 2 * WEEK), at=at)
    assert {blocker.code for blocker in answer.blockers} == {"servicing.could_not_be_checked", "hold.manual"}


def test_a_window_ends_after_it_starts(at):
    with pytest.raises(ValueError, match="ends after it starts"):
        Window(start=at, end=at)


def test_no_carts_cost_nothing(db, at, django_assert_num_queries):
    with django_assert_num_queries(0):
        assert readiness_of([], window=Window(start=at, end=at + WEEK), at=at) == {}


def test_ten_a_hundred_and_a_thousand_carts_cost_the_same(db, at):
    def queries(carts):
        with CaptureQueriesContext(connection) as seen:
            answers = readiness_of(carts, window=Window(start=at, end=at + WEEK), at=at)
        assert len(answers) == len(carts)
        return len(seen)

    carts = many_carts(1000, at=at)
    counts = [queries(carts[:number]) for number in (10, 100, 1000)]
    assert len(set(counts)) == 1
    assert counts[0] <= 30


def test_a_tyre_stands_by_its_least_reading_as_its_alert_does(db, at):
    cart = CartFactory()
    worn = TyreFittingFactory(cart=cart, code="2LO")
    for days, depth in ((2, "2.9"), (1, "3.3")):
        TreadReadingFactory(fitting=worn, depth_mm=depth, read_at=at - timedelta(days=days))

    answer = readiness(cart, window=Window(start=at, end=at + timedelta(days=7), asks_gate=False), at=at)

    assert [one.code for one in answer.blockers] == ["tyre.change_out"]
    assert "measured 2.9 mm, change out at 3 mm" in answer.blockers[0].sentence


def test_a_cart_that_is_out_before_is_ready_once_it_is_back(db, at):
    """What falls due ends its readiness; being out comes before it."""
    line = LineFactory(starts_at=at - WEEK, ends_at=at + timedelta(days=2), out_at=at - WEEK)
    asked = readiness(line.cart, window=Window(start=at + WEEK, end=at + 2 * WEEK), at=at)
    [out] = [caution for caution in asked.cautions if caution.code == "hire.out"]
    alone = replace(asked, blockers=(), cautions=(out,), limits=())
    back = moment_words(line.promised.upper, at=at)
    assert readiness_sentence(alone) == f"Ready once it is back, expected {back}."
    limit = GoesWith("Goes without its cannon.", out.record)
    assert readiness_sentence(replace(alone, limits=(limit,))) == (
        f"Goes with limits: Goes without its cannon. Leaves once it is back, expected {back}."
    )
