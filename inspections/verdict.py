"""What a walk-round comes to: ready, ready with conditions, or held, and why, worst first.

Any "do not use" holds the cart; any "repair by a date" sets conditions; "watch" alone leaves it ready. A required
check that could not be made is not done, and holds the cart too. Whether the cart may go is readiness's answer, from
this and everything else; a competent person, the maker's manual and the site's rules stand over both.
Source: the three-step ladder maps to TR-01 and TR-03 of docs/sources.md; the rule for undone checks is common practice,
no source.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from inspections.vocabulary import GRADE_KEYS

UNDONE = "not_done"


@dataclass(frozen=True, slots=True)
class Finding:
    """One judged answer. grade: "" when nothing is wrong; undone: a required check that was not made; where: the
    place in words; said: what was measured or written, "" for nothing."""

    check: str
    title: str
    place: str
    where: str
    grade: str
    said: str = ""
    undone: bool = False


@dataclass(frozen=True, slots=True)
class Reason:
    """Why the outcome is what it is. grade is one of the three, or "not_done"."""

    grade: str
    check: str
    place: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """outcome: "ready", "conditions" or "held"; reasons worst first, in the order walked within one grade."""

    outcome: str
    reasons: tuple[Reason, ...]


_ORDER = ("do_not_use", UNDONE, "by_date", "watch")
_WORDS = {"do_not_use": "do not use", "by_date": "repair by a date", "watch": "watch"}


def verdict(answers: Iterable[Finding]) -> Verdict:
    """The verdict on a walk-round's answers, in the order walked. ValueError for a grade that is none of the three."""
    reasons = []
    for finding in answers:
        if finding.grade and finding.grade not in GRADE_KEYS:
            raise ValueError(f"“{finding.grade}” is not a grade: use one of {', '.join(GRADE_KEYS)}.")
        if finding.undone:
            reasons.append(_reason(UNDONE, finding))
        elif finding.grade:
            reasons.append(_reason(finding.grade, finding))
    reasons.sort(key=lambda reason: _ORDER.index(reason.grade))
    grades = {reason.grade for reason in reasons}
    outcome = "held" if grades & {"do_not_use", UNDONE} else "conditions" if "by_date" in grades else "ready"
    return Verdict(outcome, tuple(reasons))


def _reason(grade: str, finding: Finding) -> Reason:
    where = f" ({finding.where})" if finding.where else ""
    said = f": {finding.said.rstrip('.')}" if finding.said else ""
    end = "not checked, and it has to be." if grade == UNDONE else f"{_WORDS[grade]}."
    return Reason(grade, finding.check, finding.place, f"{finding.title}{where}{said}; {end}")
