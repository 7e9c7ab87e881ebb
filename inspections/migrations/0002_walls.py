"""Seal the tables whose rows are written once."""

from django.db import migrations

from people.journal.sql import seal_table

TABLES = ("inspections_edition", "inspections_walkround", "inspections_answer", "inspections_answerphoto",)


class Migration(migrations.Migration):
    dependencies = [("inspections", "0001_initial"), ("journal", "0002_walls")]

    operations = [seal_table(table) for table in TABLES]
