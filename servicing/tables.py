"""The workshop's smaller tables as they go into a file: a head, and a row for each thing, every page of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from fleet.models.carts import ReadingQuestion
from fleet.models.defects import Defect
from fleet.models.standing import Hold, Limit, Pass
from fleet.models.wheels import TreadReading
from fleet.permit_page import PermitLine
from servicing import screens
from servicing.equipment import NextService
from servicing.models.plans import ServiceDone

Row = Sequence[object]

TAG_HEAD = ("Cart", "Kind", "Why", "Tag hung", "Tag", "Keys", "By", "Tagged out")
PASS_HEAD = (
    "Cart", "What was found", "Let go by", "Given", "Why", "In words", "Time", "Done instead", "Told", "Ends", "Or ends",
    "On condition", "Second name", "Spoken", "Entered by", "Confirmed",
)  # fmt: skip
OPEN_PERMIT_HEAD = ("Cart", "Number", "Stands", "How", "To", "Driver", "Given by", "Ends")
LIMIT_HEAD = ("Cart", "Limit", "Gear", "How isolated", "Tag", "By", "Set", "Defect")
QUESTION_HEAD = ("Cart", "Question", "Value", "Read")
PATTERN_HEAD = ("Cart", "What", "Where", "Grade", "Told", "Stands", "Closed")
COMING_HEAD = ("Service", "Falls due", "Due now", "Rule")
TAG_SERVICE_HEAD = ("Service", "Done", "By")
DONE_HEAD = (
    "Done", "Engine hours", "Km", "By", "With", "What", "Cost", "Struck out", "Struck out by", "Struck out because",
)  # fmt: skip
DEPTH_HEAD = ("Read", "Depth, mm")


def tag_table(holds: Iterable[Hold]) -> Iterator[Row]:
    for one in holds:
        yield (
            one.cart.fleet_number, one.get_kind_display(), one.reason, one.is_tag_hung, one.tag_number, one.keys_words,
            one.placed_by.full_name, one.placed_at,
        )  # fmt: skip


def pass_table(passes: Iterable[Pass]) -> Iterator[Row]:
    for one in passes:
        yield (
            one.cart.fleet_number, one.found, one.given_by.full_name, one.given_at, one.reason, one.words, one.turn,
            one.done_instead, one.told_words, one.ends_at, one.ends_event, one.condition_words, one.second_words,
            one.spoken_at, one.entered_by and one.entered_by.full_name, one.confirmed_at,
        )  # fmt: skip


def permit_table(lines: Iterable[PermitLine]) -> Iterator[Row]:
    for line in lines:
        permit = line.permit
        yield (
            permit.cart.fleet_number, permit.number, line.words, permit.get_way_display(), permit.to_words,
            permit.driver_named, permit.given_by.full_name, permit.expires_at,
        )  # fmt: skip


def limit_table(limits: Iterable[Limit]) -> Iterator[Row]:
    for one in limits:
        yield (
            one.cart.fleet_number, one.words, one.get_gear_display(), one.how_isolated, one.tag_number,
            one.set_by.full_name, one.set_at, one.defect.title,
        )  # fmt: skip


def question_table(questions: Iterable[ReadingQuestion]) -> Iterator[Row]:
    for one in questions:
        yield one.cart.fleet_number, one.question, one.value, one.read_at


def pattern_table(defects: Iterable[Defect], *, at: datetime) -> Iterator[Row]:
    for one in defects:
        yield (
            one.cart.fleet_number, one.title, screens.where_words(one), one.get_grade_display(), one.told_at,
            screens.state_words(one, at=at), one.closed_at,
        )  # fmt: skip


def coming_table(services: Iterable[NextService]) -> Iterator[Row]:
    """An extinguisher's services to come."""
    for one in services:
        yield one.words, one.on, one.is_due, one.source


def done_table(done: Iterable[ServiceDone]) -> Iterator[Row]:
    """One service of one cart as done; those struck out stay, as on its page."""
    for one in done:
        yield (
            one.done_at, one.engine_hours, one.km, one.by_words, one.within.plan.name if one.within else "", one.words,
            one.cost, one.struck_at, one.struck_by.full_name if one.struck_by else "", one.struck_words,
        )  # fmt: skip


def depth_table(readings: Iterable[TreadReading]) -> Iterator[Row]:
    for one in readings:
        yield one.read_at, one.depth_mm
