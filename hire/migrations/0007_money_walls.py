"""Seal what is agreed and charged."""

from django.db import migrations

from people.journal.sql import seal_table

TABLES = ("hire_agreedterms", "hire_docket", "hire_docketfile")


class Migration(migrations.Migration):
    dependencies = [("hire", "0006_money"), ("journal", "0002_walls")]

    operations = [seal_table(table) for table in TABLES]
