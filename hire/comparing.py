"""Two records of one cart set side by side: how it left, and how it came back. Pure; nothing here says what is charged."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from fleet.lap.stations import STATIONS, Station


@dataclass(frozen=True, slots=True)
class Look:
    """One answer of a record. value: as it was signed, or the words of a choice; grade: "" when nothing was wrong.
    has_photo: whether pictures came with it."""

    key: str
    title: str
    station: str
    place: str
    where: str
    answer: str
    answer_words: str
    said: str = ""
    value: str = ""
    unit: str = ""
    grade: str = ""
    has_photo: bool = False


@dataclass(frozen=True, slots=True)
class Pair:
    """One check at one place, out and back; None: it was not asked on that side. change: back less out, "+55.0 h". is_known:
    a defect there was on the record it left with."""

    out: Look | None
    back: Look | None
    change: str
    is_known: bool = False

    @property
    def look(self) -> Look:
        found = self.back or self.out
        if found is None:
            raise ValueError("A pair has one side at least.")
        return found

    @property
    def is_wrong(self) -> bool:
        return self.back is not None and bool(self.back.grade)

    @property
    def is_new(self) -> bool:
        """Wrong as it came back, and not so as it left."""
        return self.is_wrong and not self.is_known and (self.out is None or not self.out.grade)


@dataclass(frozen=True, slots=True)
class Stop:
    station: Station
    pairs: tuple[Pair, ...]


def number_in(text: str) -> Decimal | None:
    """The number a signed value spells, if it spells one."""
    try:
        found = Decimal(text)
    except InvalidOperation:
        return None
    return found if found.is_finite() else None


def change_words(out: str, back: str, unit: str) -> str:
    """What was gained or lost between two values, with its sign; "" where they are no numbers."""
    before, after = number_in(out), number_in(back)
    if before is None or after is None:
        return ""
    turned = after - before
    sign = "+" if turned > 0 else "−" if turned < 0 else ""
    return f"{sign}{abs(turned):,f} {unit}".strip()


def pair_up(
    out: Iterable[Look], back: Iterable[Look], *, known: Collection[tuple[str, str]] = ()
) -> list[Pair]:
    """Every look of both records by check and place, in the order of the second; of two looks on one side the later counts."""
    first = {(look.key, look.place): look for look in out}
    second = {(look.key, look.place): look for look in back}
    pairs = []
    for key in dict.fromkeys([*second, *first]):
        before, after = first.get(key), second.get(key)
        change = ""
        if before and after and before.unit == after.unit:
            change = change_words(before.value, after.value, after.unit)
        pairs.append(Pair(before, after, change, key in known))
    return pairs


def is_worth_showing(pair: Pair) -> bool:
    """Something is wrong as it came back, or a value, a photo or another answer stands on both sides."""
    out, back = pair.out, pair.back
    if out is None or back is None:
        return back is not None and bool(back.grade)
    return (
        bool(back.grade)
        or (out.answer, out.grade) != (back.answer, back.grade)
        or bool(out.value and back.value)
        or (out.has_photo and back.has_photo)
    )


def compare(
    out: Sequence[Look],
    back: Sequence[Look],
    *,
    known: Collection[tuple[str, str]] = (),
    apart: Collection[str] = (),
) -> list[Stop]:
    """What is worth showing by station, in lap order; stations with nothing are left out. known: checks and places of the
    defects on the record out. apart: checks shown elsewhere."""
    pairs = [pair for pair in pair_up(out, back, known=known) if is_worth_showing(pair)]
    found = []
    for station in STATIONS:
        here = tuple(
            pair for pair in pairs if pair.look.station == station.key and pair.look.key not in apart
        )
        if here:
            found.append(Stop(station, here))
    return found
