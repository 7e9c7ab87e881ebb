"""Carts that are back with things found that nobody has decided, over every hire at once. Reads only.

The database leaves out nearly every hire with nothing to decide; what the page of one hire goes by says of the rest.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from uuid import UUID

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery, TextField, Value
from django.db.models.functions import Cast, Coalesce, Concat, Least

from fleet.models.defects import Defect
from hire.back_again import is_asked
from hire.back_decisions import is_open, last_words
from hire.back_findings import BACK, Parted, near_defects, part, signed_of, where_of
from hire.back_record import DIRT, FUEL, facts_from
from hire.back_terms import DIRT_WORDS
from hire.charging.back import BackFacts, Finding, FoundAgain, propose
from hire.models.agreements import Line
from hire.models.back import AgainSaid, BackDecision, KitCount
from hire.models.gate import Handover
from inspections.models import Answer, WalkRound

NEVER = datetime(9000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Undecided:
    """A hire that is over, and what is to be decided of it, in words."""

    line: Line
    things: Sequence[str]


def undecided(lines: QuerySet[Line]) -> list[Undecided]:
    """Those of these hires whose cart is back with anything undecided, longest back first. Ten queries."""
    found = list(
        candidates(lines.filter(back_at__isnull=False))
        .select_related("cart", "agreement__customer")
        .order_by("back_at")
    )
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


def candidates(lines: QuerySet[Line]) -> QuerySet[Line]:
    """Every one of these hires that has anything undecided, and some others; with left_again and until, as the page has them."""
    later = Line.objects.filter(cart=OuterRef("cart"), handed_over_at__gt=OuterRef("handed_over_at"))
    checked = WalkRound.objects.filter(
        cart=OuterRef("cart"), purpose="pre_hire", signed_at__gt=OuterRef("back_at")
    )
    while_ours = {
        "cart": OuterRef("cart"),
        "signed_at__gt": OuterRef("handed_over_at"),
        "signed_at__lt": OuterRef("left_again"),
    }
    washed = WalkRound.objects.counting().filter(purpose="after_wash", **while_ours)
    dated = lines.annotate(
        left_again=Coalesce(Subquery(later.order_by("handed_over_at").values("handed_over_at")[:1]), NEVER)
    ).annotate(
        until=Coalesce(
            Subquery(washed.order_by("-signed_at", "-received_at").values("received_at")[:1]),
            Least(Subquery(checked.order_by("signed_at").values("signed_at")[:1]), F("left_again")),
        )
    )
    answers = Answer.objects.filter(
        walk_round__purpose__in=BACK, **{f"walk_round__{name}": value for name, value in while_ours.items()}
    )
    told = Defect.objects.filter(
        cart=OuterRef("cart"), told_at__gt=OuterRef("handed_over_at"), told_at__lte=OuterRef("until")
    )
    counted = KitCount.objects.filter(line=OuterRef("pk")).annotate(text=Cast("body", TextField()))
    filled = Cast(OuterRef("handover__fuel_eighths"), TextField())
    return dated.filter(
        Exists(told.exclude(_settled()))
        | Exists(answers.exclude(grade="").exclude(_answered()))
        | Exists(answers.filter(check_key=FUEL).exclude(value=filled)) & ~_decided("fuel")
        | Exists(answers.filter(check_key=DIRT, value__in=DIRT_WORDS).exclude(value="rinse"))
        & ~_decided("cleaning")
        | Exists(counted.filter(Q(text__contains='"missing"') | Q(text__contains='"broken"')))
    )


def _last_word(**of: object) -> Exists:
    """A last word that stands: it is let go, or charged and not struck out."""
    return Exists(BackDecision.objects.filter(replaced_by=None, beside__struck_at=None, **of))


def _decided(thing: str) -> Exists:
    return _last_word(thing=Concat(Value(f"{thing} "), Cast(OuterRef("pk"), TextField())))


def _settled() -> Q:
    """Of a defect: it was none, it is decided with another, or it is decided."""
    return Q(state__in=("no_fault_found", "same_as")) | Q(_last_word(defect=OuterRef("pk")))


def _answered() -> Q:
    """Of an answer: it is the same as before, or the defect it told is settled."""
    told = Defect.objects.filter(
        source_id=OuterRef("walk_round"), check_key=OuterRef("check_key"), place=OuterRef("place")
    )
    same = AgainSaid.objects.filter(answer=OuterRef("pk"), outcome="same")
    return Q(Exists(same)) | Q(Exists(told.filter(_settled())))


def _facts_of(lines: Sequence[Line], said: Collection[UUID]) -> dict[Line, BackFacts]:
    """What is known of each of the candidates, as its page has it but for how it is shown."""
    walks = _walks(lines)
    answers = _answers(pk for of_line in walks.values() for pk in of_line.values())
    parted = _parted(lines, walks)
    handovers = {row.line_id: row for row in Handover.objects.filter(line__in=lines)}
    counted = {row.line_id: row for row in KitCount.objects.filter(line__in=lines).order_by("counted_at")}
    found = {}
    for line in lines:
        of_line = walks.get(line.pk, {})
        signed = [one for purpose in BACK for one in answers.get(of_line.get(purpose), ())]
        found[line] = facts_from(
            line,
            handovers.get(line.pk),
            counted.get(line.pk),
            signed,
            findings=_findings(parted[line.pk]),
            again=_again(parted[line.pk], signed, said),
        )
    return found


def _walks(lines: Sequence[Line]) -> dict[UUID, dict[str, UUID]]:
    """By hire and purpose, the newest walk-round of how its cart came back."""
    rows = (
        WalkRound.objects.counting()
        .filter(cart__in={line.cart_id for line in lines}, purpose__in=BACK)
        .order_by("signed_at", "received_at")
        .values_list("cart", "purpose", "signed_at", "pk")
    )
    by_cart = defaultdict(list)
    for cart, *walk in rows:
        by_cart[cart].append(walk)
    return {
        line.pk: {
            purpose: pk
            for purpose, signed_at, pk in by_cart[line.cart_id]
            if line.handed_over_at < signed_at < line.left_again
        }
        for line in lines
    }


def _answers(walks: Iterable[UUID]) -> dict[UUID, list[Answer]]:
    rows = Answer.objects.filter(~Q(grade="") | Q(check_key__in=(FUEL, DIRT)), walk_round__in=list(walks))
    found = defaultdict(list)
    for row in rows:
        found[row.walk_round_id].append(row)
    return found


def _parted(lines: Sequence[Line], walks: Mapping[UUID, Mapping[str, UUID]]) -> dict[UUID, Parted]:
    told_by = {pk for of_line in walks.values() for pk in of_line.values()}
    first = min((line.handed_over_at for line in lines), default=NEVER)
    near = near_defects(first, told_by)
    rows = defaultdict(list)
    for defect in Defect.objects.filter(near, cart__in={line.cart_id for line in lines}):
        rows[defect.cart_id].append(defect)
    signed = signed_of(row for of_cart in rows.values() for row in of_cart)
    return {
        line.pk: part(
            rows[line.cart_id],
            left=line.handed_over_at,
            until=line.until,
            out_ids=(),
            back_ids=set(walks[line.pk].values()),
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
