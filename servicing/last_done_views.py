"""The page of one service over all its carts, filled in from the yard's own list."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.models.carts import Cart
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import WORKSHOP
from people.yard import yard_day
from servicing.last_done import LastDoneRow, kinds_of, rows_of
from servicing.last_done_actions import SomeDoNotFit, record_services
from servicing.last_done_forms import WhoForm
from servicing.models.plans import ServiceDone, ServicePlan
from servicing.service_book import carts_of, plans_in_force
from servicing.service_forms import whose_words
from servicing.service_pages import interval_words

PAGE = 100


def _posted_carts(request: HttpRequest) -> list[Cart]:
    """The carts that were on the page: the pages of the list may have shifted since."""
    ids = set()
    for word in request.POST.getlist("cart")[:PAGE]:
        try:
            ids.add(UUID(word))
        except ValueError:
            continue
    return list(Cart.objects.filter(pk__in=ids).order_by("fleet_number"))


def _recorded(
    request: HttpRequest, plan: ServicePlan, rows: list[LastDoneRow], who: WhoForm, *, at: datetime
) -> tuple[list[ServiceDone], str]:
    """What was recorded, and what to say where nothing was; the sentences of single rows are put on their forms."""
    forms = {row.cart.pk: row.form for row in rows if row.form.is_filled}
    if not forms:
        return [], "Fill in the row of at least one cart: the day, and what its meters showed."
    sound = [form.is_valid() for form in forms.values()]
    if not (who.is_valid() and all(sound)):
        return [], "Nothing is recorded yet: put right what is told beside each cart, or empty its row."
    filled = [form.row() for form in forms.values()]
    by_words = who.cleaned_data["by_words"]
    try:
        return record_services(plan=plan, rows=filled, by_words=by_words, by=staff_of(request), at=at), ""
    except SomeDoNotFit as no:
        for cart_id, why in no.refused.items():
            forms[cart_id].refuse(why)
        return [], no.sentence
    except Refusal as no:
        return [], no.sentence


@require_http_methods(["GET", "POST"])
@for_roles(WORKSHOP)
def last_done(request: HttpRequest, plan_id: UUID) -> HttpResponse:
    """When each cart's service was last done; what is filled in is recorded, all of it or nothing."""
    plan = get_object_or_404(ServicePlan.objects.select_related("cart").filter(ended_on=None), pk=plan_id)
    at, typed, refusal = timezone.now(), request.POST or None, ""
    asked = request.method == "POST"
    page = Paginator(
        carts_of(plan, plans_in_force(), on=yard_day(at)).order_by("fleet_number"), PAGE
    ).get_page(request.GET.get("page"))
    rows = rows_of(_posted_carts(request) if asked else list(page), plan, typed=typed, at=at)
    who = WhoForm(typed)
    if asked:
        done, refusal = _recorded(request, plan, rows, who, at=at)
        if done:
            carts = "1 cart" if len(done) == 1 else f"{len(done)} carts"
            messages.success(request, f"The {plan.name} is on record for {carts}.")
            return redirect(request.get_full_path())
    context = {
        "page_title": f"Last done, all carts: {plan.name}",
        "plan": plan,
        "whose": whose_words(plan),
        "interval": interval_words(plan),
        "kinds": kinds_of(plan),
        # Emptied by others meanwhile, the page shows the list again.
        "rows": rows or rows_of(list(page), plan, at=at),
        "page": page,
        "who": who,
        "refusal": refusal,
        "faults": [(one, target) for row in rows if row.form.is_bound and row.form.is_filled
                   for target, told in row.form.faults for one in told],
    }  # fmt: skip
    return render(request, "servicing/last_done.html", context, status=422 if asked else 200)
