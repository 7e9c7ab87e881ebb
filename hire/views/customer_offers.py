"""What the customer's person answers to a service offered on site."""

from __future__ import annotations

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from hire.actions.service_offers import answer_by_link
from hire.models.links import CustomerLink
from hire.models.service_offers import ServiceOffer
from hire.rights import IN_CHARGE
from hire.service_offer_forms import AnswerByLinkForm
from hire.service_offers import window_words
from hire.views.customer_calls import answer_page
from hire.views.customer_pages import link_lines
from hire.views.links import through_a_link


@csrf_exempt
@through_a_link("GET", "POST", rights=IN_CHARGE)
def link_service(request: HttpRequest, link: CustomerLink, offer_id: UUID) -> HttpResponse:
    """A service of this hire's cart, offered on site, answered by the supervisor."""
    at = timezone.now()
    offers = ServiceOffer.objects.standing().filter(line__in=link_lines(link)).for_list()
    offer = offers.filter(pk=offer_id).first()
    if offer is None:
        raise Http404
    form = AnswerByLinkForm(request.POST or None, initial={"by_words": link.for_words})

    def act() -> str:
        answer_by_link(offer=offer, link=link, said=form.answered(), at=at)
        return ""

    access = f" It needs: {offer.access_words}." if offer.access_words else ""
    words = {
        "page_title": f"{offer.plan.name} of {offer.line.cart.fleet_number}",
        "lead": f"The yard offers to do it on site, {window_words(offer, at=at)}.{access} Your answer is kept with the hire under "
        "your name and this time.",
        "button": "Send the answer",
        "on_call": "",
    }
    return answer_page(request, form, act, words)
