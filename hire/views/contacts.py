"""The customer's people, and the order number of a hire."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from hire.actions import contacts
from hire.actions.orders import set_order
from hire.contact_forms import ContactForm, OrderForm
from hire.models.contacts import Contact
from hire.models.customers import Customer
from hire.views.asked import line_asked
from hire.views.off_hire import answer
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK


def _form(
    request: HttpRequest, form: ContactForm, customer: Customer, title: str, button: str
) -> HttpResponse:
    context = {
        "page_title": title, "form": form, "button": button, "back_label": customer.name,
        "back_url": reverse("hire:customer_detail", args=[customer.pk]),
    }  # fmt: skip
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def contact_add(request: HttpRequest, customer_id: UUID) -> HttpResponse:
    customer, form = get_object_or_404(Customer, pk=customer_id), ContactForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            made = contacts.add_contact(
                customer=customer, by=staff_of(request), at=timezone.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, f"{made.name} is in the book.")
            return redirect("hire:customer_detail", customer.pk)
    return _form(request, form, customer, f"Somebody of {customer.name}", "Add this person")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def contact_change(request: HttpRequest, contact_id: UUID) -> HttpResponse:
    contact = get_object_or_404(Contact, pk=contact_id)
    form = ContactForm(request.POST or None, instance=contact)
    if request.method == "POST" and form.is_valid():
        try:
            contacts.change_contact(
                contact=contact, by=staff_of(request), at=timezone.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, "Saved.")
            return redirect("hire:customer_detail", contact.customer_id)
    return _form(request, form, contact.customer, f"Change {contact.name}", "Save")


@require_POST
@for_roles(DESK)
def contact_end(request: HttpRequest, contact_id: UUID) -> HttpResponse:
    contact = get_object_or_404(Contact, pk=contact_id)
    try:
        contacts.end_contact(contact=contact, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(
            request, f"{contact.name} is out of the book; the links sent to them open nothing any more."
        )
    return redirect("hire:customer_detail", contact.customer_id)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def order_set(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = line_asked(line_id)
    about = line.agreement
    initial = {"order_number": about.order_number, "order_value": about.order_value}
    form = OrderForm(request.POST if request.method == "POST" else None, initial=initial)

    def act() -> str:
        set_order(agreement=about, **form.cleaned_data, by=staff_of(request), at=timezone.now())
        return "The order number is written down."

    return answer(request, line, form, act, f"Order number of {about.number}", button="Save")
