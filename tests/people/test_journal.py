"""The journal: one chain of hashed rows a cart and one for the yard, written last, verified from the rows alone."""

import ast
import hashlib
import inspect
import uuid
from datetime import timedelta
from decimal import Decimal
from itertools import pairwise
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.journal.models import ChainHead, Entry
from people.journal.verify import faults_in_journal
from tests.at_once import at_once
from tests.factories.people import StaffFactory

CART = cart_chain(uuid.UUID(int=7))


def write(at, *chains, by=None, facts=None, event=Event.CART_MOVED):
    with transaction.atomic():
        return write_journal(
            event=event,
            subject=("cart", uuid.UUID(int=7)),
            at=at,
            by=by,
            chains=chains or (YARD,),
            facts=facts,
        )


def stored(entry):
    return Entry.objects.get(pk=entry.pk)


def test_each_row_carries_the_hash_of_the_row_before(db, at):
    rows = [stored(write(at + timedelta(minutes=n), CART)[0]) for n in range(3)]
    assert [row.position for row in rows] == [1, 2, 3]
    assert rows[0].previous_hash == "0" * 64
    for before, row in pairwise(rows):
        assert row.previous_hash == before.hash
    for row in rows:
        said = f"slake-journal-1\n{CART}\n{row.position}\n{row.previous_hash}\n{row.text}"
        assert row.hash == hashlib.sha256(said.encode()).hexdigest()
    head = ChainHead.objects.get(chain=CART)
    assert (head.position, head.hash) == (3, rows[-1].hash)


def test_an_action_over_several_carts_writes_one_row_a_chain_sorted_under_one_action(db, at):
    chains = [cart_chain(uuid.UUID(int=n)) for n in (9, 3, 5)]
    rows = write(at, *chains, YARD, chains[0])
    assert [row.chain for row in rows] == sorted([*chains, YARD])
    assert len({row.action_id for row in rows}) == 1
    assert len({row.text for row in rows}) == 1


def test_a_position_given_by_hand_counts_for_nothing(db, at):
    write(at, CART)
    entry = Entry(
        chain=CART, position=99, event=Event.CART_MOVED, subject_kind="cart", subject_id=uuid.UUID(int=7),
        action_id=uuid.uuid4(), by_words="x", at=at, text="{}", previous_hash="f" * 64, hash="f" * 64,
    )  # fmt: skip
    entry.save(force_insert=True)
    assert stored(entry).position == 2
    assert stored(entry).hash != "f" * 64


def test_outside_a_transaction_it_is_refused(transactional_db, at):
    with pytest.raises(RuntimeError, match="own transaction"):
        write_journal(event=Event.CART_MOVED, subject=("cart", uuid.uuid4()), at=at, by=None)


def test_figures_travel_as_text_and_floats_are_refused(db, at):
    facts = {
        "depth_mm": Decimal("3.10"),
        "on": at.date(),
        "seen_at": at,
        "parts": (1, None, True, uuid.UUID(int=1)),
    }
    text = write(at, facts=facts)[0].text
    assert (
        '"facts":{"depth_mm":"3.10","on":"2026-11-30","parts":[1,null,true,"00000000-0000-0000-0000-000000000001"],'
        '"seen_at":"2026-11-30T21:00:00.000000+00:00"}'
    ) in text
    for bad in ({"x": 1.5}, {"x": [1.5]}, {"x": object()}):
        with pytest.raises(TypeError):
            write(at, facts=bad)


def test_who_did_it_is_kept_in_words(db, at):
    person = StaffFactory(full_name="Marg Pengilly")
    assert write(at, by=person)[0].by_words == "Marg Pengilly"
    assert write(at)[0].by_words == "The clock"


def test_every_event_has_a_wording_of_its_own():
    assert len({event.wording for event in Event}) == len(Event)
    for event in Event:
        app, thing, happened = event.value.split(".")
        assert all((app, thing, happened))
        assert event.wording[0].islower()
        assert not event.wording.endswith(".")


def test_every_event_is_written_by_some_action():
    root = Path(inspect.getfile(Event)).parents[2]
    used = set()
    for app in ("people", "fleet", "inspections", "servicing", "hire"):
        for path in (root / app).rglob("*.py"):
            if "migrations" in path.parts or path.name == "events.py":
                continue
            used |= {
                node.attr
                for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
                if isinstance(node, ast.Attribute)
                and isinstance(node.value, ast.Name)
                and node.value.id == "Event"
            }
    assert {event.name for event in Event} - used == set()


def faults():
    return [(fault.chain, fault.position, fault.words) for fault in faults_in_journal()]


