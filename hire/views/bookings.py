"""Bookings whose cart is chosen later, and the page that proposes the carts for all of them."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.models.carts import Cart
from hire import tables
from hire.actions import bookings
from hire.booking_carts import propose
from hire.enquiry_forms import BookingForm
from hire.forms import WhyForm
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.job_plans import JobPlan
from hire.models.pencils import Pencil
from hire.models.quotes import Quote
from hire.needs_forms import carried
from hire.quote_rows import quoted_words
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK
from people.yard import yard_day


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def booking_list(request: HttpRequest) -> HttpResponse:
    """The best carts for the open bookings; a post promises those that are ticked, all of them or none."""
    at, refusal = timezone.now(), ""
    pairs = [pair.partition(".")[::2] for pair in request.POST.getlist("pair")]
    if request.method == "POST":
        try:
            lines = bookings.promise_bookings(chosen=_chosen(pairs), by=staff_of(request), at=at)
        except Refusal as refused:
            refusal = refused.sentence
        else:
            messages.success(request, _promised(lines))
            return redirect("hire:booking_list")
    found = propose(at=at)
    if wants_csv(request):
        return csv_response("carts-for-bookings", tables.CHOICE_HEAD, tables.choice_table(found))
    context = {
        "page_title": "Carts for the open bookings",
        "found": found,
        "refusal": refusal,
        # What somebody unticked stays so when the page comes back; at first all are ticked but carts that something stops.
        "ticked": {booking for booking, _ in pairs}
        if refusal
        else {str(one.booking.pk) for one in found.choices if one.state != "held"},
    }
    return render(request, "hire/booking_list.html", context, status=422 if refusal else 200)


def _chosen(pairs: Iterable[tuple[str, str]]) -> dict[Booking, Cart]:
    """What was ticked. NothingChosen for a booking or a cart that is not on record."""
    try:
        return {Booking.objects.get(pk=booking): Cart.objects.get(pk=cart) for booking, cart in pairs}
    except (Booking.DoesNotExist, Cart.DoesNotExist, ValidationError) as error:
        raise bookings.NothingChosen(
            "A booking or a cart that was ticked is not on record. Look at the page again."
        ) from error


def _promised(lines: list[Line]) -> str:
    words = [f"{line.cart.fleet_number} on {line.agreement.number}" for line in lines]
    more = f" and {len(words) - 5} more" if len(words) > 5 else ""
    return f"Promised: {', '.join(words[:5])}{more}."


def _back() -> dict[str, str]:
    return {"back_url": reverse("hire:booking_list"), "back_label": "the open bookings"}


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def booking_add(request: HttpRequest) -> HttpResponse:
    # What was asked on the way here is not typed twice.
    at = timezone.now()
    pencil = Pencil.objects.standing_by(request.GET.get("pencil", ""), at=at)
    quote = Quote.objects.named(request.GET.get("quote", "")) or Quote.objects.of_pencil(pencil)
    initial = carried(request.GET, BookingForm.base_fields, pencil, quote)
    plan = JobPlan.objects.named(request.GET.get("plan", ""))
    form = BookingForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        try:
            booking = bookings.make_booking(
                **form.booked(), pencil=pencil, plan=plan, quote=quote, by=staff_of(request), at=at
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"Booked for {booking.customer.name}. Its cart is chosen here.")
            return redirect("hire:booking_list")
    context = {"page_title": "Book a hire, cart chosen later", "form": form, "button": "Book it", **_back()}
    context |= quoted_words(quote, on=yard_day(at))
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def booking_cancel(request: HttpRequest, booking_id: UUID) -> HttpResponse:
    booking = get_object_or_404(Booking.objects.for_list(), pk=booking_id)
    form = WhyForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            bookings.cancel_booking(
                booking=booking, why=form.cleaned_data["why"], by=staff_of(request), at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(None, refusal.sentence)
        else:
            messages.success(request, f"The booking of {booking} is cancelled.")
            return redirect("hire:booking_list")
    context = {
        "page_title": f"Cancel the booking of {booking}",
        "form": form,
        "button": "Cancel the booking",
        **_back(),
    }
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_safe
@for_roles(DESK)
def booking_open(request: HttpRequest, booking_id: UUID) -> HttpResponse:
    """A booking is shown among those whose carts are chosen; one that became a hire, on the page of that."""
    booking = get_object_or_404(Booking, pk=booking_id)
    if booking.line_id:
        return redirect("hire:line_detail", booking.line_id)
    return redirect("hire:booking_list")
