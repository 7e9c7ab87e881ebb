"""Whether the name under a walk-round stands: its author says under their own sign-in that it was them; a check signed on
site is accepted by a manager."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from inspections.acceptance import accept_check
from inspections.actions import confirm_name
from inspections.models import WalkRound
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import EVERYBODY, MANAGERS
from people.tablets.here import began_by_pin


@require_POST
@for_roles(EVERYBODY)
def name_confirm(request: HttpRequest, walk_id: UUID) -> HttpResponse:
    walk = get_object_or_404(WalkRound, pk=walk_id)
    try:
        confirm_name(
            walk=walk,
            by=staff_of(request),
            at=timezone.now(),
            how="pin" if began_by_pin(request) else "session",
        )
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "Your name under this walk-round is confirmed.")
    return redirect("inspections:walk_round_detail", walk_id)


@require_POST
@for_roles(MANAGERS)
def check_accept(request: HttpRequest, walk_id: UUID) -> HttpResponse:
    walk = get_object_or_404(WalkRound, pk=walk_id)
    try:
        accept_check(walk=walk, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "Accepted. From now this check counts, under your name beside theirs.")
    return redirect("inspections:walk_round_detail", walk_id)
