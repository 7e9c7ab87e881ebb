"""The site pack of a hire: made, saved, sent and answered."""

from __future__ import annotations

from collections.abc import Callable
from uuid import UUID

from django import forms as django_forms
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.photos import store
from hire.actions import packs
from hire.models.agreements import Line
from hire.models.packs import SitePack
from hire.pack_forms import AnswerForm, SentForm
from hire.views.asked import of_a_hire
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK, EVERYBODY


@require_POST
@for_roles(DESK)
def pack_make(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = get_object_or_404(Line, pk=line_id)
    try:
        pack = packs.make_pack(line=line, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
        return redirect("hire:line_detail", line_id)
    messages.success(request, f"{pack.number} is made; its file follows in a moment.")
    return redirect("hire:pack_detail", pack.pk)


def _pack(pack_id: UUID) -> SitePack:
    return of_a_hire(get_object_or_404(SitePack.objects.for_list(), pk=pack_id))


@require_safe
@for_roles(EVERYBODY)
def pack_detail(request: HttpRequest, pack_id: UUID) -> HttpResponse:
    pack = _pack(pack_id)
    context = {
        "page_title": f"Site pack {pack.number}", "pack": pack, "line": pack.line, "body": pack.body,
        "may_desk": staff_of(request).has_role(DESK),
    }  # fmt: skip
    return render(request, "hire/pack_detail.html", context)


def pack_response(pack: SitePack) -> HttpResponseBase:
    """The file of a pack. Http404 while it is being made."""
    if not hasattr(pack, "file"):
        raise Http404
    return FileResponse(
        store.open(pack.file.stored_name), as_attachment=True, filename=f"{pack.number}.pdf", content_type="application/pdf"
    )  # fmt: skip


@require_safe
@for_roles(EVERYBODY)
def pack_file(request: HttpRequest, pack_id: UUID) -> HttpResponseBase:
    return pack_response(_pack(pack_id))


def _told(
    request: HttpRequest, pack: SitePack, form: django_forms.Form, act: Callable[[], str], title: str
) -> HttpResponse:
    if request.method == "POST" and form.is_valid():
        try:
            messages.success(request, act())
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            return redirect("hire:pack_detail", pack.pk)
    context = {
        "page_title": title, "form": form, "button": "Write it down", "back_label": pack.number,
        "back_url": reverse("hire:pack_detail", args=[pack.pk]),
    }  # fmt: skip
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def pack_sent(request: HttpRequest, pack_id: UUID) -> HttpResponse:
    pack, at = _pack(pack_id), timezone.now()
    customer = pack.line.agreement.customer
    initial = {"sent_at": at, "to_words": ", ".join(filter(None, (customer.contact_name, customer.email)))}
    form = SentForm(request.POST or None, initial=initial)

    def act() -> str:
        packs.record_sent(pack=pack, **form.cleaned_data, by=staff_of(request), at=at)
        return f"{pack.number} is written down as sent."

    return _told(request, pack, form, act, f"{pack.number} was sent")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def pack_answer(request: HttpRequest, pack_id: UUID) -> HttpResponse:
    pack, at = _pack(pack_id), timezone.now()
    form = AnswerForm(request.POST or None, initial={"answered_at": at})

    def act() -> str:
        packs.record_answer(pack=pack, **form.cleaned_data, by=staff_of(request), at=at)
        return f"What the site said of {pack.number} is written down."

    return _told(request, pack, form, act, f"The site’s answer to {pack.number}")
