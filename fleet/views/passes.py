"""Passing by authority: given by a manager here, entered as spoken by one on the phone, confirmed, disowned, closed."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.actions import passes as actions
from fleet.actions import spoken_passes
from fleet.models.carts import Cart
from fleet.models.standing import Pass
from fleet.pass_forms import PassForm, SpokenPassForm
from fleet.pass_page import pass_facts
from fleet.passing import may_pass
from fleet.readiness import Blocker, Record, readiness
from fleet.screens import times_passed
from fleet.views.asking import form_page, photo_of, posted, press
from people.permissions import for_roles, staff_of
from people.roles import AT_THE_GATE, EVERYBODY, MANAGERS
from people.templatetags.screen import counted
from people.yard import yard_policy


def _asked_for(request: HttpRequest, cart: Cart, *, at: datetime) -> Blocker:
    """The blocker the address names, as it stands now. 404 when it does not stop the cart any more."""
    try:
        record = Record(request.GET["kind"], UUID(request.GET["record"]))
        rule = request.GET["rule"]
    except (KeyError, ValueError) as error:
        raise Http404("No such thing stops this cart.") from error
    answer = readiness(cart, window=actions.window_of(cart, at=at), at=at)
    for blocker in answer.blockers:
        if (blocker.code, blocker.record) == (rule, record):
            return blocker
    raise Http404("No such thing stops this cart.")


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def pass_give(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    cart, at, person = get_object_or_404(Cart, pk=cart_id), timezone.now(), staff_of(request)
    blocker = _asked_for(request, cart, at=at)
    form = PassForm(request.POST or None, request.FILES or None, rule=blocker.code, by=person)
    subject = {"cart": cart, "code": blocker.code, "record": blocker.record}
    photo = photo_of(form, by=person, at=at)
    if posted(request, form, actions.give_pass, **subject, photo=photo, at=at):
        messages.success(
            request,
            f"Passed for cart {cart.fleet_number}. It stands on the list until somebody closes it.",
        )
        return redirect("fleet:cart_detail", cart.pk)
    return form_page(
        request, form, cart=cart, title="Pass by authority", button=f"Pass this for cart {cart.fleet_number}",
        lead=blocker.sentence,
        must="You answer for this by name: it is printed on the certificate. Passed twice, a third time is refused.",
    )  # fmt: skip


@require_http_methods(["GET", "POST"])
@for_roles(AT_THE_GATE)
def pass_enter(request: HttpRequest, cart_id: UUID) -> HttpResponse:
    """A pass that a manager gives by phone, entered by whoever rang."""
    cart, at, person = get_object_or_404(Cart, pk=cart_id), timezone.now(), staff_of(request)
    blocker = _asked_for(request, cart, at=at)
    allowed = may_pass(blocker, turn=times_passed(cart)[blocker.code, blocker.record] + 1)
    form = SpokenPassForm(
        request.POST or None, request.FILES or None, rule=blocker.code, by=person, allowed=allowed, initial={"spoken_at": at}
    )  # fmt: skip
    subject = {"cart": cart, "code": blocker.code, "record": blocker.record}
    photo = photo_of(form, by=person, at=at)
    if given := posted(request, form, spoken_passes.enter_spoken_pass, **subject, photo=photo, at=at):
        messages.success(
            request,
            f"Passed by phone for cart {cart.fleet_number}. {given.given_by.full_name} has to confirm it.",
        )
        return redirect("fleet:cart_detail", cart.pk)
    hours = counted(yard_policy().spoken_pass_for // actions.HOUR, "hour,hours")
    return form_page(
        request, form, cart=cart, title="Passed by phone", button=f"Enter the pass for cart {cart.fleet_number}",
        lead=blocker.sentence,
        must="The manager you spoke to answers for it by name, and your name stands beside theirs. They confirm it by their own "
        f"sign-in within {hours}; after that it lets the cart go no longer.",
    )  # fmt: skip


@require_safe
@for_roles(EVERYBODY)
def pass_detail(request: HttpRequest, pass_id: UUID) -> HttpResponse:
    related = ("cart", "given_by", "entered_by", "second_person", "closed_by")
    given, person = get_object_or_404(Pass.objects.select_related(*related), pk=pass_id), staff_of(request)
    is_manager = person.has_role(MANAGERS)
    context = {
        "page_title": f"A pass: cart {given.cart.fleet_number}",
        "given": given,
        "at": timezone.now(),
        "facts": pass_facts(given),
        "may_answer": is_manager and given.is_unanswered and given.given_by == person,
        "may_manage": is_manager,
    }
    return render(request, "fleet/pass_detail.html", context)


@require_POST
@for_roles(MANAGERS)
def pass_confirm(request: HttpRequest, pass_id: UUID) -> HttpResponse:
    given = get_object_or_404(Pass.objects.select_related("cart"), pk=pass_id)
    done = f"Confirmed: you passed this for cart {given.cart.fleet_number}."
    press(request, spoken_passes.confirm_pass, given=given, done=done, at=timezone.now())
    return redirect("fleet:pass_detail", given.pk)


@require_POST
@for_roles(MANAGERS)
def pass_disown(request: HttpRequest, pass_id: UUID) -> HttpResponse:
    given = get_object_or_404(Pass.objects.select_related("cart"), pk=pass_id)
    done = f"Closed: you did not pass this, and it stops cart {given.cart.fleet_number} again."
    press(request, spoken_passes.disown_pass, given=given, done=done, at=timezone.now())
    return redirect("fleet:pass_detail", given.pk)


@require_POST
@for_roles(MANAGERS)
def pass_close(request: HttpRequest, pass_id: UUID) -> HttpResponse:
    given = get_object_or_404(Pass.objects.select_related("cart"), pk=pass_id)
    done = f"Closed for cart {given.cart.fleet_number}: {given.found}"
    press(request, actions.close_pass, given=given, done=done, at=timezone.now())
    return redirect("fleet:cart_detail", given.cart_id)
