"""What a customer's person tells the yard through a link: a breakdown, and that the cart is off-hired."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Mapping
from uuid import UUID

from django import forms as django_forms
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt

from fleet.views.asking import attempt
from hire.actions.breakdowns import Report, report_breakdown
from hire.actions.copies import MOST_PAGES, PageRefused, send_copy_by_link
from hire.actions.daily import Signed, sign_daily
from hire.actions.off_hire import PickUp, call_off_by_link, counts_closed
from hire.actions.said import say_by_link
from hire.actions.site import TooManyTries
from hire.actions.stand_down_claims import claim_by_link
from hire.charge_stop import cut_off_words
from hire.copies import copy_weeks, weeks_on_hire
from hire.copy_forms import SendCopyForm
from hire.daily_forms import SignForm
from hire.daily_screens import STATEMENT, daily_facts, drawing
from hire.forms import BreakdownForm, OffHireByLinkForm
from hire.lapsed import lapsed_of
from hire.models.agreements import Line
from hire.models.daily import DailyDocket
from hire.models.links import CustomerLink
from hire.rights import IN_CHARGE, ON_SITE
from hire.risk import risk_agreed
from hire.said_forms import SayForm
from hire.stand_down_forms import ClaimByLinkForm
from hire.views.customer_pages import link_lines
from hire.views.links import through_a_link
from people.clock import shown_place
from people.refusals import Refusal
from people.yard import yard_policy


def _token(request: HttpRequest) -> str:
    return str(request.resolver_match.kwargs["token"]) if request.resolver_match else ""


def answer_page(
    request: HttpRequest, form: django_forms.Form, act: Callable[[], str], words: Mapping[str, object]
) -> HttpResponse:
    """The form, or what it asked done and back to the hire's page, which shows it; act: does it and gives the page's query."""
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                query = act()
            except Refusal as refusal:
                form.add_error(None, refusal.sentence)
                status = 429 if isinstance(refusal, TooManyTries) else 422
            else:
                return redirect(f"{reverse('hire:customer_page', args=[_token(request)])}{query}")
    context = {"form": form, "token": _token(request), **words}
    return render(request, "hire/customer_form.html", context, status=status)


# As for the pre-start: the page's no-referrer policy leaves no origin to compare, and the address itself is the secret.
@csrf_exempt
@through_a_link("GET", "POST", rights=ON_SITE)
def link_breakdown(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    form = BreakdownForm(request.POST or None, request.FILES or None, initial={"report_id": uuid.uuid4()})

    def act() -> str:
        typed = form.cleaned_data
        photo = typed["photo"]
        is_too_big = photo is not None and photo.size > settings.PHOTO_MAX_BYTES
        report = Report(
            report_id=typed["report_id"],
            words=typed["words"],
            can_be_driven=typed["can_be_driven"],
            phone=typed["phone"],
            station=typed["station"],
            photo=photo.read() if photo and not is_too_big else None,
        )
        _, refused = report_breakdown(link=link, report=report, at=timezone.now())
        return "?photo=refused" if refused or is_too_big else ""

    words = {
        "page_title": f"Breakdown of {link.line.cart.fleet_number}",
        "lead": "Get clear of traffic and of the cart first. Then ring; this page puts the same in writing.",
        "button": "Tell the yard",
        "on_call": settings.YARD_ON_CALL,
    }
    return answer_page(request, form, act, words)


@csrf_exempt
@through_a_link("GET", "POST", rights=ON_SITE)
def link_copy(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    """Photos of a week's pages, where the pre-starts are kept in a book or system of the customer's."""
    at, line = timezone.now(), link.line
    form = SendCopyForm(
        request.POST or None, request.FILES or None, weeks=weeks_on_hire(line, at=at), known=copy_weeks([line], at=at)[line.pk],
        initial={"name": link.for_words},
    )  # fmt: skip

    def act() -> str:
        typed = form.cleaned_data
        if any(photo.size > settings.PHOTO_MAX_BYTES for photo in typed["photos"]):
            raise PageRefused(
                f"A photo is larger than {settings.PHOTO_MAX_BYTES // 2**20} MB. Take it again, smaller."
            )
        send_copy_by_link(
            link=link, week_on=typed["week"], files=[photo.read() for photo in typed["photos"][: MOST_PAGES + 1]],
            name=typed["name"], at=at,
        )  # fmt: skip
        return ""

    words = {
        "page_title": f"Pre-starts of {line.cart.fleet_number}: a copy of the week",
        "lead": "Your pre-starts are in a book or system of your own. The yard keeps a copy of each week beside the hire.",
        "button": "Send it",
        "on_call": "",
    }
    return answer_page(request, form, act, words)


def _cut_off(line: Line) -> str:
    return cut_off_words(
        yard_policy().off_hire_cut_off, counts_closed=counts_closed(line), place=shown_place()
    )


@csrf_exempt
@through_a_link("GET", "POST", rights=IN_CHARGE)
def link_off_hire(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    at, line = timezone.now(), link.line
    form = OffHireByLinkForm(request.POST or None, initial={"pick_up_words": line.agreement.place_of_work})

    def act() -> str:
        typed = form.cleaned_data
        call_off_by_link(link=link, pick_up=PickUp(**typed, risk_words=risk_agreed(line)), at=at)
        return ""

    words = {
        "page_title": f"Off-hire {line.cart.fleet_number}",
        "lead": f"You get a number. {_cut_off(line)} The cart stays in your care until it is picked up.",
        "button": "Off-hire it now",
    }
    return answer_page(request, form, act, words)


@csrf_exempt
@through_a_link("GET", "POST", rights=IN_CHARGE)
def link_claim(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    """A day the supervisor claims as stood down; the yard agrees it or refuses it."""
    at, line = timezone.now(), link.line
    form = ClaimByLinkForm(
        request.POST or None, initial={"on": link.line.agreement.day(at), "name": link.for_words}
    )

    def act() -> str:
        claim_by_link(link=link, **form.cleaned_data, at=at)
        return ""

    words = {
        "page_title": f"Claim a stand-down day of {line.cart.fleet_number}",
        "lead": "It is kept with the hire under your name and this time. Until the yard agrees it, the day is charged and its "
        "pre-starts are owed; the yard answers here.",
        "button": "Claim this day",
        "on_call": "",
    }
    return answer_page(request, form, act, words)


def docket_page(
    request: HttpRequest, docket: DailyDocket, *, sign: Callable[[Signed], object], address: Callable[[UUID], str],
    back: tuple[str, str], change_url: str = "",
) -> HttpResponse:  # fmt: skip
    """A daily docket to somebody without an account, who may have it signed where nobody did. address: of a docket's page."""
    form = SignForm(request.POST or None)
    if (
        request.method == "POST"
        and form.is_valid()
        and attempt(form, lambda: sign(form.signed())) is not None
    ):
        return redirect(address(docket.pk))
    replaced_by = docket.replaced_by if docket.is_replaced else None
    context = {
        "page_title": f"Daily docket {docket.number}",
        "docket": docket,
        "facts": daily_facts(docket),
        "drawing": drawing(docket),
        "form": form,
        "replaced_by": replaced_by,
        "replaced_url": address(replaced_by.pk) if replaced_by else "",
        "back_url": back[0],
        "back_label": back[1],
        "change_url": "" if replaced_by else change_url,
        "may_sign": not (docket.is_signed or docket.is_replaced),
        "statement": STATEMENT,
    }
    return render(
        request, "hire/customer_daily.html", context, status=422 if request.method == "POST" else 200
    )


