"""The page of a dispute pack that says in words all that was written down of a hire, cart by cart. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.conf import settings
from django.db.models import QuerySet
from django.template.loader import render_to_string

from fleet.models.carts import MeterReading
from hire.charge_facts import charge_ends_at, dockets_of
from hire.copies import OURS, copy_weeks
from hire.hire_records import AFTER, BEFORE
from hire.models.agreed_hours import AgreedHours
from hire.models.agreements import Line
from hire.models.breakdowns import Breakdown
from hire.models.disputes import Dispute
from hire.models.fines import Fine
from hire.models.gate import Handover
from hire.models.money import AgreedTerms, BesideCharge
from hire.models.worked_days import WorkedDay
from hire.service_offers import offers_said
from hire.stand_down_rows import stand_down_rows
from hire.terms_words import CAUTION, terms_words
from people.clock import shown_by
from people.say import say_page


def record_page(lines: Sequence[Line], at: datetime) -> bytes:
    """lines: as swaps.lines_together has them."""
    last = lines[-1]
    agreed = (
        AgreedTerms.objects.filter(line__in=lines)
        .select_related("agreed_by", "line__cart")
        .order_by("agreed_at")
    )
    context = {
        "line": last, "lines": lines, "at": at, "yard_name": settings.YARD_NAME, "caution": CAUTION,
        "agreed": [(one, terms_words(one.body, rule=one.rule)) for one in agreed],
        "carts": [_of_cart(line, at) for line in lines],
        "stand_downs": stand_down_rows(lines), "service_offers": offers_said(lines, at=at),
        "beside": BesideCharge.objects.filter(line__in=lines).select_related("told_by", "line__cart"),
        "agreed_hours": AgreedHours.objects.filter(line__in=lines).select_related("made_by", "line__cart"),
        "worked_days": WorkedDay.objects.filter(line__in=lines).select_related("made_by", "line__cart"),
        "fines": Fine.objects.filter(line__in=lines).select_related("line__cart").order_by("happened_at"),
        "deposit": last.agreement.deposit.select_related("made_by", "docket"),
        "dockets": dockets_of(lines).select_related("made_by"), "disputes": disputes_of(lines),
    }  # fmt: skip
    with shown_by(last.agreement.zone):
        return say_page(render_to_string("hire/pack_record.html", context)).encode()


def _of_cart(line: Line, at: datetime) -> dict[str, object]:
    """What is told of each cart by itself."""
    return {
        "line": line,
        "handover": Handover.objects.filter(line=line).select_related("by").first(),
        "drivers": line.drivers.standing(),
        "readings": readings_of(line),
        "off_hires": line.off_hires.select_related("made_by", "replaced_by__cart").prefetch_related(
            "failed_pick_ups"
        ),
        "breakdowns": Breakdown.objects.filter(line=line).select_related("defect"),
        "copies": copy_weeks([line], at=at)[line.pk] if line.agreement.pre_start_book != OURS else (),
    }


def readings_of(line: Line) -> QuerySet[MeterReading]:
    """Every reading from the last days before it left to its return."""
    start = (line.handed_over_at or line.promised.lower) - BEFORE
    end = (line.back_known_at or charge_ends_at(line) or line.promised.upper) + AFTER
    rows = MeterReading.objects.filter(meter__cart=line.cart_id, read_at__range=(start, end))
    return rows.select_related("meter").order_by("meter__kind", "read_at")


def disputes_of(lines: Sequence[Line]) -> QuerySet[Dispute]:
    return Dispute.objects.for_list().filter(docket__line__in=lines).order_by("made_at")
