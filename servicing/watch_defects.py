"""What is watched of defects by their dates: to be repaired by, put off until, looked at again, a temporary fix's last day, and
how long a repair is let go unseen."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet

from fleet.alerts.rules import Condition
from fleet.holding import stops_on, unseen_ends, with_repair_photo
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.models.standing import Limit
from fleet.needs import next_need
from fleet.querysets import DefectQuerySet
from people.roles import Role
from people.templatetags.screen import clock_words, day, day_year
from people.yard import at_local, yard_day, yard_policy
from servicing.returning import open_fixes

# A cart promised this soon that its defect holds is a hire about to fail. Common practice, no source.
PROMISED_SOON = timedelta(hours=48)
# Told this long before a day ends something. Common practice, no source.
DAYS_BEFORE = timedelta(days=3)
UNSEEN_DAYS_BEFORE = timedelta(days=2)
ON_RECORD = "Its date as it was set on record."


def _defects() -> DefectQuerySet:
    return Defect.objects.filter(cart__retired_on=None).select_related("cart")


def _isolated() -> QuerySet[Limit]:
    return Limit.objects.filter(defect=OuterRef("pk"), lifted_at=None)


def _words(defect: Defect) -> str:
    return f"{defect.cart.fleet_number}: {defect.title}"


def _until(on: date) -> datetime:
    """The end of a last day."""
    return at_local(on + timedelta(days=1), time.min)


def _condition(
    defect: Defect,
    rank: str,
    *,
    what: str,
    if_not: str,
    act: str,
    due_at: datetime,
    how: str = ON_RECORD,
    only_keeps: bool = False,
) -> Condition:
    return Condition(
        subject_kind="defect",
        subject_id=defect.pk,
        cart_id=defect.cart_id,
        rank=rank,
        for_role=Role.WORKSHOP_MANAGER,
        what=what,
        how_we_know=how,
        if_not=if_not,
        due_at=due_at,
        act=act,
        only_keeps=only_keeps,
    )


def past_date(at: datetime) -> Iterator[Condition]:
    """Open defects whose date to be repaired by has passed: today, and stop where that holds a cart that is promised within
    48 h. Gear that is isolated holds no cart. Closing or dating it anew clears it. Two queries."""
    today = yard_day(at)
    late = list(
        _defects().open().filter(grade="by_date", due_on__lt=today).annotate(is_isolated=Exists(_isolated()))
    )
    needs = next_need(Cart.objects.filter(defects__in=[one.pk for one in late]), at=at) if late else {}
    for defect in late:
        if defect.due_on is None:
            continue
        need = needs.get(defect.cart_id)
        is_soon = need is not None and not need.is_out and need.window.start - at <= PROMISED_SOON
        holds = is_soon and not defect.is_isolated  # type: ignore[attr-defined] # annotated
        promised = ""
        if need is not None and holds:
            start = need.window.start
            promised = f" It is promised for {day(start)}, {clock_words(start)}, to {need.label}."
        yield _condition(
            defect,
            "stop" if holds else "today",
            what=f"{_words(defect)} was to be repaired by {day_year(defect.due_on)}.{promised}",
            if_not="The cart is held at the gate until it is repaired and has had its second look.",
            act="Put it on the job",
            due_at=_until(defect.due_on),
        )


def put_off_ending(at: datetime) -> Iterator[Condition]:
    """Defects put off whose day is at most three days away, or has come. A look or a start clears it. One query."""
    today = yard_day(at)
    for defect in _defects().filter(state="put_off", put_off_until__lte=today + DAYS_BEFORE):
        if defect.put_off_until is None:
            continue
        is_back = defect.put_off_until <= today
        how = "is back in the queue" if is_back else "comes back to the queue"
        yield _condition(
            defect,
            "soon",
            what=f"{_words(defect)} was put off until {day_year(defect.put_off_until)} and {how}.",
            if_not="It waits with nobody’s eye on it, and can be put off again at most twice.",
            act="Look at it",
            due_at=at_local(defect.put_off_until, time.min),
            how=f"Put off because: {defect.put_off_because}",
        )


def look_again_due(at: datetime) -> Iterator[Condition]:
    """Defects to watch whose day to be looked at again has come. A look clears it. One query."""
    due = _defects().open().filter(grade="watch", look_again_on__lte=yard_day(at)).exclude(state="repaired")
    for defect in due:
        if defect.look_again_on is None:
            continue
        trigger = (
            f" It was to be looked at before if: {defect.look_again_if}." if defect.look_again_if else ""
        )
        yield _condition(
            defect,
            "soon",
            what=f"{_words(defect)} was to be looked at again on {day_year(defect.look_again_on)}.",
            if_not="A small fault grows unseen. A watch is renewed at most twice; then it is repaired by a date.",
            act="Look at it again",
            due_at=at_local(defect.look_again_on, time.min),
            how=ON_RECORD + trigger,
        )


def temporary_fix_ending(at: datetime) -> Iterator[Condition]:
    """Temporary fixes whose last day is at most three days away or past: soon, and today from that day. Telling the defect
    again clears it, which the hourly round does by itself once the day has passed. One query."""
    today = yard_day(at)
    for defect in open_fixes(_defects().filter(fix_ends_on__lte=today + DAYS_BEFORE)):
        if defect.fix_ends_on is None:
            continue
        is_over = defect.fix_ends_on < today
        yield _condition(
            defect,
            "today" if defect.fix_ends_on <= today else "soon",
            what=f"{_words(defect)}: its temporary fix {'ended' if is_over else 'ends'} on {day_year(defect.fix_ends_on)}.",
            if_not="The cart works on a fix that was never meant to last.",
            act="Make the repair that lasts",
            due_at=_until(defect.fix_ends_on),
            how=f"As the fitter put it down: {defect.repair_words}",
        )


def _nearly_unseen(today: date) -> list[Defect]:
    """Photographed repairs of carts that are let work on unseen until at most two days from today, or were until before."""
    first_far = at_local(today + UNSEEN_DAYS_BEFORE + timedelta(days=1), time.min)
    near = Q(repaired_at__lt=first_far - yard_policy().unseen_for)
    near |= Q(fix_ends_on__lt=today + UNSEEN_DAYS_BEFORE)
    waiting = _defects().filter(near, ~Exists(_isolated()), state="repaired", second_look_always=False)
    return list(with_repair_photo(waiting).select_related("repaired_by"))


def unseen_ending(at: datetime) -> Iterator[Condition]:
    """Repairs nobody else has looked at that let a cart at work go on for at most two days more: soon, and today from the last
    whole day, so that somebody can be sent before the cart stops on site; past the end too, where it then does stop. A second
    look or sending back clears it; a cart that came back to the yard keeps it, and raises none. Two queries."""
    today = yard_day(at)
    found = [(one, ends) for one in _nearly_unseen(today) if (ends := unseen_ends(one))]
    stopping = [(one, ends) for one, ends in found if stops_on(one, yard_day(ends))]
    carts = Cart.objects.filter(pk__in=[one.cart_id for one, _ in stopping])
    needs = next_need(carts, at=at) if stopping else {}
    for defect, ends in stopping:
        need = needs.get(defect.cart_id)
        yield _unseen(defect, ends, at=at, is_out=need is not None and need.is_out)


def _repair_words(defect: Defect) -> str:
    by, when = defect.repaired_by, defect.repaired_at
    if by is None or when is None:
        return ON_RECORD
    return (
        f"Repaired by {by.full_name}, {day(when)}, {clock_words(when)}, with a photo: {defect.repair_words}"
    )


def _unseen(defect: Defect, ends: datetime, *, at: datetime, is_out: bool) -> Condition:
    last_day = yard_day(ends - timedelta(microseconds=1))
    is_whole = last_day != yard_day(ends)
    until = f"the end of {day(last_day)}" if is_whole else f"{day(ends)}, {clock_words(ends)}"
    return _condition(
        defect,
        "today" if yard_day(ends) <= yard_day(at) + timedelta(days=1) else "soon",
        what=f"{_words(defect)} is repaired and not yet seen by a second person. "
        f"The cart {'could' if ends <= at else 'can'} work on until {until}.",
        if_not="It passes no gate until somebody else has looked." if not is_out
        else "It is held where it works until somebody else has looked." if ends <= at
        else "Then it is held where it works.",
        act="Have somebody else look at it",
        due_at=ends,
        how=_repair_words(defect),
        only_keeps=not is_out,
    )  # fmt: skip