@csrf_exempt
@through_a_link("GET", "POST", rights=IN_CHARGE)
def link_daily(request: HttpRequest, link: CustomerLink, docket_id: UUID) -> HttpResponse:
    """A daily docket of this hire; the customer's person signs one that nobody signed on site."""
    at, token = timezone.now(), _token(request)
    dockets = DailyDocket.objects.filter(line__in=link_lines(link)).for_list()
    docket = get_object_or_404(dockets, pk=docket_id)
    return docket_page(
        request,
        docket,
        sign=lambda signed: sign_daily(docket=docket, signed=signed, link=link, at=at),
        address=lambda one: reverse("hire:link_daily", args=[token, one]),
        back=(reverse("hire:customer_page", args=[token]), "this hire"),
    )


@csrf_exempt
@through_a_link("GET", "POST", rights=IN_CHARGE)
def link_said(request: HttpRequest, link: CustomerLink) -> HttpResponse:
    """What the supervisor says of a pre-start that nobody signed."""
    at, line = timezone.now(), link.line
    form = SayForm(
        request.POST or None, lapsed=lapsed_of([line], at=at)[line.pk], initial={"name": link.for_words}
    )

    def act() -> str:
        say_by_link(link=link, **form.cleaned_data, at=at)
        return ""

    words = {
        "page_title": f"Pre-starts of {line.cart.fleet_number} that nobody signed",
        "lead": "Say what happened. It is kept with the hire under your name and this time.",
        "button": "Write it down",
        "on_call": "",
    }
    return answer_page(request, form, act, words)
