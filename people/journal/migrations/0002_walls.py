"""The journal's walls: the chain trigger, and the trigger that refuses every change."""

from django.db import migrations

from people.journal.sql import CHAIN_FUNCTION, REFUSE_FUNCTION, seal_table


class Migration(migrations.Migration):
    dependencies = [("journal", "0001_initial")]

    operations = [
        migrations.RunSQL(REFUSE_FUNCTION, "DROP FUNCTION slake_refuse_change();"),
        migrations.RunSQL(CHAIN_FUNCTION, "DROP FUNCTION slake_chain_entry() CASCADE;"),
        seal_table("journal_entry"),
    ]
