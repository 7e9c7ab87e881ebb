"""Questions worth asking about walk-rounds: the list, and putting one to rest. For managers alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.views.asking import attempt, form_page
from inspections.forms import RestQuestionForm
from inspections.honesty import Asked, questions_of
from inspections.models import WalkRound
from inspections.questions import may_see_questions, rest_question
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.roles import MANAGERS

# What a yard of forty carts signs in a day.
A_PAGE = 100
# What went before each walk-round is read for every one of them, so the whole book would keep a manager waiting.
A_FILE = 500
QUESTION_HEAD = (
    "Cart",
    "Check",
    "Signed",
    "By",
    "Worth asking",
    "Put to rest",
    "Put to rest by",
    "Found out",
)
STANDING = (("open", "Still to be asked"), ("all", "With those put to rest"))


@dataclass(frozen=True)
class Row:
    walk: WalkRound
    asked: list[Asked]


def _rows(walks: list[WalkRound], *, show: str) -> list[Row]:
    """Those with a question, each with its questions; show: open leaves out what was put to rest."""
    found = questions_of(walks, once_a_person=True)
    rows = [Row(walk, [one for one in found[walk.pk] if show == "all" or not one.rest]) for walk in walks]
    return [row for row in rows if row.asked]


def _table(rows: list[Row]) -> Iterator[tuple[object, ...]]:
    for row in rows:
        walk = row.walk
        for one in row.asked:
            rest = (
                (one.rest.rested_at, one.rest.rested_by.full_name, one.rest.words)
                if one.rest
                else ("", "", "")
            )
            yield (
                walk.cart.fleet_number, walk.get_purpose_display(), walk.signed_at, walk.signature_name, one.sign.question, *rest,
            )  # fmt: skip


@require_safe
@for_roles(MANAGERS)
def question_list(request: HttpRequest) -> HttpResponse:
    """Recent walk-rounds about which something is worth asking; one's own are left to the other manager."""
    show = "all" if request.GET.get("show") == "all" else "open"
    walks = WalkRound.objects.exclude(author=staff_of(request)).select_related("cart", "author")
    walks = walks.defer("manifest")
    if wants_csv(request):
        return csv_response("questions", QUESTION_HEAD, _table(_rows(list(walks[:A_FILE]), show=show)))
    page = Paginator(walks, A_PAGE).get_page(request.GET.get("page"))
    on_page = list(page.object_list)
    context = {
        "page_title": "Questions worth asking",
        "page": page,
        "rows": _rows(on_page, show=show),
        "newest": on_page[0] if on_page else None,
        "oldest": on_page[-1] if on_page else None,
        "looked_at": len(on_page),
        "standing": STANDING,
        "show": show,
        "file_of": A_FILE,
    }
    return render(request, "inspections/question_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(MANAGERS)
def question_rest(request: HttpRequest, walk_id: UUID, code: str) -> HttpResponse:
    """One question and what was found out about it. Not there for who signed the walk-round, nor where nothing is asked."""
    person = staff_of(request)
    walk = get_object_or_404(WalkRound.objects.select_related("cart", "author", "edition"), pk=walk_id)
    if not may_see_questions(person, walk):
        raise Http404
    asked = next((one for one in questions_of([walk])[walk.pk] if one.sign.code == code), None)
    if asked is None:
        raise Http404
    form = RestQuestionForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        rested = attempt(
            form, rest_question, walk=walk, sign=asked.sign, by=person, at=timezone.now(), **form.cleaned_data
        )
        if rested:
            messages.success(request, "Put to rest. It stays on record with your words.")
            return redirect("inspections:walk_round_detail", walk.pk)
    return form_page(
        request,
        form,
        title="Put a question to rest",
        button="Put it to rest",
        back=reverse("inspections:walk_round_detail", args=[walk.pk]),
        back_label=f"the {walk.get_purpose_display().lower()} of {walk.cart.fleet_number}",
        template="inspections/question_rest.html",
        walk=walk,
        asked=asked,
    )
