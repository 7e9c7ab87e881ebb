"""Which rights the application's role has on each table: everything, except that sealed tables take INSERT and SELECT only."""

from django.apps import apps
from django.conf import settings
from django.db import connection

from people.rows import SealedRow

# The chain heads move only through the owner's trigger; migrations are the owner's business.
READ_ONLY = ("journal_chainhead", "django_migrations")


def sealed_tables() -> list[str]:
    """Tables of sealed models, sorted; many-to-many tables of a sealed model are sealed with it."""
    names = set()
    for model in apps.get_models():
        if issubclass(model, SealedRow):
            names.add(model._meta.db_table)
            through = (field.remote_field.through for field in model._meta.local_many_to_many)
            names.update(table._meta.db_table for table in through if table is not None)
    return sorted(names)


def apply_privileges() -> None:
    """Grant the application's role its rights. Safe to run at every start; run as the owner, after migrate."""
    role = connection.ops.quote_name(settings.APP_ROLE)
    with connection.cursor() as cursor:
        cursor.execute(f"GRANT USAGE ON SCHEMA public TO {role}")
        cursor.execute(f"GRANT SELECT, INSERT, UPDATE, DELETE ON ALL TABLES IN SCHEMA public TO {role}")
        cursor.execute(f"GRANT USAGE, SELECT ON ALL SEQUENCES IN SCHEMA public TO {role}")
        for table in sealed_tables():
            cursor.execute(f"REVOKE UPDATE, DELETE ON {connection.ops.quote_name(table)} FROM {role}")
        for table in READ_ONLY:
            cursor.execute(f"REVOKE INSERT, UPDATE, DELETE ON {connection.ops.quote_name(table)} FROM {role}")
