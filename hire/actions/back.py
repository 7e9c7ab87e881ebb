"""When a cart is back: counting its kit, and deciding what of the things found is charged and what is let go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import IntegrityError, transaction

from hire.back_decisions import (
    Decidable,
    decidables,
    defect_of,
    events_of,
    paid_of_event,
    thing_of,
)
from hire.back_record import kit_of, read_record
from hire.back_terms import BackTerms
from hire.charging.back import REASONS, SAY_FIRST, CannotWork, Proposal, Typed, Worked, work_out
from hire.charging.money import money
from hire.charging.waiver import WAIVED_KINDS
from hire.models.agreements import Line
from hire.models.back import AGAIN, KIT_STATES, AgainSaid, BackDecision, KitCount
from hire.models.gate import Handover
from hire.models.money import BesideCharge
from hire.risk import back_terms_of
from inspections.telling import tell_apart
from people.clock import shown_by
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import AT_THE_GATE, DESK
from people.say import say


class NotProposed(Refusal):
    """Nothing of the kind was found on this hire, or no longer is: the page is looked at again."""


class AlreadyCharged(Refusal):
    """It is charged; the sentence says how to undo that."""


class NotCharged(Refusal):
    """What was typed makes no charge; `field` says where."""


class ReasonWanted(Refusal):
    """What is let go is let go for a reason."""

    field = "reason"


class ExcessFirst(Refusal):
    """The waiver has an excess, which the hirer pays."""

    field = "reason"


class NotThatEvent(Refusal):
    """It cannot have been the same event: nothing of the kind is charged on this hire within the excess."""

    field = "same_event"


class CameBeforeFirst(Refusal):
    """The cart left its site when damage was no longer the hirer's; `field` says what is missing."""


class SayFirst(Refusal):
    """It may be what was there before: a person says so before it is decided."""


class AlreadySaid(Refusal):
    """Whether it is new is said already, once."""


class WordsWanted(Refusal):
    """Whether it is the same or new is said with its reason; `field` says what is missing."""


class NothingWentOut(Refusal):
    """No kit is on the handover's list, so none is counted."""


class NotCounted(Refusal):
    """Each thing on the list is counted."""


def _locked(line: Line) -> Line:
    return Line.objects.locked(line.pk)


def _write(event: Event, line: Line, by: Staff, at: datetime, facts: Mapping[str, object]) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id), YARD], by=by, at=at,
        facts={"agreement": line.agreement.number} | dict(facts),
    )  # fmt: skip


@transaction.atomic
def count_kit(*, line: Line, counted: Mapping[int, tuple[str, str]], by: Staff, at: datetime) -> KitCount:
    """Write down what came back of the kit. counted: by number on the handover's list, the state and words for each of them.

    NotAllowed; NothingWentOut; NotCounted. Counted again, the newest counts; what was charged meanwhile stays charged.
    """
    if not by.has_role(AT_THE_GATE):
        raise NotAllowed("The hire desk, a yard hand or a manager counts the kit.")
    line = _locked(line)
    items = kit_of(line, Handover.objects.filter(line=line).first(), None)
    if not items:
        raise NothingWentOut(f"No kit went out with {line.cart.fleet_number}: there is nothing to count.")
    states = dict(KIT_STATES)
    if {item.number for item in items} != set(counted) or any(
        state not in states for state, _ in counted.values()
    ):
        raise NotCounted(f"Say of each thing that went out with {line.cart.fleet_number} how it came back.")
    body = {str(n): {"state": state, "words": words} for n, (state, words) in sorted(counted.items())}
    count = KitCount(line=line, body=body, counted_at=at, counted_by=by)
    count.save(force_insert=True)
    facts = {item.what: states[counted[item.number][0]].lower() for item in items}
    _write(Event.KIT_COUNTED, line, by, at, {"kit": facts})
    return count


def _decidable(line: Line, key: str) -> Decidable:
    found = next((one for one in decidables(read_record(line)) if one.proposal.key == key), None)
    if found is None:
        raise NotProposed(
            f"Nothing like it stands to be decided for {line.cart.fleet_number}. Look at the page of what came back again."
        )
    if found.again is not None:
        raise SayFirst(f"{found.proposal.what}: {SAY_FIRST[:1].lower()}{SAY_FIRST[1:]}")
    if found.decision is not None and found.decision.stands_charged:
        raise AlreadyCharged(
            f"{found.proposal.what} is charged already, by {found.decision.decided_by.full_name}. Strike that charge out "
            "first to decide anew."
        )
    return found


