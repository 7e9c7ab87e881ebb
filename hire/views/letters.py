"""Papers sent to a customer's people by email, and letters that came back."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from hire.actions import gate, letters
from hire.contact_forms import CameBackForm, LetterForm
from hire.models.contacts import Letter
from hire.views.asked import line_asked
from hire.views.off_hire import answer
from people.permissions import for_roles, staff_of
from people.roles import DESK, EVERYBODY


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def letter_send(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = line_asked(line_id)
    certificate = gate.valid_certificate(line)
    form = LetterForm(request.POST or None, line=line, certificate=certificate)

    def act() -> str:
        made = letters.send_papers(line=line, **form.sent(), by=staff_of(request), at=timezone.now())
        return f"{len(made)} letter{'s go' if len(made) > 1 else ' goes'} out in a moment."

    return answer(request, line, form, act, f"Send a paper of {line.cart.fleet_number}", button="Send it")


def _letter(letter_id: UUID) -> Letter:
    rows = Letter.objects.select_related("line__cart", "line__agreement__customer", "certificate", "pack")
    return get_object_or_404(rows, pk=letter_id)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def letter_came_back(request: HttpRequest, letter_id: UUID) -> HttpResponse:
    letter, form = _letter(letter_id), CameBackForm(request.POST or None)

    def act() -> str:
        words = form.cleaned_data["words"]
        letters.record_came_back(letter=letter, words=words, by=staff_of(request), at=timezone.now())
        return f"The letter to {letter.to_name} is written down as come back."

    return answer(
        request, letter.line, form, act, f"The letter to {letter.to_name} came back", button="Write it down"
    )


@require_POST
@for_roles(DESK)
def letter_settle(request: HttpRequest, letter_id: UUID) -> HttpResponse:
    letter = letters.settle_letter(letter=_letter(letter_id), by=staff_of(request), at=timezone.now())
    messages.success(request, f"The letter to {letter.to_name} is seen to.")
    return redirect("hire:line_detail", letter.line_id)


@require_safe
@for_roles(EVERYBODY)
def letter_open(request: HttpRequest, letter_id: UUID) -> HttpResponse:
    """A letter is shown on the page of its hire."""
    return redirect("hire:line_detail", _letter(letter_id).line_id)
