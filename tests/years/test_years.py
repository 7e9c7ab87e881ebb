"""Years of a yard by the real rules: whatever falls due is told, nothing is told early, nothing chatters, nobody is worn out.

YARD_DAYS and YARD_CARTS say how long and how many (`./run years` lives five years with twenty carts); YARD_SEED another yard.
"""

from __future__ import annotations

import os
import statistics
from collections import Counter
from datetime import date, datetime, time, timedelta

import pytest
from django.db.models import Count, F, Window
from django.db.models.functions import Lag

from fleet.alerts.actions import sweep
from fleet.alerts.models import Alert, Notice, Telling
from fleet.alerts.notices import put_together
from fleet.models.equipment import Document, Extinguisher
from fleet.models.wheels import TyreFitting
from people.models import Staff
from people.yard import at_local, yard_day
from servicing.models.plans import ServiceDue
from servicing.service_book import reckon_all
from servicing.tyre_forecasts import make_tyre_forecasts
from tests.years import truth
from tests.years.yard import Yard, days

DAYS = int(os.environ.get("YARD_DAYS", "75"))
CARTS = int(os.environ.get("YARD_CARTS", "6"))
SEED = int(os.environ.get("YARD_SEED", "1"))
LOOKS = (time(6, 30), time(12), time(17, 30))
EXACT = frozenset(
    {"servicing.extinguisher_due", "fleet.paper_lapses", "fleet.meter_unread", "hire.return_overdue"}
)


def opened() -> set[truth.Told]:
    return set(Alert.objects.open().values_list("rule", "subject_id"))


def compare(yard: Yard, at: datetime) -> None:
    on, found = yard_day(at), opened()
    exact = (
        truth.extinguishers(on)
        | truth.papers(on)
        | set(truth.meters(yard, at))
        | set(truth.returns(yard, at))
    )
    told = {one for one in found if one[0] in EXACT}
    assert told == exact, f"{at}: not told {exact - told}, told for nothing {told - exact}"
    for rule, (must, may) in {
        "servicing.service_due": truth.services(yard, at),
        "servicing.tyre_due": truth.tyres(yard, at),
    }.items():
        mine = {one for one in found if one[0] == rule}
        assert must <= mine, f"{at}: not told {must - mine}"
        assert mine <= may, f"{at}: told early {mine - may}"


class People:
    """Each alert is acted on some days after it was raised; one in twenty is left for three weeks."""

    def __init__(self, yard: Yard) -> None:
        self.yard, self.when = yard, {}

    def _waits(self, alert: Alert) -> timedelta:
        if alert.pk not in self.when:
            chance = self.yard.chance
            mean = 2 if alert.rank != "soon" else 6
            self.when[alert.pk] = 21.0 if chance.random() < 0.05 else chance.expovariate(1 / mean)
        return timedelta(days=self.when[alert.pk])

    def act(self, at: datetime) -> None:
        for alert in Alert.objects.open().order_by("raised_at", "rule", "what"):
            if at - alert.raised_at >= self._waits(alert):
                self._do(alert, at)

    def _do(self, alert: Alert, at: datetime) -> None:
        on = yard_day(at)
        match alert.rule:
            case "servicing.service_due":
                row = ServiceDue.objects.select_related("plan").get(pk=alert.subject_id)
                works = self.yard.by_cart[row.cart_id]
                # A larger service has cleared it meanwhile, or it is out and waits until it is back.
                if row.state in ("soon", "due", "overdue") and not works.is_out:
                    self.yard.serve(works, row.plan, at)
            case "servicing.extinguisher_due":
                item = Extinguisher.objects.prefetch_related("services").get(pk=alert.subject_id)
                self.yard.service_extinguisher(item, truth.extinguisher_due(item)[1], on)
            case "fleet.paper_lapses":
                self.yard.renew(Document.objects.select_related("cart").get(pk=alert.subject_id), on, at)
            case "servicing.tyre_due":
                fitting = TyreFitting.objects.select_related("wheel_position").get(pk=alert.subject_id)
                if fitting.period.upper is None:
                    self.yard.change_tyre(fitting, at)


def chatter() -> int:
    """How many alerts were raised within a day of the same one having cleared, as a new one or as the same again."""
    before = Window(Lag("cleared_at"), partition_by=["rule", "subject_id"], order_by="raised_at")
    rows = Alert.objects.annotate(before=before).values_list("raised_at", "before")
    again = Alert.objects.filter(times_reopened__gt=0).count()
    return again + sum(
        before is not None and raised - before < timedelta(hours=24) for raised, before in rows
    )


def interruptions(person: Staff) -> Counter[date]:
    """Messages of a day to one person, the morning's list of what comes soon among them."""
    return Counter(
        yard_day(made) for made in Notice.objects.filter(person=person).values_list("made_at", flat=True)
    )


def told_twice() -> int:
    """How many people were told of one alert more than once for one rank, step and turn."""
    told = Telling.objects.exclude(notice=None).values("alert", "rank", "step", "turn", "notice__person")
    return told.annotate(times=Count("pk")).filter(times__gt=1).count()


# Transactions of their own, as the workers have: else the database can neither clear away old rows nor learn how tables grow.
@pytest.mark.django_db(transaction=True)
def test_years_of_a_yard(capsys):
    yard = Yard(seed=SEED, carts=CARTS)
    people, looks = People(yard), 0
    for on in days(DAYS):
        yard.live(on)
        for hour in LOOKS:
            at = at_local(on, hour)
            reckon_all(at=at)
            make_tyre_forecasts(at=at)
            sweep(at=at)
            put_together(at=at)
            compare(yard, at)
            looks += 1
        people.act(at_local(on, time(15)))
        if on.month != (on + timedelta(days=1)).month and DAYS > 365:
            with capsys.disabled():
                print(
                    f"\n{on:%b %Y}: {looks} looks, {Alert.objects.count()} alerts so far", end="", flush=True
                )
    # A second look at once changes nothing.
    again = sweep(at=at_local(on, LOOKS[-1]))
    assert again is not None
    assert chatter() == 0
    assert told_twice() == 0
    a_day = interruptions(yard.boss)
    counts = [a_day[on] for on in days(DAYS)]
    by_rule = Counter(Alert.objects.values_list("rule", flat=True))
    with capsys.disabled():
        print(
            f"\n{CARTS} carts, {DAYS} days, seed {SEED}: {looks} looks, {Alert.objects.count()} alerts "
            f"({', '.join(f'{rule} {number}' for rule, number in sorted(by_rule.items()))}); "
            f"interruptions of the workshop manager a day: median {statistics.median(counts)}, most {max(counts)}."
        )
    assert statistics.median(counts) <= 5
    assert Alert.objects.exclude(cleared_at=None).exists()
    assert Alert.objects.filter(cleared_at__lt=F("raised_at")).count() == 0
