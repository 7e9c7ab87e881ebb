"""Tables of money and what is argued about it, as they go into a file: a head, and a row for each thing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date

from hire.models.disputes import Dispute
from hire.models.fines import Fine
from hire.models.holidays import YardDay

Row = Sequence[object]

HOLIDAY_HEAD = ("Day", "Public holiday", "The yard’s own say", "By")

DISPUTE_HEAD = (
    "Docket", "Line", "What", "Amount", "Customer", "Cart", "Disputed", "They say", "We say", "Outcome", "Given up", "Why",
    "Decided", "By",
)  # fmt: skip

FINE_HEAD = (
    "Kind", "Issuer", "Notice", "Plate", "Happened", "Where", "Amount", "What becomes of it", "Answer by", "Cart", "Agreement",
    "Customer", "Written down", "By",
)  # fmt: skip


def holiday_table(days: Mapping[date, str], own: Iterable[YardDay]) -> Iterator[Row]:
    """The year's holidays, and the days struck from them, by day."""
    decided = {day.on: day for day in own}
    for on in sorted({*days, *decided}):
        day = decided.get(on)
        yield (
            on,
            days.get(on, ""),
            f"{day.get_kind_display()}: {day.what}" if day else "",
            day.made_by.full_name if day else "",
        )


def dispute_table(disputes: Iterable[Dispute]) -> Iterator[Row]:
    """A row a dispute, each side's words one after the other."""
    for one in disputes:
        line, words = one.docket.line, {"theirs": "", "ours": ""}
        for said in one.said.all():
            words[said.side] += f"{' / ' if words[said.side] else ''}{said.by_words}: {said.words}"
        end = None if one.is_open else one.outcome
        yield (
            one.docket.number, one.line_no, one.line_what, one.line_amount, line.agreement.customer.name, line.cart.fleet_number,
            one.made_at, words["theirs"], words["ours"], end.get_outcome_display() if end else "open",
            end.given_up if end else None, end.words if end else "", end.decided_at if end else None,
            end.decided_by.full_name if end else "",
        )  # fmt: skip


def fine_table(fines: Iterable[Fine]) -> Iterator[Row]:
    for fine in fines:
        line = fine.line
        yield (
            fine.get_kind_display(), fine.issuer, fine.notice_number, fine.plate, fine.happened_at, fine.place_words, fine.amount,
            fine.get_way_display(), fine.answer_by, line.cart.fleet_number, line.agreement.number,
            line.agreement.customer.name, fine.made_at, fine.made_by.full_name,
        )  # fmt: skip
