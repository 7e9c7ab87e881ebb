"""The workshop's screens: the queue, one defect with what may be done now, telling one, and what stands by decision."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions.defects import tell_defect
from fleet.models.carts import ReadingQuestion
from fleet.models.defects import Defect
from fleet.models.standing import Hold, Limit, Pass
from fleet.permit_page import open_lines
from fleet.yards import yards_for
from people.csv_out import csv_response, wants_csv
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import EVERYBODY, MANAGERS, WALKERS, WORKSHOP
from people.yard import yard_day
from servicing import equipment, forms, offers, pages, screens, tables
from servicing.actions import closing, grading, repairs
from servicing.asking import Faults, blame, refuse, take_in, typed_of
from servicing.bulk_forms import TogetherForm
from servicing.models.jobs import TimeOnJob
from servicing.queue_filter import QueueFilter
from servicing.returning import patterns
from servicing.waiting import queue_of

PAGE = 50
SECOND_LOOKS_SHOWN = 10
NOTHING = Q(pk__in=[])


class _Pages(Paginator):  # type: ignore[type-arg] # the class takes none at run time
    """Pages of a list whose length is known already."""

    def __init__(self, rows: QuerySet[Any, Any], size: int, *, count: int) -> None:
        super().__init__(rows, size)
        self.count = count


@require_safe
@for_roles(WORKSHOP)
def defect_list(request: HttpRequest) -> HttpResponse:
    """The queue. Repairs waiting for this person's second look come first, on the first page, unless a state is asked for."""
    at, person = timezone.now(), staff_of(request)
    narrow = QueueFilter(request.GET, reader=person, on=yard_day(at))
    yards = yards_for(request)
    queue = queue_of(yards.narrow(narrow.narrow(), "cart__"), at=at)
    if wants_csv(request):
        return csv_response("workshop-queue", screens.QUEUE_HEAD, screens.queue_table(queue))
    apart = NOTHING if narrow.chosen("state") else Q(state="repaired") & ~Q(repaired_by=person)
    open_count, second_count = queue.counts(apart)
    page = _Pages(queue.places.exclude(apart), PAGE, count=open_count - second_count).get_page(
        request.GET.get("page")
    )
    is_narrowed = any(narrow.chosen(name) for name in narrow.fields) or bool(yards.name)
    shown = SECOND_LOOKS_SHOWN if second_count and page.number == 1 else 0
    second = list(queue.places.filter(apart)[:shown])
    rows = screens.queue_rows(queue, [*second, *page.object_list], person=person)
    context = {
        "page_title": "Workshop",
        "filters": narrow,
        "yards": yards,
        "page": page,
        "rows": rows[len(second) :],
        "second": rows[: len(second)],
        "second_count": second_count,
        "open_count": open_count,
        "is_narrowed": is_narrowed,
        "patterns": [] if is_narrowed or page.number > 1 else patterns(at=at),
        "on_now": TimeOnJob.objects.filter(by=person, ended_at=None).select_related("defect__cart"),
        "together": TogetherForm(),
        "may_decide": person.has_role(MANAGERS),
    }
    return render(request, "servicing/defect_list.html", context)


@require_safe
@for_roles(EVERYBODY)
def defect_detail(request: HttpRequest, defect_id: UUID) -> HttpResponse:
    return render(
        request,
        "servicing/defect_detail.html",
        pages.defect_page(defect_id, person=staff_of(request), at=timezone.now()),
    )


