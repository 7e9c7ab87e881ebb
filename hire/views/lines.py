"""The day sheet, hire agreements, and the page of one hire with its gate."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.readiness import readiness
from fleet.sentences import readiness_sentence
from fleet.yards import yards_for
from hire import job_told, load_page, screens, tables
from hire.actions import agreements, gate, links
from hire.actions.collecting import MAY_GIVE
from hire.actions.service_offers import MAY_OFFER
from hire.back_undecided import undecided
from hire.beside import beside
from hire.forms import LinkForm, WhyForm
from hire.line_page import float_context, needs_context, site_context
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.breakdowns import Breakdown
from hire.models.customers import Customer
from hire.models.job_plans import JobPlan
from hire.models.links import CustomerLink, SiteCode
from hire.models.off_hire import OffHire
from hire.models.pencils import Pencil
from hire.models.quotes import Quote
from hire.needs_forms import PromiseForm, carried
from hire.promises import gate_window, window_of
from hire.quote_rows import quoted_words
from hire.risk import answers_words
from hire.service_offers import offer_rows
from hire.stand_down_rows import stand_down_rows
from hire.swaps import swaps_before
from hire.views.asked import line_asked
from hire.water_on_hire import told_of_line
from hire.wet_screens import wet_context
from inspections.certificates.models import Certificate
from inspections.models import SiteWalker
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import AT_THE_GATE, DESK, EVERYBODY, FLEET_ONLY
from people.yard import day_bounds, yard_day


@require_safe
@for_roles(DESK)
def line_list(request: HttpRequest) -> HttpResponse:
    """The day sheet: out today, back today, off-hired, back with things to be decided, out now, pencilled, booked with the cart
    to be chosen, promised ahead."""
    at = timezone.now()
    start, end = day_bounds(yard_day(at))
    yards = yards_for(request)
    lines = yards.narrow(Line.objects.for_list(), "cart__")
    off = yards.narrow(OffHire.objects.awaiting(), "line__cart__")
    out = lines.out_now().exclude(pk__in=off.values("line")).order_by("promised__endswith")
    found = undecided(yards.narrow(Line.objects.all(), "cart__"), at=at)
    sheet = {
        "Out today": lines.leaving_by(at=end).filter(promised__endswith__gt=start),
        "Back today, or late": out.filter(promised__endswith__lt=end),
        "Off-hired, awaiting pick-up": lines.out_now().filter(pk__in=off.values("line")),
        "Out on hire": out.filter(promised__endswith__gte=end),
        "Promised ahead": lines.to_come().filter(promised__startswith__gte=end).order_by("promised"),
    }
    pencils = yards.narrow(Pencil.objects.standing(at=at).for_list(), "cart__").prefetch_related("quotes")
    bookings = Booking.objects.open().for_list().prefetch_related("quotes")
    if wants_csv(request):
        day = tables.day_table(sheet, found, pencils, bookings, at=at)
        return csv_response("day-sheet", tables.DAY_HEAD, day)
    leaving = list(sheet["Out today"])
    rows = screens.line_rows([*leaving, *sheet["Promised ahead"][:100]], at=at)
    context = {
        "page_title": "Hire",
        "yards": yards,
        "at": at,
        "leaving": rows[: len(leaving)],
        "pencils": list(pencils[:100]),
        "bookings": screens.booking_rows(bookings[:100]),
        "back": list(sheet["Back today, or late"]),
        "off": [screens.off_hired_row(call, at=at) for call in off.for_list()[:100]],
        "undecided": found[:100],
        "out": list(sheet["Out on hire"][:100]),
        "ahead": rows[len(leaving) :],
    }
    return render(request, "hire/line_list.html", context)


@require_safe
@for_roles(DESK)
def line_past(request: HttpRequest) -> HttpResponse:
    past = Line.objects.for_list().filter(back_at__isnull=False).order_by("-back_at")
    if wants_csv(request):
        return csv_response("past-hires", tables.PAST_HEAD, tables.past_table(past))
    context = {"page_title": "Past hires", "page": Paginator(past, 50).get_page(request.GET.get("page"))}
    return render(request, "hire/line_past.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def line_add(request: HttpRequest) -> HttpResponse:
    at = timezone.now()
    start = (at + timedelta(days=1)).replace(minute=0, second=0, microsecond=0)
    initial: dict[str, object] = {
        "starts_at": start,
        "ends_at": start + timedelta(days=7),
    }
    pencil = Pencil.objects.standing_by(request.GET.get("pencil", ""), at=at)
    # What was asked on the way here is not typed twice.
    quote = Quote.objects.named(request.GET.get("quote", "")) or Quote.objects.of_pencil(pencil)
    initial |= carried(request.GET, PromiseForm.base_fields, pencil, quote)
    plan = JobPlan.objects.named(request.GET.get("plan", ""))
    if customer := request.GET.get("customer"):
        initial["customer"] = Customer.objects.filter(pk=customer).first() if _is_id(customer) else None
    form = PromiseForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            line = agreements.make_agreement(
                **form.agreed(), pencil=pencil, plan=plan, quote=quote, by=staff_of(request), at=at
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            done = f"{line.cart.fleet_number} is promised on {line.agreement.number}."
            messages.success(request, " ".join([done, *beside(line, at=at)]))
            return redirect("hire:line_detail", line.pk)
    return _form(request, form, "Make a hire agreement", said=quoted_words(quote, on=yard_day(at)))


def _is_id(text: str) -> bool:
    try:
        UUID(text)
    except ValueError:
        return False
    return True


@require_safe
@for_roles(EVERYBODY)
def line_detail(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """The hire with its cart's readiness for the period: what stops it, what falls due while out, what limits it goes with."""
    at, line = timezone.now(), line_asked(line_id)
    window = gate_window(line, at=at) if line.is_out or line.promised.lower <= at else window_of(line)
    answer = readiness(line.cart, window=window, at=at)
    papers = Certificate.objects.filter(subject_kind="hire_line", subject_id=line.pk).select_related(
        "file", "withdrawal", "replaced_by"
    )
    off_hire = line.off_hires.standing().for_list().first()
    plans = job_told.plans_on(line)
    context = (
        {
            "page_title": f"{line.cart.fleet_number} for {line.agreement.customer.name}",
            "line": line,
            "at": at,
            "answer": answer,
            "sentence": readiness_sentence(answer),
            "stops": screens.stop_rows(answer),
            "beside": beside(line, at=at),
            "cautions": screens.caution_rows(answer),
            "papers": papers,
            "valid": gate.valid_certificate(line),
            "links": CustomerLink.objects.filter(
                line__in=[line, *(swap.line for swap in swaps_before(line))]
            ).select_related("made_by"),
            "stand_downs": stand_down_rows([line, *(swap.line for swap in swaps_before(line))]),
            "others": line.agreement.lines.exclude(pk=line.pk)
            .select_related("cart")
            .order_by("cart__fleet_number"),
            "service_offers": offer_rows([line], at=at),
            "may_offer": staff_of(request).has_role(MAY_OFFER),
            "breakdowns": Breakdown.objects.filter(line=line).select_related("defect", "link")[:5],
            "drivers": line.drivers.standing(),
            "off_hire": screens.off_hired_row(off_hire, at=at, answers=answers_words(off_hire, at=at))
            if off_hire
            else None,
            "site_code": SiteCode.objects.filter(line=line).select_related("made_by").first(),
            # A driver who collects it has a part of the page to themselves.
            "walkers": SiteWalker.objects.filter(subject_kind="hire_line", subject_id=line.pk).exclude(
                opened_how="gate"
            ),
            "collections": line.collection_links.for_page() if staff_of(request).has_role(MAY_GIVE) else (),
            "may_give": staff_of(request).has_role(MAY_GIVE),
            "plans": plans[:5],
            "told": job_told.told_of(line, plans=plans, on=yard_day(at)),
            "loads": load_page.tally(line, on=line.agreement.day(at)) if line.handed_over_at else None,
            "water": told_of_line(line) if line.handed_over_at else (),
            "may_desk": staff_of(request).has_role(DESK),
            "may_gate": staff_of(request).has_role(AT_THE_GATE),
            "may_look": staff_of(request).has_role(FLEET_ONLY),
            "new_link": request.session.pop("new_link", None),
        }
        | site_context(line, at=at)
        | needs_context(line, at=at)
        | float_context(line)
        | wet_context(line, by=staff_of(request), at=at)
    )
    return render(request, "hire/line_detail.html", context)


