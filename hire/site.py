"""One hire as the customer's people on it meet it: what they may walk, where its cart is, and whether it is over."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from fleet.needs import SiteHire
from hire.models.agreements import Line
from hire.promises import need_of


def _goes_by_site(line: Line, *, at: datetime) -> bool:
    """Whether the cart's next hire begins straight from a site, and is this one or follows it: the check that lets it go
    there may then be walked by the customer's named person."""
    next_line = (
        Line.objects.to_come()
        .filter(cart=line.cart_id, promised__endswith__gt=at)
        .select_related("agreement")
        .order_by("promised")
        .first()
    )
    if next_line is None or next_line.agreement.leaves_by != "site":
        return False
    return next_line.pk == line.pk or line.is_out


def _where(line: Line) -> str:
    """Never where it is on somebody else's hire."""
    if line.is_out:
        return line.agreement.place_of_work
    return "Not handed over yet"


def site_hire(record_id: UUID, *, at: datetime) -> SiteHire | None:
    """The hire by its line's id; None when there is none."""
    line = Line.objects.for_list().filter(pk=record_id).first()
    if line is None:
        return None
    is_over = line.back_at is not None or line.cancelled_at is not None
    purposes = ("daily", *(("pre_hire", "gate_out") if _goes_by_site(line, at=at) else ()))
    return SiteHire(need_of(line.pk, at=at), () if is_over else purposes, _where(line), is_over)
