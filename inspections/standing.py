"""Is the cart walked round? The pre-hire check holds until the cart is moved, worked on, or the yard's limit has passed, a longer
one over days the yard is closed (inspections.over_closed); the gate-out check is done shortly before leaving, within the yard's
hours, on whichever side of midnight.

A moment gone by is judged by what was signed, moved and worked on by then; a name confirmed or a check accepted since counts,
since that is said of the very check."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from functools import partial
from typing import Any
from uuid import UUID

from django.db.models import Max, Q

from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.readiness import Blocker, Caution, Findings, Record, Window
from fleet.sentences import moment_words
from inspections.models import WalkRound
from inspections.over_closed import Longer, longer_of
from people.journal.events import Event
from people.journal.models import Entry
from people.roles import EVERYBODY, MANAGERS, WALKERS
from people.yard import yard_policy

NAME = "walk_round.name"
ACCEPTANCE = "walk_round.acceptance"
MOVES = (Event.CART_MOVED, Event.MOVED_WITHOUT)
METERS = "walk_round.meters"
SHORT = {"pre_hire": "pre-hire check", "gate_out": "gate-out check"}
WHO = "Anybody who walks carts: sign a {short}"
WHO_ACCEPTS = "Workshop manager or fleet manager: look at the {short} and accept it. Or anybody who walks carts: walk it again"
WHO_CONFIRMS = "{name}: sign in and press “This was me”, or give the PIN on the tablet. Or anybody who walks carts: walk it again"


def _worked_on(carts: Sequence[Cart], checks: Iterable[WalkRound], *, at: datetime) -> dict[UUID, datetime]:
    """Carts on which other work was finished by `at`, and when. Work on what that very check found is
    looked at again by the second look, so it does not undo the check."""
    own = {walk.pk for walk in checks if walk.purpose == "pre_hire" and not walk.asks_acceptance}
    found = (
        Defect.objects.filter(cart__in=carts, repaired_at__lte=at)
        .exclude(Q(source_kind="walk_round") & Q(source_id__in=own))
        .values("cart")
        .annotate(last=Max("repaired_at"))
    )
    return {row["cart"]: row["last"] for row in found}


def _moved(carts: Sequence[Cart], *, at: datetime) -> dict[UUID, datetime]:
    """When each cart was last in another place by `at`. No query, but one where a cart has moved since: its row keeps only the
    last time, the journal every one."""
    moved = {cart.pk: cart.last_moved_at for cart in carts if cart.last_moved_at is not None}
    since = [cart_id for cart_id, when in moved.items() if when > at]
    if not since:
        return moved
    moved = {cart_id: when for cart_id, when in moved.items() if when <= at}
    told = Entry.objects.filter(event__in=MOVES, subject_kind="cart", subject_id__in=since, at__lte=at)
    for entry in told.order_by("at"):
        facts = json.loads(entry.text)["facts"]
        # Keys that changed hands in one place moved nothing.
        if facts["before"][:2] != facts["after"][:2]:
            moved[entry.subject_id] = entry.at
    return moved


def pre_hire_fault(
    walk: WalkRound | None,
    *,
    moved_at: datetime | None,
    worked_at: datetime | None,
    starts_at: datetime,
    at: datetime,
    longer: Mapping[UUID, Longer],
) -> str:
    """Why a cart's newest pre-hire check does not hold at `starts_at`; empty when it does. longer: of checks past the yard's usual
    hours, as longer_of has them."""
    if walk is None:
        return "No pre-hire check has been signed."
    when = moment_words(walk.signed_at, at=at)
    if moved_at is not None and moved_at > walk.signed_at:
        return f"The cart has moved since its pre-hire check ({when})."
    if worked_at is not None and worked_at > walk.signed_at:
        return f"The cart was worked on since its pre-hire check ({when})."
    if walk.not_done:
        return f"The pre-hire check ({when}) left {_points(walk)} unchecked."
    if walk.signed_at + yard_policy().pre_hire_good <= starts_at:
        return _too_old(when, longer.get(walk.pk), starts_at=starts_at, at=at)
    return ""


def _too_old(when: str, longer: Longer | None, *, starts_at: datetime, at: datetime) -> str:
    """What is wrong with a check past its usual hours; empty where it holds over days the yard is closed."""
    if longer is not None and longer.holds(starts_at, at=at):
        return ""
    hours = int(yard_policy().pre_hire_good.total_seconds() // 3600)
    old = f"The pre-hire check ({when}) will be more than {hours} hours old."
    if longer is None or not longer.days:
        return old
    closed = "the day" if longer.days == 1 else f"the {longer.days} days"
    until = moment_words(longer.until, at=at)
    if starts_at >= longer.until:
        return f"{old} Over {closed} the yard is closed it is good until {until} at the most."
    lacks = longer.lacks or (f"its {' and '.join(longer.unread)} are still to be read at the gate-out check",)
    return f"{old} Over {closed} the yard is closed it would hold until {until}, but {'; '.join(lacks)}."


def _points(walk: WalkRound) -> str:
    return f"{walk.not_done} required {'point' if walk.not_done == 1 else 'points'}"


def gate_out_fault(walk: WalkRound | None, *, starts_at: datetime, at: datetime) -> str:
    """Why the newest gate-out check does not cover leaving at `starts_at`; empty when it does."""
    if walk is None:
        return "No gate-out check has been signed."
    when = moment_words(walk.signed_at, at=at)
    if walk.signed_at + yard_policy().gate_out_good <= starts_at:
        return f"The gate-out check ({when}) is too old."
    if walk.not_done:
        return f"The gate-out check ({when}) left {_points(walk)} unchecked."
    return ""


def name_fault(walk: WalkRound, *, at: datetime) -> str:
    """Why the name under a check does not stand yet; empty when it does."""
    if walk.is_name_confirmed:
        return ""
    short = SHORT[walk.purpose]
    if walk.is_from_site:
        who = f"{walk.author_name} ({walk.author_role})"
        return f"{who} signed the {short} on site. A manager accepts it on its page before it counts."
    return f"{walk.author_name} has not confirmed having signed the {short} ({moment_words(walk.signed_at, at=at)})."


Latest = dict[tuple[UUID, str, bool], WalkRound]


def _latest(carts: Sequence[Cart], purposes: Sequence[str], *, at: datetime) -> Latest:
    """The newest check by cart, purpose, and whether it waits for a manager's acceptance. One query."""
    walks = (
        WalkRound.objects.latest_of_each(carts=[cart.pk for cart in carts], purposes=purposes, at=at)
        .with_name()
        .defer("manifest", "reasons")
    )
    return {(walk.cart_id, walk.purpose, walk.asks_acceptance): walk for walk in walks}


