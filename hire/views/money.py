"""Rate cards, what was agreed for a hire, its running charges, and its dockets."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.photos import store
from hire import tables
from hire.actions import money
from hire.actions.deposits import left_to_pay, record_deposit, standing_deposit
from hire.back_screen import evidence_links
from hire.charge_facts import card_for, cards_in_force, charges_to, dockets_of, due_through, terms_of
from hire.hired_in import owners_parts
from hire.models.agreed_hours import AgreedHours
from hire.models.agreements import Line
from hire.models.money import BesideCharge, Docket, RateCard
from hire.models.worked_days import WorkedDay
from hire.money_forms import AgreeForm, BesideForm, CardForm, DepositForm, DocketForm
from hire.swaps import line_now, lines_together
from hire.terms_text import rates_text, terms_from
from hire.terms_words import terms_words
from hire.views.asked import line_asked, of_a_hire
from hire.views.off_hire import answer
from hire.wet_text import WET_FIELDS, WET_PRICE
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK, MANAGERS
from people.yard import yard_day, yard_policy

PRICERS = MANAGERS | DESK


def _typed(card: RateCard | None) -> dict[str, Any]:
    """A card's terms as a form shows them."""
    if card is None:
        return {}
    return dict(card.body) | {"rates": rates_text(terms_from(card.body, rule="best rate").rates)}


