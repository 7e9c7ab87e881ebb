"""A defect is closed as the same as another only while that other stands open on the same cart and is graded no lighter."""

from django.db import migrations

SAME_AS = """
CREATE FUNCTION fleet_defect_same_as() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    -- What was closed so stays so, whatever becomes of the other.
    IF TG_OP = 'UPDATE' AND OLD.state = 'same_as' AND OLD.same_as_id = NEW.same_as_id THEN
        RETURN NEW;
    END IF;
    IF NOT EXISTS (
        SELECT 1 FROM fleet_defect other
        WHERE other.id = NEW.same_as_id AND other.cart_id = NEW.cart_id AND other.closed_at IS NULL
          AND array_position(ARRAY['do_not_use', 'by_date', 'watch'], other.grade)
              <= array_position(ARRAY['do_not_use', 'by_date', 'watch'], NEW.grade)
    ) THEN
        RAISE EXCEPTION 'slake: a defect is the same only as an open one of the same cart that is graded no lighter'
            USING ERRCODE = 'check_violation', CONSTRAINT = 'fleet_defect_same_as_stands';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER fleet_defect_same_as BEFORE INSERT OR UPDATE OF state ON fleet_defect
    FOR EACH ROW WHEN (NEW.state = 'same_as') EXECUTE FUNCTION fleet_defect_same_as();
"""


class Migration(migrations.Migration):
    dependencies = [("fleet", "0005_defect_queue")]

    operations = [migrations.RunSQL(SAME_AS, "DROP FUNCTION fleet_defect_same_as() CASCADE;")]
