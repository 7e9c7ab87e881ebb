"""Seal the tables whose rows are written once."""

from django.db import migrations

from people.journal.sql import seal_table

TABLES = ("certificates_certificate", "certificates_sealedfile", "certificates_withdrawal",)


class Migration(migrations.Migration):
    dependencies = [("certificates", "0001_initial"), ("journal", "0002_walls")]

    operations = [seal_table(table) for table in TABLES]
