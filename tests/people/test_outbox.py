"""The outbox: work committed with its cause, done once by whoever comes first, tried again when it fails."""

import time
import uuid
from collections import Counter
from datetime import timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.utils import timezone

from people.outbox import handlers, tasks
from people.outbox.actions import deliver_next, enqueue
from people.outbox.models import Message
from tests.at_once import at_once

KIND = "test.work"


class Work:
    """A kind of work that counts what it was asked to do, and fails while `fails` says so."""

    def __init__(self):
        self.done = Counter()
        self.fails = ""
        self.takes_seconds = 0.0

    def __call__(self, subject_id, at):
        time.sleep(self.takes_seconds)
        self.done[subject_id] += 1
        if self.fails == "database":
            connection.cursor().execute("SELECT 1/0")
        if self.fails:
            raise ValueError(self.fails)


@pytest.fixture
def work(monkeypatch):
    doing = Work()
    monkeypatch.setitem(handlers._handlers, KIND, doing)
    return doing


def put(at, subject_id=None):
    with transaction.atomic():
        return enqueue(kind=KIND, subject_id=subject_id or uuid.uuid4(), at=at)


def test_outside_a_transaction_it_is_refused(transactional_db, at):
    with pytest.raises(RuntimeError, match="own transaction"):
        enqueue(kind=KIND, subject_id=uuid.uuid4(), at=at)
    assert not Message.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_work_goes_with_its_cause_when_that_rolls_back(at, work, monkeypatch):
    nudged = []
    monkeypatch.setattr(tasks.sweep_outbox, "apply_async", lambda **options: nudged.append(options))
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        enqueue(kind=KIND, subject_id=uuid.uuid4(), at=at)
        raise ZeroDivisionError
    assert (nudged, Message.objects.count()) == ([], 0)
    put(at)
    assert nudged == [{"expires": 60}]


@pytest.mark.django_db(transaction=True)
def test_a_lost_nudge_loses_nothing(work, monkeypatch):
    def away(**options):
        raise ConnectionError("The broker is away.")

    monkeypatch.setattr(tasks.sweep_outbox, "apply_async", away)
    subject = uuid.uuid4()
    put(timezone.now(), subject)
    assert not work.done
    assert tasks.sweep_outbox.run() == 1
    assert work.done == {subject: 1}
    assert tasks.sweep_outbox.run() == 0


def test_the_same_work_waiting_is_not_doubled_and_may_come_again_once_done(db, at, work):
    subject = uuid.uuid4()
    first, again = put(at, subject), put(at + timedelta(minutes=1), subject)
    assert (again.pk, Message.objects.count()) == (first.pk, 1)
    assert again.made_at == at
    assert deliver_next(at=at)
    assert put(at, subject).pk != first.pk
    assert Message.objects.count() == 2


def test_the_database_keeps_one_waiting_by_itself(db, at):
    made = put(at)
    with pytest.raises(IntegrityError, match="outbox_message_once_waiting"), transaction.atomic():
        Message.objects.create(kind=KIND, subject_id=made.subject_id, made_at=at, available_at=at)


@pytest.mark.parametrize("fails", ["The printer is out of paper", "database"])
def test_a_failure_keeps_its_error_backs_off_and_comes_again(db, at, work, fails):
    work.fails = fails
    made = put(at)
    assert deliver_next(at=at)
    made.refresh_from_db()
    assert (made.tries, made.done_at) == (1, None)
    assert made.last_error.startswith(("ValueError: The printer", "DataError: division by zero"))
    assert made.available_at == at + timedelta(seconds=10)
    assert not deliver_next(at=at + timedelta(seconds=9))
    assert deliver_next(at=made.available_at)
    made.refresh_from_db()
    assert made.available_at == at + timedelta(seconds=10) + timedelta(seconds=20)
    work.fails = ""
    assert deliver_next(at=made.available_at)
    made.refresh_from_db()
    assert (made.tries, made.last_error, made.done_at) == (3, "", made.available_at)


def test_back_off_ends_at_an_hour_and_much_tried_work_is_shown_as_stuck(db, at, work):
    work.fails = "never"
    made, moment = put(at), at
    for n in range(14):
        assert [message.pk for message in Message.objects.stuck()] == ([made.pk] if n >= 8 else [])
        assert deliver_next(at=moment)
        made.refresh_from_db()
        assert made.available_at - moment <= timedelta(hours=1)
        moment = made.available_at
    assert made.tries == 14


def test_one_bad_message_does_not_keep_the_others_waiting(db, at, work, monkeypatch):
    monkeypatch.delitem(handlers._handlers, KIND)
    put(at)
    monkeypatch.setitem(handlers._handlers, "test.other", work)
    with transaction.atomic():
        enqueue(kind="test.other", subject_id=uuid.uuid4(), at=at + timedelta(seconds=1))
    later = at + timedelta(seconds=2)
    assert deliver_next(at=later)
    assert deliver_next(at=later)
    assert not deliver_next(at=later)
    assert sum(work.done.values()) == 1
    assert Message.objects.get(kind=KIND).last_error == f"KeyError: '{KIND}'"


def test_what_a_failed_try_wrote_is_taken_back(db, at, monkeypatch):
    def half_done(subject_id, moment):
        Message.objects.create(kind="test.trace", subject_id=subject_id, made_at=moment, available_at=moment)
        raise ValueError("half done")

    monkeypatch.setitem(handlers._handlers, KIND, half_done)
    put(at)
    assert deliver_next(at=at)
    assert not Message.objects.filter(kind="test.trace").exists()


def test_a_sweep_stops_at_its_limit(db, work):
    for _ in range(5):
        put(timezone.now())
    assert tasks.sweep_outbox.run(limit=3) == 3
    assert Message.objects.filter(done_at=None).count() == 2


def test_a_kind_has_one_handler():
    handlers.register_handler("walk_round.signed", handlers.handler_for("walk_round.signed"))
    with pytest.raises(ValueError, match="already has a handler"):
        handlers.register_handler("walk_round.signed", print)


@pytest.mark.django_db(transaction=True)
def test_two_workers_share_the_work_and_do_each_piece_once(at, work):
    work.takes_seconds = 0.02
    subjects = [uuid.uuid4() for _ in range(20)]
    for subject in subjects:
        put(at, subject)

    def worker():
        share = 0
        while deliver_next(at=at):
            share += 1
        return share

    shares = at_once(worker, worker)
    assert work.done == Counter(subjects)
    assert sum(shares) == 20
    assert min(shares) >= 1


@pytest.mark.django_db(transaction=True)
def test_a_worker_that_dies_lets_go_of_what_it_held(at, work):
    made = put(at)
    with pytest.raises(KeyboardInterrupt):
        work.takes_seconds = 0
        handlers._handlers[KIND] = _die
        deliver_next(at=at)
    handlers._handlers[KIND] = work
    made.refresh_from_db()
    assert (made.tries, made.done_at) == (0, None)
    assert deliver_next(at=at)
    assert work.done == {made.subject_id: 1}


def _die(subject_id, at):
    raise KeyboardInterrupt
