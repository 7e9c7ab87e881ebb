"""What each cart cost the workshop in a period: parts, services and tyres, as far as a cost was written down.

Time on the job has no rate here and so no cost; the screens say so.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db.models import DecimalField, F, Sum

from fleet.models.wheels import TyreFitting
from servicing.models.jobs import PartUsed
from servicing.models.plans import ServiceDone


def costs_of(*, start: datetime, end: datetime) -> dict[UUID, Decimal]:
    """By cart id, over [start, end), carts with no cost on record left out. Three queries. Parts whose cost is not known count
    for nothing."""
    amount = Sum(F("quantity") * F("unit_cost"), output_field=DecimalField())
    parts = PartUsed.objects.filter(
        used_at__gte=start, used_at__lt=end, struck_at=None, unit_cost__isnull=False
    )
    services = ServiceDone.objects.filter(
        done_at__gte=start, done_at__lt=end, struck_at=None, cost__isnull=False
    )
    tyres = TyreFitting.objects.filter(
        period__startswith__gte=start, period__startswith__lt=end, tyre__cost__isnull=False
    )
    found: defaultdict[UUID, Decimal] = defaultdict(Decimal)
    for rows in (
        parts.values_list("defect__cart_id").annotate(total=amount),
        services.values_list("cart_id").annotate(total=Sum("cost")),
        # A tyre is paid for once, where it was first fitted.
        tyres.exclude(tyre__fittings__period__startswith__lt=F("period__startswith"))
        .values_list("wheel_position__cart_id")
        .annotate(total=Sum("tyre__cost")),
    ):
        for cart_id, cost in rows:
            found[cart_id] += cost
    return dict(found)
