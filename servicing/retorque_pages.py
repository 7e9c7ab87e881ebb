"""Wheel nuts to be checked again, read for their list and their page."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import QuerySet
from django.forms import Form

from fleet.models.wheels import WheelPosition
from fleet.sentences import source_words
from people.templatetags.screen import clock_words, day, quantity
from servicing.models.wheels import Retorque
from servicing.retorque import EXAMPLES
from servicing.retorques import open_retorques, rule_words, standing_of, stands_words, with_km

Fact = tuple[str, str] | tuple[str, str, str]
MAKER = (
    "The figure is the wheel maker’s for that wheel, stud and nut. The published examples show how far makers lie apart; they are "
    "no setting. One check more is no proof: some nuts still lose torque after 160 km."
)
SHAPES = {
    "settling": "watch",
    "first_due": "stop",
    "running": "watch",
    "second_due": "caution",
    "overdue": "stop",
    "done": "safe",
}


@dataclass(frozen=True)
class RetorqueRow:
    """One line of the list."""

    task: Retorque
    shape: str
    words: str
    next_words: str


def all_loaded() -> QuerySet[Retorque]:
    return with_km(Retorque.objects.all()).select_related(
        "cart", "wheel_position", "fitting__tyre", "opened_by", "second_told_to"
    )


def outstanding() -> QuerySet[Retorque]:
    """The open ones: first those that wait in the yard, then those on the road, the longest off first."""
    return open_retorques()


def newest_of(position: WheelPosition) -> Retorque:
    """The row that the last wheel work at a position opened."""
    return Retorque.objects.filter(
        cart=position.cart_id, axle=position.axle, side=position.side, second_at=None, replaced_at=None
    ).get()


def rows(tasks: Iterable[Retorque], *, at: datetime) -> list[RetorqueRow]:
    found = [(task, standing_of(task, at=at)) for task in tasks]
    return [
        RetorqueRow(
            task,
            SHAPES[one.state],
            stands_words(one, task, at=at),
            "First check" if one.step == 1 else "Second check",
        )
        for task, one in found
    ]


def _check(task: Retorque, name: str) -> Fact:
    done_at = getattr(task, f"{name}_at")
    label = "First check" if name == "first" else "Second check"
    if done_at is None:
        return (label, "not done")
    km = f", at {quantity(task.second_km, 'km')}" if name == "second" and task.second_km is not None else ""
    told = f"; told to {task.second_told_to.full_name}" if name == "second" and task.second_told_to else ""
    return (
        label,
        f"{day(done_at)}, {clock_words(done_at)}, {getattr(task, f'{name}_by_words')}",
        f"{getattr(task, f'{name}_nuts')} nuts at {getattr(task, f'{name}_nm')} N·m, wrench {getattr(task, f'{name}_wrench')}"
        f"{km}{told}",
    )


def task_page(task: Retorque, *, form: Form | None, at: datetime) -> dict[str, object]:
    """One re-torque: how it stands, what was done, the form of the check that is next (None: nothing to fill in here)."""
    found = standing_of(task, at=at)
    words, shape = stands_words(found, task, at=at), SHAPES[found.state]
    if task.replaced_at:
        words, shape = "The wheel was off again since: its nuts are checked under the newer entry.", "watch"
    ends = task.shift_ends_at
    fitted = f"{day(task.fitted_at)}, {clock_words(task.fitted_at)}"
    return {
        "page_title": f"Wheel nuts at {task.hub_words}: cart {task.cart.fleet_number}",
        "title": f"Wheel nuts at {task.hub_words}",
        "task": task,
        "cart": task.cart,
        "form": form,
        "words": words,
        "shape": shape,
        "facts": [
            ("Off for", task.why, f"recorded by {task.opened_by.full_name}"),
            ("On again", fitted, "" if task.km_at_fitting is None else f"at {quantity(task.km_at_fitting, 'km')}"),
            ("Run since", "not known" if found.km_run is None else quantity(found.km_run, "km")),
            _check(task, "first"),
            ("Second check by", task.second_for or "named with the first", f"by {day(ends)}, {clock_words(ends)}" if ends else ""),
            _check(task, "second"),
        ],
        "button": "Record the first check" if task.first_at is None else "Record the second check",
        "rule": rule_words(found),
        "maker": MAKER,
        "examples": [
            (what[0].upper() + what[1:], f"{nm[0]}–{nm[1]} N·m", f"{lb[0]}–{lb[1]} lbf·ft, {source_words(source)}")
            for what, lb, nm, source in EXAMPLES
        ],
    }  # fmt: skip


HEAD = ("Cart", "Hub", "Wheel fitted", "Why", "Stands", "First check", "By", "Second check for")


def table(tasks: Iterable[Retorque], *, at: datetime) -> Iterator[tuple[object, ...]]:
    for row in rows(tasks, at=at):
        task = row.task
        yield (
            task.cart.fleet_number, task.hub_words, task.fitted_at, task.why, row.words, task.first_at, task.first_by_words,
            task.second_for,
        )  # fmt: skip
