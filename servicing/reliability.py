"""How long a cart runs between defects, how long a repair takes, and how much of the time it could work.

A mean is no promise: with a constant failure rate little more than a third of carts run as long as their mean
(`survival`). These figures compare carts and classes; they say nothing of whether one cart is fit today.
"""

import math
from dataclasses import dataclass
from decimal import Decimal

Number = int | float | Decimal

# Under this many events a mean says little. Common practice, no source.
FEW = 5


@dataclass(frozen=True, slots=True)
class MeanTime:
    """A mean in hours, with what it was reckoned from: `events` in `over_hours`.

    `hours` is None when nothing happened: the mean is then undefined, neither infinite nor the hours run.
    """

    hours: float | None
    events: int
    over_hours: float

    @property
    def is_undefined(self) -> bool:
        return self.hours is None

    @property
    def is_few(self) -> bool:
        return self.events < FEW


def mean_time_between(*, operating_hours: Number, failures: int) -> MeanTime:
    """Operating hours a failure (RE-01). No failures: a MeanTime whose hours are None, "no failures in N h".

    ValueError for hours or failures below zero, failures that are not whole, or what is no number.
    """
    return _mean(operating_hours, failures, "Operating hours")


def mean_time_to_repair(*, repair_hours: Number, repairs: int) -> MeanTime:
    """Repair hours a repair (RE-01): all repairs' hours together over their number. No repairs: hours are None.

    ValueError as mean_time_between.
    """
    return _mean(repair_hours, repairs, "Repair hours")


def availability(
    *, mean_time_between_hours: Number | None, mean_time_to_repair_hours: Number | None
) -> float | None:
    """Inherent availability, 0 to 1: MTBF / (MTBF + MTTR) (RE-02). It leaves out waiting for parts and people.

    None when either mean is undefined. ValueError for a mean below zero, both zero, or what is no number.
    """
    if mean_time_between_hours is None or mean_time_to_repair_hours is None:
        return None
    return _share(
        _hours(mean_time_between_hours, "The mean between failures"),
        _hours(mean_time_to_repair_hours, "The mean to repair"),
    )


def operational_availability(*, up_hours: Number, down_hours: Number) -> float:
    """The share of clock time a cart could work, 0 to 1: up / (up + down), with every wait counted as down (RE-04).

    ValueError for hours below zero, no hours at all, or what is no number.
    """
    return _share(_hours(up_hours, "Hours up"), _hours(down_hours, "Hours down"))


def survival(*, hours: Number, mean_time_between_hours: Number) -> float:
    """The chance of running `hours` without a failure if the failure rate is constant: exp(-hours / mean) (RE-06).

    ValueError for hours below zero, a mean that is not above zero, or what is no number.
    """
    mean = _hours(mean_time_between_hours, "The mean between failures")
    if mean == 0:
        raise ValueError("The mean between failures is above zero.")
    return math.exp(-_hours(hours, "Hours") / mean)


def _mean(hours: Number, events: int, what: str) -> MeanTime:
    total = _hours(hours, what)
    if events != int(events) or events < 0:
        raise ValueError(f"{events!r} is not a count of events.")
    return MeanTime(hours=total / events if events else None, events=int(events), over_hours=total)


def _share(up: float, down: float) -> float:
    if up + down == 0:
        raise ValueError("There are no hours to take a share of.")
    return up / (up + down)


def _hours(value: Number, what: str) -> float:
    hours = float(value)
    if not math.isfinite(hours) or hours < 0:
        raise ValueError(f"{what} cannot be {value}: give a number of hours, zero or more.")
    return hours