@require_safe
@for_roles(PRICERS)
def rate_list(request: HttpRequest) -> HttpResponse:
    on = yard_day(timezone.now())
    cards = list(
        RateCard.objects.select_related("cart", "made_by").order_by(
            "ends_on", "cart__fleet_number", "litres_from"
        )
    )
    if wants_csv(request):
        return csv_response("rates", tables.RATE_HEAD, tables.rate_table(cards))
    context = {
        "page_title": "Rates",
        "now": [card for card in cards if card.ends_on is None or card.ends_on > on],
        "past": [card for card in cards if card.ends_on is not None and card.ends_on <= on][:50],
    }
    return render(request, "hire/rate_list.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(PRICERS)
def rate_set(request: HttpRequest) -> HttpResponse:
    """A new card, or new prices for the carts of an old one (?card=)."""
    at = timezone.now()
    old = _card(request.GET.get("card", ""))
    initial = _typed(old) | {"starts_on": yard_day(at)}
    if old is not None:
        initial |= {"name": old.name, "cart": old.cart_id, "litres_from": old.litres_from or None}
    form = CardForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        typed = form.cleaned_data
        try:
            card = money.set_card(
                name=typed["name"], cart=typed["cart"], litres_from=typed["litres_from"] or 0, typed=typed,
                starts_on=typed["starts_on"], by=staff_of(request), at=at,
            )  # fmt: skip
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{card.name} counts from {card.starts_on:%-d %b %Y}.")
            return redirect("hire:rate_list")
    context = {
        "page_title": "Change the prices" if old else "Add a rate card", "form": form,
        "back_url": reverse("hire:rate_list"), "back_label": "the rates",
    }  # fmt: skip
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


def _card(text: str) -> RateCard | None:
    try:
        return RateCard.objects.filter(pk=UUID(text)).first()
    except ValueError:
        return None


@require_POST
@for_roles(PRICERS)
def rate_end(request: HttpRequest, card_id: UUID) -> HttpResponse:
    card = money.end_card(
        card=get_object_or_404(RateCard, pk=card_id), by=staff_of(request), at=timezone.now()
    )
    messages.success(request, f"{card.name} is ended; what was agreed by it stands.")
    return redirect("hire:rate_list")


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def terms_agree(request: HttpRequest, line_id: UUID) -> HttpResponse:
    at, line = timezone.now(), line_now(line_asked(line_id))
    agreed = terms_of(line)
    card = card_for(line.cart_id, line.cart.tank_capacity_l, cards_in_force(on=yard_day(at)))
    initial = _typed(card)
    if line.agreement.holiday_region or line.agreement.rule_set != yard_policy().rule_set:
        # A card is written for where the yard is.
        initial |= {"holiday_region": ""}
    if agreed is not None:
        offered = {name: initial.get(name) for name in WET_FIELDS}
        initial = dict(agreed.body) | {"rates": rates_text(agreed.terms().rates), "rule": agreed.rule}
        # A hire that was agreed dry is offered the card's prices of wet hire.
        initial |= {} if initial.get(WET_PRICE) else offered
    form = AgreeForm(
        request.POST or None, initial=initial, agreement=line.agreement, is_wet=hasattr(line, "wet")
    )

    def act() -> str:
        typed = form.cleaned_data
        money.agree_terms(
            line=line, rule=typed["rule"], typed=typed, card_name=card.name if card else "", words=typed["words"],
            by=staff_of(request), at=at,
        )  # fmt: skip
        return f"The rate for {line.cart.fleet_number} is written down."

    return answer(request, line, form, act, f"Agree the rate for {line.cart.fleet_number}")


@require_safe
@for_roles(DESK)
def charges(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """What a docket made now would say, with its working; what is charged beside it; the dockets made."""
    at, lines = timezone.now(), lines_together(line_asked(line_id))
    line = lines[-1]
    if line.pk != line_id:
        return redirect("hire:charges", line.pk)
    agreed = terms_of(line)
    found, trouble = None, ""
    if agreed is not None and lines[0].handed_over_at is not None:
        try:
            found = charges_to(line, agreed, through=due_through(line, at=at))
        except ValueError as error:
            trouble = str(error)
    dockets = list(dockets_of(lines).select_related("made_by", "file").prefetch_related("set_off"))
    if wants_csv(request):
        return csv_response(
            f"dockets-{line.agreement.number}", tables.DOCKET_HEAD, tables.docket_table(dockets)
        )
    net = sum((docket.net for docket in dockets), found.net if found else Decimal(0))
    owners = [part for one in lines for part in owners_parts(one, at=at)]
    context = {
        "page_title": f"Charges, {line.cart.fleet_number} for {line.agreement.customer.name}",
        "line": line,
        "swapped": lines[:-1],
        "agreed": agreed,
        "terms": terms_words(agreed.body, rule=agreed.rule) if agreed else [],
        "deposit": standing_deposit(line.agreement),
        "deposit_steps": line.agreement.deposit.select_related("made_by", "docket"),
        "found": found,
        "trouble": trouble,
        "beside": BesideCharge.objects.filter(line__in=lines).select_related("told_by"),
        "agreed_hours": AgreedHours.objects.filter(line__in=lines).select_related("made_by"),
        "worked_days": WorkedDay.objects.filter(line__in=lines).select_related("made_by"),
        "evidence": {key: link for one in lines for key, link in evidence_links(one).items()},
        "dockets": dockets,
        "owners": owners,
        "net": net,
        "margin": net - sum((part.share.amount for part in owners), Decimal(0)),
        "is_wet": hasattr(line, "wet"),
        "form": DocketForm(),
    }
    return render(request, "hire/charges.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def beside_add(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = line_asked(line_id)
    form = BesideForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            beside = money.charge_beside(line=line, **form.said(), by=staff_of(request), at=timezone.now())
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{beside.what} is charged.")
            return redirect("hire:charges", line.pk)
    context = {
        "page_title": f"Charge something beside the hire of {line.cart.fleet_number}",
        "form": form,
        "line": line,
    }
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_POST
@for_roles(DESK)
def beside_strike(request: HttpRequest, beside_id: UUID) -> HttpResponse:
    beside = get_object_or_404(BesideCharge, pk=beside_id)
    why = request.POST.get("why", "").replace("\x00", "").strip()[:240] or "Written down by mistake"
    try:
        money.strike_beside(beside=beside, why=why, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{beside.what} is charged no longer.")
    return redirect("hire:charges", beside.line_id)


@require_POST
@for_roles(DESK)
def docket_make(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line, at = get_object_or_404(Line, pk=line_id), timezone.now()
    form = DocketForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Give the day as a date and the deposit as an amount, or leave them blank.")
        return redirect("hire:charges", line_id)
    try:
        docket = money.make_docket(line=line, **form.cleaned_data, by=staff_of(request), at=at)
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
        return redirect("hire:charges", line_id)
    messages.success(request, f"{docket.number} is made; its file follows in a moment.")
    return redirect("hire:docket_detail", docket.pk)


def _docket(docket_id: UUID) -> Docket:
    rows = Docket.objects.select_related("line__agreement__customer", "line__cart", "made_by", "file")
    return of_a_hire(get_object_or_404(rows, pk=docket_id))


@require_safe
@for_roles(DESK)
def docket_detail(request: HttpRequest, docket_id: UUID) -> HttpResponse:
    docket = _docket(docket_id)
    if wants_csv(request):
        return csv_response(docket.number, tables.CHARGE_HEAD, tables.charge_table(docket))
    context = {
        "page_title": f"Hire docket {docket.number}",
        "docket": docket,
        "line": docket.line,
        "set_off": docket.set_off.all(),
        "left": left_to_pay(docket),
        "evidence": {
            key: link for one in lines_together(docket.line) for key, link in evidence_links(one).items()
        },
        "disputes": docket.disputes.select_related("outcome"),
    }
    return render(request, "hire/docket_detail.html", context)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def deposit_record(request: HttpRequest, line_id: UUID) -> HttpResponse:
    """A step of the deposit of this hire's agreement."""
    line = line_asked(line_id)
    form = DepositForm(request.POST or None, agreement=line.agreement)
    if request.method == "POST" and form.is_valid():
        try:
            entry = record_deposit(
                agreement=line.agreement, **form.cleaned_data, by=staff_of(request), at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{entry.amount:,.2f} {entry.get_kind_display().lower()}.")
            return redirect("hire:charges", line.pk)
    context = {
        "page_title": f"Deposit of {line.agreement.number}", "form": form, "line": line, "button": "Write it down",
    }  # fmt: skip
    return render(request, "hire/form.html", context, status=422 if form.errors else 200)


@require_safe
@for_roles(DESK)
def docket_file(request: HttpRequest, docket_id: UUID) -> HttpResponseBase:
    docket = _docket(docket_id)
    if not hasattr(docket, "file"):
        raise Http404
    return FileResponse(
        store.open(docket.file.stored_name), as_attachment=True, filename=f"{docket.number}.pdf",
        content_type="application/pdf",
    )  # fmt: skip
