"""What the sites of hires that want a cart ask, set against carts. Reads only; queries grow neither with hires nor carts."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.backends.postgresql.psycopg_any import DateTimeTZRange

from fleet.models.carts import Cart
from hire.booking_wanted import Wanted
from hire.booking_yard import Moved
from hire.models.agreements import Line
from hire.site_check import days_of
from hire.site_facts import Records, Use, records_of, set_at, sets_for
from hire.site_rules import Asked, Lacking, compare
from hire.site_text import NAMES


@dataclass(frozen=True)
class AtSite:
    """A hire at a site that has a set: what the issue in force asks, and when the cart is used there."""

    asked: Asked
    place: str
    use: Use
    days: tuple[date, date]


@dataclass(frozen=True)
class Sites:
    """placed: the hires whose site has a set, by their place in the list. records: of the carts; None where no site has one.
    uses: of every one."""

    placed: Mapping[int, AtSite]
    records: Records | None
    uses: Sequence[Use] = ()

    def lacking(self, hire: int, cart: Cart, *, others: Sequence[int] = ()) -> tuple[Lacking, ...]:
        """What a cart lacks of what the site of a hire asks; nothing where nobody wrote down what it asks. others: hires
        the cart is proposed for as well."""
        at = self.placed.get(hire)
        if at is None or self.records is None:
            return ()
        facts = self.records.of(cart.pk, at.use, proposed=[self.uses[n] for n in others])
        return compare(at.asked, facts, first=at.days[0], last=at.days[1], names=NAMES)

    def stop_words(self, hire: int, cart: Cart) -> str:
        """What the site stops a cart for whatever is done to it, and what would free one; "" where nothing."""
        stops = stops_for_good(self.lacking(hire, cart))
        if not stops:
            return ""
        what = " and ".join(one.what for one in stops)
        clear = "; ".join(dict.fromkeys(one.clear for one in stops))
        return f"{cart.fleet_number} is stopped at {self.placed[hire].place}: {what}. {clear}."


def stops_for_good(lacking: Sequence[Lacking]) -> list[Lacking]:
    """What the site must have and no work on the cart before it leaves would give it."""
    return [one for one in lacking if one.is_must and one.is_built]


def sites_for(
    wanted: Sequence[Wanted], carts: Sequence[Cart], *, at: datetime, moved: Moved | None = None
) -> Sites:
    """The sites of hires that want a cart, with the records of the carts that may go there; moved: as if that hire had that period.
    One query where no site has a set, nine else."""
    sets = sets_for(one.site[0] for one in wanted)
    placed, uses = {}, []
    for n, one in enumerate(wanted):
        start, end = max(one.enquiry.start, at), one.enquiry.end
        uses.append(Use(one.site, start))
        if end > at and (found := set_at(one.site, sets)):
            placed[n] = AtSite(found.asked(), one.place, uses[n], days_of(start, end))
    if not placed:
        return Sites({}, None)
    latest = max(one.use.start for one in placed.values())
    # Those that may have another cart are uses of the cart they are proposed, and no hires of the one they have.
    open_lines = [one.line.pk for one in wanted if one.line]
    records = records_of(carts, latest=latest, moved=_moved(moved) if moved else None, but=open_lines)
    return Sites(placed, records, uses)


def _moved(moved: Moved) -> Line:
    line = copy.copy(moved[0])
    line.promised = DateTimeTZRange(*moved[1])
    return line
