"""One check of the library: its facts, what makes it well written, and its plain form for keeping.

A *body* is the plain form: text, whole numbers, true and false, lists and tables, as a check file, a yard's own
check or a frozen edition holds it. A body with `stations` stands for one check at each of them; its checks
share the body's key as their family, and each has the station's name behind its own key.
"""

from dataclasses import dataclass
from decimal import Decimal

from fleet.gear import MAY_BE_ISOLATED
from inspections.limits import Limit, decimal_text

TITLE_MOST = 42
TEXT_MOST = 140
NO_SOURCE = "common practice, no source"


class CheckRefused(ValueError):
    """A check that is not well written. The message is a whole sentence naming the check and what to mend."""


@dataclass(frozen=True, slots=True)
class Choice:
    """One of the things a choice check can be answered with; `grade` None is sound."""

    key: str
    label: str
    grade: str | None


@dataclass(frozen=True, slots=True)
class RuleLimit:
    """The limit of a measured check under one rule set, and what that figure rests on."""

    rule_set: str
    limit: Limit
    basis: str


@dataclass(frozen=True, slots=True)
class Check:
    """One question asked at one station.

    walk_pass: 1 to 4. minutes: what it takes a practised person, exact. `asked`: purposes. `needs`: terms, all of
    which the cart's facts must meet: "a", "a|b" for either, "!a" for without. `each`: "" or the kind of place it is
    asked at, one after another. `last`: asked after everything else of its pass. `units`: (rule set, unit) pairs,
    empty unless measured. `limit_from`: "" or "tread", where the caller brings the limit of each wheel position.
    `gear`: "" or the gear that may be isolated and tagged, so that the cart goes without it.
    """

    key: str
    family: str
    station: str
    title: str
    look_for: str
    sound: str
    if_not: str
    grade: str
    answer: str
    walk_pass: int
    minutes: Decimal
    asked: tuple[str, ...]
    needs: tuple[str, ...]
    each: str
    last: bool
    required: bool
    may_be_absent: bool
    photo: bool
    second_look: str
    system: str
    basis: str
    units: tuple[tuple[str, str], ...]
    limits: tuple[RuleLimit, ...]
    limit_from: str
    choices: tuple[Choice, ...]
    gear: str

    @property
    def takes_a_value(self) -> bool:
        """Whether a person enters a reading or a month, not only a judgement."""
        return self.answer in ("measure", "date")

    def unit_for(self, rule_set: str) -> str | None:
        """The unit the value is entered in under a rule set; None when nothing is measured."""
        return dict(self.units).get(rule_set)

    def limit_for(self, rule_set: str) -> Limit | None:
        """The limit under a rule set; None where none is published and the yard has set none."""
        return next((one.limit for one in self.limits if one.rule_set == rule_set), None)

    def fits(self, facts: frozenset[str]) -> bool:
        """Whether a cart with these facts has what this check is about."""
        return all(_met(term, facts) for term in self.needs)

    def as_content(self) -> dict[str, object]:
        """The check's body in plain JSON types, every field written out and numbers below one as text."""
        return {
            "key": self.key,
            "family": self.family,
            "station": self.station,
            "title": self.title,
            "look_for": self.look_for,
            "sound": self.sound,
            "if_not": self.if_not,
            "grade": self.grade,
            "answer": self.answer,
            "pass": self.walk_pass,
            "minutes": decimal_text(self.minutes),
            "asked": list(self.asked),
            "needs": list(self.needs),
            "each": self.each,
            "last": self.last,
            "required": self.required,
            "may_be_absent": self.may_be_absent,
            "photo": self.photo,
            "second_look": self.second_look,
            "system": self.system,
            "basis": self.basis,
            "unit": dict(self.units),
            "limit": {one.rule_set: {**one.limit.as_content(), "basis": one.basis} for one in self.limits},
            "limit_from": self.limit_from,
            "choices": [
                {"key": choice.key, "label": choice.label, "grade": choice.grade} for choice in self.choices
            ],
            "gear": self.gear,
        }


def isolable_gear(needs: tuple[str, ...]) -> frozenset[str]:
    """The gear among a check's needs that a cart may go without, isolated and tagged."""
    return MAY_BE_ISOLATED.intersection(needs)


def _met(term: str, facts: frozenset[str]) -> bool:
    if term.startswith("!"):
        return term[1:] not in facts
    return not facts.isdisjoint(term.split("|"))