@transaction.atomic
def say_again(*, line: Line, key: str, outcome: str, words: str, by: Staff, at: datetime) -> AgainSaid:
    """Say of one thing found again, once, whether it is what was there before or new damage. key: of its answer. New damage is
    told as a defect of its own, with the pictures of the check, and is then charged or let go like any other.

    NotAllowed; NotProposed; AlreadySaid; WordsWanted.
    """
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk says whether it is new.")
    line, words = _locked(line), words.strip()
    record = read_record(line)
    again = next((one for one in record.again if one.key == key), None)
    if again is None or not record.is_back:
        raise NotProposed(
            f"Nothing like it was found again on {line.cart.fleet_number}. Look at the page again."
        )
    if again.said is not None:
        raise AlreadySaid(f"{again.said.said_by.full_name} said already of {again.what}: {again.said.words}")
    if outcome not in dict(AGAIN):
        raise WordsWanted("Say whether it is the same as before or new damage.", field="outcome")
    if not words:
        raise WordsWanted("Say by what you tell, or what the new damage is.", field="words")
    told = tell_apart(answer=again.answer, words=words, by=by, at=at) if outcome == "new" else None
    said = AgainSaid(
        line=line, answer=again.answer, joined=again.joined.defect, told=told, outcome=outcome, words=words, said_at=at,
        said_by=by,
    )  # fmt: skip
    said.save(force_insert=True)
    facts = {"what": again.what, "said": said.get_outcome_display(), "words": words}
    _write(Event.FOUND_TOLD_APART, line, by, at, facts | {"defect": again.joined.defect.pk})
    return said


def agreed_prices(typed: Typed, proposal: Proposal, terms: BackTerms) -> Typed:
    """What was typed, with the prices that were agreed in place of any others, and the excess where the waiver takes it on."""
    if proposal.kind in WAIVED_KINDS:
        return replace(typed, excess=terms.excess)
    if proposal.kind == "fuel" and terms.fuel_price is not None:
        return replace(typed, price=terms.fuel_price)
    if proposal.kind == "cleaning":
        price = terms.wash_prices.get(proposal.dirt, typed.price)
        return replace(typed, price=price, free_hours=terms.wash_free_hours)
    return typed


@transaction.atomic
def charge_found(
    *, line: Line, key: str, typed: Typed, words: str = "", is_taxed: bool = True, same_event: UUID | None = None,
    came_before: str | None = None, by: Staff, at: datetime,
) -> BackDecision:  # fmt: skip
    """Charge one thing found when the cart came back; it stands in the running charges and the next docket. same_event: the
    decision on what it happened with, so that the waiver's excess is paid once by all of it; None: by itself. came_before: by
    what the person tells that it came while damage was still the hirer's, asked where the cart left its site later; None: they
    do not say so.

    NotAllowed; NotProposed; AlreadyCharged; CameBeforeFirst; NotThatEvent; NotCharged for what makes no amount: among it a tyre
    nobody measured before it left, or too long before, where nobody says why that counts.
    """
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk decides what is charged.")
    line = _locked(line)
    found = _decidable(line, key)
    before = _came_before(line, found, came_before)
    event, paid = _event(line, same_event if typed.is_waived else None)
    typed = replace(typed, said_by=by.full_name)
    if event is not None:
        typed = replace(typed, event=event.what, paid=paid)
    try:
        typed = agreed_prices(typed, found.proposal, back_terms_of(line))
        worked = work_out(found.proposal, typed)
    except CannotWork as no:
        raise NotCharged(str(no), field=no.field) from no
    beside = BesideCharge(
        line=line, what=say(worked.what)[:80], quantity=Decimal(1), unit=worked.unit, unit_price=worked.amount, words=words,
        is_taxed=is_taxed, thing=thing_of(line, key), told_at=at, told_by=by,
    )  # fmt: skip
    try:
        with transaction.atomic():
            beside.save(force_insert=True)
    except IntegrityError as error:
        raise AlreadyCharged(f"{found.proposal.what} was charged this very moment.") from error
    decision = _keep(
        line, found, by=by, at=at, kind=worked.kind, what=say(worked.what)[:160], outcome="charged", words=words,
        amount=worked.amount, working=say(_told(line, worked, words, found, before)), out_mm=worked.out_mm, beside=beside,
        is_waived=bool(typed.is_waived and typed.excess), same_event=event,
        came_before=found.late.ends_at if found.late else None, came_before_words=before,
    )  # fmt: skip
    facts = {"what": decision.what, "amount": decision.amount, "words": words}
    facts |= {"came_before": before} if before else {}
    _write(Event.FOUND_CHARGED, line, by, at, facts | _told_event(event))
    return decision


