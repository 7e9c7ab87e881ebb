"""The fitter's screens: a job sheet on the shared tablet, job sheets on paper, an extinguisher's exchange and its end."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import cast
from uuid import UUID

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.actions import equipment
from fleet.gear_forms import PlateForm
from fleet.models.defects import Defect
from fleet.models.equipment import Extinguisher
from fleet.views.asking import attempt, form_page, posted, press
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import WORKSHOP
from servicing import job_sheets as reading
from servicing.actions import extinguishers, parts, repairs, times
from servicing.asking import blame, refuse, take_in, typed_of
from servicing.forms import RepairForm, VersionForm
from servicing.job_forms import CondemnForm, ExchangeForm, PartForm
from servicing.models.jobs import PartUsed

MOST_SHEETS = 50


def _page(
    request: HttpRequest, defect: Defect, *, at: datetime, failed: Mapping[str, Form] | None = None
) -> HttpResponse:
    """The job sheet as it stands now; failed: the form that came back, by its act."""
    person, failed = staff_of(request), failed or {}
    [sheet] = reading.sheets(Defect.objects.filter(pk=defect.pk), at=at)
    defect = sheet.defect
    hand_back = failed.get("done")
    if isinstance(hand_back, RepairForm):
        data = cast("QueryDict", hand_back.data).copy()
        data["version"] = str(defect.version)
        hand_back.data = data
    context = {
        "page_title": f"Job sheet: {defect.title}, {defect.cart.fleet_number}",
        "sheet": sheet,
        "defect": defect,
        "cart": defect.cart,
        "is_on": person.pk in sheet.on_now,
        "may_go_on": defect.state in ("reported", "assessed", "put_off", "in_repair"),
        "may_part": defect.state in ("assessed", "in_repair", "repaired"),
        "may_hand_back": defect.state in ("assessed", "in_repair"),
        "part_form": failed.get("part") or PartForm(cart=defect.cart),
        "done_form": hand_back or RepairForm(defect=defect, auto_id="done_%s"),
        "form": next(iter(failed.values()), None),
    }
    return render(request, "servicing/job_sheet.html", context, status=422 if failed else 200)


@require_safe
@for_roles(WORKSHOP)
def job_sheet(request: HttpRequest, defect_id: UUID) -> HttpResponse:
    return _page(request, get_object_or_404(Defect.objects.for_list(), pk=defect_id), at=timezone.now())


def _go_on(defect: Defect, form: Form, *, by: Staff, at: datetime) -> str:
    _, left = times.go_on(defect=defect, version=form.cleaned_data["version"], by=by, at=at)
    came_off = f" You came off {left}." if left else ""
    return f"You are on {defect} from now.{came_off}"


def _go_off(defect: Defect, form: Form, *, by: Staff, at: datetime) -> str:
    times.go_off(defect=defect, by=by, at=at)
    return f"You are off {defect}. The job stays begun."


def _part(defect: Defect, form: Form, *, by: Staff, at: datetime) -> str:
    part = parts.use_part(defect=defect, **form.cleaned_data, by=by, at=at)
    giver = part.taken_from_cart
    told = f" {giver.fleet_number} is told of it as “do not use”." if giver else ""
    return f"{part.words} is put down.{told}"


def _done(defect: Defect, form: Form, *, by: Staff, at: datetime) -> str:
    repairs.record_repair(defect=defect, **typed_of(form), by=by, at=at)
    return f"{defect} is handed back and waits for a second look by somebody else."


ACTS = {"on": _go_on, "off": _go_off, "part": _part, "done": _done}


def _form_of(act: str, defect: Defect, data: QueryDict) -> Form:
    if act == "part":
        return PartForm(data, cart=defect.cart)
    if act == "done":
        return RepairForm(data, defect=defect, auto_id="done_%s")
    return VersionForm(data, defect=defect, auto_id=f"{act}_%s")


@require_http_methods(["GET", "HEAD", "POST"])
@for_roles(WORKSHOP)
def job_act(request: HttpRequest, defect_id: UUID, act: str) -> HttpResponse:
    """On the job, off it, a part, or handed back. Asked for without a form it shows the sheet."""
    defect = get_object_or_404(Defect.objects.for_list(), pk=defect_id)
    if act not in ACTS:
        raise Http404
    if request.method != "POST":
        return redirect("servicing:job_sheet", defect.pk)
    at, by = timezone.now(), staff_of(request)
    data, faults = take_in(request, by=by, at=at)
    form = _form_of(act, defect, data)
    if form.is_valid() and not faults:
        try:
            messages.success(request, ACTS[act](defect, form, by=by, at=at))
        except Refusal as no:
            refuse(form, no)
        else:
            return redirect("servicing:job_sheet", defect.pk)
    blame(form, faults)
    return _page(request, defect, at=at, failed={act: form})


@require_safe
@for_roles(WORKSHOP)
def job_sheets(request: HttpRequest) -> HttpResponse:
    """Job sheets to print, one a page, in the order asked for."""
    try:
        wanted = [UUID(text) for text in request.GET.getlist("defect")][:MOST_SHEETS]
    except ValueError as error:
        raise Http404 from error
    found = {
        sheet.defect.pk: sheet
        for sheet in reading.sheets(Defect.objects.filter(pk__in=wanted), at=timezone.now())
    }
    context = {
        "page_title": "Job sheets",
        "sheets": [found[pk] for pk in dict.fromkeys(wanted) if pk in found],
    }
    return render(request, "servicing/job_sheets.html", context)


@require_POST
@for_roles(WORKSHOP)
def part_strike(request: HttpRequest, part_id: UUID) -> HttpResponse:
    part = get_object_or_404(PartUsed, pk=part_id)
    press(request, parts.strike_part, done=f"{part.words} is struck out.", at=timezone.now(), part=part)
    return redirect("servicing:job_sheet", part.defect_id)


@require_POST
@for_roles(WORKSHOP)
def fix_end(request: HttpRequest, defect_id: UUID) -> HttpResponse:
    """Tell the defect behind a temporary fix again before its last day, so that it is made to last."""
    defect = get_object_or_404(Defect.objects.for_list(), pk=defect_id)
    try:
        again = repairs.end_temporary_fix(defect=defect, by=staff_of(request), at=timezone.now())
    except Refusal as no:
        messages.error(request, no.sentence)
        return redirect("servicing:defect_detail", defect.pk)
    messages.success(request, f"{again} is told again.")
    return redirect("servicing:defect_detail", again.pk)


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def extinguisher_exchange(request: HttpRequest, extinguisher_id: UUID) -> HttpResponse:
    old, at = (
        get_object_or_404(Extinguisher.objects.select_related("cart"), pk=extinguisher_id),
        timezone.now(),
    )
    form, cart = ExchangeForm(request.POST or None, old=old, at=at), old.cart
    spare = posted(request, form, extinguishers.exchange_extinguisher, old=old, at=at)
    if spare is not None and cart is not None:
        messages.success(request, f"{spare.serial} is on {cart.fleet_number}; {old.serial} is on the shelf.")
        return redirect("servicing:extinguisher_detail", spare.pk)
    return form_page(
        request, form, cart=cart, title=f"Exchange extinguisher {old.serial}", button="Exchange it",
        lead=f"{old}. {f'In its bracket: {old.bracket}.' if old.bracket else ''}",
        must="Look at the spare’s gauge, pin, seal and tag before it goes on. A licensed technician services what comes off.",
        note="Only charged spares on the shelf that are in date go on a cart. "
        "One that is not in the list is put on the shelf first: the workshop’s page, then “a spare extinguisher”.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def spare_add(request: HttpRequest) -> HttpResponse:
    """A spare extinguisher on the shelf: on record before it is needed, with its services to come."""
    form, at = PlateForm(request.POST or None), timezone.now()
    if request.method == "POST" and form.is_valid():
        details = equipment.ExtinguisherDetails(**form.cleaned_data)
        item = attempt(form, equipment.shelve_extinguisher, details=details, by=staff_of(request), at=at)
        if item is not None:
            messages.success(
                request, f"Extinguisher {item.serial} is on the shelf. Record its last service here."
            )
            return redirect("servicing:extinguisher_detail", item.pk)
    return form_page(
        request, form, title="Put a spare extinguisher on the shelf", button="Put it on the shelf",
        back=reverse("servicing:defect_list"), back_label="the workshop",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def extinguisher_condemn(request: HttpRequest, extinguisher_id: UUID) -> HttpResponse:
    item, at = (
        get_object_or_404(Extinguisher.objects.select_related("cart"), pk=extinguisher_id),
        timezone.now(),
    )
    form = CondemnForm(request.POST or None)
    if posted(request, form, extinguishers.condemn_extinguisher, extinguisher=item, at=at):
        messages.success(request, f"Extinguisher {item.serial} is condemned and never goes on a cart again.")
        return redirect("servicing:extinguisher_detail", item.pk)
    return form_page(
        request, form, cart=item.cart, title=f"Condemn extinguisher {item.serial}", button="Condemn it",
        note="It stays on record. One on a cart is exchanged for a spare instead, where it can be condemned as well.",
    )  # fmt: skip