def _judged(
    latest: Latest, cart: Cart, purpose: str, fault_of: Callable[[WalkRound | None], str]
) -> tuple[WalkRound | None, str]:
    """The check that is looked to, and why it does not hold. One that waits for acceptance is looked to only where it would
    hold and the newest of the others does not: so nobody on site can undo what the yard has signed."""
    walk, waiting = latest.get((cart.pk, purpose, False)), latest.get((cart.pk, purpose, True))
    fault = fault_of(walk)
    if fault and waiting is not None and not fault_of(waiting):
        return waiting, ""
    return walk, fault


def _finding(
    cart: Cart, walk: WalkRound | None, purpose: str, fault: str, *, window: Window, at: datetime
) -> Findings:
    """What a missing check comes to, or a check that holds but for its name: an unconfirmed name is no reason to walk again."""
    short, weight = SHORT[purpose], 10 if purpose == "pre_hire" else 20
    record = Record("walk_round", walk.pk) if walk else Record("cart", cart.pk)
    code, who, how, left = f"walk_round.{purpose}", WALKERS, WHO.format(short=short), "signed"
    if not fault and walk is not None:
        fault = name_fault(walk, at=at)
        # Whatever the person's role is by now: the check is theirs.
        if walk.is_from_site:
            code, who, how, left = ACCEPTANCE, MANAGERS, WHO_ACCEPTS.format(short=short), "accepted"
        else:
            code, who, how, left = NAME, EVERYBODY, WHO_CONFIRMS.format(name=walk.author_name), "confirmed"
            short = f"{short}’s name"
    if not fault:
        return Findings()
    # What can still be done before the start is not yet a reason to hold the cart.
    if window.start > at:
        sentence = f"{fault} To be {left} before it leaves."
        return Findings(cautions=(Caution(code, sentence, record, window.start, short, weight),))
    return Findings(blockers=(Blocker(code, fault, record, who, how, weight=40),))


def _meters_to_read(
    cart: Cart,
    walk: WalkRound | None,
    fault: str,
    longer: Mapping[UUID, Longer],
    *,
    window: Window,
    at: datetime,
) -> Findings:
    """A check that holds over days the yard is closed, once the gate-out check has read the meters."""
    found = longer.get(walk.pk) if walk is not None else None
    if fault or walk is None or found is None or window.start <= at or not found.waits(window.start):
        return Findings()
    when, until = moment_words(walk.signed_at, at=at), moment_words(found.until, at=at)
    hours, km = yard_policy().unmoved_hours, yard_policy().unmoved_km
    sentence = (
        f"The pre-hire check ({when}) is good until {until}, the yard being closed meanwhile, once the gate-out check has read its "
        f"{' and '.join(found.unread)}, risen by no more than {hours.normalize():f} h and {km.normalize():f} km."
    )
    record = Record("walk_round", walk.pk)
    return Findings(cautions=(Caution(METERS, sentence, record, window.start, "meter reading", 30),))


