"""Signing in and out, and the list of people."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.contrib.auth import authenticate, logout
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from people import actions, throttle
from people.csv_out import csv_response, wants_csv
from people.forms import NewStaffForm, SignInForm, StaffForm
from people.models import Staff
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import FLEET_ONLY
from people.tablets.actions import note_password_sign_in
from people.tablets.here import begin_by_password, tablet_of


def _next(request: HttpRequest) -> str:
    target = request.POST.get("next") or request.GET.get("next") or ""
    safe = url_has_allowed_host_and_scheme(target, {request.get_host()}, require_https=request.is_secure())
    return target if safe else "/"


@login_not_required
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    form = SignInForm(request.POST or None)
    refusal = ""
    if request.method == "POST" and form.is_valid():
        at, address = timezone.now(), throttle.address_of(request)
        username = form.cleaned_data["username"]
        wait = throttle.seconds_to_wait(username=username, address=address, at=at)
        if wait:
            refusal = f"Too many tries. Wait {wait} seconds and try again."
        else:
            person = authenticate(request, username=username, password=form.cleaned_data["password"])
            if isinstance(person, Staff):
                throttle.note_success(username=username, address=address)
                begin_by_password(request, person, at=at)
                note_password_sign_in(tablet=tablet_of(request), by=person, at=at)
                return redirect(_next(request))
            throttle.note_failure(username=username, address=address, at=at)
            refusal = "That name and password do not go together, or the sign-in is switched off."
    status = 422 if request.method == "POST" else 200
    context = {"page_title": "Sign in", "form": form, "refusal": refusal, "next": _next(request)}
    return render(request, "people/sign_in.html", context, status=status)


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect("people:sign_in")


STAFF_HEAD = ("Name", "Signs in as", "Role", "Email", "Mobile", "May sign in")


@require_safe
@for_roles(FLEET_ONLY)
def staff_list(request: HttpRequest) -> HttpResponse:
    people = Staff.objects.order_by("-is_active", "full_name")
    if wants_csv(request):
        rows = (
            (one.full_name, one.username, one.role_label, one.email, one.mobile, one.is_active)
            for one in people
        )
        return csv_response("people", STAFF_HEAD, rows)
    return render(request, "people/staff_list.html", {"page_title": "People", "people": people})


@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
@for_roles(FLEET_ONLY)
def staff_add(request: HttpRequest) -> HttpResponse:
    form = NewStaffForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            person = actions.add_staff(**form.cleaned_data, by=staff_of(request), at=timezone.now())
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        except ValidationError as error:
            form.add_error(None, " ".join(error.messages))
        else:
            messages.success(request, f"{person.full_name} can sign in as {person.username}.")
            return redirect("people:staff_list")
    return _form_page(request, form, "Add a person")


@require_http_methods(["GET", "POST"])
@for_roles(FLEET_ONLY)
def staff_change(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    person = get_object_or_404(Staff, pk=staff_id)
    form = StaffForm(
        request.POST or None, initial={name: getattr(person, name) for name in StaffForm.base_fields}
    )
    if request.method == "POST" and form.is_valid():
        try:
            actions.change_staff(person=person, **form.cleaned_data, by=staff_of(request), at=timezone.now())
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, f"Saved. {person.full_name}'s pages follow the new role at once.")
            return redirect("people:staff_list")
    return _form_page(request, form, f"Change {person.full_name}", person=person)


@require_POST
@for_roles(FLEET_ONLY)
def staff_access(request: HttpRequest, staff_id: UUID) -> HttpResponse:
    person = get_object_or_404(Staff, pk=staff_id)
    wanted = request.POST.get("access") == "on"
    try:
        actions.set_access(person=person, is_active=wanted, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(
            request,
            f"{person.full_name} {'may sign in again' if wanted else 'is signed out and may not sign in'}.",
        )
    return redirect("people:staff_list")


def _form_page(
    request: HttpRequest, form: StaffForm, title: str, *, person: Staff | None = None
) -> HttpResponse:
    context = {"page_title": title, "form": form, "person_changed": person}
    return render(request, "people/staff_form.html", context, status=422 if form.errors else 200)
