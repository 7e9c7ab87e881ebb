"""Who drove, and fines and tolls: found by plate and time, passed on with the fee that was agreed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction

from fleet.sentences import past_words
from hire.actions.money import charge_beside
from hire.charge_facts import terms_of
from hire.models.agreements import Line
from hire.models.fines import Driver, Fine
from hire.plate_and_time import carts_of, hire_at, nobody_words
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK


class NoSuchPlate(Refusal):
    """No cart carries the plate."""

    field = "plate"


class WithNobody(Refusal):
    """The cart was on nobody's hire then."""

    field = "happened_at"


class NotThen(Refusal):
    """The time is to come, or the cart was not out on this hire then."""


class WrittenAlready(Refusal):
    """The notice is written down already."""

    field = "notice_number"


@dataclass(frozen=True)
class Notice:
    """What came by post. kind: "fine" | "toll"; way: "nominated" | "paid"."""

    kind: str
    issuer: str
    notice_number: str
    plate: str
    happened_at: datetime
    place_words: str
    amount: Decimal
    way: str
    answer_by: date | None = None


def _check(by: Staff) -> None:
    if not by.has_role(DESK):
        raise NotAllowed("The hire desk writes down who drove, and fines and tolls.")


@transaction.atomic
def write_driver(
    *, line: Line, name: str, licence: str, from_at: datetime, until_at: datetime | None, told_by_words: str, by: Staff,
    at: datetime,
) -> Driver:  # fmt: skip
    """Write down who drove a cart on its hire. until_at None: until it is back. NotAllowed; NotThen."""
    _check(by)
    line = Line.objects.locked(line.pk)
    if line.handed_over_at is None:
        raise NotThen(f"{line.cart.fleet_number} has not left on {line.agreement.number}.")
    if from_at < line.handed_over_at:
        raise NotThen(
            f"{line.cart.fleet_number} was handed over {past_words(line.handed_over_at, at=at)}. Give that or later.",
            field="from_at",
        )
    if until_at is not None and until_at <= from_at:
        raise NotThen("They drove until after they began. Correct one of the two times.", field="until_at")
    if from_at > at or (line.back_at is not None and from_at >= line.back_at):
        raise NotThen(
            "Nobody drove it on this hire from that time on. Give a time it was out.", field="from_at"
        )
    driver = Driver(
        line=line, name=name, licence=licence, from_at=from_at, until_at=until_at, told_by_words=told_by_words, made_at=at,
        made_by=by,
    )  # fmt: skip
    driver.save(force_insert=True)
    # The licence stays out of the journal, which nothing is ever taken from.
    facts = {"name": name, "from_at": from_at, "until_at": until_at, "told_by": told_by_words}
    _write(Event.DRIVER_WRITTEN, line, facts, by=by, at=at)
    return driver


@transaction.atomic
def strike_driver(*, driver: Driver, by: Staff, at: datetime) -> Driver:
    """It was not they who drove. Struck twice, nothing changes. NotAllowed."""
    _check(by)
    driver = Driver.objects.select_for_update(of=("self",)).get(pk=driver.pk)
    if driver.struck_at is None:
        driver.struck_at = at
        driver.save(update_fields=["struck_at"])
        line = Line.objects.for_list().get(pk=driver.line_id)
        _write(Event.DRIVER_STRUCK, line, {"name": driver.name, "from_at": driver.from_at}, by=by, at=at)
    return driver


@transaction.atomic
def record_fine(*, notice: Notice, by: Staff, at: datetime) -> Fine:
    """Write down a notice, find the hire that had the cart, and charge it: what the yard pays, and the agreed fee for that.

    NotAllowed; NotThen; NoSuchPlate; WithNobody; WrittenAlready.
    """
    _check(by)
    if notice.happened_at > at:
        raise NotThen("That is still to come. Give the time on the notice.", field="happened_at")
    carts = carts_of(notice.plate)
    line = hire_at(carts, notice.happened_at)
    if line is None:
        cart = carts.order_by("retired_on").last()
        if cart is None:
            raise NoSuchPlate(
                f"No cart of the yard carries {notice.plate}. Check the plate on the notice; if it is right, send it back."
            )
        raise WithNobody(nobody_words(cart, notice.happened_at, at=at))
    fine = Fine(line=line, made_at=at, made_by=by, **vars(notice))
    try:
        with transaction.atomic():
            fine.save(force_insert=True)
    except IntegrityError as error:
        raise WrittenAlready(
            f"{notice.notice_number} of {notice.issuer} is written down already. Look for it in the list."
        ) from error
    _charge(fine, line, by=by, at=at)
    facts = {"notice": notice.notice_number, "issuer": notice.issuer, "happened_at": notice.happened_at}
    _write(Event.FINE_WRITTEN, line, facts | {"amount": notice.amount, "way": notice.way}, by=by, at=at)
    return fine


def _charge(fine: Fine, line: Line, *, by: Staff, at: datetime) -> None:
    agreed = terms_of(line)
    fee = Decimal((agreed.body.get("fine_fee") if agreed else None) or 0)
    words = f"{fine.issuer}, notice {fine.notice_number}, {fine.place_words}"[:240]
    what, notice = fine.get_kind_display(), f"notice {fine.notice_number}"
    paid = fine.amount if fine.way == "paid" else Decimal(0)
    # A fine is no price of anything the yard sells; the fee for passing it on is.
    charged = (
        (f"{what}, {notice}", paid, fine.kind != "fine"),
        (f"Passing on {what.lower()}, {notice}", fee, True),
    )
    for name, price, is_taxed in charged:
        if price:
            charge_beside(
                line=line, what=name[:80], quantity=Decimal(1), unit="notice", unit_price=price, words=words, is_taxed=is_taxed,
                by=by, at=at,
            )  # fmt: skip


def _write(event: Event, line: Line, facts: dict[str, object], *, by: Staff, at: datetime) -> None:
    write_journal(
        event=event, subject=("hire_line", line.pk), chains=[cart_chain(line.cart_id), YARD], by=by, at=at,
        facts={"agreement": line.agreement.number} | facts,
    )  # fmt: skip
