"""The yard's shared tablets, for managers, and everybody's own PIN."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.contrib.auth import logout
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from people import throttle
from people.csv_out import csv_response, wants_csv
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import MANAGERS, PIN_HOLDERS
from people.tablets.actions import end_tablet, enrol_tablet, note_password_sign_in, set_pin
from people.tablets.forms import PinForm, TabletForm
from people.tablets.here import give_token, tablet_of
from people.tablets.models import Pin, Tablet

TABLET_HEAD = ("Tablet", "Enrolled", "Enrolled by", "Last heard of", "Ended", "Ended by")


def _rows(tablets: Iterable[Tablet]) -> Iterator[tuple[object, ...]]:
    for one in tablets:
        ended_by = one.ended_by.full_name if one.ended_by else ""
        yield one.name, one.enrolled_at, one.enrolled_by.full_name, one.last_seen_at, one.ended_at, ended_by


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def tablet_list(request: HttpRequest) -> HttpResponse:
    form, here, tablets = TabletForm(request.POST or None), tablet_of(request), Tablet.objects.for_list()
    if wants_csv(request):
        return csv_response("tablets", TABLET_HEAD, _rows(tablets))
    if request.method == "POST" and form.is_valid():
        try:
            tablet, token = enrol_tablet(
                name=form.cleaned_data["name"], here=here, by=staff_of(request), at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        except ValidationError as error:
            form.add_error("name", " ".join(error.messages))
        else:
            return _enrolled(request, tablet, token)
    context = {
        "page_title": "Tablets",
        "fault_word": "Not enrolled",
        "form": form,
        "here": here,
        "tablets": tablets,
    }
    return render(request, "tablets/tablet_list.html", context, status=422 if form.errors else 200)


def _enrolled(request: HttpRequest, tablet: Tablet, token: str) -> HttpResponse:
    """A manager's sign-in does not stay behind on a tablet that others use."""
    logout(request)
    messages.success(
        request,
        f"This is now the {tablet.name} tablet, and you are signed out of it. Whoever uses it signs in once a shift with the "
        "password, and changes over by PIN after that.",
    )
    response = redirect("people:sign_in")
    give_token(response, token)
    return response


@require_POST
@for_roles(MANAGERS)
def tablet_end(request: HttpRequest, tablet_id: UUID) -> HttpResponse:
    tablet = get_object_or_404(Tablet, pk=tablet_id)
    try:
        end_tablet(tablet=tablet, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(
            request, f"The {tablet.name} tablet is ended: nobody is signed in on it and no PIN counts there."
        )
    return redirect("tablets:tablet_list")


@sensitive_post_parameters("password", "pin", "again")
@require_http_methods(["GET", "POST"])
@for_roles(PIN_HOLDERS)
def pin_set(request: HttpRequest) -> HttpResponse:
    person, form = staff_of(request), PinForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        at = timezone.now()
        if refusal := _password_fault(request, person, form.cleaned_data["password"], at=at):
            form.add_error("password", refusal)
        else:
            try:
                set_pin(pin=form.cleaned_data["pin"], by=person, at=at)
            except Refusal as refused:
                form.add_error(refused.field, refused.sentence)
            else:
                note_password_sign_in(tablet=tablet_of(request), by=person, at=at)
                messages.success(request, "Your PIN is set. It counts on the yard’s shared tablets only.")
                return redirect("tablets:pin_set")
    context = {"page_title": "My PIN", "form": form, "kept": Pin.objects.filter(person=person).first()}
    return render(request, "tablets/pin_set.html", context, status=422 if form.errors else 200)


def _password_fault(request: HttpRequest, person: Staff, password: str, *, at: datetime) -> str:
    """Why the password given does not open the way; guesses at it are slowed as at the sign-in page."""
    who = {"username": person.username, "address": throttle.address_of(request)}
    if seconds := throttle.seconds_to_wait(**who, at=at):
        return f"Too many tries. Wait {seconds} seconds and try again."
    if person.check_password(password):
        throttle.note_success(**who)
        return ""
    throttle.note_failure(**who, at=at)
    return "That is not your password."
