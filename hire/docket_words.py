"""What a docket says beside its lines, as it stands when the docket is made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from hire.charge_facts import charge_ends_at
from hire.charging.money import percent
from hire.deposits import Deposit
from hire.models.agreements import Agreement, Line
from hire.models.money import AgreedTerms
from hire.public_holidays import holidays_words
from hire.terms_words import cover_words, rate_words
from hire.where import place_words
from people.yard import yard_policy


def beside_the_lines(
    out: Sequence[Line], agreed: AgreedTerms, total: Decimal, *, deposit: Deposit, set_off: Decimal | None
) -> dict[str, Any]:
    """What it is charged by, who bears damage, the rate of the tax, which carts it is for where one was swapped (out: those that
    left), and the deposit with what is set off."""
    body: dict[str, Any] = {
        "terms": [
            *map(list, rate_words(agreed.body, rule=agreed.rule)),
            *map(list, clock_words(out[-1].agreement)),
        ],
        "cover": [list(each) for each in cover_words(agreed.body)],
        "tax": percent(agreed.terms().tax_rate),
    }
    if len(out) > 1:
        body["carts"] = [_time_on_hire(one) for one in out]
    off = set_off or Decimal(0)
    if deposit:
        body["deposit"] = {
            "held": f"{deposit.held - off:.2f}",
            "set_off": f"{off:.2f}",
            "to_pay": f"{total - off:.2f}",
        }
    return body


def clock_words(agreement: Agreement) -> Iterator[tuple[str, str]]:
    """By whose clock and calendar its days are, where that is not the yard's."""
    policy = yard_policy()
    if agreement.time_zone != policy.zone.key:
        yield "Days and times", f"by {place_words(agreement.time_zone)} time ({agreement.time_zone})"
    if agreement.holiday_region or agreement.rule_set != policy.rule_set:
        yield "Holidays, where no others are agreed above", f"of {holidays_words(agreement)}"


def _time_on_hire(line: Line) -> str:
    """One cart of a hire on which it was swapped, from when and until when it is charged."""
    zone, ends = ZoneInfo(line.agreement.time_zone), charge_ends_at(line)
    mark = line.agreement.mark
    moments = [
        f"{each.astimezone(zone):%-d %b %Y %H:%M}{mark(each)}" for each in (line.handed_over_at, ends) if each
    ]
    return f"{line.cart.fleet_number}, from {' to '.join(moments)}"
