"""Correcting what was said of a hire's work; what can no longer be is refused, the old words stay in the journal."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.db import transaction

from fleet.actions.carts import move_cart
from fleet.models.carts import Cart
from fleet.readiness import Blocker, readiness_each
from fleet.water.history import NEVER
from fleet.water_standing import standings
from hire.actions.agreements import NotForDrinkingWater
from hire.actions.clashes import check_tank
from hire.actions.gate import valid_certificate
from hire.models.agreements import Agreement, Line, shifts_said
from hire.models.needs import NEEDS_FIELDS
from hire.models.operators import OperatorTurn
from hire.promises import window_of
from hire.public_holidays import region_known
from hire.shifts import DAY_SHIFT, NIGHT_SHIFT, WORKED
from hire.where import zone_named
from hire.work_words import ON_PAPER, OWED_BY, WorkSaid, also_changes, changed_facts, said_of, stamp
from inspections.certificates.actions import AlreadyWithdrawn, withdraw_paper
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.outbox.actions import enqueue
from people.refusals import NotAllowed, Refusal
from people.roles import DESK

SAID = (
    "place_of_work", "leaves_by", "works_on", "water", "pre_start_book", "time_zone", "rule_set", "holiday_region",
)  # fmt: skip
# What a cart that is out may be stopped from going on with.
ASKS_MORE = frozenset({"works_on", "water"})


class WorkOver(Refusal):
    """The hire is over or cancelled: its work is what it was."""


class ChangedMeanwhile(Refusal):
    """Somebody changed the work since it was looked at."""


class AsItWas(Refusal):
    """Nothing differs from what is on record."""


class HasLeft(Refusal):
    """How a cart left is no longer to be chosen."""

    field = "leaves_by"


class NotWhereItIs(Refusal):
    """A cart that is out may not do this work; the sentence says what stops it."""


class ShiftIsManned(Refusal):
    """An operator is put down for a shift that is worked no more."""

    field = "shift"


@dataclass(frozen=True)
class Changed:
    """The hire as it is now, and what else changes, a sentence each."""

    line: Line
    also: tuple[str, ...]


def _locked(line: Line, *, seen: str) -> tuple[Line, list[Line]]:
    """The hire, and every cart of its agreement that is not back, locked in key order, their carts after them."""
    standing = Line.objects.unfinished().filter(agreement=line.agreement_id).order_by("pk")
    list(standing.select_for_update())
    # Read once they are locked: whoever was before us has committed by now.
    lines = list(standing.for_list())
    found = next((one for one in lines if one.pk == line.pk), None)
    if found is None:
        raise WorkOver(
            f"The hire of {line.cart.fleet_number} on {line.agreement.number} is over. Its work stays as it was."
        )
    ids = [one.cart_id for one in lines]
    list(Cart.objects.select_for_update(of=("self",)).filter(pk__in=ids).order_by("pk"))
    for one in lines:
        one.agreement = found.agreement
    if stamp(found) != seen:
        raise ChangedMeanwhile("Somebody changed the work since you looked. Look at it again.")
    return found, lines


def _check(lines: Sequence[Line], changed: Mapping[str, object], *, at: datetime) -> None:
    out = next((one for one in lines if one.is_out), None)
    if "leaves_by" in changed and out:
        how = out.agreement.get_leaves_by_display().lower()
        raise HasLeft(f"{out.cart.fleet_number} has left on {out.agreement.number}, {how}. That stays.")
    _check_where(lines[0].agreement, changed)
    if changed.get("water") == "potable":
        carts = {one.cart_id: one.cart for one in lines}
        for pk, tank in standings(list(carts.values())).items():
            if tank.verdict == NEVER:
                raise NotForDrinkingWater(
                    f"{carts[pk].fleet_number} is not for potable water: {tank.sentence} {tank.clear_words}.",
                    field="water",
                )
    if "water" in changed:
        for one in lines:
            check_tank(
                one.cart, str(changed["water"]), one.promised.lower, one.promised.upper, at=at,
                but=[line.pk for line in lines], field="water",
            )  # fmt: skip
    if "shift" in changed:
        gone = {DAY_SHIFT, NIGHT_SHIFT} - set(WORKED[str(changed["shift"])])
        turns = OperatorTurn.objects.standing().filter(
            line__in=lines, shift__in=gone, period__endswith__gt=at
        )
        if turn := turns.for_list().first():
            raise ShiftIsManned(
                f"{turn.operator} is put down for the {turn.get_shift_display().lower()} of {turn.line.cart.fleet_number}. "
                "Take them off first."
            )


def _check_where(about: Agreement, changed: Mapping[str, object]) -> None:
    """Days are counted, and pre-starts owed, by the clock and calendar the first cart left under."""
    where = next((name for name in ("time_zone", "rule_set", "holiday_region") if name in changed), None)
    if where is None:
        return
    gone = about.lines.filter(handed_over_at__isnull=False).select_related("cart").first()
    if gone is not None:
        raise HasLeft(
            f"{gone.cart.fleet_number} has left on {about.number}: its time zone, holidays and rule set stay as they were agreed. "
            "Holidays may still be agreed with the rate.",
            field=where,
        )


def _stops(lines: Sequence[Line], *, at: datetime) -> dict[tuple[object, str], Blocker]:
    """What stops the carts that are out from going on with their work, by hire and code."""
    out = {one.cart_id: one for one in lines if one.is_out}
    windows = {
        pk: replace(
            window_of(one), start=at, end=max(one.promised.upper, at + timedelta(hours=1)), asks_gate=False
        )
        for pk, one in out.items()
    }
    answers = readiness_each([one.cart for one in out.values()], windows=windows, at=at)
    return {(pk, stop.code): stop for pk, answer in answers.items() for stop in answer.blockers}


def _keep(
    line: Line, lines: Sequence[Line], work: WorkSaid, changed: Mapping[str, object], *, at: datetime
) -> None:
    about, was = line.agreement, said_of(line)
    for name in SAID:
        setattr(about, name, getattr(work, name))
    for name, value in shifts_said(work.shift).items():
        setattr(about, name, value)
    fields = [*SAID, "shifts_a_day", "is_night"]
    if OWED_BY & set(changed):
        about.owed_since, about.shift_before = at, was.shift
        about.ours_before = was.pre_start_book == "ours"
        fields += ["owed_since", "shift_before", "ours_before"]
    about.save(update_fields=fields)
    line.take_needs(work.needs)
    line.is_this_cart = work.is_this_cart
    line.save(update_fields=[*NEEDS_FIELDS, "is_this_cart"])
    if ON_PAPER & set(changed):
        for one in lines:
            one.changed_at = at
            one.save(update_fields=["changed_at"])


def _again(lines: Sequence[Line], chains: list[str], *, by: Staff, at: datetime) -> None:
    """The certificates say what is no longer so: the next ones take their place."""
    for one in lines:
        if one.is_out:
            continue
        if (paper := valid_certificate(one)) is not None:
            with suppress(AlreadyWithdrawn):
                words = "What it says of the work was put right."
                withdraw_paper(certificate=paper, why=words, by=by, at=at, chains=chains)
        enqueue(kind="hire.issue_certificate", subject_id=one.pk, at=at)


def _moved(lines: Sequence[Line], place: str, *, by: Staff, at: datetime) -> None:
    """Carts that are out are where they were gone to, by its right name."""
    for one in sorted((one for one in lines if one.is_out), key=lambda one: one.cart_id):
        if one.cart.where_words == f"Gone to {place}"[:80]:
            words = f"Gone to {one.agreement.place_of_work}"[:80]
            move_cart(
                cart=one.cart, where_kind=one.cart.where_kind, where_words=words, keys_words=one.cart.keys_words, by=by, at=at
            )  # fmt: skip


@transaction.atomic
def change_work(*, line: Line, work: WorkSaid, seen: str, why: str, by: Staff, at: datetime) -> Changed:
    """Correct the work of an agreement, for all its carts that are not back, and what was asked of this one. seen: the stamp of
    the work that was looked at (hire.work_words.stamp).

    NotAllowed; WorkOver; ChangedMeanwhile; AsItWas; HasLeft; NotForDrinkingWater; TankSpoilt; ShiftIsManned; NotWhereItIs;
    UnknownZone; UnknownRegion.
    """
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk corrects the work of a hire.")
    line, lines = _locked(line, seen=seen)
    was = said_of(line)
    work = replace(
        work,
        time_zone=zone_named(work.time_zone),
        holiday_region=region_known(work.rule_set, work.holiday_region),
    )
    before, changed = changed_facts(was, work)
    if not changed:
        raise AsItWas("Nothing is changed. Correct what is wrong, or leave it as it is.")
    _check(lines, changed, at=at)
    where = ASKS_MORE & set(changed)
    stopped = _stops(lines, at=at) if where else {}
    _keep(line, lines, work, changed, at=at)
    for key, stop in (_stops(lines, at=at) if where else {}).items():
        if key not in stopped:
            raise NotWhereItIs(
                f"A cart is out on this hire and may not do that work: {stop.sentence} {stop.clear_words}.",
                field="works_on" if "works_on" in changed else "water",
            )
    chains = [*(cart_chain(one.cart_id) for one in lines), YARD]
    if ON_PAPER & set(changed):
        _again(lines, chains, by=by, at=at)
    write_journal(
        event=Event.WORK_CHANGED, subject=("hire_line", line.pk), chains=chains, by=by, at=at,
        facts={"agreement": line.agreement.number, "before": before, "after": changed, "why": why},
    )  # fmt: skip
    _moved(lines, was.place_of_work, by=by, at=at)
    return Changed(line, tuple(also_changes(line, was, changed)))
