"""Seal the daily dockets and their signatures."""

from django.db import migrations

from people.journal.sql import seal_table

TABLES = ("hire_dailydocket", "hire_dailysignature")


class Migration(migrations.Migration):
    dependencies = [("hire", "0015_wet_hire"), ("journal", "0002_walls")]

    operations = [seal_table(table) for table in TABLES]
