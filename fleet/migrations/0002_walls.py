"""Seal the tables whose rows are written once, and let no meter run backwards."""

from django.db import migrations

from people.journal.sql import seal_table

TABLES = ("fleet_photo", "fleet_defectstep")

# Compared within one meter: a changed meter is a new row, so a fall without a recorded change is always refused.
METER_FORWARD = """
CREATE FUNCTION fleet_meter_forward() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    PERFORM 1 FROM fleet_meter WHERE id = NEW.meter_id FOR UPDATE;
    IF EXISTS (
        SELECT 1 FROM fleet_meterreading r
        WHERE r.meter_id = NEW.meter_id AND r.id <> NEW.id
          AND ((r.read_at <= NEW.read_at AND r.value > NEW.value) OR (r.read_at > NEW.read_at AND r.value < NEW.value))
    ) THEN
        RAISE EXCEPTION 'slake: a meter reading goes backwards without a recorded meter change'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'fleet_meterreading_never_backwards';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER fleet_meter_forward BEFORE INSERT OR UPDATE ON fleet_meterreading
    FOR EACH ROW EXECUTE FUNCTION fleet_meter_forward();
"""


class Migration(migrations.Migration):
    dependencies = [("fleet", "0001_initial"), ("journal", "0002_walls")]

    operations = [
        *[seal_table(table) for table in TABLES],
        migrations.RunSQL(METER_FORWARD, "DROP FUNCTION fleet_meter_forward() CASCADE;"),
    ]
