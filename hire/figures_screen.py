"""The figures as rows and columns: their words, their order, what each opens to, and the same rows for a file."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from hire.figures import Figures, reckon
from hire.figures_inputs import Told
from people.templatetags.screen import quantity
from servicing.reliability import FEW, MeanTime

Number = float | Decimal


@dataclass(frozen=True)
class Row:
    """One cart or one class with its figures. `key` names it in the address, `inside` its class or how many carts it is."""

    key: str
    name: str
    inside: str
    cart_id: str
    figures: Figures


@dataclass(frozen=True)
class Column:
    """A figure of the table: its key in the address, its head, its label, its value for order and file, its words and its note."""

    key: str
    head: str
    # Names the cell where a narrow page folds the row: short, for it stands beside the figure.
    label: str
    value: Callable[[Figures], Number | None]
    words: Callable[[Figures], str]
    note: Callable[[Figures], str]


@dataclass(frozen=True)
class Cell:
    label: str
    words: str
    note: str


@dataclass(frozen=True)
class Head:
    """A head of the table: its words, the order its link asks for, and how the table is sorted by it now ("": it is not)."""

    words: str
    sort: str
    sorted: str


def share_words(share: float | None) -> str:
    return "none" if share is None else quantity(share * 100, "pct")


def mean_words(mean: MeanTime, nothing: str) -> str:
    """The mean, or the truth where there is none: "no defects in 412 h"."""
    if mean.hours is None:
        return nothing
    return quantity(mean.hours, "h")


def between_words(row: Figures) -> str:
    if row.engine_hours is None:
        return "hours not read"
    return mean_words(row.between, f"no defects in {quantity(row.between.over_hours, 'h')}")


def of_few(mean: MeanTime) -> str:
    """How many a mean is of, with a word where that is too few to lean on."""
    if not mean.events:
        return ""
    return f"of {mean.events}: few" if mean.is_few else f"of {mean.events}"


def money(amount: Decimal | None) -> str:
    return "none" if amount is None else f"{amount.quantize(Decimal('0.01'), rounding=ROUND_HALF_UP):,}"


def _used(value: float | None, unit: str) -> str:
    return "not read" if value is None else quantity(value, unit)


def _nothing(row: Figures) -> str:
    return ""


COLUMNS = (
    Column(
        "out", "Out on hire", "Out on hire", lambda row: row.utilisation, lambda row: share_words(row.utilisation),
        lambda row: f"{row.hire_days:.1f} of {row.fleet_days:.1f} days",
    ),
    Column(
        "hours", "Engine hours", "Engine hours", lambda row: row.engine_hours, lambda row: _used(row.engine_hours, "h"),
        lambda row: f"{row.unread} not read" if row.unread and row.carts > 1 else "",
    ),
    Column("km", "Kilometres", "Kilometres", lambda row: row.km, lambda row: _used(row.km, "km"), _nothing),
    Column(
        "between", "Hours between defects", "Defect every", lambda row: row.between.hours, between_words,
        lambda row: of_few(row.between),
    ),
    Column(
        "told", "Told to second look", "To second look", lambda row: row.to_second_look.hours,
        lambda row: mean_words(row.to_second_look, "no second look"),
        lambda row: of_few(row.to_second_look),
    ),
    Column(
        "job", "On the job to done", "On the job", lambda row: row.to_repair.hours,
        lambda row: mean_words(row.to_repair, "no repair"), lambda row: of_few(row.to_repair),
    ),
    Column(
        "work", "Could work", "Could work", lambda row: row.could_work, lambda row: share_words(row.could_work),
        lambda row: f"{quantity(row.down_hours, 'h')} down" if row.down_hours else "",
    ),
)  # fmt: skip
COST_COLUMNS = (
    Column(
        "hour", "Cost an hour", "An hour", lambda row: row.cost_per_hour, lambda row: money(row.cost_per_hour),
        lambda row: f"{money(row.cost)} in all" if row.cost is not None else "",
    ),
    Column(
        "thousand", "Cost of 1,000 km", "1,000 km", lambda row: row.cost_per_1000_km,
        lambda row: money(row.cost_per_1000_km), _nothing,
    ),
)  # fmt: skip
CSV_HEAD = (
    "What", "Class or carts", "Carts", "Fleet days", "Hire days", "Out on hire", "Engine hours", "Km", "Carts without hours",
    "Defects told", "Hours between defects", "Second looks", "Hours told to second look", "Repairs", "Hours on the job to done",
    "Hours down", "Could work", "Could work without waits", "Cost", "Cost an hour", "Cost of 1000 km",
)  # fmt: skip


def rows_of(told: Iterable[Told], *, by: str, of: str) -> list[Row]:
    """A row for each cart, or for each class; `of` narrows to one class."""
    kept = [one for one in told if not of or one.class_words == of]
    if by == "class":
        classes: dict[str, list[Told]] = defaultdict(list)
        for one in kept:
            classes[one.class_words].append(one)
        return [
            Row(words, words, carts_words(len(ones)), "", reckon([one.inputs for one in ones]))
            for words, ones in sorted(classes.items(), key=lambda item: item[1][0].place)
        ]
    return [
        Row(
            one.cart.fleet_number,
            one.cart.fleet_number,
            one.class_words,
            str(one.cart.pk),
            reckon([one.inputs]),
        )
        for one in kept
    ]


def carts_words(number: int) -> str:
    return "1 cart" if number == 1 else f"{number} carts"


def columns_for(rows: Sequence[Row]) -> tuple[Column, ...]:
    """What cost is shown only once costs are recorded."""
    return COLUMNS + COST_COLUMNS if any(row.figures.cost is not None for row in rows) else COLUMNS


def heads_for(columns: Sequence[Column], *, by: str, sort: str) -> list[Head]:
    """The heads of the table, each with the order a press of it asks for: greatest first, and back again; names from A."""
    keys = [("name", "Class" if by == "class" else "Cart"), *((one.key, one.head) for one in columns)]
    heads = []
    for key, words in keys:
        turned = {f"-{key}": "descending", key: "ascending"}.get(sort or "name", "")
        first = key if key == "name" else f"-{key}"
        again = f"-{key}" if key == "name" else key
        heads.append(Head(words, again if sort == first or (key == "name" and not sort) else first, turned))
    return heads


def in_order(rows: list[Row], sort: str) -> list[Row]:
    """By a column, "-" before it for the greatest first; what is undefined stands last either way. By name as they came."""
    way = {column.key: column.value for column in COLUMNS + COST_COLUMNS}.get(sort.removeprefix("-"))
    if way is None:
        return rows[::-1] if sort == "-name" else rows
    known = [(value, row) for row in rows if (value := way(row.figures)) is not None]
    known.sort(key=lambda pair: pair[0], reverse=sort.startswith("-"))
    return [row for _, row in known] + [row for row in rows if way(row.figures) is None]


def cells_of(row: Row, columns: Sequence[Column]) -> list[Cell]:
    return [Cell(one.label, one.words(row.figures), one.note(row.figures)) for one in columns]


def csv_rows(rows: Iterable[Row]) -> Iterator[Sequence[object]]:
    """The rows under CSV_HEAD, unrounded to what a spreadsheet can use: shares 0 to 1, hours to a tenth, money to a cent."""
    for row in rows:
        one = row.figures
        yield (
            row.name, row.inside, one.carts, _cut(one.fleet_days, 2), _cut(one.hire_days, 2), _cut(one.utilisation, 4),
            _cut(one.engine_hours, 1), _cut(one.km, 1), one.unread, one.told, _cut(one.between.hours, 1),
            one.to_second_look.events, _cut(one.to_second_look.hours, 1), one.to_repair.events, _cut(one.to_repair.hours, 1),
            _cut(one.down_hours, 1), _cut(one.could_work, 4), _cut(one.without_waits, 4), _cut(one.cost, 2),
            _cut(one.cost_per_hour, 2), _cut(one.cost_per_1000_km, 2),
        )  # fmt: skip


def _cut(value: Number | None, places: int) -> Decimal | None:
    return None if value is None else round(Decimal(str(value)), places)


FEW_WORDS = f"A mean of fewer than {FEW} says little: one long job moves it. The table says “few” beside it."
