"""The job planner: for the desk over the whole fleet, for the customer over their own cart."""

from __future__ import annotations

from contextlib import suppress
from urllib.parse import parse_qsl, urlencode
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.models.carts import Cart
from fleet.models.spraying import names_of_openings
from hire import job_dust, job_need, job_page
from hire.actions.job_plans import keep_job_plan
from hire.job_forms import JobForm, KeepForm, StaffJobForm
from hire.job_told import plans_on
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.job_plans import JobPlan
from hire.models.links import CustomerLink
from hire.models.pencils import Pencil
from hire.rights import ON_SITE
from hire.views.links import through_a_link
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK
from people.yard import yard_day

PAGE, SHOWN = 50, 20
KEPT_WITH = ("line", "booking", "pencil")


def _kept_with(asked: QueryDict) -> dict[str, Line | Booking | Pencil]:
    """The hire, booking or pencil a question names, the first of them; a wrong id names none."""
    found: dict[str, Line | Booking | Pencil | None] = {
        "line": Line.objects.filter(pk=pk).first() if (pk := _id(asked, "line")) else None,
        "booking": Booking.objects.filter(pk=pk).first() if (pk := _id(asked, "booking")) else None,
        "pencil": Pencil.objects.filter(pk=pk).first() if (pk := _id(asked, "pencil")) else None,
    }
    return dict([(name, row) for name, row in found.items() if row is not None][:1])


def _id(asked: QueryDict, name: str) -> UUID | None:
    with suppress(ValueError):
        return UUID(asked.get(name, ""))
    return None


def _question(asked: QueryDict) -> str:
    """What is kept: all that was asked, but not under which plan it was kept before."""
    return urlencode([(name, value) for name, value in asked.items() if name != "plan"])


def _enquiry(asked: QueryDict) -> str:
    """What the caller asked, made anew from its parts so that nothing but a query is in it."""
    return urlencode(parse_qsl(asked.get("enquiry", "")[:2000]))


@require_safe
@for_roles(DESK)
def job_plan(request: HttpRequest) -> HttpResponse:
    """The question on one side, the fleet's answer on the other; the question stays in the address."""
    at, asked = timezone.now(), "target_l_m2" in request.GET
    form = StaffJobForm(request.GET if asked else None)
    carts = list(Cart.objects.in_fleet(on=yard_day(at)).order_by("fleet_number"))
    form.offer_heads(names_of_openings(carts))
    context: dict[str, object] = {
        "page_title": "Plan a job",
        "form": form,
        "kept_with": next(iter(_kept_with(request.GET).values()), None),
        "enquiry": _enquiry(request.GET),
        "plan": JobPlan.objects.named(request.GET.get("plan", "")),
        "hidden": [(name, request.GET[name]) for name in (*KEPT_WITH, "enquiry") if request.GET.get(name)],
        "caution": job_page.CAUTION,
    }
    if not asked or not form.is_valid():
        return render(request, "hire/job_plan.html", context, status=422 if asked else 200)
    job, typed = form.job(), form.cleaned_data
    found = job_page.ranked(job, carts, by_road=typed["by_road"], on=yard_day(at))
    if wants_csv(request):
        return csv_response("job-plan", job_page.PLAN_HEAD, found.table())
    made = found.first(SHOWN)
    named = {name: found.named(name) for name in (typed["one"], typed["other"]) if name}
    context |= {
        "job": job,
        "made": made,
        "more": len(found) - SHOWN,
        "left": found.left[:SHOWN],
        "left_more": len(found.left) - SHOWN,
        "pair": _pair([one for one in named.values() if one], made),
        "missing": [name for name, one in named.items() if one is None],
        "dust": job_dust.dust_of(form, job, made),
        "wanted": job_need.wanted_of(form, job, made),
        "keep": KeepForm(initial={"question": _question(request.GET)}),
    }
    return render(request, "hire/job_plan.html", context)


def _pair(asked: list[job_page.Planned], best: list[job_page.Planned]) -> list[job_page.Planned]:
    """The two asked for; where they weren't, the best two."""
    carts = {one.cart.pk for one in asked}
    return [*asked, *(one for one in best if one.cart.pk not in carts)][:2]


@require_POST
@for_roles(DESK)
def job_plan_keep(request: HttpRequest) -> HttpResponse:
    """Keep the plan; its question is read again, so that nothing is kept that cannot be planned."""
    keep = KeepForm(request.POST)
    question = QueryDict(request.POST.get("question", "")[:4000])
    back = f"{reverse('hire:job_plan')}?{question.urlencode()}"
    form = StaffJobForm(question)
    if not keep.is_valid() or not form.is_valid():
        messages.error(request, "Not kept: say whose job it is, and plan it first.")
        return redirect(back)
    try:
        plan = keep_job_plan(
            words=keep.cleaned_data["words"], question=_question(question), enquiry=_enquiry(question), by=staff_of(request),
            at=timezone.now(), **_kept_with(question),  # type: ignore[arg-type]
        )  # fmt: skip
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"The plan for {plan} is kept.")
        return redirect("hire:job_plan_open", plan.pk)
    return redirect(back)


@require_safe
@for_roles(DESK)
def job_plan_list(request: HttpRequest) -> HttpResponse:
    plans = JobPlan.objects.for_list()
    if wants_csv(request):
        return csv_response("job-plans", job_page.KEPT_HEAD, job_page.kept_table(plans))
    page = Paginator(plans, PAGE).get_page(request.GET.get("page"))
    return render(request, "hire/job_plan_list.html", {"page_title": "Plans of jobs", "page": page})


@require_safe
@for_roles(DESK)
def job_plan_open(request: HttpRequest, plan_id: UUID) -> HttpResponse:
    """A kept plan, reckoned anew with the carts' figures as they are now."""
    plan = get_object_or_404(JobPlan, pk=plan_id)
    return redirect(f"{reverse('hire:job_plan')}?{plan.question}&plan={plan.pk}")


@through_a_link("GET", "HEAD", rights=ON_SITE)
def link_plan(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    """The customer's own cart for their job. It begins with the yard's plan for this hire, less what is the yard's alone."""
    at, line, asked = timezone.now(), link.line, "target_l_m2" in request.GET
    kept = next(iter(plans_on(line)), None)
    begins = {
        name: value
        for name, value in QueryDict(kept.question if kept else "").items()
        if name in JobForm.base_fields
    }
    form = JobForm(request.GET if asked else begins or None)
    form.offer_heads(names_of_openings([line.cart]))
    context: dict[str, object] = {
        "page_title": f"Plan the work of {line.cart.fleet_number}",
        "token": request.resolver_match.kwargs["token"] if request.resolver_match else "",
        "line": line,
        "cart": line.cart,
        "form": form,
        "caution": job_page.CAUTION,
    }
    if form.is_bound and form.is_valid():
        job = form.job()
        by_road, rules = form.cleaned_data["by_road"], line.agreement.rule_set
        found = job_page.ranked(job, [line.cart], by_road=by_road, on=yard_day(at), rule_set=rules)
        made = found.first(1)
        context |= {
            "job": job,
            "made": made,
            "left": found.left,
            "dust": job_dust.dust_of(form, job, made),
            "begins": urlencode([one for one in form.data.items() if one[0] in form.fields]),
        }
    return render(request, "hire/link_plan.html", context, status=422 if asked and form.errors else 200)
