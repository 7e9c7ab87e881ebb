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
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions.defects import tell_defect
from fleet.actions.photos import keep_photo
from fleet.models.carts import ReadingQuestion
from fleet.models.defects import Defect
from fleet.models.standing import Hold, Limit, Pass
from fleet.photos.refusals import PhotoRefused
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import EVERYBODY, WALKERS, WORKSHOP
from servicing import actions, equipment, forms, offers, pages, screens
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
    narrow = forms.QueueFilter(request.GET)
    queue = queue_of(narrow.narrow(Defect.objects.open()), at=at)
    apart = NOTHING if narrow.chosen("state") else Q(state="repaired") & ~Q(repaired_by=person)
    open_count, second_count = queue.counts(apart)
    page = _Pages(queue.places.exclude(apart), PAGE, count=open_count - second_count).get_page(
        request.GET.get("page")
    )
    shown = SECOND_LOOKS_SHOWN if second_count and page.number == 1 else 0
    context = {
        "page_title": "Workshop",
        "filters": narrow,
        "page": page,
        "rows": screens.queue_rows(queue, page.object_list, person=person),
        "second": screens.queue_rows(queue, queue.places.filter(apart)[:shown], person=person),
        "second_count": second_count,
        "open_count": open_count,
        "is_narrowed": any(narrow.chosen(name) for name in narrow.fields),
        "order_inputs": screens.order_inputs(),
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


def _posted(request: HttpRequest, *, by: Staff, at: datetime) -> tuple[QueryDict, str]:
    """What was typed, with the photo taken in at once and named in it, so that no fault elsewhere loses it; and the
    sentence of a refused photo."""
    data, file = request.POST.copy(), request.FILES.get("photo")
    if file is None:
        return data, ""
    try:
        photo = keep_photo(raw=file.read(), expected_sha256=None, by=by, at=at)
    except PhotoRefused as no:
        return data, no.sentence
    data["kept_photo"] = str(photo.pk)
    return data, ""


def _refuse(form: Form, no: Refusal) -> None:
    form.add_error(no.field if no.field in form.fields else None, no.sentence)


ACTS: dict[str, Callable[..., object]] = {
    "look": actions.assess_defect,
    "start": actions.start_repair,
    "repair": actions.record_repair,
    "second-look": actions.give_second_look,
    "send-back": actions.send_back,
    "no-fault": actions.find_no_fault,
    "limit": actions.isolate,
}


def _typed(form: Form) -> dict[str, Any]:
    """What a valid form asks of its action: the photo is the one kept."""
    typed = {name: value for name, value in form.cleaned_data.items() if name not in ("photo", "kept_photo")}
    if "kept_photo" in form.fields:
        typed["photo"] = form.cleaned_data["kept_photo"]
    return typed


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
    data, refused = _posted(request, by=by, at=at)
    form = forms.STEP_FORMS[step](data, defect=defect, auto_id=f"{step}_%s")
    if form.is_valid() and not refused:
        try:
            ACTS[step](defect=defect, **_typed(form), by=by, at=at)
        except Refusal as no:
            _refuse(form, no)
        else:
            messages.success(
                request, f"{defect.title} on {defect.cart.fleet_number} {offers.BY_KEY[step].done}."
            )
            return redirect("servicing:defect_detail", defect.pk)
    if refused:
        form.add_error("photo", refused)
    context = pages.defect_page(defect.pk, person=by, at=at, failed=(step, form))
    return render(request, "servicing/defect_detail.html", context, status=422)


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(EVERYBODY)
def defect_add(request: HttpRequest) -> HttpResponse:
    """Tell a defect by hand. Anybody of the yard may; the workshop takes it from there."""
    at, by = timezone.now(), staff_of(request)
    refused = ""
    if request.method == "POST":
        data, refused = _posted(request, by=by, at=at)
        form = forms.TellForm(data)
    else:
        form = forms.TellForm(initial={"cart": request.GET.get("cart", "")})
    if form.is_valid() and not refused:
        try:
            defect = _tell(form.cleaned_data, by=by, at=at)
        except Refusal as no:
            _refuse(form, no)
        else:
            messages.success(request, f"The workshop is told: {defect.title} on {defect.cart.fleet_number}.")
            return redirect("servicing:defect_detail", defect.pk)
    if refused:
        form.add_error("photo", refused)
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
    """What stands on carts by decision, or waits for one: tags, passes, limits, readings nobody has settled."""
    at = timezone.now()
    questions = ReadingQuestion.objects.filter(settled_at=None).select_related("cart")
    context = {
        "page_title": "Tags, passes and questions",
        "at": at,
        "holds": Hold.objects.filter(lifted_at=None).select_related("cart", "placed_by"),
        "passes": Pass.objects.filter(closed_at=None).select_related("cart", "given_by").order_by("ends_at"),
        "limits": Limit.objects.filter(lifted_at=None).select_related("cart", "set_by", "defect"),
        "page": Paginator(questions, PAGE).get_page(request.GET.get("page")),
    }
    return render(request, "servicing/hold_list.html", context)


@require_safe
@for_roles(EVERYBODY)
def extinguisher_detail(request: HttpRequest, extinguisher_id: UUID) -> HttpResponse:
    context = equipment.extinguisher_page(extinguisher_id, at=timezone.now())
    context["may_service"] = staff_of(request).has_role(WORKSHOP)
    return render(request, "servicing/extinguisher_detail.html", context)
