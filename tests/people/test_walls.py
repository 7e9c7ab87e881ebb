"""The two walls round what is sealed: the application's role has no right to change it, and a trigger refuses even the owner."""

import uuid
from contextlib import contextmanager

import pytest
from django.apps import apps
from django.conf import settings
from django.db import InternalError, ProgrammingError, connection, transaction
from django.db.utils import DatabaseError

from people.journal.actions import write_journal
from people.journal.events import Event
from people.journal.models import ChainHead, Entry
from people.privileges import READ_ONLY, sealed_tables
from people.rows import SealedRow

SEALED = sealed_tables()
TABLES = sorted({model._meta.db_table for model in apps.get_models(include_auto_created=True)})


@contextmanager
def as_the_application():
    """Run as the application's role, as every request and worker does."""
    with connection.cursor() as cursor:
        cursor.execute(f"SET ROLE {connection.ops.quote_name(settings.APP_ROLE)}")
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            cursor.execute("RESET ROLE")


def rights(table):
    with connection.cursor() as cursor:
        names = ("SELECT", "INSERT", "UPDATE", "DELETE", "TRUNCATE", "REFERENCES", "TRIGGER")
        asked = ", ".join(f"has_table_privilege(%s, %s, '{name}')" for name in names)
        cursor.execute(f"SELECT {asked}", [settings.APP_ROLE, table] * len(names))
        return {name for name, has in zip(names, cursor.fetchone(), strict=True) if has}


def test_what_is_signed_or_written_for_evidence_is_sealed():
    """Named one by one: a model that loses its base class must be noticed here."""
    assert set(SEALED) == {
        "certificates_certificate",
        "certificates_sealedfile",
        "certificates_withdrawal",
        "fleet_defectstep",
        "fleet_defectstepphoto",
        "fleet_evennesssignature",
        "fleet_evennesstest",
        "fleet_groupweights",
        "fleet_headcatch",
        "fleet_photo",
        "fleet_spraygear",
        "fleet_sprayhead",
        "fleet_sprayopening",
        "fleet_spraysheet",
        "fleet_tankmeasured",
        "fleet_ticketstruck",
        "fleet_weighbridgeticket",
        "fleet_weightsheet",
        "hire_againsaid",
        "hire_agreedterms",
        "hire_backdecision",
        "hire_breakdown",
        "hire_claimanswer",
        "hire_dailydocket",
        "hire_dailysignature",
        "hire_depositentry",
        "hire_dispute",
        "hire_disputeoutcome",
        "hire_disputeword",
        "hire_docket",
        "hire_docketfile",
        "hire_failedpickup",
        "hire_fine",
        "hire_floatlook",
        "hire_floatlookphoto",
        "hire_givenupday",
        "hire_handover",
        "hire_handoverlook",
        "hire_handoverphoto",
        "hire_jobplan",
        "hire_kitcount",
        "hire_load",
        "hire_loadundone",
        "hire_offeranswer",
        "hire_offerstrike",
        "hire_ownerpaper",
        "hire_packanswer",
        "hire_packfile",
        "hire_packsending",
        "hire_planfollowed",
        "hire_prestartcopy",
        "hire_prestartsaid",
        "hire_quote",
        "hire_quotefile",
        "hire_quotetaken",
        "hire_serviceoffer",
        "hire_sitepack",
        "hire_siteset",
        "hire_standdownclaim",
        "hire_standdownstrike",
        "hire_turnedaway",
        "hire_watertold",
        "inspections_answer",
        "inspections_answerphoto",
        "inspections_edition",
        "inspections_nameconfirmation",
        "inspections_restedquestion",
        "inspections_walkround",
        "journal_entry",
    }


@pytest.mark.parametrize("table", SEALED)
def test_the_application_may_only_add_to_and_read_a_sealed_table(db, table):
    assert rights(table) == {"SELECT", "INSERT"}


@pytest.mark.parametrize("table", SEALED)
def test_column_rights_open_no_side_door(db, table):
    with connection.cursor() as cursor:
        cursor.execute("SELECT has_any_column_privilege(%s, %s, 'UPDATE')", [settings.APP_ROLE, table])
        assert cursor.fetchone() == (False,)


