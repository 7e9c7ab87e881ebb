"""By when a site wants its pack, and which hires have none that stands. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from uuid import UUID

from hire.models.agreements import Line
from hire.models.packs import SitePack
from hire.site_facts import set_at, sets_for, site_of
from hire.working_days import days_after, days_before
from people.yard import day_bounds, yard_day, yard_policy


def pack_wanted_by(line: Line) -> date:
    """The last day on which the site should have its pack."""
    policy = yard_policy()
    leaves = yard_day(line.promised.lower)
    return days_before(leaves, policy.site_pack_days, working=policy.working_days, closed=policy.closed_days)


def packs_standing(lines: Sequence[Line]) -> set[UUID]:
    """Of some hires those whose newest pack is of the cart and the work as they are, is sent, and not sent back. One query."""
    packs = (
        SitePack.objects.filter(line__in=lines)
        .of_what_goes()
        .order_by("line_id", "-made_at")
        .distinct("line_id")
        .prefetch_related("sendings", "answers")
    )
    return {
        pack.line_id
        for pack in packs
        if pack.sendings.all() and not (pack.answers.all() and pack.answers.all()[0].answer == "back")
    }


def packs_wanted(*, at: datetime) -> list[Line]:
    """Hires to come within the days a site wants its pack ahead, at sites that ask for something, and without one that was sent
    and stands. Five queries."""
    policy, today = yard_policy(), yard_day(at)
    last = days_after(today, policy.site_pack_days, working=policy.working_days, closed=policy.closed_days)
    until = day_bounds(last + timedelta(days=1))[0]
    lines = list(
        Line.objects.to_come().filter(promised__startswith__lt=until, promised__endswith__gt=at).for_list()
    )
    sets = sets_for(line.agreement.customer_id for line in lines)
    asked = [line for line in lines if (found := set_at(site_of(line), sets)) and found.asked().papers]
    stands = packs_standing(asked)
    return [line for line in asked if line.pk not in stands]
