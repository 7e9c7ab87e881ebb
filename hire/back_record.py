"""How a cart left on a hire and how it came back, read from the records. Reads only, in a constant number of queries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from hire.back_again import Again, again_of, asked_of
from hire.back_findings import BACK, OUT, Told, defects_of, findings_of, next_out
from hire.back_terms import DIRT_WORDS
from hire.charging.back import BackFacts, KitItem
from hire.comparing import Look, Stop, compare, number_in
from hire.models.agreements import Line
from hire.models.back import KitCount
from hire.models.gate import Handover
from inspections.editions import value_words
from inspections.models import Answer, AnswerPhoto, WalkRound
from inspections.wording import AnswerLine, answer_lines

# Checks whose values stand at the top of the page, by key, with the handover's own fuel.
METERS = ("engine-hours", "pump-hours", "odometer")
FUEL, DIRT = "fuel", "how-dirty"


@dataclass(frozen=True)
class Record:
    """walks: by purpose, the newest of each. stops: what is worth showing by station. lines: each walk-round's answers as shown,
    by its purpose. on_record: what was wrong as it left; new: told since, not on that record; again:
    found where something on that record was, and told as nothing of its own."""

    line: Line
    handover: Handover | None
    walks: Mapping[str, WalkRound]
    lines: Mapping[str, Sequence[AnswerLine]]
    looks: Mapping[str, Sequence[Look]]
    stops: Sequence[Stop]
    on_record: Sequence[Told]
    new: Sequence[Told]
    again: Sequence[Again]
    facts: BackFacts
    kit_count: KitCount | None = None

    @property
    def is_back(self) -> bool:
        """Whether there is anything to compare it with: recorded back, or walked as it came."""
        return self.line.back_at is not None or any(purpose in self.walks for purpose in BACK)


def kit_of(line: Line, handover: Handover | None, count: KitCount | None) -> tuple[KitItem, ...]:
    """What went out by the handover's list, with what was counted of it."""
    items = [text.strip() for text in (handover.items_words if handover else "").splitlines()]
    counted = count.body if count else {}
    return tuple(
        KitItem(n, what, counted.get(str(n), {}).get("state", ""), counted.get(str(n), {}).get("words", ""))
        for n, what in enumerate(filter(None, items), start=1)
    )


def read_record(line: Line) -> Record:
    """The record of one hire, out and back. A cart that never left has an empty one."""
    handover = Handover.objects.filter(line=line).prefetch_related("photos__photo").first()
    count = line.kit_counts.select_related("counted_by").order_by("-counted_at").first()
    walks = _walks(line) if line.handed_over_at else {}
    lines = _lines(walks)
    looks = {purpose: _looks(lines[purpose]) for purpose in walks}
    out = [look for purpose in OUT for look in looks.get(purpose, ())]
    back = [look for purpose in BACK for look in looks.get(purpose, ())]
    on_record, new, told_since = defects_of(line, walks, back) if line.handed_over_at else ([], [], set())
    known = {(told.defect.check_key, told.defect.place) for told in on_record}
    signed = [one.answer for purpose in BACK for one in lines.get(purpose, ())]
    again = again_of(line, walks, lines, on_record, told_since)
    return Record(
        line=line,
        handover=handover,
        walks=walks,
        lines=lines,
        looks=looks,
        stops=compare(out, back, known=known, apart={*METERS, FUEL}),
        on_record=on_record,
        new=new,
        again=again,
        facts=facts_from(
            line, handover, count, signed, findings=findings_of(line, new), again=asked_of(again)
        ),
        kit_count=count,
    )


def _walks(line: Line) -> dict[str, WalkRound]:
    """The newest of each purpose before it left, and of each after, up to the next time it left."""
    rows = WalkRound.objects.counting().filter(cart=line.cart_id).defer("manifest")
    rows = rows.select_related("edition").order_by("-signed_at", "-received_at")
    before = rows.filter(signed_at__lte=line.handed_over_at)
    after = rows.filter(signed_at__gt=line.handed_over_at)
    if left_again := next_out(line):
        after = after.filter(signed_at__lt=left_again)
    found = {purpose: before.filter(purpose=purpose).first() for purpose in OUT}
    found |= {purpose: after.filter(purpose=purpose).first() for purpose in BACK}
    return {purpose: walk for purpose, walk in found.items() if walk is not None}


def _lines(walks: Mapping[str, WalkRound]) -> dict[str, list[AnswerLine]]:
    photos = Prefetch("photos", AnswerPhoto.objects.select_related("photo"))
    rows = Answer.objects.filter(walk_round__in=list(walks.values())).order_by("number")
    of = {walk.pk: walk for walk in walks.values()}
    answers = list(rows.prefetch_related(photos))
    for answer in answers:
        answer.walk_round = of[answer.walk_round_id]
    found = answer_lines(answers)
    return {
        purpose: [line for line in found if line.answer.walk_round_id == walk.pk]
        for purpose, walk in walks.items()
    }


def _looks(lines: Sequence[AnswerLine]) -> list[Look]:
    return [
        Look(
            key=line.answer.check_key,
            title=line.answer.title,
            station=line.answer.station,
            place=line.answer.place,
            where=line.where,
            answer=line.answer.answer,
            answer_words=line.words,
            said=line.said,
            value=value_words(line.answer),
            unit=line.answer.unit,
            grade=line.answer.grade,
            has_photo=bool(line.photos),
        )
        for line in lines
    ]


def facts_from(
    line: Line, handover: Handover | None, count: KitCount | None, signed: Iterable[Answer], **found: Any
) -> BackFacts:
    """What is decided on. signed: the answers as it came back, the later last; found: findings and again."""
    answers = {one.check_key: one for one in signed}
    fuel, dirt = answers.get(FUEL), answers.get(DIRT)
    left_with = Decimal(handover.fuel_eighths) if handover else None
    return BackFacts(
        fuel_out=left_with,
        fuel_back=number_in(fuel.value) if fuel else None,
        fuel_tank_l=Decimal(line.cart.fuel_tank_l) if line.cart.fuel_tank_l else None,
        dirt=dirt.value if dirt and dirt.value in DIRT_WORDS else "",
        kit=kit_of(line, handover, count),
        **found,
    )
