"""Bookings whose cart is chosen later, and the page that proposes the carts for all of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from uuid import UUID

from django.contrib import messages
from django.core.exceptions import ObjectDoesNotExist, ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.models.carts import Cart
from hire import tables
from hire.actions import bookings
from hire.actions.accept_carts import Accepted, Moving, accept_carts
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
    """The best carts for the open bookings; with ?moves=yes those of hires already promised may change for them. A post accepts
    what is ticked, all of it or nothing."""
    at, refusal, moves = timezone.now(), "", request.GET.get("moves") == "yes"
    pairs, triples = ([one.split(".") for one in request.POST.getlist(name)] for name in ("pair", "move"))
    if request.method == "POST":
        try:
            done = accept_carts(
                chosen=_chosen(pairs), moves=_moving(triples if moves else ()), by=staff_of(request), at=at
            )
        except Refusal as refused:
            refusal = refused.sentence
        else:
            messages.success(request, _promised(done))
            return redirect("hire:booking_list")
    found = propose(at=at, moves=moves)
    if wants_csv(request, "moves"):
        return csv_response("promised-hires-moved", tables.MOVE_HEAD, tables.move_table(found))
    if wants_csv(request):
        return csv_response("carts-for-bookings", tables.CHOICE_HEAD, tables.choice_table(found))
    context = {
        "page_title": "Carts for the open bookings",
        "found": found,
        "moves": moves,
        "refusal": refusal,
        # What somebody unticked stays so when the page comes back; at first all are ticked but carts that something stops.
        "ticked": {one[0] for one in (*pairs, *triples)} if refusal else found.ticked,
    }
    return render(request, "hire/booking_list.html", context, status=422 if refusal else 200)


NOT_ON_RECORD = "A booking, a hire or a cart that was ticked is not on record. Look at the page again."


def _chosen(pairs: Iterable[Sequence[str]]) -> dict[Booking, Cart]:
    """The bookings that were ticked. NothingChosen for one, or a cart, that is not on record."""
    try:
        return {Booking.objects.get(pk=booking): Cart.objects.get(pk=cart) for booking, cart in pairs}
    except (ObjectDoesNotExist, ValidationError, ValueError) as error:
        raise bookings.NothingChosen(NOT_ON_RECORD) from error


def _moving(triples: Iterable[Sequence[str]]) -> list[Moving]:
    """The hires that were ticked to have another cart. NothingChosen for what is not on record."""
    try:
        return [
            Moving(
                Line.objects.for_list().get(pk=line), Cart.objects.get(pk=cart), Cart.objects.get(pk=before)
            )
            for line, cart, before in triples
        ]
    except (ObjectDoesNotExist, ValidationError, ValueError) as error:
        raise bookings.NothingChosen(NOT_ON_RECORD) from error


def _promised(done: Accepted) -> str:
    promised, moved = (
        [f"{line.cart.fleet_number} on {line.agreement.number}" for line in lines]
        for lines in (done.promised, done.moved)
    )
    more = f" and {len(promised) - 5} more" if len(promised) > 5 else ""
    words = f"Promised: {', '.join(promised[:5])}{more}."
    return f"{words} Another cart goes now: {', '.join(moved)}." if moved else words


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
