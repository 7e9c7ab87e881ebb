"""Base classes of our tables."""

import uuid

from django.db import models


class Row(models.Model):
    """A table whose rows are named by a UUID, so that a lower app can point at an upper one by (kind, uuid)."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)

    class Meta:
        abstract = True


class SealedRow(Row):
    """A table whose rows are written once. The application's role may INSERT and SELECT only, and a plain
    SQL trigger (people.journal.sql.seal_table) refuses UPDATE and DELETE from any role."""

    is_sealed = True

    class Meta:
        abstract = True
