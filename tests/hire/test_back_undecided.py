"""Carts back with things nobody decided: asked after the yard's days, on the day sheet at once, and the same as each page says."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert
from hire.actions import back as acts
from hire.actions.money import strike_beside
from hire.back_decisions import decidables
from hire.back_record import read_record
from hire.back_undecided import ASKED_FOR, undecided
from hire.charging.back import Typed
from hire.models.agreements import Line
from hire.watch_desk import returns_undecided
from tests.factories import inspections as walk
from tests.factories.back import DAY, HOUR, REAR, back_line, found_again, returned_line, wrong
from tests.factories.fleet import CartFactory, DefectFactory
from tests.factories.hire import LineFactory
from tests.pages import queries_of, saved, text_of

pytestmark = pytest.mark.django_db


def by_page():
    """What the page of each hire says is open."""
    lines = Line.objects.for_list().filter(back_at__isnull=False)
    found = {
        line.pk: [one.proposal.what for one in decidables(read_record(line)) if one.is_open] for line in lines
    }
    return {pk: things for pk, things in found.items() if things}


def at_once(at):
    return {one.line.pk: list(one.things) for one in undecided(Line.objects.all(), at=at)}


def let_go(line, key, desk, at):
    return acts.let_go_found(line=line, key=key, reason="fair_wear", by=desk, at=at)


@pytest.mark.parametrize(("days", "count"), [(1, 0), (2, 0), (3, 1), (30, 1)])
def test_it_asks_after_two_working_days_and_no_sooner(at, days, count):
    """Back on Saturday the 28th; the yard works Monday to Saturday, so Monday is one and Tuesday, the 1st, two."""
    back = at - 3 * DAY
    line, _ = back_line(at=back + DAY)
    assert line.back_at == back
    assert len(list(returns_undecided(back + days * DAY))) == count


def test_it_is_raised_once_and_cleared_when_all_is_decided(hand, desk, at):
    line, dent = back_line(at=at)
    later = at + 3 * DAY
    acts.count_kit(
        line=line, counted={1: ("missing", ""), 2: ("back", ""), 3: ("back", "")}, by=hand, at=later
    )
    sweep(at=later)
    sweep(at=later + HOUR)
    alert = Alert.objects.get(rule="hire.return_undecided")
    assert alert.subject_id == line.pk
    assert "Side board bent, Rear; Standpipe SP-14, missing." in alert.what
    let_go(line, f"defect-{dent.pk}", desk, later)
    sweep(at=later + 2 * HOUR)
    assert Alert.objects.get().cleared_at is None
    let_go(line, "kit-1", desk, later)
    sweep(at=later + 3 * HOUR)
    assert Alert.objects.get().cleared_at is not None


def test_it_says_what_each_page_says(hand, desk, at):
    """Everything that can be found and decided, and each way in which it cannot."""
    whole = returned_line(
        hand=hand, at=at, fuel_eighths=8, washed={"chassis-left-side": wrong("Crack", "watch")},
        found={"how-dirty": {"choice": "clay"}, REAR: wrong("Bent")},
    )  # fmt: skip
    DefectFactory(cart=whole.cart, grade="watch", told_at=at + 8 * DAY, title="Found by the workshop")
    returned_line(hand=hand, at=at, cart=CartFactory(fleet_number="RG08", tyres=True))
    again = back_line(at=at)[0]
    answer = found_again(hand=hand, at=at - HOUR, line=again)
    struck, dent = back_line(at=at)
    charged = acts.charge_found(
        line=struck, key=f"defect-{dent.pk}", typed=Typed(amount=Decimal(5)), by=desk, at=at
    )
    settled, scrape = back_line(at=at)
    let_go(settled, f"defect-{scrape.pk}", desk, at)
    _none, odd = back_line(at=at)
    type(odd).objects.filter(pk=odd.pk).update(state="no_fault_found", closed_at=at)
    out_again, _ = back_line(at=at)
    LineFactory(cart=out_again.cart, starts_at=at, out_at=at)
    DefectFactory(cart=out_again.cart, grade="watch", told_at=at + DAY, title="The next hire’s")
    later = at + 9 * DAY
    assert at_once(later) == by_page()
    assert set(at_once(later)) == {whole.pk, again.pk, out_again.pk}
    assert len(at_once(later)[whole.pk]) == 4
    strike_beside(beside=charged.beside, why="Wrong cart", by=desk, at=at)
    said = {"key": str(answer.pk), "outcome": "new", "words": "Pushed in"}
    told = acts.say_again(line=again, **said, by=desk, at=at).told
    assert at_once(later) == by_page()
    assert struck.pk in at_once(later)
    for key in [one.proposal.key for one in decidables(read_record(again)) if one.is_open]:
        let_go(again, key, desk, at)
    assert told.pk
    assert at_once(later) == by_page()
    assert again.pk not in at_once(later)


def test_what_nobody_decided_in_a_quarter_is_asked_for_no_more(at):
    line, _ = back_line(at=at)
    assert list(at_once(line.back_at + ASKED_FOR - HOUR)) == [line.pk]
    assert at_once(line.back_at + ASKED_FOR) == {}


def test_the_watch_and_the_day_sheet_cost_the_same_for_three_and_thirty(people, hand, sign_in):
    now = timezone.now()
    client = sign_in(people["hire_desk"])

    def cost():
        with CaptureQueriesContext(connection) as queries:
            list(returns_undecided(now + 9 * DAY))
        return len(queries), queries_of(client, reverse("hire:line_list"))

    def add(count):
        for _ in range(count):
            line, _dent = back_line(at=now)
            walk.sign(line.cart, "as_returned", by=hand, at=now - HOUR, answers={REAR: wrong("Bent")})

    add(3)
    few = cost()
    add(9)
    assert cost() == few
    assert len(at_once(now)) == 12


def test_the_day_sheet_leads_to_what_is_to_be_decided(people, sign_in):
    line, _ = back_line(at=timezone.now() + timedelta(hours=1))
    client = sign_in(people["hire_desk"])
    page = text_of(client.get(reverse("hire:line_list")))
    assert "Back, to be decided" in page
    assert f"{reverse('hire:out_and_back', args=[line.pk])}#decide" in page
    (row,) = saved(client, reverse("hire:line_list"))
    assert (row["Part"], row["Why"]) == ("Back, to be decided", "Side board bent, Rear")
