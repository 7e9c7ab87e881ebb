"""What is watched of passes given by phone: their giver's own word, and carts at work on a pass that nobody gave."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from fleet.alerts.rules import Condition
from fleet.board import window_for
from fleet.models.standing import Pass
from fleet.needs import next_need
from fleet.readiness import Record, readiness_each
from fleet.sentences import past_words
from people.roles import Role
from people.templatetags.screen import clock_words, day

# So much of what was passed, and of a name, stands in an alert; its page has all of it.
SHORT, NAME = 80, 30


def _cut(words: str, most: int) -> str:
    return words if len(words) <= most else f"{words[: most - 1].rstrip()}…"


def unconfirmed(at: datetime) -> Iterator[Condition]:
    """Open passes given by phone that wait for their giver's word: soon, for the giver's role; today, for the fleet manager, once
    their hours are past. Confirmed, disowned or closed clears it. One query."""
    waiting = Pass.objects.filter(
        spoken_at__isnull=False, confirmed_at=None, disowned_at=None, closed_at=None
    ).select_related("cart", "given_by", "entered_by")
    for one in waiting:
        ends, cart, giver = one.confirm_by_at, one.cart.fleet_number, _cut(one.given_by.full_name, NAME)
        assert ends is not None
        assert one.spoken_at is not None
        assert one.entered_by is not None
        is_past = ends <= at
        yield Condition(
            subject_kind="pass",
            subject_id=one.pk,
            cart_id=one.cart_id,
            rank="today" if is_past else "soon",
            for_role=Role.FLEET_MANAGER if is_past else Role(one.given_by.role),
            what=f"{cart}: {giver} has not confirmed a pass entered as given by phone."
            if is_past
            else f"{cart}: a pass by phone waits for {giver} to confirm it.",
            how_we_know=f"{_cut(one.entered_by.full_name, NAME)} entered it {past_words(one.given_at, at=at)}, as spoken "
            f"{past_words(one.spoken_at, at=at)}. {_cut(one.found, SHORT)}",
            if_not="It lets the cart go no longer, and nobody answers for it where the cart has left on it."
            if is_past
            else f"After {day(ends)}, {clock_words(ends)} it lets the cart go no longer.",
            due_at=ends,
            act=f"Ask {_cut(one.given_by.full_name, 20)} to confirm it",
            evidence_at=one.given_at,
        )


def disowned_and_out(at: datetime) -> Iterator[Condition]:
    """Carts out on hire with something that stops them, which a pass let go that its manager says was never given. Put right,
    passed by somebody's own sign-in, or the cart back clears it. Queries do not grow with the passes."""
    disowned = list(
        Pass.objects.filter(disowned_at__isnull=False, cart__retired_on=None)
        .order_by("disowned_at")
        .select_related("cart", "given_by", "entered_by")
    )
    if not disowned:
        return
    carts = list({one.cart_id: one.cart for one in disowned}.values())
    needs = {pk: need for pk, need in next_need(carts, at=at).items() if need.is_out}
    out = [cart for cart in carts if cart.pk in needs]
    answers = readiness_each(out, windows={cart.pk: window_for(needs[cart.pk], at=at) for cart in out}, at=at)
    latest = {(one.rule, one.record_kind, one.record_id): one for one in disowned if one.cart_id in needs}
    for (rule, kind, pk), one in latest.items():
        stands = [
            each
            for each in answers[one.cart_id].blockers
            if (each.code, each.record) == (rule, Record(kind, pk))
        ]
        if not stands or one.disowned_at is None or one.entered_by is None:
            continue
        yield Condition(
            subject_kind="pass",
            subject_id=one.pk,
            cart_id=one.cart_id,
            rank="today",
            for_role=Role.FLEET_MANAGER,
            what=f"{one.cart.fleet_number} is out, let go by a pass that {_cut(one.given_by.full_name, NAME)} never gave.",
            how_we_know=f"{_cut(one.entered_by.full_name, NAME)} entered it {past_words(one.given_at, at=at)}; disowned "
            f"{past_words(one.disowned_at, at=at)}. {_cut(stands[0].sentence, SHORT)}",
            if_not="The cart works on with something that stops it, and nobody has let it go.",
            due_at=one.disowned_at,
            act="Pass it, put it right or fetch it back",
            evidence_at=one.disowned_at,
        )
