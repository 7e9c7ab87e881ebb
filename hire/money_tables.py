"""Tables of money and what is argued about it, as they go into a file: a head, and a row for each thing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from hire.models.holidays import YardDay

Row = Sequence[object]

HOLIDAY_HEAD = ("Day", "Public holiday", "The yard’s own say", "By")


def holiday_table(days: Mapping[date, str], own: Iterable[YardDay]) -> Iterator[Row]:
    """The year's holidays, and the days struck from them, by day."""
    decided = {day.on: day for day in own}
    for on in sorted({*days, *decided}):
        day = decided.get(on)
        yield (
            on,
            days.get(on, ""),
            f"{day.get_kind_display()}: {day.what}" if day else "",
            day.made_by.full_name if day else "",
        )
