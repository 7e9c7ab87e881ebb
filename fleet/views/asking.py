"""What every form page of the fleet does alike: ask, act once, and come back with what was typed when the rules say no."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import ParamSpec, TypeVar, cast

from django import forms
from django.contrib import messages
from django.core.files.uploadedfile import UploadedFile
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse

from fleet.actions.photos import keep_photo
from fleet.forms import WithPhoto
from fleet.models.carts import Cart
from fleet.models.photos import Photo
from fleet.photos.refusals import PhotoRefused
from people.models import Staff
from people.permissions import staff_of
from people.refusals import Refusal

P = ParamSpec("P")
T = TypeVar("T")


def attempt(form: forms.Form, call: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T | None:
    """What the action gives back, or None with its refusal put on the form, at the field at fault where there is one."""
    try:
        return call(*args, **kwargs)
    except Refusal as refusal:
        form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
    return None


def posted(
    request: HttpRequest, form: forms.Form, call: Callable[..., T], *, at: datetime, **subject: object
) -> T | None:
    """What the action gives back once a sound form is posted: it is called with the subject and what was typed, where both
    say it what was typed, by the person signed in. None when nothing was posted, the form is at fault, or the rules say no."""
    if request.method != "POST" or not form.is_valid():
        return None
    return attempt(form, call, by=staff_of(request), at=at, **subject | form.cleaned_data)


def press(
    request: HttpRequest, call: Callable[..., object], *, done: str, at: datetime, **subject: object
) -> None:
    """Do what a button asks, by the person signed in, and say that it is done or why it is not."""
    try:
        call(by=staff_of(request), at=at, **subject)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, done)


def photo_of(form: WithPhoto, *, by: Staff, at: datetime) -> Photo | None:
    """The photo of a posted form: the one just sent, taken in, else the one kept when the form came back before. A refused
    one is told on the form. It is kept even if other fields are at fault, so that nobody photographs a thing twice."""
    if not form.is_bound:
        return None
    form.is_valid()
    sent = form.cleaned_data.pop("photo", None)
    kept: Photo | None = form.cleaned_data.pop("kept_photo", None)
    if isinstance(sent, UploadedFile):
        try:
            kept = keep_photo(raw=sent.read(), expected_sha256=None, by=by, at=at)
        except PhotoRefused as refusal:
            form.add_error("photo", refusal.sentence)
            return None
        typed = cast("QueryDict", form.data).copy()
        typed["kept_photo"] = str(kept.pk)
        form.data = typed
    return kept


def photos_taken_in(
    request: HttpRequest, *, by: Staff, at: datetime, most: int | None = None
) -> tuple[list[str], list[str]]:
    """The ids of a posted form's photos, those kept before first and each sent one taken in at once, so that no fault elsewhere
    loses it; and a sentence for each file that was not. most: how many there may be; None: any number."""
    kept, faults = dict.fromkeys(request.POST.getlist("kept_photos")), []
    for file in request.FILES.getlist("photos"):
        if most is not None and len(kept) >= most:
            faults.append(
                f"“{file.name}” was not kept: {most} photos are the most. Untick one, then send it again."
            )
            continue
        try:
            kept[str(keep_photo(raw=file.read(), expected_sha256=None, by=by, at=at).pk)] = None
        except PhotoRefused as refusal:
            faults.append(f"“{file.name}” was not kept. {refusal.sentence}")
    return list(kept), faults


def form_page(
    request: HttpRequest,
    form: forms.Form,
    *,
    title: str,
    button: str,
    cart: Cart | None = None,
    back: str = "",
    template: str = "fleet/form_page.html",
    **more: object,
) -> HttpResponse:
    """The page of one form: 200 when asked for, 422 when it comes back. It goes back to the cart's page, or to `back`."""
    back_url = back or (reverse("fleet:cart_detail", args=[cart.pk]) if cart else reverse("fleet:cart_list"))
    context = {
        "page_title": f"{title}: cart {cart.fleet_number}" if cart else title,
        "title": title,
        "form": form,
        "button": button,
        "cart": cart,
        "back_url": back_url,
        "back_label": f"cart {cart.fleet_number}" if cart else "the carts",
        "is_upload": form.is_multipart(),
    } | more
    return render(request, template, context, status=422 if request.method == "POST" else 200)
