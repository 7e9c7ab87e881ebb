"""The customers' book."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from hire import tables
from hire.actions import customers
from hire.forms import CustomerForm
from hire.models.agreements import Line
from hire.models.customers import Customer
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK


@require_safe
@for_roles(DESK)
def customer_list(request: HttpRequest) -> HttpResponse:
    words = request.GET.get("q", "").replace("\x00", "").strip()
    found = Customer.objects.filter(name__icontains=words) if words else Customer.objects.all()
    if wants_csv(request):
        return csv_response("customers", tables.CUSTOMER_HEAD, tables.customer_table(found))
    context = {
        "page_title": "Customers",
        "page": Paginator(found, 50).get_page(request.GET.get("page")),
        "words": words,
    }
    return render(request, "hire/customer_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def customer_add(request: HttpRequest) -> HttpResponse:
    form = CustomerForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            customer = customers.add_customer(by=staff_of(request), at=timezone.now(), **form.cleaned_data)
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, f"{customer.name} is in the book.")
            return redirect("hire:customer_detail", customer.pk)
    return _form(request, form, None, "Add a customer")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def customer_change(request: HttpRequest, customer_id: UUID) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=customer_id)
    form = CustomerForm(request.POST or None, instance=customer)
    if request.method == "POST" and form.is_valid():
        try:
            customers.change_customer(
                customer=customer, by=staff_of(request), at=timezone.now(), **form.cleaned_data
            )
        except Refusal as refusal:
            form.add_error(refusal.field, refusal.sentence)
        else:
            messages.success(request, "Saved.")
            return redirect("hire:customer_detail", customer.pk)
    return _form(request, form, customer, f"Change {customer.name}")


@require_safe
@for_roles(DESK)
def customer_detail(request: HttpRequest, customer_id: UUID) -> HttpResponse:
    customer = get_object_or_404(Customer, pk=customer_id)
    if wants_csv(request):
        lines = Line.objects.for_list().filter(agreement__customer=customer)
        hires = tables.hire_table(lines.order_by("-agreement__made_at", "promised", "pk"))
        return csv_response("customer-hires", tables.HIRE_HEAD, hires)
    agreements = customer.agreements.prefetch_related("lines__cart").order_by("-made_at")
    context = {
        "page_title": customer.name,
        "customer": customer,
        "contacts": customer.contacts.current()[:200],
        "page": Paginator(agreements, 25).get_page(request.GET.get("page")),
    }
    return render(request, "hire/customer_detail.html", context)


def _form(request: HttpRequest, form: CustomerForm, customer: Customer | None, title: str) -> HttpResponse:
    back = reverse("hire:customer_detail", args=[customer.pk]) if customer else reverse("hire:customer_list")
    label = customer.name if customer else "customers"
    context = {"page_title": title, "form": form, "back_url": back, "back_label": label}
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)