def _event(line: Line, same_event: UUID | None) -> tuple[BackDecision | None, Decimal]:
    """The first decision of the event that a charged one is of, and what is charged of its excess. NotThatEvent."""
    if same_event is None:
        return None, Decimal(0)
    charged = events_of(line)
    one = next((each for each in charged if each.pk == same_event), None)
    if one is None:
        raise NotThatEvent(
            f"That is not charged within the excess for {line.cart.fleet_number} any longer. Choose what it happened with anew."
        )
    return one.same_event or one, paid_of_event(one, charged)


def _told_event(event: BackDecision | None) -> dict[str, object]:
    return {"same_event": event.what} if event else {}


def _came_before(line: Line, found: Decidable, words: str | None) -> str:
    """By what the person tells that it came while damage was still the hirer's; "" where nobody has to say so."""
    if found.late is None:
        return ""
    if words is None:
        raise CameBeforeFirst(
            f"{line.cart.fleet_number}: {found.late.words} Charge this only if it came before then, and tick that it did; else "
            "let it go.",
            field="came_before",
        )
    if not words.strip():
        raise CameBeforeFirst(
            f"Say by what you tell that it came before {found.late.ends}.", field="came_before_words"
        )
    return words.strip()


def _told(line: Line, worked: Worked, words: str, found: Decidable, before: str) -> str:
    """How the charge is read out: in the desk's words and how it was worked out, then what showed it."""
    working = f"{worked.working[:1].upper()}{worked.working[1:]}"
    parts = [words, working, found.proposal.shown]
    if found.late is not None:
        with shown_by(line.agreement.zone):
            parts.append(f"It came before {found.late.ends}, while damage was the hirer’s: {before}")
    return ". ".join(part.strip().rstrip(".") for part in parts if part) + "."


@transaction.atomic
def let_go_found(
    *,
    line: Line,
    key: str,
    reason: str,
    words: str = "",
    same_event: UUID | None = None,
    by: Staff,
    at: datetime,
) -> BackDecision:
    """Let one thing found go, for a reason. same_event: the decision on what it happened with, where the waiver covers it because
    the excess is paid by that. NotAllowed; NotProposed; AlreadyCharged; ReasonWanted; NotThatEvent; ExcessFirst."""
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk decides what is let go.")
    line = _locked(line)
    found = _decidable(line, key)
    if reason not in REASONS:
        raise ReasonWanted(f"Say why {found.proposal.what} is let go.")
    if reason == "after" and found.late is None:
        raise ReasonWanted(
            f"Damage to {line.cart.fleet_number} was still the hirer’s: choose another reason why {found.proposal.what} is let go."
        )
    excess = back_terms_of(line).excess if found.proposal.kind in WAIVED_KINDS else None
    event, paid = _event(line, same_event if reason == "waiver" else None)
    if reason == "waiver" and excess is not None and paid < excess:
        raise ExcessFirst(
            f"The hirer of {line.cart.fleet_number} pays the first {money(excess)} each time, and the waiver what is over it. "
            "Charge it with the waiver, or let it go for another reason."
        )
    decision = _keep(
        line,
        found,
        by=by,
        at=at,
        kind=found.proposal.kind,
        what=say(found.proposal.what)[:160],
        outcome="let_go",
        reason=reason,
        words=words,
        same_event=event,
    )
    facts = {"what": decision.what, "reason": REASONS[reason], "words": words}
    _write(Event.FOUND_LET_GO, line, by, at, facts | _told_event(event))
    return decision


def _keep(line: Line, found: Decidable, *, by: Staff, at: datetime, **facts: object) -> BackDecision:
    proposal, before = found.proposal, found.decision
    thing = thing_of(line, proposal.key)
    decision = BackDecision(
        line=line, thing=thing, shown=say(proposal.shown)[:400], defect_id=defect_of(proposal.key),
        # The last word on another defect that turned out to be this one is not this one's.
        replaces=before if before is not None and before.thing == thing else None,
        decided_at=at, decided_by=by, **facts,
    )  # fmt: skip
    decision.save(force_insert=True)
    return decision
