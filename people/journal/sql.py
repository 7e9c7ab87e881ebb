"""Plain SQL of the second wall: rows of a sealed table are never changed or deleted, whichever role asks.

There is no TRUNCATE trigger because tests empty tables with it; the application's role has no TRUNCATE right.
"""

from django.db import migrations

REFUSE_FUNCTION = """
CREATE OR REPLACE FUNCTION slake_refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION 'slake: % rows are sealed and are never changed or deleted', TG_TABLE_NAME
        USING ERRCODE = 'restrict_violation';
END $$;
"""

CHAIN_FUNCTION = """
CREATE OR REPLACE FUNCTION slake_chain_entry() RETURNS trigger
LANGUAGE plpgsql SECURITY DEFINER SET search_path = public, pg_temp AS $$
DECLARE head journal_chainhead%ROWTYPE;
BEGIN
    INSERT INTO journal_chainhead (chain, position, hash) VALUES (NEW.chain, 0, repeat('0', 64))
        ON CONFLICT (chain) DO NOTHING;
    SELECT * INTO head FROM journal_chainhead WHERE chain = NEW.chain FOR UPDATE;
    NEW.position := head.position + 1;
    NEW.previous_hash := head.hash;
    NEW.hash := encode(sha256(convert_to(
        'slake-journal-1' || chr(10) || NEW.chain || chr(10) || NEW.position || chr(10)
        || NEW.previous_hash || chr(10) || NEW.text, 'UTF8')), 'hex');
    UPDATE journal_chainhead SET position = NEW.position, hash = NEW.hash WHERE chain = NEW.chain;
    RETURN NEW;
END $$;
CREATE TRIGGER slake_chain BEFORE INSERT ON journal_entry FOR EACH ROW EXECUTE FUNCTION slake_chain_entry();
"""


def seal_table(table: str) -> migrations.RunSQL:
    """The migration step that seals a table; put it after the step that creates it."""
    return migrations.RunSQL(
        f"CREATE TRIGGER slake_sealed BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION slake_refuse_change();",
        f"DROP TRIGGER slake_sealed ON {table};",
    )