def _fault_in(walk: WalkRound | None, *, window: Window, **facts: Any) -> str:
    return pre_hire_fault(
        walk, starts_at=window.judged_for(walk.signed_at) if walk else window.start, **facts
    )


def _gate_fault_in(walk: WalkRound | None, *, window: Window, at: datetime) -> str:
    starts_at = window.judged_for(walk.signed_at) if walk else window.start
    return gate_out_fault(walk, starts_at=starts_at, at=at)


def findings(carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime) -> dict[UUID, Findings]:
    """Two queries however many carts: newest walk-rounds, latest work; one more where a cart has moved since `at`, five where a
    check is past the yard's usual hours."""
    latest = _latest(carts, ["pre_hire", "gate_out"], at=at)
    worked, moved = _worked_on(carts, latest.values(), at=at), _moved(carts, at=at)
    asking = {cart.pk for cart in carts if windows[cart.pk].asks_gate}
    walks = [walk for walk in latest.values() if walk.purpose == "pre_hire" and walk.cart_id in asking]
    longer = longer_of(
        walks, starts={walk.pk: windows[walk.cart_id].judged_for(walk.signed_at) for walk in walks}, at=at
    )
    answers: dict[UUID, Findings] = {}
    for cart in carts:
        if not windows[cart.pk].asks_gate:
            continue
        window = windows[cart.pk]
        rules = partial(
            _fault_in, window=window, moved_at=moved.get(cart.pk), worked_at=worked.get(cart.pk), at=at, longer=longer
        )  # fmt: skip
        pre, pre_fault = _judged(latest, cart, "pre_hire", rules)
        gate, gate_fault = _judged(latest, cart, "gate_out", partial(_gate_fault_in, window=window, at=at))
        found = [
            _finding(cart, pre, "pre_hire", pre_fault, window=window, at=at),
            _finding(cart, gate, "gate_out", gate_fault, window=window, at=at),
            _meters_to_read(cart, pre, pre_fault, longer, window=window, at=at),
        ]
        if any(one.blockers or one.cautions for one in found):
            answers[cart.pk] = Findings(
                tuple(item for one in found for item in one.blockers),
                tuple(item for one in found for item in one.cautions),
            )
    return answers


def pre_hire_faults(
    carts: Sequence[Cart], *, starts: Mapping[UUID, datetime], at: datetime
) -> dict[UUID, str]:
    """Why each cart's pre-hire check does not hold at its start, its name among the reasons, by cart id; carts whose check
    holds are left out. Two queries, five more where a check is past the yard's usual hours."""
    latest = _latest(carts, ["pre_hire"], at=at)
    worked, moved = _worked_on(carts, latest.values(), at=at), _moved(carts, at=at)
    walks = [walk for walk in latest.values() if walk.cart_id in starts]
    longer = longer_of(walks, starts={walk.pk: starts[walk.cart_id] for walk in walks}, at=at)
    faults = {}
    for cart in carts:
        rules = partial(
            pre_hire_fault,
            moved_at=moved.get(cart.pk),
            worked_at=worked.get(cart.pk),
            starts_at=starts[cart.pk],
            at=at,
            longer=longer,
        )
        walk, fault = _judged(latest, cart, "pre_hire", rules)
        faults[cart.pk] = fault or (name_fault(walk, at=at) if walk else "")
    return {cart_id: fault for cart_id, fault in faults.items() if fault}


def latest_fit_pre_hire(cart: Cart, *, at: datetime, loaded_at: datetime | None = None) -> WalkRound | None:
    """The pre-hire check that makes the cart fit at that moment, or None: signed under a name that stands, complete, not undone
    by moving or work, and with nothing it found still forbidding use. loaded_at: when the cart was loaded on its float, to which
    the hours of the check are then counted."""
    walk = (
        WalkRound.objects.counting()
        .filter(cart=cart, purpose="pre_hire", signed_at__lte=at)
        .with_name()
        .order_by("-signed_at")
        .first()
    )
    worked, moved = _worked_on([cart], [walk] if walk else [], at=at), _moved([cart], at=at)
    if walk is None:
        return None
    start = loaded_at if loaded_at is not None and walk.signed_at <= loaded_at else at
    longer = longer_of([walk], starts={walk.pk: start}, at=at)
    changed = {"moved_at": moved.get(cart.pk), "worked_at": worked.get(cart.pk)}
    if pre_hire_fault(walk, **changed, starts_at=start, at=at, longer=longer):
        return None
    if not walk.is_name_confirmed:
        return None
    open_stops = (
        Defect.objects.open()
        .filter(cart=cart, grade="do_not_use", told_at__lte=at)
        .exclude(limits__lifted_at=None, limits__isnull=False)
    )
    return None if open_stops.exists() else walk
