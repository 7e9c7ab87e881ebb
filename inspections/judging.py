"""Judging signed answers against the sheet they were asked from. The verdict itself is inspections.verdict."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.lap.stations import station
from inspections.check import Check
from inspections.derived import number_or_none
from inspections.limits import Limit, keeps
from inspections.manifest import GivenAnswer, ManifestRefused
from inspections.sheet import Item, Sheet, place_label
from inspections.vocabulary import GRADE_KEYS


@dataclass(frozen=True)
class Judged:
    """A given answer with the check it answers, its limit, and the grade it comes to ("" when nothing is wrong)."""

    given: GivenAnswer
    check: Check
    limit: Limit | None
    grade: str

    @property
    def where(self) -> str:
        """The place as a person says it."""
        return place_label(self.check.each, self.given.place) or station(self.check.station).label

    @property
    def is_undone(self) -> bool:
        """A required check that was not made: not done, and the cart stays.

        Couldn't check; said not to be on the cart where that is no answer; or called good without the reading, month or
        choice it asks for.
        """
        if not self.check.required or self.grade:
            return False
        if self.given.answer == "not_on_cart":
            return not self.check.may_be_absent
        return self.given.answer == "could_not_check" or (self.given.answer == "good" and not self._is_filled)

    @property
    def _is_filled(self) -> bool:
        kind, given = self.check.answer, self.given
        if kind == "measure":
            return number_or_none(given.value) is not None
        if kind == "choice":
            return given.choice in {choice.key for choice in self.check.choices}
        return kind != "date" or bool(given.value.strip())


def worst(*grades: str) -> str:
    """The worst of some grades; "" when there is none."""
    found = [grade for grade in grades if grade]
    return min(found, key=GRADE_KEYS.index) if found else ""


def _value_grade(value: str, *limits: Limit | None) -> str:
    """The worst grade a value earns; a value that is no number earns none, it is asked about instead."""
    grades = []
    for limit in limits:
        try:
            if limit is not None and value and not keeps(limit, value):
                grades.append(limit.grade)
        except ValueError:
            continue
    return worst(*grades)


def _grade(given: GivenAnswer, check: Check, limit: Limit | None, legal: Limit | None) -> str:
    if given.answer in ("not_on_cart", "could_not_check"):
        return ""
    chosen = next((choice.grade or "" for choice in check.choices if choice.key == given.choice), "")
    told = (given.grade or check.grade) if given.answer == "wrong" else ""
    return worst(told, chosen, _value_grade(given.value, limit, legal))


def judge_answers(
    answers: Sequence[GivenAnswer], *, sheet: Sheet, checks: Sequence[Check], legal: Mapping[str, Limit]
) -> list[Judged]:
    """Each answer with its check, limit and grade, in the order given.

    legal: the legal tread depth of each wheel position, judged beside the sheet's own limit. ManifestRefused when an
    answer names a check that this issue of the sheets does not have.
    """
    items: dict[tuple[str, str], Item] = {(item.check.key, item.place): item for item in sheet.items}
    by_key = {check.key: check for check in checks}
    judged = []
    for given in answers:
        item = items.get((given.check, given.place))
        check = item.check if item else by_key.get(given.check)
        if check is None:
            raise ManifestRefused(
                f"Answer {given.number} is to “{given.check}”, which this issue of the sheets does not ask."
            )
        _check_place(given, check)
        limit = item.limit if item else None
        law = legal.get(given.place) if check.limit_from == "tread" else None
        judged.append(Judged(given, check, limit, _grade(given, check, limit, law)))
    return judged


def _check_place(given: GivenAnswer, check: Check) -> None:
    try:
        place_label(check.each, given.place)
    except ValueError as error:
        raise ManifestRefused(f"Answer {given.number} names a place no cart has: “{given.place}”.") from error


def left_out(answers: Sequence[GivenAnswer], sheet: Sheet) -> list[Item]:
    """Required looks of the sheet that the record does not answer at all."""
    done = {(answer.check, answer.place) for answer in answers}
    return [item for item in sheet.items if item.check.required and (item.check.key, item.place) not in done]
