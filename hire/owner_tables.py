"""Carts hired in and their owners as they go into a file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from hire.hired_in import HireInCost
from hire.models.owners import HireIn, Owner, OwnerPaper

Row = Sequence[object]

HIRE_IN_HEAD = (
    "Cart", "Owner", "From", "Until", "Our order number", "A day", "A week", "4 weeks", "Minimum days", "Cut-off", "Called off",
    "Charge stops", "Call taken by", "Back with its owner", "Struck out",
)  # fmt: skip
OWNER_HEAD = ("Owner", "Contact", "Phone", "Email")
PAPER_HEAD = ("Owner", "Paper", "Number", "Good until", "Recorded", "By")
PART_HEAD = (
    "Agreement",
    "Docket",
    "Line",
    "Amount",
    "Days of this cart",
    "Days of all its carts",
    "Earned by this cart",
)
COST_HEAD = ("Agreement", "Customer", "Left", "Back", "Days", "Costs us", "Earned", "Margin")


def hire_in_table(rows: Iterable[HireIn]) -> Iterator[Row]:
    for one in rows:
        yield (
            one.cart.fleet_number, one.owner.name, one.period.lower, one.period.upper, one.order_number, one.day_price,
            one.week_price, one.four_weeks_price, one.minimum_days, f"{one.cut_off:%H:%M}", one.called_at, one.stops_at,
            one.called_to_words, one.returned_at, one.struck_why,
        )  # fmt: skip


def owner_table(owners: Iterable[Owner]) -> Iterator[Row]:
    for one in owners:
        yield one.name, one.contact_name, one.phone, one.email


def paper_table(papers: Iterable[OwnerPaper]) -> Iterator[Row]:
    for one in papers:
        yield (
            one.owner.name, one.get_kind_display(), one.number, one.expires_on, one.recorded_at, one.recorded_by.full_name
        )  # fmt: skip


def cost_table(found: HireInCost | None) -> Iterator[Row]:
    """What each hire bears, then what none does, then the whole."""
    if found is None:
        return
    for one in found.lines:
        about, line = one.line.agreement, one.line
        yield (
            about.number, about.customer.name, line.handed_over_at, line.back_at, one.share.days, one.share.amount, one.charged,
            one.margin,
        )  # fmt: skip
    yield "", "On no hire", None, None, found.idle.days, found.idle.amount, None, None
    yield "", "In all", None, None, found.cost.charged, found.cost.total, found.charged, found.margin


def part_table(found: HireInCost | None) -> Iterator[Row]:
    """The docket lines of the hires on which a cart was swapped; no days where the line is of one cart alone."""
    for one in found.shared if found else ():
        for part in one.parts:
            yield (
                one.line.agreement.number, part.docket.number, part.what, part.amount, part.days, part.of_days, part.share
            )  # fmt: skip
