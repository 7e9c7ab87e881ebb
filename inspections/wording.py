"""Words of a signed walk-round: its headline, and each answer as a line for a page or a paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from django.urls import reverse

from fleet.models.carts import Cart
from inspections.clocks import is_flagged
from inspections.editions import value_words
from inspections.judging import Judged
from inspections.limits import limit_from
from inspections.models import PURPOSES, Answer
from inspections.sheet import Item, place_label
from inspections.verdict import Finding, Verdict, verdict
from inspections.vocabulary import WHY_NOT
from people.templatetags.screen import span_words

ANSWER_WORDS = {
    "good": "Good",
    "wrong": "Something’s wrong",
    "not_on_cart": "Not on this cart",
    "could_not_check": "Couldn’t check",
}


@dataclass(frozen=True)
class AnswerLine:
    """One answer in words: where, what was answered and said, its value and limit, its photos."""

    answer: Answer
    where: str
    words: str
    said: str
    value: str
    limit_words: str
    photos: list[dict[str, str]]


def where_words(check_place: str, serials: Sequence[str] = ()) -> str:
    """A stored place as a person says it; wheel codes are spelt out, anything else stands as it is."""
    for each in ("tyre", "hub"):
        try:
            return place_label(each, check_place)
        except ValueError:
            continue
    return check_place


def answer_lines(answers: Iterable[Answer]) -> list[AnswerLine]:
    """Lines in the order given (photos prefetched)."""
    lines = []
    for answer in answers:
        why = WHY_NOT.get(answer.why, "")
        said = ". ".join(part.rstrip(".") for part in (why, answer.words) if part)
        lines.append(
            AnswerLine(
                answer=answer,
                where=where_words(answer.place) if answer.place else "",
                words=ANSWER_WORDS[answer.answer],
                said=f"{said}." if said else "",
                value=f"{value_words(answer)} {answer.unit}".strip(),
                limit_words=limit_from(answer.limit).words if answer.limit else "",
                photos=[
                    _photo(answer, link.photo_id, link.photo.original_sha256) for link in answer.photos.all()
                ],
            )
        )
    return lines


def _photo(answer: Answer, photo_id: object, sha256: str) -> dict[str, str]:
    url = reverse("fleet:photo", args=[photo_id])
    return {
        "url": f"{url}?size=print",
        "full_url": url,
        "alt": f"Photo for {answer.title}",
        "caption": answer.title,
        "short_hash": sha256[:12],
    }


def verdict_of(judged: Iterable[Judged], skipped: Iterable[Item]) -> Verdict:
    """The verdict on judged answers, and on required looks the record does not answer."""
    found = [
        Finding(
            check=item.check.key,
            title=item.check.title,
            place=item.given.place,
            where=item.where,
            grade=item.grade,
            said=_said(item),
            undone=item.is_undone,
        )
        for item in judged
    ]
    found += [
        Finding(item.check.key, item.check.title, item.place, item.place_label, "", "no answer", undone=True)
        for item in skipped
    ]
    return verdict(found)


def _said(item: Judged) -> str:
    given = item.given
    if item.is_undone:
        return ", ".join(part for part in (WHY_NOT.get(given.why, "").lower(), given.words) if part)
    measured = f"{given.value} {given.unit}".strip() if given.value else ""
    limit = f"limit {item.limit.words}" if item.limit and measured else ""
    return ", ".join(part for part in (measured, limit, given.words) if part)


def headline_of(verdict_: Verdict, *, cart: Cart, purpose: str) -> str:
    """The outcome in one sentence: what was signed, of which cart, and what it comes to."""
    more = len(verdict_.reasons) - 1
    rest = f" And {more} more." if more > 0 else ""
    if verdict_.outcome == "held":
        return f"Held: {verdict_.reasons[0].sentence}{rest}"
    if verdict_.outcome == "conditions":
        return f"Goes with limits: {verdict_.reasons[0].sentence}{rest}"
    watched = f" {len(verdict_.reasons)} to watch." if verdict_.reasons else ""
    return f"Ready: nothing was found that stops {cart.fleet_number}.{watched}"


def clock_words(offset: timedelta) -> str:
    """What to tell of a tablet's clock, whose `offset` is the yard's clock less its own; empty when it was near enough."""
    if not is_flagged(offset):
        return ""
    way = "slow" if offset > timedelta(0) else "fast"
    return f"The tablet’s clock was {span_words(offset)} {way}; times are put right by it."


def purpose_label(purpose: str) -> str:
    return dict(PURPOSES)[purpose]
