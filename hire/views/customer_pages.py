"""What a customer sees through a link, without an account: this hire and nothing else."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.db.models import Q
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from fleet.forms import NameOnSiteForm
from fleet.readiness import readiness
from fleet.road_fill import paper_words, road_fill
from fleet.sentences import readiness_sentence
from hire import screens
from hire.actions import gate
from hire.copies import OURS, copy_weeks
from hire.daily_screens import DailyRow, daily_rows
from hire.job_told import told_of
from hire.lapsed import lapsed_of
from hire.models.agreements import Line
from hire.models.breakdowns import Breakdown
from hire.models.daily import DailyDocket
from hire.models.links import CustomerLink
from hire.owner_standing import without_owner
from hire.promises import gate_window, window_of
from hire.rights import IN_CHARGE, may
from hire.risk import answers_words
from hire.service_offers import offer_rows
from hire.stand_down_rows import stand_down_rows
from hire.swaps import swaps_before
from hire.views.customer_accounts import accounts_page
from hire.views.links import through_a_link
from hire.views.packs import pack_response
from inspections.certificates.actions import sealed_bytes
from inspections.certificates.models import Certificate
from inspections.models import WalkRound
from people.yard import yard_day

# A fortnight of two shifts.
PRE_STARTS_SHOWN = 28


def link_lines(link: CustomerLink) -> list[UUID]:
    """The line a link opens, and those of the carts that were swapped on it."""
    return [link.line_id, *(swap.line_id for swap in swaps_before(link.line))]


def _papers(link: CustomerLink) -> list[Certificate]:
    """The papers of this hire, also of the carts that were swapped on it."""
    papers = Certificate.objects.filter(subject_kind="hire_line", subject_id__in=link_lines(link))
    return list(papers.select_related("file", "withdrawal", "replaced_by").order_by("-issued_at"))


def _pre_starts(line: Line) -> list[WalkRound]:
    """The pre-starts of this hire, the newest first: those its people signed on site, and the yard's own while it was out."""
    on_site = Q(site_walker__subject_kind="hire_line", site_walker__subject_id=line.pk)
    while_out = Q(site_walker=None, signed_at__gte=line.handed_over_at) if line.handed_over_at else Q()
    if line.back_at:
        while_out &= Q(signed_at__lt=line.back_at)
    whose = on_site | while_out if line.handed_over_at else on_site
    walks = WalkRound.objects.filter(whose, cart=line.cart_id, purpose="daily")
    return list(walks.defer("manifest").order_by("-signed_at")[:PRE_STARTS_SHOWN])


def _daily(link: CustomerLink) -> list[DailyRow]:
    """The daily dockets that stand, those nobody signed first."""
    found = DailyDocket.objects.standing().filter(line__in=link_lines(link)).unsigned_first().for_list()
    return daily_rows(found[:PRE_STARTS_SHOWN])


def customer_context(
    request: HttpRequest, link: CustomerLink, *, at: datetime, form: NameOnSiteForm | None = None
) -> dict[str, object]:
    """What a link's page shows; form: the way to the pre-start as it was sent, with what is wrong with it."""
    line = link.line
    window = window_of(line) if line.promised.lower > at else gate_window(line, at=at)
    answer = screens.for_customer(
        without_owner(readiness(line.cart, window=window, at=at)), is_out=line.is_out
    )
    call = line.off_hires.standing().for_list().first()
    allowed = may(link.rights)
    return {
        "may": allowed,
        "page_title": f"{line.cart.fleet_number}, {line.agreement.number}",
        "link": link,
        "line": line,
        "off_hire": screens.off_hired_row(call, at=at, answers=answers_words(call, at=at, to_customer=True))
        if call
        else None,
        "breakdowns": list(Breakdown.objects.filter(line=line)[:5]),
        "photo_refused": request.GET.get("photo") == "refused",
        "swaps": swaps_before(line),
        "token": request.resolver_match.kwargs["token"] if request.resolver_match else "",
        "papers": _papers(link) if allowed.runs else (),
        "valid": gate.valid_certificate(line) if allowed.runs else None,
        "packs": line.packs.for_list()[:5] if allowed.runs else (),
        "lapsed": lapsed_of([line], at=at)[line.pk] if allowed.runs and _is_ours(line) else (),
        "copies": copy_weeks([line], at=at)[line.pk]
        if allowed.works and line.handed_over_at and not _is_ours(line)
        else None,
        "form": form or NameOnSiteForm(),
        "pre_starts": _pre_starts(line) if allowed.runs else (),
        "service_offers": [row for row in offer_rows([line], at=at) if not row[0].is_struck]
        if allowed.runs
        else (),
        "stand_downs": stand_down_rows([line, *(swap.line for swap in swaps_before(line))])
        if allowed.runs
        else (),
        "daily": _daily(link) if allowed.runs else (),
        "told": told_of(line, on=yard_day(at)) if allowed.works else None,
        "answer": answer,
        "on_road": paper_words(road_fill(line.cart, on=yard_day(at), rule_set=line.agreement.rule_set)),
        "sentence": readiness_sentence(answer),
        "on_call": settings.YARD_ON_CALL,
        "contact": settings.YARD_CONTACT,
    }


def _is_ours(line: Line) -> bool:
    return line.agreement.pre_start_book == OURS


@through_a_link("GET", "HEAD")
def customer_page(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    if may(link.rights).pays:
        return accounts_page(request, link, at=timezone.now())
    return render(request, "hire/customer_page.html", customer_context(request, link, at=timezone.now()))


@through_a_link("GET", "HEAD", rights=IN_CHARGE)
def customer_file(request: HttpRequest, link: CustomerLink, certificate_id: UUID) -> HttpResponseBase:
    paper = next((paper for paper in _papers(link) if paper.pk == certificate_id), None)
    if paper is None or not hasattr(paper, "file"):
        raise Http404
    return FileResponse(
        sealed_bytes(paper.file),
        as_attachment=True,
        filename=f"{paper.number}.pdf",
        content_type="application/pdf",
    )


@through_a_link("GET", "HEAD", rights=IN_CHARGE)
def customer_pack(request: HttpRequest, link: CustomerLink, pack_id: UUID) -> HttpResponseBase:
    pack = link.line.packs.for_list().filter(pk=pack_id).first()
    if pack is None:
        raise Http404
    return pack_response(pack)
