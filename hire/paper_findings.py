"""What a paper says was found: the answers of its check, the open defects, and the limits and passes it goes with."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from django.db.models import Q, QuerySet

from fleet.holding import as_then
from fleet.lap.stations import STATIONS
from fleet.models.defects import Defect
from fleet.models.equipment import Document
from fleet.models.standing import Limit, Pass
from fleet.readiness import stood_at
from hire.paper_photos import Photos
from hire.paper_source import Source
from inspections.certificates import parts
from inspections.editions import value_words
from inspections.limits import limit_from
from inspections.models import Answer
from inspections.wording import where_words


def _verdict_words(answer: Answer) -> str:
    if not answer.limit:
        return ""
    return "outside limit" if answer.grade else "within limit"


def _result(answer: Answer, photos: Photos) -> parts.Result:
    return parts.Result(
        number=answer.number,
        check=answer.check_key,
        title=answer.title,
        answer=answer.answer,
        place=where_words(answer.place) if answer.place else "",
        why=answer.why,
        words=answer.words,
        value=value_words(answer) or None,
        unit=answer.unit,
        limit=limit_from(answer.limit).words if answer.limit else "",
        verdict=_verdict_words(answer),
        grade=answer.grade or None,
        photos=photos.add(
            [link.photo for link in answer.photos.all()],
            item=answer.title,
            place=where_words(answer.place),
            taken_at=answer.answered_at,
        ),
    )


def stations(source: Source, photos: Photos) -> tuple[parts.Station, ...]:
    """The walk-round's answers by station, in lap order; a station where nothing was asked is left out."""
    answers = list(source.walk.answers.order_by("number").prefetch_related("photos__photo"))
    found = []
    for station in STATIONS:
        results = tuple(_result(answer, photos) for answer in answers if answer.station == station.key)
        if results:
            found.append(parts.Station(key=station.key, label=station.label, results=results))
    return tuple(found)


def defects(source: Source, photos: Photos) -> tuple[parts.Defect, ...]:
    """The cart's open defects, worst first; of a cart that left earlier, those open then."""
    isolated = set(_limits_of(source).values_list("defect_id", flat=True))
    return tuple(
        parts.Defect(
            reference=str(defect.pk)[:8],
            title=defect.title,
            place=where_words(defect.place) if defect.place else "",
            grade=defect.grade,
            words=defect.words or "No further words.",
            told_at=source.moment(defect.told_at),
            due_on=defect.due_on.isoformat() if defect.due_on else None,
            state=defect.get_state_display().lower(),
            isolated=defect.pk in isolated,
            photos=photos.add(
                defect.photos.all(),
                item=defect.title,
                place=where_words(defect.place),
                taken_at=defect.told_at,
            ),
        )
        for defect in _open_defects(source)
    )


def _open_defects(source: Source) -> Iterable[Defect]:
    stands = Q(closed_at=None) if source.left is None else stood_at("told_at", "closed_at", at=source.left)
    found = Defect.objects.filter(stands, cart=source.cart).worst_first().prefetch_related("photos")
    return found if source.left is None else as_then(found, at=source.left)


def _limits_of(source: Source) -> QuerySet[Limit]:
    stands = Q(lifted_at=None) if source.left is None else stood_at("set_at", "lifted_at", at=source.left)
    return Limit.objects.filter(stands, cart=source.cart)


def limits(source: Source) -> tuple[parts.Limit, ...]:
    """The limits the cart goes with."""
    rows = _limits_of(source).select_related("set_by", "defect")
    return (*_of_gear(source, rows), *_of_papers(source))


def _of_papers(source: Source) -> Iterator[parts.Limit]:
    """What a paper of the cart or the yard holds only with, as its readiness has it."""
    named = {limit.record.id: limit for limit in source.answer.limits if limit.record.kind == "document"}
    for row in Document.objects.filter(pk__in=named).select_related("recorded_by").order_by("kind"):
        by = row.recorded_by
        yield parts.Limit(
            what=named[row.pk].sentence,
            why=f"A condition of the paper{f' {row.number}' if row.number else ''}.",
            tag="",
            by=by.full_name if by else "",
            role=by.role_label if by else "",
            tagged_at=source.moment(row.recorded_at),
            told="On record",
        )


def _of_gear(source: Source, rows: Iterable[Limit]) -> tuple[parts.Limit, ...]:
    return tuple(
        parts.Limit(
            what=row.words,
            why=f"{row.defect.title}. {row.how_isolated}",
            tag=row.tag_number,
            by=row.set_by.full_name,
            role=row.set_by.role_label,
            tagged_at=source.moment(row.set_at),
        )
        for row in rows
    )


def _second(given: Pass) -> dict[str, str]:
    """Who stands beside the giver: one of the yard with their role, an outsider with their firm."""
    if given.second_person is not None:
        return {"second_name": given.second_person.full_name, "second_role": given.second_person.role_label}
    return {"second_name": given.second_name, "second_role": given.second_firm}


def _spoken(given: Pass, source: Source) -> dict[str, Any]:
    """Of one given by phone: when it was spoken, who entered it, and whether its giver has confirmed it."""
    if given.spoken_at is None or given.entered_by is None:
        return {}
    return {
        "spoken_at": source.moment(given.spoken_at),
        "entered_by": given.entered_by.full_name,
        "confirmed_at": source.moment(given.confirmed_at) if given.confirmed_at else None,
    }


def passes(source: Source) -> tuple[parts.Pass, ...]:
    """What is passed by authority for this hire."""
    return tuple(
        parts.Pass(
            rule=one.blocker.sentence,
            found=one.given.found,
            reason=f"{one.given.reason}: {one.given.words}",
            by=one.given.given_by.full_name,
            role=one.given.given_by.role_label,
            given_at=source.moment(one.given.given_at),
            ends_at=source.moment(one.given.ends_at),
            ends_when=one.given.ends_event,
            done_instead=one.given.done_instead,
            told=one.given.told_words,
            condition=one.given.condition_words,
            **_second(one.given),
            **_spoken(one.given, source),
        )
        for one in source.answer.passed
    )
