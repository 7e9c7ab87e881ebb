"""Loads of a hire as its pages show them: day by day, and those of one day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, Max, QuerySet, Sum
from django.db.models.functions import TruncDate
from django.http import QueryDict

from fleet.models.spraying import dead_l_of
from fleet.road_fill import DECIDES, NONE_OUTSIDE, road_fill
from fleet.water.history import MADE_GOOD, SOURCES
from fleet.water.road import NoFigure
from fleet.water.tank import pumpable_l
from fleet.water_standing import standing_of, stood
from hire.actions.loads import SLIP
from hire.job_forms import JobForm
from hire.job_page import ON_SITE
from hire.job_told import plans_on
from hire.models.agreements import Line
from hire.models.loads import Load
from hire.owed_facts import hours_of
from hire.shifts import working_hours

FILL_POINTS = 4


@dataclass(frozen=True)
class Tally:
    """Loads and litres of a day."""

    count: int
    litres: int


@dataclass(frozen=True)
class Tap:
    """One button: the fill point, and the litres, water and licence of its last load."""

    fill_point: str
    litres: int
    source: str
    permit_words: str

    @property
    def water(self) -> str:
        permit = f", {self.permit_words}" if self.permit_words else ""
        return f"{SOURCES[self.source]}{permit}"


@dataclass(frozen=True)
class Usual:
    """What a load of a cart is, None where nobody may say, and why."""

    litres: int | None
    words: str


def usual(line: Line, *, on: date) -> Usual:
    """What the pump can draw of the full tank, or of the road fill where the hire or its plan uses a public road."""
    tank, sheet = line.cart.tanks_measured.first(), line.cart.spray_sheets.order_by("-version").first()
    aboard, dead = line.cart.tank_capacity_l, dead_l_of(sheet, tank)
    less = f", less {dead:,.0f} L that the pump can’t draw" if dead else ""
    words = f"The full tank{less}. {ON_SITE}"
    if line.agreement.works_on == "road" or _plans_by_road(line):
        fill = road_fill(line.cart, on=on, rule_set=line.agreement.rule_set)
        if isinstance(fill, NoFigure):
            return Usual(None, NONE_OUTSIDE)
        aboard = min(aboard, fill.litres)
        words = f"Of its road fill, {aboard:,} L{less}. {DECIDES}"
    return Usual(int(pumpable_l(volume_l=aboard, dead_l=dead)) or None, words)


def _plans_by_road(line: Line) -> bool:
    plan = next(iter(plans_on(line)), None)
    form = JobForm(QueryDict(plan.question if plan else ""))
    form.is_valid()
    return bool(form.cleaned_data.get("by_road"))


def taps(line: Line) -> list[Tap]:
    """The fill points last used on this hire, each as its last load was; none of which nobody said what water it is."""
    known = line.loads.counted().exclude(source="")
    last = known.values("fill_point").annotate(last=Max("taken_at")).order_by("-last")
    points = [row["fill_point"] for row in last[:FILL_POINTS]]
    newest = known.filter(fill_point__in=points).order_by("fill_point", "-taken_at").distinct("fill_point")
    found = {one.fill_point: one for one in newest}
    rows = [found[point] for point in points]
    return [Tap(one.fill_point, one.litres, one.source, one.permit_words) for one in rows]


def usual_water(line: Line) -> str:
    """What is offered as the water of a load: what the hire is for, where it is for one."""
    return "potable" if line.agreement.water == "potable" else ""


def stood_of(line: Line, *, at: datetime) -> str:
    """What is said of the water of a potable hire that stood in the tank; "" where it has not."""
    return stood(standing_of(line.cart), at=at) if line.is_out and line.agreement.water == "potable" else ""


def is_spoilt(line: Line) -> bool:
    """Whether a hire of potable water only has a load of anything else."""
    if line.agreement.water != "potable":
        return False
    return line.loads.counted().exclude(source__in=["", "potable"]).exists()


def by_day(line: Line) -> QuerySet[Load, Any]:
    """Each of the site's days with loads, newest first: `day`, `count`, `litres`."""
    rows = line.loads.counted().order_by().annotate(day=TruncDate("taken_at", tzinfo=line.agreement.zone))
    return rows.values("day").annotate(count=Count("pk"), litres=Sum("litres")).order_by("-day")


def _worst(sources: Iterable[str]) -> str:
    """What no cleaning makes good before bore and dam, those before potable."""
    return min(sources, key=lambda one: (one == "potable", one in MADE_GOOD, one), default="")


def of_shift(line: Line, *, on: date, is_night: bool) -> dict[str, object]:
    """What the taps say of one shift's docket, by its fields; empty where nobody tapped."""
    hours = hours_of(line.agreement.time_zone, line.agreement.shifts_a_day, is_night=line.agreement.is_night)
    start, end = working_hours(on, hours, is_night=is_night)
    loads = list(line.loads.counted().between(start, end).order_by("taken_at"))
    if not loads:
        return {}
    points = list(dict.fromkeys(one.fill_point for one in loads))
    return {
        "loads": len(loads),
        "water_words": ", ".join(points)[:240],
        "water_source": _worst({one.source for one in loads if one.source}),
    }


def tally(line: Line, *, on: date) -> Tally:
    row = (
        line.loads.counted()
        .between(*line.agreement.day_bounds(on))
        .aggregate(count=Count("pk"), litres=Sum("litres"))
    )
    return Tally(row["count"], row["litres"] or 0)


def loads_of(line: Line, *, on: date) -> QuerySet[Load]:
    """That day's, taken back or not, newest first."""
    return line.loads.for_list().between(*line.agreement.day_bounds(on))


def may_take_back(load: Load, *, at: datetime) -> bool:
    """Whether the customer's people still may."""
    return load.undoing is None and at - load.told_at <= SLIP


LOAD_HEAD = (
    "Day", "Taken", "Fill point", "Water", "Licence or standpipe", "Litres", "Put down", "By", "Taken back", "Taken back by",
)  # fmt: skip
DAY_HEAD = ("Day", "Loads", "Litres")


def load_table(line: Line, loads: Iterable[Load]) -> Iterator[Sequence[object]]:
    """loads: of that line, their days by its site's clock."""
    for one in loads:
        undone = one.undoing
        yield (
            line.agreement.day(one.taken_at), one.taken_at, one.fill_point, SOURCES.get(one.source, ""), one.permit_words,
            one.litres, one.told_at, one.by_words, undone.undone_at if undone else None, undone.by_words if undone else None,
        )  # fmt: skip


def day_table(line: Line) -> Iterator[Sequence[object]]:
    for row in by_day(line):
        yield row["day"], row["count"], row["litres"]
