"""Worker, schedule and Redis are killed and Redis is wiped at random while alerts are raised and mails sent: nothing is lost
and nobody is told twice, but for the one window that docs/alerts.md owns up to, where the same message comes again.

FAULT_KNOCKS says how often something is knocked down; FAULT_SEED plays one order of events again.
"""

from __future__ import annotations

import os
import random
import re
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from email.message import EmailMessage
from pathlib import Path

import pytest
from django.utils import timezone

from fleet.alerts.models import Alert, Delivery, Telling
from fleet.models.equipment import Extinguisher
from people.yard import yard_day
from tests.factories.fleet import CartFactory, ExtinguisherFactory
from tests.factories.people import StaffFactory
from tests.faults.clock_processes import Clock
from tests.mail_sink import MailSink, running

pytestmark = [pytest.mark.journey, pytest.mark.django_db(transaction=True)]

KNOCKS = int(os.environ.get("FAULT_KNOCKS", "12"))
SEED = int(os.environ.get("FAULT_SEED", "1"))
WAYS = ("worker", "worker", "beat", "redis", "wiped", "everything")
PATIENCE_S = 90
# Of each mail that arrives, how often its sender dies before it hears so.
SHOT_IN = 4


@pytest.fixture
def sink() -> Iterator[MailSink]:
    with running(MailSink()) as server:
        yield server


@pytest.fixture
def clock(sink: MailSink, tmp_path: Path) -> Iterator[Clock]:
    clock = Clock(tmp_path, sink.port)
    yield clock
    clock.end()


def told_of(mail: EmailMessage) -> list[str]:
    """The extinguishers a mail has rows of."""
    return re.findall(r"STOP\. \S+ extinguisher (\w+) is used", " ".join(mail.get_content().split()))


def are_green(serials: list[str], *, green: bool) -> None:
    Extinguisher.objects.filter(serial__in=serials).update(is_discharged=not green)


def wait_until(is_so, clock: Clock, what: str) -> None:
    for _ in range(PATIENCE_S * 10):
        if is_so():
            return
        clock.stand_up()
        time.sleep(0.1)
    raise AssertionError(f"Never came: {what}\n{clock.last_words()}")


def test_nothing_is_lost_and_nobody_told_twice(sink: MailSink, clock: Clock) -> None:
    dice = random.Random(SEED)
    manager = StaffFactory(full_name="Bruna Kitto", role="workshop_manager", email="bruna@yard.example")
    cart, today = CartFactory(fleet_number="WC-90"), yard_day(timezone.now())
    unused = [f"K{n:04d}" for n in range(3 * KNOCKS)]
    for serial in unused:
        ExtinguisherFactory(cart=cart, serial=serial, made_on=today, serviced={"routine_12_month": today})
    shots: Counter[str] = Counter()

    def shoot(mail: EmailMessage) -> None:
        # The schedule's own chance, apart from the test's: it is thrown in another thread.
        if shots[mail["Message-ID"]] < 2 and random.randrange(SHOT_IN) == 0:
            shots[mail["Message-ID"]] += 1
            clock.kill("worker")

    sink.on_mail = shoot
    used: list[str] = []
    clock.stand_up()
    for _ in range(KNOCKS):
        fresh = [unused.pop() for _ in range(dice.randrange(1, 4))]
        are_green(fresh, green=False)
        used += fresh
        # Some of those told come and go within the day, which is no news.
        flicker = dice.sample(used, min(2, len(used)))
        time.sleep(dice.uniform(0, 5))
        clock.knock(dice.choice(WAYS))
        are_green(flicker, green=True)
        time.sleep(dice.uniform(0, 2))
        are_green(flicker, green=False)
        clock.stand_up()
    sink.on_mail = lambda _mail: None

    def is_quiet() -> bool:
        open_now = Alert.objects.open().filter(rule="servicing.extinguisher_due").count()
        owed = Telling.objects.filter(step=0, outcome="").count()
        return open_now == len(used) and not owed and not Delivery.objects.filter(sent_at=None).exists()

    wait_until(is_quiet, clock, "everything told")
    clock.end()
    judge(sink.mails, used, kills=clock.kills, shots=shots)
    assert set(Delivery.objects.values_list("address", flat=True)) == {manager.email}


def judge(mails: list[EmailMessage], used: list[str], *, kills: int, shots: Counter[str]) -> None:
    """The ledger of what was used against what arrived."""
    messages: defaultdict[str, set[str]] = defaultdict(set)
    copies = Counter(mail["Message-ID"] for mail in mails)
    for mail in mails:
        for serial in told_of(mail):
            messages[serial].add(mail["Message-ID"])
    assert set(messages) == set(used), (
        f"lost: {set(used) - set(messages)}, made up: {set(messages) - set(used)}"
    )
    assert {serial: ids for serial, ids in messages.items() if len(ids) > 1} == {}
    again = sum(copies.values()) - len(copies)
    print(
        f"{len(used)} stops in {len(copies)} messages; worker killed {kills} times, {sum(shots.values())} of them between a "
        f"mail's arrival and its answer; {again} messages came again as themselves"
    )
    # A kill loses at most what the worker's two processes had in hand.
    assert again <= 2 * kills
