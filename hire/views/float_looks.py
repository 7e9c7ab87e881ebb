"""Looks at a floated cart: as it is loaded, and as it is unloaded on site."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.http import HttpRequest, HttpResponse, QueryDict
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.views.asking import photos_taken_in
from hire.actions.float_looks import look_at_loading, look_at_unloading
from hire.float_forms import LoadingForm, UnloadingForm
from hire.float_words import points_of
from hire.models.runs import RunNote
from hire.views.asked import line_asked
from hire.views.off_hire import answer
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.roles import AT_THE_GATE

MOST_PHOTOS = 8


def _posted(request: HttpRequest, *, by: Staff, at: datetime) -> tuple[QueryDict | None, list[str]]:
    """What was sent, its photos taken in; a sentence for each that was not."""
    if request.method != "POST":
        return None, []
    data = request.POST.copy()
    kept, faults = photos_taken_in(request, by=by, at=at, most=MOST_PHOTOS)
    data.setlist("kept_photos", kept)
    return data, faults


@require_http_methods(["GET", "POST"])
@for_roles(AT_THE_GATE)
def float_loading(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    cart, note = line.cart.fleet_number, RunNote.objects.filter(line=line, leg="out").first()
    data, faults = _posted(request, by=by, at=at)
    initial = {"eyes_words": by.full_name, "float_words": note.float_words if note else ""}
    form = LoadingForm(data, points=points_of(line.cart), initial=initial)
    for sentence in faults:
        form.add_error("photos", sentence)

    def act() -> str:
        typed = form.cleaned_data
        look_at_loading(
            line=line, seen=form.seen(), float_words=typed["float_words"], tied_by_words=typed["tied_by_words"],
            travel=typed["travel"], by=by, at=at,
        )  # fmt: skip
        return f"{cart} is loaded and looked at. Hand it over as the float leaves."

    return answer(request, line, form, act, f"{cart} on its float", button="It is loaded and tied down")


@require_http_methods(["GET", "POST"])
@for_roles(AT_THE_GATE)
def float_unloading(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    data, faults = _posted(request, by=by, at=at)
    form = UnloadingForm(data)
    for sentence in faults:
        form.add_error("photos", sentence)

    def act() -> str:
        typed = form.cleaned_data
        look = look_at_unloading(
            line=line, seen=form.seen(), new_words=typed["new_words"], station=typed["station"],
            grade=typed["grade"] or "watch", by=by, at=at,
        )  # fmt: skip
        told = "What is new is a defect now." if look.defect_id else "Nothing new."
        return f"{line.cart.fleet_number} is unloaded and looked at. {told}"

    title = f"{line.cart.fleet_number} off its float"
    return answer(request, line, form, act, title, button="It is unloaded and looked at")
