"""Carts that are back with things found that nobody has decided, over many hires at once, by what the page of one hire goes by.
Reads only."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

from django.db.models import Q, QuerySet

from fleet.models.defects import Defect
from hire.back_again import is_asked
from hire.back_decisions import is_open, last_words
from hire.back_findings import BACK, Parted, near_defects, part, signed_of, where_of
from hire.back_record import DIRT, FUEL, facts_from
from hire.charging.back import BackFacts, Finding, FoundAgain, propose
from hire.models.agreements import Line
from hire.models.back import AgainSaid, KitCount
from hire.models.gate import Handover
from inspections.models import Answer, WalkRound

# What nobody decided in a quarter is asked for no more; the page of the hire still has it. Common practice, no source.
ASKED_FOR = timedelta(days=92)
NEVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Undecided:
    """A hire that is over, and what is to be decided of it, in words."""

    line: Line
    things: Sequence[str]


@dataclass(frozen=True)
class _Span:
    """Of one hire: the newest walk-round of how its cart came back, by purpose, and up to when a defect counts as found then."""

    walks: Mapping[str, UUID]
    until: datetime | None


def undecided(lines: QuerySet[Line], *, at: datetime) -> list[Undecided]:
    """Those of these hires whose cart is back with anything undecided, longest back first. Twelve queries."""
    back = lines.filter(back_at__gt=at - ASKED_FOR).select_related("cart", "agreement__customer")
    found = list(back.order_by("back_at"))
    said = set(AgainSaid.objects.filter(line__in=found).values_list("answer", flat=True))
    proposals = {line: propose(facts) for line, facts in _facts_of(found, said).items()}
    words, told_apart = last_words(proposals), {f"again-{pk}" for pk in said}
    rows = []
    for line, proposed in proposals.items():
        things = [
            one.what for one in proposed if one.key not in told_apart and is_open(words[line.pk, one.key])
        ]
        if things:
            rows.append(Undecided(line, things))
    return rows


def _facts_of(lines: Sequence[Line], said: Collection[UUID]) -> dict[Line, BackFacts]:
    """What is decided on of each, as its page has it but for how it is shown."""
    spans = _spans(lines)
    answers = _answers(pk for span in spans.values() for pk in span.walks.values())
    parted = _parted(lines, spans)
    handovers = {row.line_id: row for row in Handover.objects.filter(line__in=lines)}
    counted = {row.line_id: row for row in KitCount.objects.filter(line__in=lines).order_by("counted_at")}
    found = {}
    for line in lines:
        walks = spans[line.pk].walks
        signed = [one for purpose in BACK if purpose in walks for one in answers[walks[purpose]]]
        found[line] = facts_from(
            line,
            handovers.get(line.pk),
            counted.get(line.pk),
            signed,
            findings=_findings(parted[line.pk]),
            again=_again(parted[line.pk], signed, said),
        )
    return found


def _spans(lines: Sequence[Line]) -> dict[UUID, _Span]:
    carts = {line.cart_id for line in lines}
    left: defaultdict[UUID, list[datetime | None]] = defaultdict(list)
    outs = Line.objects.filter(cart__in=carts, handed_over_at__isnull=False).order_by("handed_over_at")
    for cart, handed_over_at in outs.values_list("cart", "handed_over_at"):
        left[cart].append(handed_over_at)
    walks = defaultdict(list)
    rows = WalkRound.objects.filter(
        cart__in=carts, purpose__in=(*BACK, "pre_hire"), signed_at__gt=_first(lines)
    )
    for row in rows.defer("manifest").order_by("signed_at", "received_at"):
        walks[row.cart_id].append(row)
    return {line.pk: _span(line, left[line.cart_id], walks[line.cart_id]) for line in lines}


def _span(line: Line, left: Sequence[datetime | None], walks: Sequence[WalkRound]) -> _Span:
    assert line.handed_over_at is not None
    assert line.back_at is not None
    again = next((moment for moment in left if moment and moment > line.handed_over_at), None)
    ours = {
        row.purpose: row
        for row in walks
        if row.purpose in BACK
        and line.handed_over_at < row.signed_at
        and (again is None or row.signed_at < again)
    }
    checked = next(
        (row.signed_at for row in walks if row.purpose == "pre_hire" and row.signed_at > line.back_at), None
    )
    washed = ours.get("after_wash")
    until = washed.received_at if washed else min(filter(None, (checked, again)), default=None)
    return _Span({purpose: row.pk for purpose, row in ours.items()}, until)


def _first(lines: Sequence[Line]) -> datetime:
    """When the first of them left."""
    return min((line.handed_over_at for line in lines if line.handed_over_at), default=NEVER)


def _answers(walks: Iterable[UUID]) -> dict[UUID, list[Answer]]:
    rows = Answer.objects.filter(~Q(grade="") | Q(check_key__in=(FUEL, DIRT)), walk_round__in=list(walks))
    found = defaultdict(list)
    for row in rows:
        found[row.walk_round_id].append(row)
    return found


def _parted(lines: Sequence[Line], spans: Mapping[UUID, _Span]) -> dict[UUID, Parted]:
    near = near_defects(_first(lines), {pk for span in spans.values() for pk in span.walks.values()})
    rows = defaultdict(list)
    for defect in Defect.objects.filter(near, cart__in={line.cart_id for line in lines}).order_by("told_at"):
        rows[defect.cart_id].append(defect)
    signed = signed_of(row for of_cart in rows.values() for row in of_cart)
    return {
        line.pk: part(
            rows[line.cart_id],
            left=line.handed_over_at or NEVER,
            until=spans[line.pk].until,
            out_ids=(),
            back_ids=set(spans[line.pk].walks.values()),
            signed=signed,
        )
        for line in lines
    }


def _findings(parted: Parted) -> tuple[Finding, ...]:
    since = [row for row in parted.since if row.state != "no_fault_found"]
    return tuple(Finding(str(row.pk), row.title, where_of(row), "") for row in since)


def _again(parted: Parted, signed: Sequence[Answer], said: Collection[UUID]) -> tuple[FoundAgain, ...]:
    stood = {(row.check_key, row.place) for row in parted.stood if row.check_key}
    wrong = {(row.check_key, row.place): row for row in signed if row.grade}
    return tuple(
        FoundAgain(str(row.pk), row.title, where_of(row), "")
        for key, row in wrong.items()
        if key in stood and is_asked(row.pk, key, told_since=parted.keys, said=said)
    )
