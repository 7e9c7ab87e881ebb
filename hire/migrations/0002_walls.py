"""Seal the tables whose rows are written once."""

from django.db import migrations

from people.journal.sql import seal_table

TABLES = (
    "hire_handover",
    "hire_handoverphoto",
)


class Migration(migrations.Migration):
    dependencies = [("hire", "0001_initial"), ("journal", "0002_walls")]

    operations = [seal_table(table) for table in TABLES]
