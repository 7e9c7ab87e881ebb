"""A pass over a late defect, given here or by phone, with terms that are in order until a test changes one."""

from datetime import timedelta

from fleet.actions.passes import give_pass
from fleet.actions.spoken_passes import enter_spoken_pass
from fleet.passing import PASS_REASONS
from fleet.readiness import Record
from tests.factories.fleet import DefectFactory

DAY, HOUR, MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)


def late_defect(at, **said):
    """A defect past its date that may be passed, told of nine days ago."""
    return DefectFactory(
        **{"grade": "by_date", "state": "assessed", "may_be_passed": True, "told_at": at - 9 * DAY, "due_on": (at - 3 * DAY).date()}
        | said
    )  # fmt: skip


def terms_of(defect, at, **changes):
    return {
        "code": "defect.late",
        "record": Record("defect", defect.pk),
        "reason": PASS_REASONS[1],
        "words": "The glass comes on Thursday.",
        "condition_words": "By day only",
        "done_instead": "Second mirror clamped on",
        "told_words": "Driver, by phone",
        "ends_at": at + 3 * DAY,
    } | changes


def give(defect, by, at, **changes):
    return give_pass(cart=defect.cart, by=by, at=at, **terms_of(defect, at, **changes))


def enter(defect, manager, by, at, *, spoken=10 * MINUTE, **changes):
    """spoken: how long before `at` it was spoken."""
    return enter_spoken_pass(
        cart=defect.cart, given_by=manager, spoken_at=at - spoken, by=by, at=at, **terms_of(defect, at, **changes)
    )  # fmt: skip