def _act(  # noqa: PLR0917 - one call, one line
    request: HttpRequest,
    line_id: UUID,
    form_class: type[django_forms.Form],
    act: Callable[[Line, dict[str, object]], str],
    title: str,
    initial: dict[str, object] | None = None,
) -> HttpResponse:
    """One question asked of a hire: the form, the action, and back to the hire with a sentence."""
    line = line_asked(line_id)
    form = form_class(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, act(line, form.cleaned_data))
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            return redirect("hire:line_detail", line.pk)
    return _form(request, form, title.format(cart=line.cart.fleet_number), line=line)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def line_cancel(request: HttpRequest, line_id: UUID) -> HttpResponse:
    def act(line: Line, typed: dict[str, object]) -> str:
        agreements.cancel_line(line=line, why=str(typed["why"]), by=staff_of(request), at=timezone.now())
        return f"{line.cart.fleet_number} is free of this hire."

    return _act(request, line_id, WhyForm, act, "Cancel the hire of {cart}")


@require_POST
@for_roles(DESK)
def certificate_issue(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = get_object_or_404(Line, pk=line_id)
    why = request.POST.get("why", "").replace("\x00", "").strip()[:240]
    try:
        paper = gate.issue_certificate(line=line, by=staff_of(request), at=timezone.now(), why=why)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{paper.number} is issued; its sealed file follows in a moment.")
    return redirect("hire:line_detail", line_id)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def link_make(request: HttpRequest, line_id: UUID) -> HttpResponse:
    def act(line: Line, typed: dict[str, object]) -> str:
        link, token = links.make_link(
            line=line,
            for_words=str(typed["for_words"]),
            rights=str(typed["rights"]),
            by=staff_of(request),
            at=timezone.now(),
        )
        # Shown once, on the next page only: the yard keeps its hash and nothing else.
        request.session["new_link"] = request.build_absolute_uri(reverse("hire:customer_page", args=[token]))
        return f"The link for {link.for_words} is made. Copy it now: it is shown once."

    return _act(request, line_id, LinkForm, act, "Make a customer link for {cart}")


@require_POST
@for_roles(DESK)
def link_revoke(request: HttpRequest, link_id: UUID) -> HttpResponse:
    link = get_object_or_404(CustomerLink, pk=link_id)
    links.revoke_link(link=link, by=staff_of(request), at=timezone.now())
    messages.success(request, f"The link for {link.for_words} opens nothing any more.")
    return redirect("hire:line_detail", link.line_id)


def _form(
    request: HttpRequest,
    form: django_forms.Form,
    title: str,
    *,
    line: Line | None = None,
    said: dict[str, str] | None = None,
) -> HttpResponse:
    context = {"page_title": title, "form": form, "line": line} | (said or {})
    if line is None:
        context |= {"back_url": reverse("hire:line_list"), "back_label": "the day sheet"}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)
