"""Services offered on site: written down by the desk or the workshop, answered by word, struck out."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from hire.actions import service_offers as acts
from hire.forms import WhyForm
from hire.models.service_offers import ServiceOffer
from hire.service_offer_forms import AnswerForm, OfferForm
from hire.views.asked import line_asked, of_a_hire
from hire.views.off_hire import answer
from people.permissions import for_roles, staff_of

# What is written in beforehand, by the site's clock. Common practice, no source.
FITTERS_BEGIN = time(7)


@require_http_methods(["GET", "POST"])
@for_roles(acts.MAY_OFFER)
def service_offer(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, line = timezone.now(), line_asked(line_id)
    starts = datetime.combine(line.agreement.day(at) + timedelta(days=2), FITTERS_BEGIN, line.agreement.zone)
    initial = {
        "offered_to": line.agreement.customer.contact_name, "offered_at": at, "starts_at": starts,
        "ends_at": starts + timedelta(hours=4), "plan": request.GET.get("plan"),
    }  # fmt: skip
    form = OfferForm(request.POST or None, line=line, initial=initial)

    def act() -> str:
        made = acts.offer_service(line=line, **form.said(), by=staff_of(request), at=at)
        return f"{made.plan.name} is offered to {made.offered_to}. Write the answer down when it comes."

    return answer(
        request,
        line,
        form,
        act,
        f"Offer a service of {line.cart.fleet_number} on site",
        button="Write the offer down",
    )


def _offer(offer_id: UUID) -> ServiceOffer:
    return of_a_hire(get_object_or_404(ServiceOffer.objects.for_list(), pk=offer_id))


@require_http_methods(["GET", "POST"])
@for_roles(acts.MAY_OFFER)
def service_answer(request: HttpRequest, offer_id: UUID) -> HttpResponse:
    at, offer = timezone.now(), _offer(offer_id)
    form = AnswerForm(request.POST or None, initial={"by_words": offer.offered_to, "told_at": at})

    def act() -> str:
        told = form.cleaned_data["told_at"]
        said = acts.answer_offer(offer=offer, said=form.answered(), told_at=told, by=staff_of(request), at=at)
        return f"{offer.plan.name} is {'agreed' if said.is_agreed else 'refused'} by {said.by_words}."

    title = f"The answer to {offer.plan.name} of {offer.line.cart.fleet_number}"
    return answer(request, offer.line, form, act, title, button="Write the answer down")


@require_http_methods(["GET", "POST"])
@for_roles(acts.MAY_OFFER)
def service_strike(request: HttpRequest, offer_id: UUID) -> HttpResponse:
    offer, form = _offer(offer_id), WhyForm(request.POST or None)

    def act() -> str:
        why = form.cleaned_data["why"]
        acts.strike_offer(offer=offer, why=why, by=staff_of(request), at=timezone.now())
        return f"The offer of {offer.plan.name} is struck out. It stays on record."

    title = f"Strike out the offer of {offer.plan.name}"
    return answer(request, offer.line, form, act, title, button="Strike it out")
