"""Seal what was taken, said and decided about money."""

from django.db import migrations

from people.journal.sql import seal_table

TABLES = ("hire_depositentry", "hire_dispute", "hire_disputeoutcome", "hire_disputeword", "hire_fine")


class Migration(migrations.Migration):
    dependencies = [("hire", "0011_money_settled"), ("journal", "0002_walls")]

    operations = [seal_table(table) for table in TABLES]
