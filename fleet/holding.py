"""The fleet's own findings: open defects, holds, documents, and the limits a cart goes with."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from uuid import UUID

from django.db.models import Exists, OuterRef, Q, Subquery

from fleet.models.carts import Cart
from fleet.models.defects import Defect, DefectStep
from fleet.models.equipment import STOPS_ALWAYS, STOPS_ON_ROAD, Document
from fleet.models.standing import Hold, Limit
from fleet.querysets import DefectQuerySet
from fleet.readiness import Blocker, Caution, Findings, GoesWith, Record, Window, of_then, stood
from fleet.water_standing import blocker as water_blocker
from fleet.water_standing import standings, stood_caution
from people.journal.events import Event
from people.roles import MANAGERS, Role
from people.yard import at_local, yard_day, yard_policy


class _Pile:
    """Findings of one cart while they are gathered."""

    def __init__(self) -> None:
        self.blockers: list[Blocker] = []
        self.cautions: list[Caution] = []
        self.limits: list[GoesWith] = []

    def findings(self) -> Findings:
        return Findings(tuple(self.blockers), tuple(self.cautions), tuple(self.limits))


_STANDS = {
    "reported": "nobody has looked at it yet",
    "assessed": "looked at, not begun",
    "put_off": "put off by the workshop",
    "in_repair": "on the job",
    "repaired": "done, waiting for a second look",
}


def with_repair_photo(defects: DefectQuerySet) -> DefectQuerySet:
    """Each with `has_repair_photo`: its last repair has one."""
    pictured = DefectStep.objects.filter(
        defect=OuterRef("pk"), event=Event.REPAIR_DONE, at=OuterRef("repaired_at"), photo__isnull=False
    )
    return defects.annotate(has_repair_photo=Exists(pictured))


def stops_on(defect: Defect, on: date) -> bool:
    """Whether an open defect that nothing lets by stops its cart on the yard's day."""
    return defect.grade == "do_not_use" or (defect.due_on is not None and defect.due_on < on)


def unseen_ends(defect: Defect) -> datetime | None:
    """When a repair nobody else has looked at lets its cart work on no longer, passed or to come; None where it never does:
    brakes, steering, wheels, structure, emergency stop and fire, and whatever has no photo (of with_repair_photo). A temporary
    fix no longer than to its last day."""
    has_photo: bool = defect.has_repair_photo  # type: ignore[attr-defined] # annotated
    if defect.state != "repaired" or defect.second_look_always or defect.repaired_at is None or not has_photo:
        return None
    ends = defect.repaired_at + yard_policy().unseen_for
    if defect.fix_ends_on is not None:
        ends = min(ends, at_local(defect.fix_ends_on + timedelta(days=1), time.min))
    return ends


def unseen_until(defect: Defect, window: Window) -> datetime | None:
    """Until when a repair nobody else has looked at lets the cart work on; None where it does not, and nothing at the gate."""
    ends = unseen_ends(defect)
    return None if ends is None or window.asks_gate or ends <= window.start else ends


def _unseen(pile: _Pile, defect: Defect, where: str, until: datetime) -> None:
    # The day it is last good on: a fix that is good to the end of one is not good on the next.
    day = yard_day(until - timedelta(microseconds=1))
    sentence = (
        f"{defect.title}{where}: repaired and photographed, not yet seen by a second person. "
        f"Good until {day:%-d %b} or the next gate."
    )
    pile.cautions.append(
        Caution(
            "defect.unseen", sentence, Record("defect", defect.pk), until, "a repair wants its second look"
        )
    )


def _defect(pile: _Pile, defect: Defect, limited: set[UUID], window: Window) -> None:
    record = Record("defect", defect.pk)
    where = f" ({defect.place})" if defect.place else ""
    stopping = stops_on(defect, yard_day(window.start))
    if defect.pk in limited:
        return
    if stopping and (until := unseen_until(defect, window)):
        _unseen(pile, defect, where, until)
    elif stopping:
        late = defect.grade != "do_not_use"
        why = f"was to be repaired by {defect.due_on:%-d %b}" if late and defect.due_on else "do not use"
        pile.blockers.append(
            Blocker(
                code="defect.late" if late else "defect.do_not_use",
                sentence=f"{defect.title}{where}, {why}; {_STANDS[defect.state]}.",
                record=record,
                cleared_by=MANAGERS,
                clear_words="The workshop: repair, then a second look by somebody else",
                weight=12 if late else 10,
                passed_by=MANAGERS if late and defect.may_be_passed else frozenset(),
                found_at=defect.told_at,
            )
        )
    elif defect.due_on is not None and defect.due_on < yard_day(window.end):
        due_at = at_local(defect.due_on + timedelta(days=1), time.min)
        pile.cautions.append(
            Caution("defect.by_date", f"{defect.title}{where} is to be repaired by {defect.due_on:%-d %b}.", record, due_at,
                    f"{defect.title.lower()} must be repaired")
        )  # fmt: skip
    elif defect.grade == "by_date" and defect.due_on is None:
        pile.cautions.append(
            Caution(
                "defect.undated",
                f"{defect.title}{where}: the workshop has not set a date.",
                record,
                None,
                "a date is set",
            )
        )


