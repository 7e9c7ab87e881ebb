"""The weekly copy of pre-starts that are not kept with us, at the desk."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.views.asking import photos_taken_in
from hire.actions.copies import MOST_PAGES, keep_copy, say_no_copy
from hire.copies import copy_weeks, weeks_on_hire
from hire.copy_forms import CopyForm, NoCopyForm
from hire.models.agreements import Line
from hire.views.asked import line_asked
from hire.views.off_hire import answer
from people.permissions import for_roles, staff_of
from people.roles import DESK


def _initial(request: HttpRequest, who: str, line: Line) -> dict[str, str]:
    """The week the button was of, and the hire's contact."""
    week = request.GET.get("week")
    return {who: line.agreement.customer.contact_name} | ({"week": week} if week else {})


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def copy_keep(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, by = timezone.now(), staff_of(request)
    line = line_asked(line_id)
    data, faults = request.POST.copy(), list[str]()
    if request.method == "POST":
        kept, faults = photos_taken_in(request, by=by, at=at, most=MOST_PAGES)
        data.setlist("kept_photos", kept)
    form = CopyForm(
        data or None, weeks=weeks_on_hire(line, at=at), known=copy_weeks([line], at=at)[line.pk],
        initial=_initial(request, "sent_by_words", line),
    )  # fmt: skip
    for sentence in faults:
        form.add_error("photos", sentence)

    def act() -> str:
        typed = form.cleaned_data
        pages = keep_copy(
            line=line, week_on=typed["week"], photos=typed.get("kept_photos", []), sent_by_words=typed["sent_by_words"], by=by,
            at=at,
        )  # fmt: skip
        return f"The copy is kept, {len(pages)} new." if pages else "These pages were here already."

    return answer(
        request, line, form, act, f"Copy of the pre-starts of {line.cart.fleet_number}", button="Keep it"
    )


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def copy_none(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at = timezone.now()
    line = line_asked(line_id)
    form = NoCopyForm(
        request.POST or None, weeks=weeks_on_hire(line, at=at), known=copy_weeks([line], at=at)[line.pk],
        initial=_initial(request, "told_by_words", line),
    )  # fmt: skip

    def act() -> str:
        typed = form.cleaned_data
        say_no_copy(
            line=line, week_on=typed["week"], why=typed["why"], told_by_words=typed["told_by_words"], by=staff_of(request), at=at
        )  # fmt: skip
        return "Written down: no copy of that week will come."

    title = f"No copy of the pre-starts of {line.cart.fleet_number}"
    return answer(request, line, form, act, title, button="Write it down")
