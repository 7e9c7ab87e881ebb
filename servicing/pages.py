"""Everything one defect's page shows: how it stands, what it stops, and the steps its reader may take now."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import cast
from uuid import UUID

from django.forms import Form
from django.http import QueryDict
from django.shortcuts import get_object_or_404
from django.urls import reverse

from fleet.board import answers_for
from fleet.drawing import lap_svg
from fleet.models.carts import Cart
from fleet.models.defects import MOST_PUT_OFF, Defect
from fleet.readiness import Readiness
from fleet.records import record_url
from fleet.sentences import readiness_sentence
from people.models import Staff
from people.roles import WORKSHOP
from people.templatetags.screen import clock_words, day, day_year
from people.yard import yard_day, yard_policy
from servicing import offers, screens
from servicing.actions.parts import PART_TAKEN
from servicing.actions.repairs import TEMPORARY_FIX
from servicing.asking import PHOTO_FIELDS
from servicing.forms import STEP_FORMS, VersionForm, other_words
from servicing.models.jobs import PartUsed
from servicing.returning import came_back, with_return


@dataclass(frozen=True)
class StepSheet:
    """A step on offer with its form; the first stands open, and so does one that came back with a fault."""

    offer: offers.Offer
    form: VersionForm
    is_first: bool
    is_open: bool


Failed = tuple[str, VersionForm]


def _seen_now(form: VersionForm, defect: Defect) -> VersionForm:
    """The form as it came back, deciding from here on about what this page shows."""
    data = cast(QueryDict, form.data).copy()
    data["version"] = str(defect.version)
    form.data = data
    return form


def _sheets(defect: Defect, person: Staff, failed: Failed | None, *, on: date) -> list[StepSheet]:
    sheets = []
    left_out = set()
    if defect.limits.filter(lifted_at=None).exists():
        left_out.add("limit")
    if not Defect.objects.open().filter(cart=defect.cart_id).exclude(pk=defect.pk).exists():
        left_out.add("same")
    found = [one for one in offers.offers_for(defect, person, on=on) if one.key not in left_out]
    for number, offer in enumerate(found):
        came_back = failed is not None and failed[0] == offer.key
        form = (
            _seen_now(failed[1], defect)
            if failed is not None and came_back
            else STEP_FORMS[offer.key](defect=defect, auto_id=f"{offer.key}_%s")
        )
        sheets.append(StepSheet(offer, form, number == 0, came_back or (number == 0 and failed is None)))
    return sheets


def _typed_lines(form: Form) -> list[tuple[str, str]]:
    """What was typed into a form whose step is no longer on offer, so that no words are lost."""
    return [
        (str(field.label), str(field.value()))
        for field in form.visible_fields()
        if field.value() and field.name not in PHOTO_FIELDS
    ]


def _facts(defect: Defect) -> list[tuple[str, str, str]]:
    told = (f"{day(defect.told_at)}, {clock_words(defect.told_at)}", f"by {defect.told_by_words}")
    rows = [("Where", screens.where_words(defect), ""), ("Told", *told)]
    if defect.is_open:
        rows.append(("Whose job", defect.assigned_to.full_name if defect.assigned_to else "nobody’s yet", ""))
    if defect.due_on:
        rows.append(("Repair by", day_year(defect.due_on), ""))
    if defect.state == "put_off" and defect.put_off_by and defect.put_off_until:
        left = MOST_PUT_OFF - defect.put_off_times
        again = {0: "not again", 1: "once more at most"}.get(left, "twice more at most")
        rows.append(
            ("Put off until", day_year(defect.put_off_until), f"by {defect.put_off_by.full_name}; {again}")
        )
    if defect.look_again_on:
        before = f"or before: {defect.look_again_if}; " if defect.look_again_if else ""
        renewed = ("not renewed yet", "renewed once", "renewed twice, so then it has a date")
        rows.append(("Look again", day_year(defect.look_again_on), before + renewed[min(defect.renewals, 2)]))
    if defect.fix_ends_on:
        rows.append(("Temporary fix until", day_year(defect.fix_ends_on), "then it is told again by itself"))
    if defect.repaired_by and defect.repaired_at:
        rows.append(
            (
                "Repaired",
                defect.repaired_by.full_name,
                f"{day(defect.repaired_at)}, {clock_words(defect.repaired_at)}",
            )
        )
    if defect.verified_by and defect.verified_at:
        rows.append(
            (
                "Second look",
                defect.verified_by.full_name,
                f"{day(defect.verified_at)}, {clock_words(defect.verified_at)}",
            )
        )
    return rows


def _ties(defect: Defect, again: Defect | None) -> list[tuple[str, str]]:
    """Other defects this one is tied to, in words and with where they are. again: as it was told after a temporary fix."""
    ties: list[tuple[str, UUID]] = []
    if back := came_back(defect):
        ties.append((f"{back.words}.", back.defect_id))
    if other := defect.same_as:
        how = "; no fault was found in that one" if other.state == "no_fault_found" else ""
        ties.append((f"The same as {other_words(other)}{how}.", other.pk))
    ties += [
        (f"Told a second time as {one.title.lower()}, {day(one.told_at)}.", one.pk)
        for one in defect.same_ones.all()
    ]
    if defect.source_kind == TEMPORARY_FIX:
        ties.append(("Only a temporary fix was made before.", defect.source_id))
    if defect.source_kind == PART_TAKEN and (part := PartUsed.objects.filter(pk=defect.source_id).first()):
        ties.append(("A part was taken off here for another cart.", part.defect_id))
    if again is not None:
        ties.append(("Its temporary fix has ended: told again.", again.pk))
    return [(words, reverse("servicing:defect_detail", args=[pk])) for words, pk in ties]


def _stops(defect: Defect, answer: Readiness) -> str:
    """What this one defect does to its cart, in one sentence."""
    if not defect.is_open:
        return "It is closed and stops nothing."
    if any(blocker.record.id == defect.pk for blocker in answer.blockers):
        return "It stops the cart from leaving until its repair has had a second look."
    if any(limit.record.id == defect.pk for limit in answer.limits):
        return "Its gear is isolated and tagged: the cart goes without it."
    if any(passed.blocker.record.id == defect.pk for passed in answer.passed):
        return "It is passed by authority: the cart goes, and the pass is printed on its certificate."
    if any((one.record.id, one.code) == (defect.pk, "defect.unseen") for one in answer.cautions):
        count = yard_policy().unseen_for.days
        days = "a day" if count == 1 else f"{count} days"
        return f"It is repaired, and nobody else has seen it yet: the cart works on for {days} at most, or until its next gate."
    if any((one.record.id, one.due_at is None) == (defect.pk, False) for one in answer.cautions):
        return "The cart may go, but this must be repaired while it is out."
    return "It does not stop the cart."


def defect_page(
    defect_id: UUID, *, person: Staff, at: datetime, failed: Failed | None = None
) -> dict[str, object]:
    """The page of one defect as it stands now. failed: a step's word and its form that came back with a fault."""
    defect = get_object_or_404(with_return(Defect.objects.for_list().select_related("same_as")), pk=defect_id)
    cart = Cart.objects.for_drawing().get(pk=defect.cart_id)
    _, answer = answers_for([cart], at=at)[cart]
    sheets = _sheets(defect, person, failed, on=yard_day(at))
    again = Defect.objects.filter(source_kind=TEMPORARY_FIX, source_id=defect.pk).first()
    steps = list(defect.steps.select_related("photo").prefetch_related("further_photos__photo"))
    gone = failed is not None and failed[0] not in {sheet.offer.key for sheet in sheets}
    return {
        "page_title": f"{defect.title}, {cart.fleet_number}",
        "defect": defect,
        "cart": cart,
        "form": failed[1] if failed else None,
        "typed": _typed_lines(failed[1]) if failed and gone else [],
        "answer": answer,
        "sentence": readiness_sentence(answer),
        "stops": _stops(defect, answer),
        "state_words": screens.state_words(defect, at=at),
        "by_words": day(defect.due_on) if defect.due_on else "",
        "facts": _facts(defect),
        "ties": _ties(defect, again),
        "may_job": person.has_role(WORKSHOP) and defect.is_open,
        "may_end_fix": person.has_role(WORKSHOP)
        and defect.state == "verified"
        and defect.fix_ends_on is not None
        and again is None,
        "steps": screens.step_rows(steps),
        "waits_for": offers.waits_for(defect, on=yard_day(at)),
        "is_own_repair": defect.state == "repaired" and defect.repaired_by_id == person.pk,
        "photos": screens.photo_rows(
            list(defect.photos.all()), alt=f"{defect.title}: the photo it was told with"
        ),
        "limits": list(defect.limits.filter(lifted_at=None).select_related("set_by")),
        "lap": lap_svg(cart, defects=[defect], walk=False),
        "source_url": record_url("walk_round", defect.source_id)
        if defect.source_kind == "walk_round"
        else "",
        "sheets": sheets,
        "may_queue": person.has_role(WORKSHOP),
    }
