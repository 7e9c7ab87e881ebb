"""The capture page's shell, and the pages of signed walk-rounds."""

from __future__ import annotations

from collections.abc import Iterator
from uuid import UUID

from django.contrib.auth.decorators import login_not_required
from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, render
from django.templatetags.static import static
from django.urls import reverse
from django.views.decorators.gzip import gzip_page
from django.views.decorators.http import require_safe

from fleet.lap.stations import STATIONS, station
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from inspections.acceptance import ACCEPTING
from inspections.editions import value_words
from inspections.honesty import questions_of
from inspections.models import PURPOSES, Answer, AnswerPhoto, WalkRound
from inspections.querysets import WalkRoundQuerySet
from inspections.questions import may_see_questions
from inspections.shell import shell_html, shell_set, worker_script
from inspections.vocabulary import GRADES
from inspections.wording import AnswerLine, answer_lines, clock_words
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import EVERYBODY, MANAGERS


@login_not_required
@require_safe
@gzip_page
def capture(request: HttpRequest) -> HttpResponse:
    """The same HTML for every person, signed in or not: who it is and what is due comes over the wire."""
    headers = {"Cache-Control": "no-cache", "X-Slake-Set": shell_set()}
    return HttpResponse(shell_html(), headers=headers)


@login_not_required
@require_safe
def capture_worker(request: HttpRequest) -> HttpResponse:
    script = worker_script(shell=reverse("inspections:capture"))
    return HttpResponse(script, content_type="text/javascript", headers={"Cache-Control": "no-cache"})


@login_not_required
@require_safe
def site_manifest(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """What lets a customer's phone keep the pre-start of one hire among its own programs. The hire's id opens nothing."""
    page = reverse("inspections:capture")
    content = {
        "name": "Pre-start",
        "short_name": "Pre-start",
        "id": f"{page}?hire={line_id}",
        "start_url": f"{page}?hire={line_id}",
        "scope": page,
        "display": "standalone",
        "background_color": "#fcfbf6",
        "theme_color": "#fcfbf6",
        "icons": [{"src": static("icons/slake.svg"), "sizes": "any", "type": "image/svg+xml"}],
    }
    return JsonResponse(
        content, content_type="application/manifest+json", headers={"Cache-Control": "no-cache"}
    )


WALK_HEAD = ("Cart", "Check", "Signed", "Received", "By", "Outcome", "Sheet issue", "SHA-256")


def _walk_table(walks: WalkRoundQuerySet) -> Iterator[tuple[object, ...]]:
    for walk in walks.iterator(chunk_size=500):
        yield (
            walk.cart.fleet_number, walk.get_purpose_display(), walk.signed_at, walk.received_at, walk.author_words,
            walk.get_outcome_display(), walk.edition.number, walk.manifest_sha256,
        )  # fmt: skip


@require_safe
@for_roles(EVERYBODY)
def walk_round_list(request: HttpRequest) -> HttpResponse:
    walks, purpose = WalkRound.objects.for_list(), request.GET.get("purpose", "")
    if purpose in dict(PURPOSES):
        walks = walks.filter(purpose=purpose)
    if words := request.GET.get("cart", "").replace("\x00", "").strip():
        walks = walks.filter(cart__in=Cart.objects.found_by(words).values("pk"))
    if wants_csv(request):
        return csv_response("walk-rounds", WALK_HEAD, _walk_table(walks))
    context = {
        "page_title": "Walk-rounds",
        "page": Paginator(walks, 50).get_page(request.GET.get("page")),
        "purposes": PURPOSES,
        "purpose": purpose,
        "cart_words": words,
        "may_ask": staff_of(request).has_role(MANAGERS),
    }
    return render(request, "inspections/walk_round_list.html", context)


ANSWER_HEAD = (
    "Station", "Check", "Where", "Answer", "Said", "Value", "Unit", "Limit", "Grade", "Photos", "Answered",
)  # fmt: skip


GRADE_LABELS = {grade.key: grade.label for grade in GRADES}


def _answer_table(answers: list[Answer]) -> Iterator[tuple[object, ...]]:
    for line in answer_lines(answers):
        one = line.answer
        yield (
            station(one.station).label, one.title, line.where, line.words, line.said, value_words(one), one.unit,
            line.limit_words, GRADE_LABELS.get(one.grade, ""), len(line.photos), one.answered_at,
        )  # fmt: skip


def _by_station(answers: list[Answer]) -> list[tuple[str, list[AnswerLine]]]:
    lines = answer_lines(answers)
    return [
        (place.label, [line for line in lines if line.answer.station == place.key])
        for place in STATIONS
        if any(line.answer.station == place.key for line in lines)
    ]


@require_safe
@for_roles(EVERYBODY)
def walk_round_detail(request: HttpRequest, walk_id: UUID) -> HttpResponse:
    walk = get_object_or_404(
        WalkRound.objects.with_name().select_related("cart", "author", "sent_by", "site_walker", "edition"),
        pk=walk_id,
    )
    photos = Prefetch("photos", AnswerPhoto.objects.select_related("photo"))
    answers = list(walk.answers.order_by("number").prefetch_related(photos))
    if wants_csv(request):
        return csv_response("walk-round-answers", ANSWER_HEAD, _answer_table(answers))
    context = {
        "page_title": f"{walk.get_purpose_display()}, {walk.cart.fleet_number}",
        "walk": walk,
        "may_accept": staff_of(request).has_role(MANAGERS) and walk.asks_acceptance,
        "photos": [photo for line in answer_lines(answers) for photo in line.photos]
        if walk.asks_acceptance
        else [],
        "accepting": ACCEPTING,
        "is_author": walk.author_id == staff_of(request).pk,
        "clock": clock_words(walk.clock_offset),
        "stations": _by_station(answers),
        "wrong": [line for line in answer_lines(answers) if line.answer.grade],
        "not_done": [line for line in answer_lines(answers) if line.answer.answer == "could_not_check"],
        "defects": Defect.objects.filter(source_kind="walk_round", source_id=walk.pk).for_list(),
        "asked": questions_of([walk])[walk.pk] if may_see_questions(staff_of(request), walk) else [],
    }
    return render(request, "inspections/walk_round_detail.html", context)