ACTS: dict[str, Callable[..., object]] = {
    "look": grading.assess_defect,
    "start": repairs.start_repair,
    "repair": repairs.record_repair,
    "second-look": repairs.give_second_look,
    "send-back": repairs.send_back,
    "put-off": grading.put_off,
    "same": closing.call_same,
    "no-fault": closing.find_no_fault,
    "limit": repairs.isolate,
}


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(WALKERS)
def defect_step(request: HttpRequest, defect_id: UUID, step: str) -> HttpResponse:
    """One step on a defect. Asked for without a form it shows the defect; refused, the defect as it stands now."""
    at, by = timezone.now(), staff_of(request)
    defect = get_object_or_404(Defect.objects.for_list(), pk=defect_id)
    if step not in offers.BY_KEY:
        raise Http404
    if request.method != "POST":
        return redirect("servicing:defect_detail", defect.pk)
    if not by.has_role(offers.BY_KEY[step].roles):
        raise PermissionDenied
    data, faults = take_in(request, by=by, at=at)
    form = forms.STEP_FORMS[step](data, defect=defect, auto_id=f"{step}_%s")
    if form.is_valid() and not faults:
        try:
            ACTS[step](defect=defect, **typed_of(form), by=by, at=at)
        except Refusal as no:
            refuse(form, no)
        else:
            messages.success(
                request, f"{defect.title} on {defect.cart.fleet_number} {offers.BY_KEY[step].done}."
            )
            return redirect("servicing:defect_detail", defect.pk)
    blame(form, faults)
    context = pages.defect_page(defect.pk, person=by, at=at, failed=(step, form))
    return render(request, "servicing/defect_detail.html", context, status=422)


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(EVERYBODY)
def defect_add(request: HttpRequest) -> HttpResponse:
    """Tell a defect by hand. Anybody of the yard may; the workshop takes it from there."""
    at, by = timezone.now(), staff_of(request)
    faults: Faults = []
    if request.method == "POST":
        data, faults = take_in(request, by=by, at=at)
        form = forms.TellForm(data)
    else:
        form = forms.TellForm(initial={"cart": request.GET.get("cart", "")})
    if form.is_valid() and not faults:
        try:
            defect = _tell(form.cleaned_data, by=by, at=at)
        except Refusal as no:
            refuse(form, no)
        else:
            messages.success(request, f"The workshop is told: {defect.title} on {defect.cart.fleet_number}.")
            return redirect("servicing:defect_detail", defect.pk)
    blame(form, faults)
    context = {"page_title": "Tell the workshop of a defect", "form": form}
    return render(request, "servicing/defect_form.html", context, status=422 if form.errors else 200)


def _tell(typed: dict[str, Any], *, by: Staff, at: datetime) -> Defect:
    return tell_defect(
        cart=typed["cart"],
        title=typed["title"],
        words=typed["words"],
        station=typed["station"],
        place="",
        grade=typed["grade"],
        source=("told_by_hand", typed["told_id"]),
        by=by,
        by_words="",
        at=at,
        # What kind of thing it is was not asked, so the stricter rule holds.
        second_look_always=True,
        may_be_passed=False,
        photos=[typed["kept_photo"]] if typed["kept_photo"] else [],
    )


@require_safe
@for_roles(WORKSHOP)
def hold_list(request: HttpRequest) -> HttpResponse:
    """What stands on carts by decision, or waits for one: tags, move permits, passes, limits, readings nobody has settled."""
    at = timezone.now()
    holds = Hold.objects.filter(lifted_at=None).select_related("cart", "placed_by")
    passes = (
        Pass.objects.filter(closed_at=None)
        .select_related("cart", "given_by", "entered_by", "second_person")
        .order_by("ends_at")
    )
    permits = open_lines(at=at)
    limits = Limit.objects.filter(lifted_at=None).select_related("cart", "set_by", "defect")
    questions = ReadingQuestion.objects.filter(settled_at=None).select_related("cart")
    for name, head, rows in (
        ("tags", tables.TAG_HEAD, tables.tag_table(holds)),
        ("permits", tables.OPEN_PERMIT_HEAD, tables.permit_table(permits)),
        ("passes", tables.PASS_HEAD, tables.pass_table(passes)),
        ("limits", tables.LIMIT_HEAD, tables.limit_table(limits)),
        ("readings", tables.QUESTION_HEAD, tables.question_table(questions)),
    ):
        if wants_csv(request, name):
            return csv_response(name, head, rows)
    context = {
        "page_title": "Tags, passes and questions",
        "at": at,
        "holds": holds,
        "passes": passes,
        "permits": permits,
        "may_manage": staff_of(request).has_role(MANAGERS),
        "limits": limits,
        "page": Paginator(questions, PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "servicing/hold_list.html", context)


@require_safe
@for_roles(EVERYBODY)
def extinguisher_detail(request: HttpRequest, extinguisher_id: UUID) -> HttpResponse:
    context = equipment.extinguisher_page(extinguisher_id, at=timezone.now())
    if wants_csv(request, "coming"):
        rows = tables.coming_table(context["coming"])
        return csv_response("extinguisher-services-to-come", tables.COMING_HEAD, rows)
    if wants_csv(request, "done"):
        return csv_response("extinguisher-services-done", tables.TAG_SERVICE_HEAD, context["done"])
    context["may_service"] = staff_of(request).has_role(WORKSHOP)
    return render(request, "servicing/extinguisher_detail.html", context)
