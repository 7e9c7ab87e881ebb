"""What came back: the record out beside the record in, the kit counted, and each thing found charged or let go."""

from __future__ import annotations

from collections.abc import Sequence
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.models.carts import Cart
from hire import back_screen, tables
from hire.actions import back as acts
from hire.back_decisions import Decidable, decidables, events_of, paid_of_event
from hire.back_findings import BACK, OUT
from hire.back_forms import AgainForm, ChargeForm, KitForm, LetGoForm
from hire.back_record import Record, kit_of, read_record
from hire.charging.back import Proposal
from hire.charging.waiver import WAIVED_KINDS
from hire.models.agreements import Line
from hire.models.gate import Handover
from hire.risk import back_terms_of
from hire.views.asked import line_asked
from people.csv_out import csv_response, wants_csv
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import AT_THE_GATE, DESK, EVERYBODY


def _line(line_id: UUID) -> Line:
    return line_asked(line_id)


@require_safe
@for_roles(EVERYBODY)
def out_and_back(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line, staff = _line(line_id), staff_of(request)
    record = read_record(line)
    if wants_csv(request):
        table = back_screen.compared_table(record)
        return csv_response(f"out-and-back-{line.agreement.number}", tables.COMPARED_HEAD, table)
    cart = Cart.objects.for_drawing().get(pk=line.cart_id)
    may_desk = staff.has_role(DESK)
    context = {
        "page_title": f"{line.cart.fleet_number}, out and back",
        "line": line,
        "record": record,
        "walks": [record.walks[purpose] for purpose in (*OUT, *BACK) if purpose in record.walks],
        "not_walked": record.is_back and "as_returned" not in record.walks,
        "out": back_screen.side_of(cart, record.on_record, prefix="out"),
        "back": back_screen.side_of(cart, record.new, prefix="back"),
        "meters": [(one.label, one.shown, one.change) for one in back_screen.meter_rows(record)],
        "stations": back_screen.station_rows(record),
        "gate_photos": back_screen.gate_pictures(record),
        "decidables": decidables(record) if may_desk else [],
        "terms": back_terms_of(line) if may_desk else None,
        "may_desk": may_desk,
        "may_count": staff.has_role(AT_THE_GATE) and bool(record.facts.kit) and record.is_back,
    }
    return render(request, "hire/out_and_back.html", context)


def _shown(record: Record, key: str) -> dict[str, Sequence[back_screen.Picture]]:
    """The pictures of the defect a proposal is about, and those taken of its station as the cart left."""
    told = next((one for one in record.new if f"defect-{one.defect.pk}" == key), None)
    if told is None:
        return {"photos": [], "out_photos": []}
    photos = [back_screen.picture_of(each, told.defect.title, told.told) for each in told.defect.photos.all()]
    rows = {row.station.key: row for row in back_screen.station_rows(record)}
    row = rows.get(told.defect.station)
    return {"photos": photos, "out_photos": row.out_photos if row else []}


def _decide(request: HttpRequest, line: Line, proposal: Proposal, form: ChargeForm | LetGoForm) -> str:
    """Does what a clean form asks, and says so."""
    key, words, by, at = proposal.key, form.cleaned_data["words"], staff_of(request), timezone.now()
    same_event = form.cleaned_data.get("same_event")
    if isinstance(form, LetGoForm):
        acts.let_go_found(
            line=line,
            key=key,
            reason=form.cleaned_data["reason"],
            words=words,
            same_event=same_event,
            by=by,
            at=at,
        )
        return f"{proposal.what} is let go."
    decision = acts.charge_found(
        line=line,
        key=key,
        typed=form.typed(),
        words=words,
        is_taxed=not form.cleaned_data["is_untaxed"],
        same_event=same_event,
        came_before=form.came_before(),
        by=by,
        at=at,
    )
    return f"{decision.what} is charged: {decision.amount:,.2f}."


def _forms(
    line: Line, found: Decidable, posted: QueryDict | None, *, lets_go: bool
) -> tuple[ChargeForm, LetGoForm]:
    """The two ways to decide, the one that was posted bound."""
    terms, events, kind = back_terms_of(line), events_of(line), found.proposal.kind
    charging = ChargeForm(
        None if lets_go else posted, proposal=found.proposal, terms=terms, events=events, late=found.late, auto_id="charge_%s"
    )  # fmt: skip
    paid = [one for one in events if paid_of_event(one, events) >= (terms.excess or 0)]
    letting_go = LetGoForm(
        posted if lets_go else None, has_excess=kind in WAIVED_KINDS and terms.excess is not None, paid=paid,
        is_late=found.late is not None, auto_id="let_%s",
    )  # fmt: skip
    return charging, letting_go


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def back_decide(request: HttpRequest, line_id: UUID, key: str) -> HttpResponse:
    """Two forms, each with its button: charge it, or let it go."""
    line = _line(line_id)
    record = read_record(line)
    found = next((one for one in decidables(record) if one.proposal.key == key), None)
    if found is None or found.again is not None:
        raise Http404
    proposal = found.proposal
    lets_go = request.POST.get("outcome") == "let_go" or bool(proposal.bar)
    posted = request.POST if request.method == "POST" else None
    form: ChargeForm | LetGoForm
    charging, letting_go = _forms(line, found, posted, lets_go=lets_go)
    form = letting_go if lets_go else charging
    if posted is not None and form.is_valid():
        try:
            messages.success(request, _decide(request, line, proposal, form))
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            return redirect("hire:out_and_back", line.pk)
    context = {
        "page_title": f"Decide: {proposal.what}",
        "line": line,
        "found": found,
        **_shown(record, key),
        "form": form,
        "charging": charging,
        "letting_go": letting_go,
        "back": reverse("hire:out_and_back", args=[line.pk]),
    }
    return render(request, "hire/back_decide.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(DESK)
def found_again(request: HttpRequest, line_id: UUID, answer_id: UUID) -> HttpResponse:
    """Is it what was there before, or new damage? What is new goes on to be charged or let go."""
    line = _line(line_id)
    record = read_record(line)
    again = next((one for one in record.again if one.answer.pk == answer_id), None)
    if again is None or not record.is_back:
        raise Http404
    form = AgainForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            said = acts.say_again(
                line=line, key=again.key, **form.cleaned_data, by=staff_of(request), at=timezone.now()
            )
        except Refusal as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
        else:
            messages.success(request, f"{again.what}: {said.get_outcome_display().lower()}.")
            if said.told_id:
                return redirect("hire:back_decide", line.pk, f"defect-{said.told_id}")
            return redirect("hire:out_and_back", line.pk)
    context = {
        "page_title": f"Found again: {again.what}",
        "line": line,
        "again": again,
        **back_screen.again_pictures(record, again),
        "form": form,
        "back": reverse("hire:out_and_back", args=[line.pk]),
    }
    return render(request, "hire/found_again.html", context, status=422 if form.errors else 200)


@require_http_methods(["GET", "POST"])
@for_roles(AT_THE_GATE)
def kit_count(request: HttpRequest, line_id: UUID) -> HttpResponse:
    line = _line(line_id)
    count = line.kit_counts.order_by("-counted_at").first()
    items = kit_of(line, Handover.objects.filter(line=line).first(), count)
    form = KitForm(request.POST if request.method == "POST" else None, items=items)
    if request.method == "POST" and form.is_valid():
        try:
            acts.count_kit(line=line, counted=form.counted(), by=staff_of(request), at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, refusal.sentence)
        else:
            messages.success(request, "The kit is counted.")
            return redirect("hire:out_and_back", line.pk)
    context = {
        "page_title": f"Kit that came back with {line.cart.fleet_number}",
        "line": line,
        "form": form,
        "back": reverse("hire:out_and_back", args=[line.pk]),
    }
    return render(request, "hire/kit_count.html", context, status=422 if form.errors else 200)
