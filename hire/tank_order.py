"""Which hires of a cart leave its tank unfit for another's drinking water, as they are promised. What a tank did carry is for
fleet.water_standing, once it is known. Reads only; one query however many carts."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Q

from fleet.models.carts import Cart
from fleet.sentences import moment_words
from hire.models.agreements import Line
from people.yard import yard_policy

SANITISE = "its tank has to be sanitised and its water tested in between"


@dataclass(frozen=True)
class Met:
    """Another hire whose water matters to a period of its cart. is_first: it carries any water, and the period is for potable;
    else it carries potable water alone, and any water comes before it. is_apart: the tank may be sanitised in between. free_at:
    from when the tank may carry drinking water after it; None: never, or it is for potable water itself."""

    line: Line
    is_first: bool
    is_apart: bool
    free_at: datetime | None

    def has(self, *, at: datetime) -> str:
        """Who has the cart with which water, and when."""
        about, start = self.line.agreement, moment_words(self.line.promised.lower, at=at)
        does = f"{'out with' if self.line.is_out else 'promised to'} {about.customer.name} on {about.number}"
        if self.is_first:
            return f"{does}, {start} to {moment_words(self.line.expected_back, at=at)}, with any water"
        return f"{does} from {start} for potable water only"

    def why(self, *, at: datetime) -> str:
        if not self.is_first:
            return "any water before that would leave its tank unfit for it"
        if self.free_at:
            free = moment_words(self.free_at, at=at)
            return f"its tank may carry drinking water from {free}, once it is sanitised and tested"
        return "its tank may carry no drinking water after that"

    def taken_words(self, *, at: datetime) -> str:
        """As a caller is told of it."""
        has = self.has(at=at)
        return f"{has[:1].upper()}{has[1:]}: {self.why(at=at)}."

    def refusal(self, *, at: datetime) -> str:
        ways = ["choose another cart"]
        if self.is_first and self.free_at:
            ways.append("a later start")
        if not self.line.is_out:
            ways.append(
                "change that hire to potable only"
                if self.is_first
                else "send another cart on that hire first"
            )
        what = " or ".join([", ".join(ways[:-1]), ways[-1]] if ways[1:] else ways)
        return f"{self.line.cart.fleet_number} is {self.has(at=at)}: {self.why(at=at)}. {what[:1].upper()}{what[1:]}."

    def caution(self, *, at: datetime) -> str:
        """Said of a hire that is promised all the same."""
        has = f"{self.line.cart.fleet_number} is {self.has(at=at)}"
        return f"{has}: {SANITISE if self.is_apart else self.why(at=at)}."


def met_by(
    carts: Collection[Cart | UUID], water: str, start: datetime, end: datetime, *, at: datetime, but: Collection[UUID] = ()
) -> dict[UUID, list[Met]]:  # fmt: skip
    """By cart id the hires whose water matters to a period in which a cart carries "any" water or "potable" alone, as
    hire.matching_input judges it: those that shut it out first, the nearest before the others. but: lines that count for none.

    A promise over without its cart having left fills nothing; a cart out past its day may be back at any moment.
    """
    is_potable = water == "potable"
    rows = Line.objects.unfinished().filter(
        cart__in=carts, agreement__water="any" if is_potable else "potable"
    )
    rows = rows.filter(Q(handed_over_at__isnull=False) | Q(promised__endswith__gt=at)).exclude(pk__in=but)
    if is_potable:
        rows = rows.filter(Q(handed_over_at__isnull=False) | Q(promised__startswith__lte=start))
    else:
        rows = rows.filter(promised__startswith__gte=start)
    policy = yard_policy()
    needs = policy.sanitise_for if policy.potable_after_bore else None
    found: defaultdict[UUID, list[Met]] = defaultdict(list)
    for line in rows.for_list():
        ends, then = (max(line.expected_back, at), start) if is_potable else (end, line.promised.lower)
        fit_at = None if needs is None else ends + needs
        is_apart = fit_at is not None and fit_at <= then
        found[line.cart_id].append(Met(line, is_potable, is_apart, fit_at if is_potable else None))
    for pile in found.values():
        pile.sort(key=lambda one: (one.is_apart, abs(one.line.promised.lower - start), one.line.pk))
    return dict(found)
