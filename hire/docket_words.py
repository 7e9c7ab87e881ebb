"""What a docket says beside its lines, as it stands when the docket is made."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from hire.charge_facts import charge_ends_at
from hire.charging.money import percent
from hire.deposits import Deposit
from hire.models.agreements import Line
from hire.models.money import AgreedTerms
from hire.terms_words import cover_words, rate_words


def beside_the_lines(
    out: Sequence[Line], agreed: AgreedTerms, total: Decimal, *, deposit: Deposit, set_off: Decimal | None
) -> dict[str, Any]:
    """What it is charged by, who bears damage, the rate of the tax, which carts it is for where one was swapped (out: those that
    left), and the deposit with what is set off."""
    body: dict[str, Any] = {
        "terms": [list(each) for each in rate_words(agreed.body, rule=agreed.rule)],
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


def _time_on_hire(line: Line) -> str:
    """One cart of a hire on which it was swapped, from when and until when it is charged."""
    zone, ends = ZoneInfo(line.agreement.time_zone), charge_ends_at(line)
    moments = [f"{each.astimezone(zone):%-d %b %Y %H:%M}" for each in (line.handed_over_at, ends) if each]
    return f"{line.cart.fleet_number}, from {' to '.join(moments)}"