@pytest.fixture
def tampering(db):
    """Change rows as somebody with the owner's rights and the triggers off would."""

    def inner(sql, params=()):
        with connection.cursor() as cursor:
            # PostgreSQL changes no table while checks of this transaction's rows still wait.
            cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
            cursor.execute("ALTER TABLE journal_entry DISABLE TRIGGER slake_sealed")
            cursor.execute(sql, params)
            assert cursor.rowcount == 1
            cursor.execute("ALTER TABLE journal_entry ENABLE TRIGGER slake_sealed")

    return inner


@pytest.fixture
def chain_of_four(db, at):
    for n in range(4):
        write(at + timedelta(minutes=n), CART, facts={"n": n})
    assert faults() == []


def test_verify_says_a_whole_journal_is_whole(chain_of_four, at, capsys):
    write(at, YARD, CART)
    call_command("verify_journal")
    assert "6 rows in 2 chains, all whole." in capsys.readouterr().out


def test_verify_finds_changed_text(chain_of_four, tampering, capsys):
    tampering("UPDATE journal_entry SET text = replace(text, '\"n\":1', '\"n\":8') WHERE position = 2")
    assert faults() == [(CART, 2, "its hash does not match what it says")]
    with pytest.raises(CommandError, match="1 fault"):
        call_command("verify_journal")
    assert "row 2" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ("event = 'fleet.hold.lifted'", "its column event differs from the text that was hashed"),
        ("subject_kind = 'defect'", "its column subject differs from the text that was hashed"),
        ("subject_id = gen_random_uuid()", "its column subject differs from the text that was hashed"),
        ("action_id = gen_random_uuid()", "its column action differs from the text that was hashed"),
        ("by_words = 'Somebody else'", "its column by_words differs from the text that was hashed"),
        ("at = at + interval '1 microsecond'", "its time differs from the text that was hashed"),
    ],
)
def test_verify_finds_a_changed_column(chain_of_four, tampering, change, words):
    tampering(f"UPDATE journal_entry SET {change} WHERE position = 3")  # noqa: S608 - written out above
    assert faults() == [(CART, 3, words)]


def test_verify_finds_another_author(chain_of_four, tampering):
    tampering("UPDATE journal_entry SET by_id = %s WHERE position = 3", [StaffFactory().pk])
    assert faults() == [(CART, 3, "its column by differs from the text that was hashed")]


def test_verify_finds_a_missing_row(chain_of_four, tampering):
    tampering("DELETE FROM journal_entry WHERE position = 2")
    assert faults() == [
        (CART, 3, "rows 2 to 2 are missing"),
        (CART, 3, "it does not follow the row before it"),
    ]


def test_verify_finds_a_cut_off_end(chain_of_four, tampering):
    tampering("DELETE FROM journal_entry WHERE position = 4")
    assert faults() == [(CART, 4, "the chain's end does not match its recorded head")]


def test_verify_finds_a_moved_head(chain_of_four):
    ChainHead.objects.filter(chain=CART).update(position=3)
    assert faults() == [(CART, 3, "the chain's end does not match its recorded head")]


def test_verify_finds_a_lost_head(chain_of_four):
    ChainHead.objects.filter(chain=CART).delete()
    assert faults() == [(CART, 4, "the chain has no recorded head")]


def test_verify_finds_rows_that_changed_places(chain_of_four, tampering):
    with connection.cursor() as cursor:
        cursor.execute("SET CONSTRAINTS ALL IMMEDIATE")
        cursor.execute("ALTER TABLE journal_entry DROP CONSTRAINT journal_entry_one_per_position")
    tampering("UPDATE journal_entry SET position = 9 WHERE position = 4")
    assert (CART, 9, "its hash does not match what it says") in faults()


@pytest.mark.django_db(transaction=True)
def test_two_connections_on_one_new_chain_keep_it_whole(at):
    def many():
        for _ in range(20):
            write(at, CART)

    assert at_once(many, many, many) == [None] * 3
    assert list(Entry.objects.order_by("position").values_list("position", flat=True)) == list(range(1, 61))
    assert faults() == []


@pytest.mark.django_db(transaction=True)
def test_opposite_orders_do_not_deadlock(at):
    one, two = cart_chain(uuid.UUID(int=1)), cart_chain(uuid.UUID(int=2))

    def forwards():
        for _ in range(25):
            write(at, one, two, YARD)

    def backwards():
        for _ in range(25):
            write(at, YARD, two, one)

    assert at_once(forwards, backwards) == [None] * 2
    assert Entry.objects.count() == 150
    assert faults() == []


@pytest.mark.django_db(transaction=True)
def test_a_roll_back_leaves_no_gap(at):
    write(at, CART)
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        write_journal(event=Event.CART_MOVED, subject=("cart", uuid.uuid4()), at=at, by=None, chains=[CART])
        raise ZeroDivisionError
    assert stored(write(at, CART)[0]).position == 2
    assert faults() == []
