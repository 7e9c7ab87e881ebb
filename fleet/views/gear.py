"""What is fitted to a cart: gear, tyres, meters, extinguishers, and the papers it carries."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.actions import carts, equipment, readings, wheels
from fleet.addresses import known_record_url
from fleet.cart_page import GEAR_HEAD, gear_table
from fleet.forms import DocumentForm, GearForm, RemoveGearForm
from fleet.gear_forms import (
    FitTyreForm,
    MeterForm,
    PlaceExtinguisherForm,
    ServiceForm,
    SettleForm,
    TakeOffForm,
    UsedForm,
)
from fleet.models.carts import Cart, Fitment, ReadingQuestion
from fleet.models.equipment import Extinguisher
from fleet.models.wheels import TyreFitting
from fleet.readings import subject_words
from fleet.views.asking import attempt, form_page, posted
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, FLEET_ONLY, WORKSHOP
from people.yard import yard_day


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def gear_list(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """The gear of a cart, with the form that fits more: it comes back after each, for a new cart has much to tell."""
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    fitments = cart.fitments.filter(removed_on=None)
    if wants_csv(request):
        return csv_response(f"gear-{cart.fleet_number}", GEAR_HEAD, gear_table(fitments))
    form = GearForm(request.POST or None, initial={"fitted_on": yard_day(at)})
    fitment = posted(request, form, carts.fit_gear, cart=cart, at=at)
    if fitment is not None:
        messages.success(request, f"{fitment.get_kind_display()} is on record on cart {cart.fleet_number}.")
        return redirect("fleet:gear_list", cart.pk)
    return form_page(
        request, form, cart=cart, title="Gear fitted", button=f"Record it on cart {cart.fleet_number}",
        template="fleet/gear_list.html", fitments=fitments,
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def gear_remove(request: HttpRequest, fitment_id: UUID) -> HttpResponse:
    fitment, at = get_object_or_404(Fitment.objects.select_related("cart"), pk=fitment_id), timezone.now()
    form = RemoveGearForm(request.POST or None, initial={"removed_on": yard_day(at)})
    cart, name = fitment.cart, fitment.get_kind_display()
    if posted(request, form, carts.remove_gear, fitment=fitment, at=at):
        messages.success(request, f"{name} is off cart {cart.fleet_number}; its checks are no longer asked.")
        return redirect("fleet:gear_list", cart.pk)
    return form_page(
        request, form, cart=cart, title=f"{name} came off", button=f"Take it off cart {cart.fleet_number}",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def tyre_fit(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    initial = {"position_code": request.GET.get("position"), "fitted_at": at}
    form = FitTyreForm(request.POST or None, positions=list(cart.wheel_positions.all()), initial=initial)
    if request.method == "POST" and form.is_valid():
        typed = dict(form.cleaned_data)
        where = {name: typed.pop(name) for name in ("position_code", "fitted_at", "depth_mm", "is_fresh")}
        details = wheels.TyreDetails(**typed)
        if attempt(form, wheels.fit_tyre, cart=cart, details=details, by=staff_of(request), at=at, **where):
            messages.success(
                request, f"Tyre {details.serial} is at {where['position_code']} of cart {cart.fleet_number}."
            )
            return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Fit a tyre", button=f"Record the tyre on cart {cart.fleet_number}",
        must="Torque the nuts by the maker’s figures. Fitted now, the cart waits in the yard for the check after 30 minutes.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def tyre_take_off(request: HttpRequest, fitting_id: UUID) -> HttpResponse:
    fitting = get_object_or_404(
        TyreFitting.objects.select_related("tyre", "wheel_position__cart"), pk=fitting_id
    )
    cart, at = fitting.wheel_position.cart, timezone.now()
    form = TakeOffForm(request.POST or None, initial={"taken_off_at": at})
    if posted(request, form, wheels.take_off_tyre, fitting=fitting, at=at):
        messages.success(
            request,
            f"Tyre {fitting.tyre.serial} is off cart {cart.fleet_number}. Record what is fitted instead.",
        )
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title=f"Take off tyre {fitting.tyre.serial}",
        button=f"Take it off cart {cart.fleet_number}", lead=f"It is at {fitting.wheel_position.words}.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def meter_change(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    form = MeterForm(request.POST or None, initial={"changed_at": at, "kind": request.GET.get("kind")})
    meter = posted(request, form, readings.change_meter, cart=cart, at=at)
    if meter is not None:
        messages.success(
            request, f"{meter.get_kind_display()} of cart {cart.fleet_number} count from the new meter."
        )
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Record a meter", button=f"Record the meter of cart {cart.fleet_number}",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def question_settle(request: HttpRequest, question_id: UUID) -> HttpResponse:
    question = get_object_or_404(ReadingQuestion.objects.select_related("cart"), pk=question_id)
    form, cart = SettleForm(request.POST or None), question.cart
    if posted(request, form, readings.settle_question, question=question, at=timezone.now()):
        messages.success(request, f"Settled for cart {cart.fleet_number}.")
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title=f"Settle a reading: {subject_words(question.subject).lower()}",
        button=f"Settle it for cart {cart.fleet_number}", lead=question.question,
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def extinguisher_place(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at = get_object_or_404(Cart, pk=cart_id), timezone.now()
    form = PlaceExtinguisherForm(request.POST or None, cart=cart)
    if request.method == "POST" and form.is_valid():
        typed = dict(form.cleaned_data)
        where = {name: typed.pop(name) for name in ("bracket", "instead_of")}
        details = equipment.ExtinguisherDetails(**typed)
        item = attempt(
            form,
            equipment.place_extinguisher,
            cart=cart,
            details=details,
            by=staff_of(request),
            at=at,
            **where,
        )
        if item is not None:
            messages.success(request, f"Extinguisher {item.serial} is on cart {cart.fleet_number}.")
            return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Put an extinguisher on it", button=f"Record it on cart {cart.fleet_number}",
        note="A serial already on record is that extinguisher: only the bracket is taken from here then.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def extinguisher_service(request: HttpRequest, extinguisher_id: UUID) -> HttpResponse:
    item = get_object_or_404(Extinguisher.objects.select_related("cart"), pk=extinguisher_id)
    form = ServiceForm(request.POST or None, extinguisher=item)
    if posted(request, form, equipment.record_extinguisher_service, extinguisher=item, at=timezone.now()):
        messages.success(request, f"The service of extinguisher {item.serial} is on record.")
        return redirect(known_record_url("extinguisher", item.pk) or "fleet:cart_list")
    return form_page(
        request, form, cart=item.cart, title=f"Service of extinguisher {item.serial}",
        button=f"Record the service of {item.serial}", back=known_record_url("extinguisher", item.pk),
        back_label=f"extinguisher {item.serial}",
        note="Extinguishers are serviced by a licensed technician. Here is written down what is stamped on the tag.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(EVERYBODY)
def extinguisher_used(request: HttpRequest, extinguisher_id: UUID) -> HttpResponse:
    item = get_object_or_404(Extinguisher.objects.select_related("cart"), pk=extinguisher_id)
    form = UsedForm(request.POST or None)
    if posted(request, form, equipment.mark_extinguisher_used, extinguisher=item, at=timezone.now()):
        messages.success(request, f"Extinguisher {item.serial} is out of service until it is charged again.")
        return redirect(known_record_url("extinguisher", item.pk) or "fleet:cart_list")
    return form_page(
        request, form, cart=item.cart, title=f"Extinguisher {item.serial} is used or unfit",
        button=f"Take {item.serial} out of service", back=known_record_url("extinguisher", item.pk),
        back_label=f"extinguisher {item.serial}",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(FLEET_ONLY)
def document_add(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart = get_object_or_404(Cart, pk=cart_id)
    return _document(
        request, cart, title="Record a paper", button=f"Record the paper of cart {cart.fleet_number}"
    )


@require_http_methods(["GET", "POST"])
@for_roles(FLEET_ONLY)
def yard_document_add(request: HttpRequest) -> HttpResponse:
    return _document(
        request, None, title="Record a paper of the whole yard", button="Record the yard’s paper"
    )


def _document(request: HttpRequest, cart: Cart | None, *, title: str, button: str) -> HttpResponse:
    form = DocumentForm(request.POST or None, initial={"kind": request.GET.get("kind")})
    paper = posted(request, form, equipment.record_document, cart=cart, at=timezone.now())
    if paper is not None:
        whose = f"cart {cart.fleet_number}" if cart else "the whole yard"
        messages.success(request, f"{paper.get_kind_display()} of {whose} is on record.")
        return redirect("fleet:cart_detail", cart.pk) if cart else redirect("fleet:cart_list")
    return form_page(request, form, cart=cart, title=title, button=button)
