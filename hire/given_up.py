"""Which days a disputed docket line gives up, and which of a docket's days are taken off already. Reads only."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Max

from hire.charge_facts import days_to, dockets_of, terms_of
from hire.charging.days import Days
from hire.charging.interim import CORRECTION
from hire.charging.lines import HIRE, WAIVER
from hire.charging.money import day_words, money
from hire.models.agreements import Line, StandDown
from hire.models.disputes import Dispute, GivenUpDay
from hire.models.money import Docket
from hire.models.off_hire import OffHire
from hire.swaps import lines_together
from people.yard import yard_day


@dataclass(frozen=True)
class TakenOff:
    """A day the charges take off. known_at: when all that takes it off had been written down."""

    why: str
    known_at: datetime

    def is_known_to(self, docket: Docket) -> bool:
        """Whether the docket was made without the day."""
        return self.known_at <= docket.made_at


def days_disputed(dispute: Dispute) -> list[date]:
    """The days of the docket that its line charges by the day; none where it charges something else."""
    one = dispute.docket.body["lines"][dispute.line_no - 1]
    return (
        days_of_docket(dispute.docket) if one["key"] in (HIRE, WAIVER) and one["unit"] != CORRECTION else []
    )


def days_of_docket(docket: Docket) -> list[date]:
    """The days a docket brought, after those of the one before. A day is of one docket of its hire."""
    lines = lines_together(docket.line)
    out_at = lines[0].handed_over_at
    if out_at is None:
        return []
    before = dockets_of(lines).filter(made_at__lt=docket.made_at).aggregate(last=Max("through"))["last"]
    zone = ZoneInfo(docket.line.agreement.time_zone)
    first = before + timedelta(days=1) if before else out_at.astimezone(zone).date()
    return [first + timedelta(days=n) for n in range((docket.through - first).days + 1)]


def taken_off(docket: Docket) -> dict[date, TakenOff]:
    """The days stood down, up to a docket's last, that the charges take off. ValueError where its hire cannot be charged now."""
    lines, agreed = lines_together(docket.line), terms_of(docket.line)
    if agreed is None:
        return {}
    found = days_to(docket.line, agreed, through=docket.through)
    rows = {row.on: row for row in StandDown.objects.standing().filter(line__in=lines)}
    swapped_at = OffHire.objects.swaps().filter(line__in=lines).aggregate(last=Max("made_at"))["last"]
    gone = {}
    for on in (*found.rain, *found.breakdown):
        why, known_at = "no cart of the hire was there", swapped_at
        if row := rows.get(on):
            why, known_at = f"it is stood down for {row.kind}, told by {row.told_by_words}", row.made_at
        # Terms agreed later may take off what they did not before.
        gone[on] = TakenOff(why, max(filter(None, (known_at, agreed.agreed_at))))
    return gone | _after_the_end(lines[-1], found, docket, agreed.agreed_at)


def _after_the_end(line: Line, found: Days, docket: Docket, agreed_at: datetime) -> dict[date, TakenOff]:
    """The days of a docket after the last of the hire, whose end came to light later."""
    call = line.off_hires.standing().first()
    known_at = max(filter(None, (call.made_at if call else line.back_at, agreed_at)))
    days = [found.last + timedelta(days=n + 1) for n in range((docket.through - found.last).days)]
    why = f"the hire ended on {day_words(found.last)}"
    return {on: TakenOff(why, known_at) for on in days if found.is_over(on)}


def struck_since(docket: Docket) -> set[date]:
    """The days a docket was made without, stood down then and struck out since: another docket charges them. ValueError where its
    hire cannot be charged now."""
    lines, agreed = lines_together(docket.line), terms_of(docket.line)
    known = StandDown.objects.standing(at=docket.made_at).filter(line__in=lines, strike__isnull=False)
    struck = set(known.values_list("on", flat=True))
    # Terms agreed later may take off what they did not before.
    if agreed is None or not struck or agreed.agreed_at > docket.made_at:
        return set()
    found = days_to(docket.line, agreed, through=docket.through, known_at=docket.made_at)
    return struck & {*found.rain, *found.breakdown}


def given_up_before(lines: Sequence[Line], on: date, *, key: str = "") -> GivenUpDay | None:
    """The first dispute of a hire's dockets that gave up this day; key: of this charge."""
    rows = GivenUpDay.objects.filter(line__in=lines, on=on).order_by("outcome__decided_at")
    if key:
        rows = rows.filter(line_key=key)
    return rows.select_related("outcome__dispute__docket", "outcome__decided_by").first()


def given_up_words(day: GivenUpDay) -> str:
    """What was given up then, as a sentence goes on: "given up in the dispute of ..."."""
    outcome, dispute = day.outcome, day.outcome.dispute
    return (
        f"given up already in the dispute of “{dispute.line_what}” on {dispute.docket.number}, {money(outcome.given_up)} by "
        f"{outcome.decided_by.full_name}, {day_words(yard_day(outcome.decided_at))}"
    )
