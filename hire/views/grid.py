"""The grid of hires."""

from __future__ import annotations

from datetime import date, timedelta

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from fleet.board import answers_for
from fleet.models.carts import Cart
from fleet.yards import yards_for
from hire.grid import ROW_HEIGHT, Scale, grid
from people.permissions import for_roles
from people.roles import DESK, MANAGERS
from people.yard import yard_day

PAGE = 100
SPANS = [("14", "2 weeks"), ("28", "4 weeks"), ("91", "13 weeks")]
USUAL_DAYS = 28


class GridForm(forms.Form):
    """How the grid is narrowed; what is wrong counts as not said."""

    since = forms.DateField(
        label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    days = forms.TypedChoiceField(label="Shown", choices=SPANS, coerce=int, required=False)
    cart = forms.CharField(label="Cart", max_length=12, required=False)


def _asked(request: HttpRequest, *, on: date) -> tuple[GridForm, date, int, str]:
    monday = on - timedelta(days=on.weekday())
    form = GridForm(
        {"since": monday, "days": str(USUAL_DAYS)}
        | {key: value for key, value in request.GET.items() if value}
    )
    form.is_valid()
    since = form.cleaned_data.get("since") or monday
    near = since if abs((since - on).days) < 3650 else monday
    return form, near, form.cleaned_data.get("days") or USUAL_DAYS, form.cleaned_data.get("cart") or ""


@require_safe
@for_roles(DESK | MANAGERS)
def hire_grid(request: HttpRequest) -> HttpResponse:
    at = timezone.now()
    form, since, days, number = _asked(request, on=yard_day(at))
    yards = yards_for(request)
    carts = yards.narrow(Cart.objects.in_fleet(on=yard_day(at)).order_by("fleet_number"))
    page = Paginator(carts.found_by(number) if number else carts, PAGE).get_page(request.GET.get("page"))
    scale, shown = Scale(since, days), list(page)
    answers = answers_for(shown, at=at)
    rows = [(row, answers[row.cart][1]) for row in grid(shown, scale, at=at)]
    context = {
        "page_title": "Grid of hires",
        "filters": form,
        "is_narrowed": bool(number or yards.name),
        "yards": yards,
        "page": page,
        "rows": rows,
        "scale": scale,
        "ticks": list(scale.ticks()),
        "rest_head": scale.rest_path(18, 22),
        "rest_row": scale.rest_path(0, ROW_HEIGHT),
        "now_x": scale.x(at) if scale.span[0] <= at < scale.span[1] else None,
        "height": ROW_HEIGHT,
        "before": since - timedelta(days=days),
        "after": since + timedelta(days=days),
    }
    return render(request, "hire/grid.html", context)
