"""What each figure of one row opens to: its inputs, its rule, where the rule is written, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass

from hire.figures import Figures
from hire.figures_screen import FEW_WORDS, Row, between_words, mean_words, money, share_words
from people.templatetags.screen import quantity
from servicing.reliability import MeanTime, survival

Fact = tuple[str, object, str]

PAGE = "docs/figures.md"
MEANS = "Common definition, row RE-01, VERIFIED-S (docs/reliability.md)."


@dataclass(frozen=True)
class Working:
    label: str
    figure: str
    inputs: list[Fact]
    rule: str
    source: str
    spread: str = ""
    caution: str = ""


def workings_of(row: Row) -> list[Working]:
    one = row.figures
    found = [_out(one), _used(one), _between(one), _to_second_look(one), _to_repair(one), _could_work(one)]
    return found if one.cost is None else [*found, _cost(one)]


def _days(days: float) -> str:
    return f"{days:.2f} days"


def _few(mean: MeanTime) -> str:
    return FEW_WORDS if mean.is_few else ""


def _out(one: Figures) -> Working:
    return Working(
        "Out on hire",
        share_words(one.utilisation),
        [
            ("Out on hire", _days(one.hire_days), "from handover to back in yard, by the hour"),
            (
                "In the fleet",
                _days(one.fleet_days),
                "less what lies before its first meter, gear or hire, or after it left",
            ),
        ],
        "Days out on hire, of the days it was in the fleet. A day is 24 hours; a promise that never left the gate does not count.",
        f"The yard’s own rule ({PAGE}); common practice, no source.",
    )


def _used(one: Figures) -> Working:
    hours = "not read" if one.engine_hours is None else quantity(one.engine_hours, "h")
    km = "not read" if one.km is None else quantity(one.km, "km")
    return Working(
        "Hours and kilometres",
        f"{hours}, {km}",
        [
            ("Engine hours", hours, ""),
            ("Kilometres", km, ""),
            ("Carts whose hours nobody read", one.unread, "two readings about the period are needed"),
        ],
        "What each meter gained. A period that begins or ends between two readings takes its share of their gain by time. "
        "A changed meter counts from its own first reading.",
        f"{PAGE}; common practice, no source.",
    )


def _between(one: Figures) -> Working:
    mean = one.between
    spread = ""
    if mean.hours:
        week = survival(hours=40, mean_time_between_hours=mean.hours)
        spread = (
            f"If defects come by chance alone, {quantity(week * 100, 'pct')} of weeks of 40 engine hours pass without one "
            f"(row RE-06, COMPUTED). {_few(mean)}"
        )
    return Working(
        "Hours between defects",
        between_words(one),
        [
            ("Engine hours", quantity(mean.over_hours, "h"), ""),
            (
                "Defects told",
                mean.events,
                f"{one.told} with carts whose hours nobody read" if one.unread else "",
            ),
        ],
        "Engine hours over the defects told in the period, of every grade. A defect closed without a repair is no failure. "
        "With none told there is no mean: it is undefined, neither endless nor the hours run.",
        MEANS,
        spread.strip() or (FEW_WORDS if mean.is_few and one.engine_hours is not None else ""),
        "A long time between defects is no reason to leave out a check or a service.",
    )


def _to_second_look(one: Figures) -> Working:
    mean = one.to_second_look
    return Working(
        "Told to second look",
        mean_words(mean, "no second look"),
        [
            ("Second looks given", mean.events, ""),
            ("Hours from told to second look", quantity(mean.over_hours, "h"), "together"),
        ],
        "Clock hours from when a defect was told to its second look, nights, waiting and parts included, for the second looks "
        "given in the period.",
        MEANS,
        _few(mean),
    )


def _to_repair(one: Figures) -> Working:
    mean = one.to_repair
    return Working(
        "On the job to done",
        mean_words(mean, "no repair"),
        [("Repairs done", mean.events, ""), ("Hours on the job", quantity(mean.over_hours, "h"), "together")],
        "Clock hours from when somebody first took the job on until it was last said to be done, for the repairs done in the "
        "period. A repair sent back counts until it is done again.",
        MEANS,
        _few(mean),
        "How long a brake, a wheel or the steering takes is for the person doing it and the maker’s manual, never for this mean.",
    )


def _could_work(one: Figures) -> Working:
    return Working(
        "Could work",
        share_words(one.could_work),
        [
            ("In the fleet", quantity(one.fleet_days * 24, "h"), ""),
            (
                "Down",
                quantity(one.down_hours, "h"),
                "tagged out, or under a defect that says do not use and was not isolated",
            ),
            (
                "Leaving out waits",
                share_words(one.without_waits),
                "hours between defects, over those and hours on the job (RE-02)",
            ),
        ],
        "Hours it could work, of all its hours in the fleet. Every wait counts as down. A defect counts by the grade it has now.",
        "Row RE-04, VERIFIED-S (docs/reliability.md).",
        caution="This looks back. Whether a cart may go today is said on its own page and nowhere else.",
    )


def _cost(one: Figures) -> Working:
    return Working(
        "Cost",
        money(one.cost),
        [
            ("Recorded on job sheets", money(one.cost), "parts and time, in the period"),
            ("An engine hour", money(one.cost_per_hour), ""),
            ("1,000 km", money(one.cost_per_1000_km), ""),
        ],
        "What the job sheets of the period cost, over engine hours and over kilometres. Only carts whose meter was read count.",
        f"{PAGE}; common practice, no source.",
    )