def as_then(defects: DefectQuerySet, *, at: datetime) -> Iterator[Defect]:
    """Defects as their last step by a moment gone by left them; never saved."""
    steps = DefectStep.objects.filter(defect=OuterRef("pk"), at__lte=at).order_by("-at")
    grade, state = Subquery(steps.values("after_grade")[:1]), Subquery(steps.values("after_state")[:1])
    for defect in defects.annotate(grade_then=grade, state_then=state):
        defect.grade = defect.grade_then or defect.grade  # type: ignore[attr-defined] # annotated
        then: str | None = defect.state_then  # type: ignore[attr-defined] # annotated
        defect.state = then or ("reported" if defect.closed_at else defect.state)
        yield defect


def _defects(
    carts: Sequence[Cart], windows: Mapping[UUID, Window], piles: defaultdict[UUID, _Pile], at: datetime
) -> None:
    limited = set()
    for limit in Limit.objects.filter(stood("set_at", "lifted_at", at=at, windows=windows), cart__in=carts):
        limited.add(limit.defect_id)
        piles[limit.cart_id].limits.append(GoesWith(limit.words, Record("defect", limit.defect_id)))
    stands = stood("told_at", "closed_at", at=at, windows=windows)
    defects = with_repair_photo(Defect.objects.filter(stands, cart__in=carts))
    for defect in as_then(defects, at=at) if of_then(windows) else defects:
        _defect(piles[defect.cart_id], defect, limited, windows[defect.cart_id])


def _holds(
    carts: Sequence[Cart], windows: Mapping[UUID, Window], piles: defaultdict[UUID, _Pile], at: datetime
) -> None:
    stands = stood("placed_at", "lifted_at", at=at, windows=windows)
    for hold in Hold.objects.filter(stands, cart__in=carts).select_related("placed_by"):
        incident = hold.kind == "incident"
        piles[hold.cart_id].blockers.append(
            Blocker(
                code="hold.incident" if incident else "hold.manual",
                sentence=f"Tagged out by {hold.placed_by.full_name}: {hold.reason.rstrip('.')}.",
                record=Record("cart", hold.cart_id),
                cleared_by=frozenset({Role.FLEET_MANAGER}) if incident else MANAGERS,
                clear_words="Fleet manager" if incident else "Workshop manager or fleet manager",
                weight=5 if incident else 8,
            )
        )


def _document(pile: _Pile, cart: Cart, document: Document, window: Window) -> None:
    last_day, kind, record = document.expires_on, document.kind, Record("cart", cart.pk)
    if kind in STOPS_ON_ROAD and not window.uses_road:
        return
    name = document.get_kind_display()
    if document.conditions and (last_day is None or last_day >= yard_day(window.start)):
        pile.limits.append(
            GoesWith(f"{name}: {document.conditions.rstrip('.')}.", Record("document", document.pk))
        )
    if last_day is None:
        return
    if last_day < yard_day(window.start):
        road = "; it may not go on a road" if kind in STOPS_ON_ROAD else ""
        sentence = f"{name} lapsed on {last_day:%-d %b %Y}{road}."
        roles = frozenset({Role.FLEET_MANAGER})
        words = "Fleet manager, with the renewed paper"
        pile.blockers.append(Blocker(f"document.{kind}", sentence, record, roles, words, weight=20))
    elif last_day < yard_day(window.end):
        due_at = at_local(last_day + timedelta(days=1), time.min)
        sentence = f"{name} lapses after {last_day:%-d %b %Y}."
        pile.cautions.append(Caution(f"document.{kind}", sentence, record, due_at, f"{name.lower()} lapses"))


def _documents(
    carts: Sequence[Cart], windows: Mapping[UUID, Window], piles: defaultdict[UUID, _Pile], at: datetime
) -> None:
    """The newest paper of each kind counts, of a moment gone by the newest on record then; a yard-wide one (no cart) covers
    every cart."""
    newest: dict[tuple[UUID | None, str], Document] = {}
    kinds = STOPS_ALWAYS | STOPS_ON_ROAD
    counts = Q(expires_on__isnull=False) | ~Q(conditions="")
    documents = Document.objects.filter(counts, Q(cart__in=carts) | Q(cart=None), kind__in=kinds)
    if of_then(windows):
        documents = documents.filter(recorded_at__lte=at)
    for document in documents.order_by("expires_on", "recorded_at"):
        newest[(document.cart_id, document.kind)] = document
    for cart in carts:
        for kind in sorted(kinds):
            for owner in (cart.pk, None):
                paper = newest.get((owner, kind))
                if paper is not None:
                    _document(piles[cart.pk], cart, paper, windows[cart.pk])


def _water(
    carts: Sequence[Cart], windows: Mapping[UUID, Window], piles: defaultdict[UUID, _Pile], at: datetime
) -> None:
    asked = [cart for cart in carts if windows[cart.pk].is_potable]
    if not asked:
        return
    found = standings(asked)
    for cart in asked:
        if stops := water_blocker(cart, found[cart.pk]):
            piles[cart.pk].blockers.append(stops)
        # A hire to come finds other water in the tank.
        if windows[cart.pk].start <= at and (caution := stood_caution(cart, found[cart.pk], at=at)):
            piles[cart.pk].cautions.append(caution)


def findings(carts: Sequence[Cart], *, windows: Mapping[UUID, Window], at: datetime) -> dict[UUID, Findings]:
    """Four queries however many carts: limits, defects, holds, documents; six more where one is wanted for potable water."""
    piles: defaultdict[UUID, _Pile] = defaultdict(_Pile)
    _defects(carts, windows, piles, at)
    _holds(carts, windows, piles, at)
    _documents(carts, windows, piles, at)
    _water(carts, windows, piles, at)
    return {cart_id: pile.findings() for cart_id, pile in piles.items()}
