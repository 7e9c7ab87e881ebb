"""The strip of a cart's coming weeks: hires as hatched stretches, what falls due as marks with their spread, the day
suggested or booked. Shapes carry the meaning; the words beside it say it all."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from servicing.coming import Item
from servicing.workshop_days import Stay

DAY = 8
TOP, DEEP, BASE = 4, 16, 34


@dataclass(frozen=True)
class Strip:
    """Paths of the drawing, in units DAY wide a day. `text`: the week's Mondays with their x."""

    width: int
    weeks: str
    hires: str
    hatch: str
    spreads: str
    marks: str
    day: str
    booked: str
    text: tuple[tuple[int, str], ...]


def strip(
    first: date,
    weeks: int,
    *,
    stays: Iterable[Stay],
    items: Iterable[Item],
    suggested: Sequence[date],
    booked: Sequence[date],
) -> Strip:
    """The drawing from Monday `first` over so many weeks. What lies outside is drawn at the edge it lies beyond."""
    days = weeks * 7
    last = first + timedelta(days=days - 1)

    def x(on: date) -> int:
        return min(max((on - first).days, 0), days) * DAY

    def clear(on: date) -> bool:
        return first <= on <= last

    hires = [(x(stay.first), x(stay.last + timedelta(days=1)) if stay.last else days * DAY) for stay in stays]
    hires = [(start, end) for start, end in hires if end > start]
    listed = list(items)
    return Strip(
        width=days * DAY,
        weeks="".join(f"M{n * 7 * DAY} 0v{BASE + 6}" for n in range(weeks + 1)),
        hires="".join(f"M{start} {TOP}h{end - start}v{DEEP - TOP}h{start - end}z" for start, end in hires),
        hatch="".join(f"M{at} {DEEP}l6-12" for start, end in hires for at in range(start + 2, end - 5, 7)),
        spreads="".join(_spread(item, x) for item in listed if item.is_forecast),
        marks="".join(_diamond(x(item.on) + DAY // 2) for item in listed),
        day="".join(f"M{x(on)} {DEEP + 2}h{DAY}l{-DAY // 2} 7z" for on in suggested if clear(on)),
        booked="".join(f"M{x(on)} {TOP - 2}h{DAY}v{BASE}h-{DAY}z" for on in booked if clear(on)),
        text=tuple((n * 7 * DAY + 2, f"{day.day} {day:%b}") for n in range(weeks) for day in [first + timedelta(weeks=n)]),
    )  # fmt: skip


def _spread(item: Item, x: Callable[[date], int]) -> str:
    start, end = x(item.low), x(item.high or date.max)
    return f"M{start} {BASE - 4}H{max(end, start + 1)}"


def _diamond(at: int) -> str:
    return f"M{at} {BASE - 9}l5 5l-5 5l-5-5z"