@pytest.mark.parametrize("table", READ_ONLY)
def test_heads_and_migrations_are_read_only(db, table):
    assert rights(table) == {"SELECT"}


@pytest.mark.parametrize("table", sorted(set(TABLES) - set(SEALED) - set(READ_ONLY)))
def test_other_tables_take_changes_and_never_a_truncate(db, table):
    assert rights(table) == {"SELECT", "INSERT", "UPDATE", "DELETE"}


def test_the_application_owns_nothing_and_creates_nothing(db):
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT rolsuper, rolcreaterole, rolcreatedb, rolbypassrls, "
            "has_schema_privilege(rolname, 'public', 'CREATE'), pg_has_role(rolname, current_user, 'MEMBER') "
            "FROM pg_roles WHERE rolname = %s",
            [settings.APP_ROLE],
        )
        assert cursor.fetchone() == (False,) * 6
        cursor.execute("SELECT count(*) FROM pg_tables WHERE tableowner = %s", [settings.APP_ROLE])
        assert cursor.fetchone() == (0,)


@pytest.mark.parametrize("table", SEALED)
@pytest.mark.parametrize("verb", ["UPDATE {} SET id = id", "DELETE FROM {}", "TRUNCATE {} CASCADE"])
def test_the_application_is_refused_in_so_many_words(db, table, verb):
    with (
        as_the_application(),
        pytest.raises(ProgrammingError, match="permission denied"),
        transaction.atomic(),
    ):
        connection.cursor().execute(verb.format(connection.ops.quote_name(table)))


def test_the_application_cannot_move_a_chain_head_or_switch_the_trigger_off(db, at):
    with transaction.atomic():
        write_journal(event=Event.CART_MOVED, subject=("cart", uuid.uuid4()), at=at, by=None)
    for sql in (
        "UPDATE journal_chainhead SET position = 0",
        "INSERT INTO journal_chainhead VALUES ('cart:x', 0, '')",
        "DELETE FROM journal_chainhead",
        "ALTER TABLE journal_entry DISABLE TRIGGER ALL",
        "DROP TRIGGER slake_sealed ON journal_entry",
        "DROP FUNCTION slake_chain_entry() CASCADE",
        "SET session_replication_role = replica",
    ):
        with (
            as_the_application(),
            pytest.raises(DatabaseError, match=r"denied|must be owner"),
            transaction.atomic(),
        ):
            connection.cursor().execute(sql)


def test_the_application_writes_the_journal_all_the_same(db, at):
    with as_the_application(), transaction.atomic():
        write_journal(event=Event.CART_MOVED, subject=("cart", uuid.uuid4()), at=at, by=None)
    assert Entry.objects.get().position == 1
    assert ChainHead.objects.get().position == 1


def test_every_sealed_table_has_its_trigger_for_update_and_delete(db):
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT c.relname, t.tgtype, t.tgenabled FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
            "JOIN pg_proc p ON p.oid = t.tgfoid WHERE p.proname = 'slake_refuse_change'"
        )
        found = {table: (kind, enabled) for table, kind, enabled in cursor.fetchall()}
    # tgtype is a bit field: 1 each row, 2 before, 8 delete, 16 update.
    assert found == dict.fromkeys(SEALED, (1 | 2 | 8 | 16, "O"))


def test_every_model_that_says_it_is_sealed_is_in_the_list():
    named = {model._meta.db_table for model in apps.get_models() if getattr(model, "is_sealed", False)}
    assert named == set(SEALED) == {m._meta.db_table for m in apps.get_models() if issubclass(m, SealedRow)}


@pytest.mark.parametrize("verb", ["UPDATE journal_entry SET by_words = 'x'", "DELETE FROM journal_entry"])
def test_the_trigger_refuses_the_owner_too(db, at, verb):
    with transaction.atomic():
        write_journal(event=Event.CART_MOVED, subject=("cart", uuid.uuid4()), at=at, by=None)
    with pytest.raises(DatabaseError, match="journal_entry rows are sealed"), transaction.atomic():
        connection.cursor().execute(verb)
    with pytest.raises(DatabaseError, match="rows are sealed"), transaction.atomic():
        Entry.objects.get().delete()
    assert not issubclass(InternalError, ProgrammingError)
    assert Entry.objects.count() == 1
