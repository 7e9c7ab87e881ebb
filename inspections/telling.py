"""What a walk-round found told as defects; and one that had joined an open defect told as one of its own."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from fleet.actions.defects import find_again, tell_defect
from fleet.models.carts import Cart
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from inspections.check import Check
from inspections.editions import checks_of_edition
from inspections.judging import Judged, worst
from inspections.models import Answer, WalkRound
from inspections.walkers import Walker, staff_or_none
from people.models import Staff
from people.say import say


def tell_findings(
    walk: WalkRound, cart: Cart, judged: Sequence[Judged], photos: Mapping[str, Photo], *, by: Walker
) -> None:
    """Every finding is a defect at once, unless an open one at least as bad already stands for the same thing. A repair of
    it that waits for its second look goes back to the job."""
    standing: defaultdict[tuple[str, str], list[Defect]] = defaultdict(list)
    for defect in cart.defects.filter(closed_at=None).exclude(check_key=""):
        standing[defect.check_key, defect.place].append(defect)
    for item in judged:
        same = standing[item.check.key, item.given.place]
        known = worst(*(defect.grade for defect in same))
        if not item.grade:
            continue
        said = _said(item.given.value, item.given.unit, item.given.words)
        pictures = [photos[sha256] for sha256 in item.given.photos]
        who: dict[str, Any] = {"by": staff_or_none(by), "by_words": walk.author_words, "at": walk.received_at}
        for defect in same:
            if defect.state == "repaired":
                find_again(defect=defect, words=said, photos=pictures, **who)
        if worst(known, item.grade) == known:
            continue
        _tell(
            walk,
            cart,
            item.check,
            place=item.given.place,
            grade=item.grade,
            words=said,
            photos=pictures,
            **who,
        )


@transaction.atomic
def tell_apart(*, answer: Answer, words: str, by: Staff, at: datetime) -> Defect:
    """A finding that joined an open defect is damage of its own: told as its walk-round would have, with its grade and its
    pictures. words: what it is. Told once; again, the first is given back."""
    walk = answer.walk_round
    check = next(check for check in checks_of_edition(walk.edition) if check.key == answer.check_key)
    return _tell(
        walk,
        walk.cart,
        check,
        place=answer.place,
        grade=answer.grade,
        words=". ".join(filter(None, [words.rstrip("."), _said(answer.value, answer.unit, answer.words)])),
        photos=[link.photo for link in answer.photos.select_related("photo").order_by("number")],
        by=by,
        by_words=f"{by.full_name}, from what {walk.author_name} found",
        at=at,
    )


def _said(value: str | None, unit: str | None, words: str) -> str:
    measured = f"{value} {unit or ''}".strip() if value else ""
    return ". ".join(part for part in (measured, words) if part)


def _tell(
    walk: WalkRound, cart: Cart, check: Check, *, place: str, grade: str, words: str, photos: Sequence[Photo], **who: Any
) -> Defect:  # fmt: skip
    return tell_defect(
        cart=cart,
        title=say(check.title, most=80),
        words=words,
        station=check.station,
        place=place,
        grade=grade,
        source=("walk_round", walk.pk),
        check_key=check.key,
        gear=check.gear,
        second_look_always=check.second_look == "always",
        may_be_passed=check.second_look != "always",
        photos=photos,
        **who,
    )
