"""Daily dockets of wet hire: made, signed by the customer's person, and replaced where they were wrong."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import IntegrityError, connection, transaction

from fleet.water.history import is_unlike
from hire.charge_facts import charge_ends_at, terms_of
from hire.models.agreements import Line
from hire.models.daily import DailyDocket, DailySignature, worked_hours
from hire.models.links import CustomerLink
from hire.models.operators import Operator, OperatorLink, OperatorTurn
from hire.strokes import is_drawing
from people.journal.actions import YARD, cart_chain, write_journal
from people.journal.events import Event
from people.models import Staff
from people.refusals import NotAllowed, Refusal
from people.roles import DESK
from people.yard import yard_day

NUMBER_LOCK = 7_245_309
DAY = timedelta(days=1)


class DayUnclear(Refusal):
    """The docket's day or hours cannot be; the sentence says what to correct."""


class NotWithTheCart(Refusal):
    """The operator is not put down with the cart for that day."""

    field = "operator"


class DocketThere(Refusal):
    """There is a docket for it already, or it is replaced."""


class SignatureWanting(Refusal):
    """A docket is signed with a name, drawn or typed, or says why nobody was there."""

    field = "signed_name"


@dataclass(frozen=True)
class Day:
    """One operator's day. starts_at, finishes_at: None when it was cancelled late; fuel_l: put in that day."""

    on: date
    starts_at: datetime | None = None
    finishes_at: datetime | None = None
    breaks: timedelta = timedelta(0)
    travel_hours: Decimal = Decimal(0)
    is_night: bool = False
    standby_hours: Decimal = Decimal(0)
    standby_why: str = ""
    loads: int = 0
    water_words: str = ""
    water_source: str = ""
    fuel_l: Decimal = Decimal(0)
    cancelled_late: bool = False
    words: str = ""


@dataclass(frozen=True)
class Signed:
    """Who signed, with a typed or drawn name; or, no name, why nobody did."""

    name: str = ""
    strokes: str = ""
    nobody_why: str = ""


def may_write(line: Line, operator: Operator | None, by: Staff) -> bool:
    """The desk writes any docket, an operator of the yard their own."""
    if by.has_role(DESK):
        return True
    turns = OperatorTurn.objects.standing().filter(line=line, operator__staff=by)
    return by.is_active and (operator is None or operator.staff_id == by.pk) and turns.exists()


@dataclass(frozen=True)
class Writer:
    """Whose phone or desk it is: somebody signed in, or an operator through their link."""

    staff: Staff | None = None
    link: OperatorLink | None = None

    def words(self) -> str:
        return f"{self.link.operator}, by the operator’s link" if self.link else ""


def _check_by(line: Line, operator: Operator, by: Writer) -> None:
    is_own = by.link is not None and by.link.operator_id == operator.pk
    if not is_own and not (by.staff is not None and may_write(line, operator, by.staff)):
        raise NotAllowed("A daily docket is written by its operator or the hire desk.")


@transaction.atomic
def make_daily(
    *, line: Line, operator: Operator, day: Day, signed: Signed, replaces: DailyDocket | None = None, why: str = "",
    by: Staff | OperatorLink, at: datetime,
) -> DailyDocket:  # fmt: skip
    """Make the docket of an operator's day, signed or with why nobody did, or one in the place of another.

    NotAllowed; DayUnclear; NotWithTheCart; DocketThere; SignatureWanting.
    """
    writer = _writer(by)
    line = Line.objects.locked(line.pk)
    _check_by(line, operator, writer)
    # Two times of one zone are taken from each other by their clocks, which may have changed between.
    day = replace(day, starts_at=_utc(day.starts_at), finishes_at=_utc(day.finishes_at))
    operator = Operator.objects.select_for_update(of=("self",)).select_related("staff").get(pk=operator.pk)
    _check_day(line, day, at=at)
    _check_turn(line, operator, day)
    _check_others(line, operator, day, replaces)
    if replaces is not None and not why.strip():
        raise DayUnclear("Say what was wrong in the docket that this one replaces.", field="why")
    docket = DailyDocket(
        number=_next_number(at), line=line, operator=operator, **vars(day), overtime_hours=overtime_of(line, day),
        unsigned_why=signed.nobody_why.strip(), replaces=replaces, replaces_why=why.strip(), made_at=at, made_by=writer.staff,
        by_link=writer.link,
    )  # fmt: skip
    try:
        with transaction.atomic():
            docket.save(force_insert=True)
    except IntegrityError as error:
        raise DocketThere("This day was written down this very moment. Look at its docket.") from error
    signature = None if docket.unsigned_why else _sign(docket, signed, writer, at=at)
    facts = {"on": day.on, "hours": docket.hours, "signed_by": signature.name if signature else ""}
    facts |= {"replaces": replaces.number, "why": docket.replaces_why} if replaces else {}
    _write(Event.DAILY_DOCKET_MADE, docket, facts, by=writer.staff, words=writer.words(), at=at)
    return docket


def _utc(when: datetime | None) -> datetime | None:
    return None if when is None else when.astimezone(UTC)


def _check_day(line: Line, day: Day, *, at: datetime) -> None:
    zone = ZoneInfo(line.agreement.time_zone)
    left, ends = line.handed_over_at, charge_ends_at(line)
    if left is None or day.on < left.astimezone(zone).date():
        raise DayUnclear(f"{line.cart.fleet_number} had not left on that day.", field="on")
    if day.on > at.astimezone(zone).date() or (ends is not None and day.on > ends.astimezone(zone).date()):
        raise DayUnclear("That day is still to come, or the hire was over by then.", field="on")
    if day.cancelled_late:
        if day.starts_at or day.finishes_at or day.breaks or day.standby_hours:
            raise DayUnclear(
                "Cancelled late: nobody worked. Leave the hours blank, or take the tick away.",
                field="cancelled_late",
            )
        return
    _check_hours(day, zone, at=at)


def _check_hours(day: Day, zone: ZoneInfo, *, at: datetime) -> None:
    if day.starts_at is None or day.finishes_at is None:
        raise DayUnclear(
            "Give the start and the finish, or say that it was cancelled late.", field="starts_at"
        )
    if day.starts_at.astimezone(zone).date() != day.on:
        raise DayUnclear("The docket’s day is the day the work began.", field="starts_at")
    if not timedelta(0) < day.finishes_at - day.starts_at <= DAY:
        raise DayUnclear("The finish comes after the start, within 24 hours.", field="finishes_at")
    if day.finishes_at > at:
        raise DayUnclear(
            "The finish is still to come: make the docket when the work is done.", field="finishes_at"
        )
    hours = worked_hours(day.finishes_at - day.starts_at - day.breaks)
    if hours <= 0:
        raise DayUnclear("The breaks are as long as the day.", field="breaks")
    if day.standby_hours > hours:
        raise DayUnclear(f"Only {hours:f} hours were worked: fewer stood by.", field="standby_hours")
    if day.standby_hours and not day.standby_why.strip():
        raise DayUnclear("Say why the cart stood by.", field="standby_why")
    if is_unlike(day.water_source, day.water_words):
        raise DayUnclear(
            "The water points do not sound like potable water. Choose what the worst of it was, or name them otherwise.",
            field="water_source",
        )


def _check_turn(line: Line, operator: Operator, day: Day) -> None:
    zone = ZoneInfo(line.agreement.time_zone)
    begins = datetime.combine(day.on, datetime.min.time(), zone)
    span = (day.starts_at or begins, day.finishes_at or begins + DAY)
    turns = OperatorTurn.objects.standing().filter(line=line, operator=operator, period__overlap=span)
    if not turns.exists():
        raise NotWithTheCart(
            f"{operator} is not put down with {line.cart.fleet_number} for {day.on:%-d %b %Y}. The hire desk puts them down first."
        )


def _check_others(line: Line, operator: Operator, day: Day, replaces: DailyDocket | None) -> None:
    """One docket an operator, day and hire; nobody worked in two places at one time."""
    others = DailyDocket.objects.standing().filter(operator=operator).select_related("line__cart")
    if replaces is not None:
        if replaces.line_id != line.pk or DailyDocket.objects.filter(replaces=replaces).exists():
            raise DocketThere(f"{replaces.number} is replaced already. Open the docket that took its place.")
        others = others.exclude(pk=replaces.pk)
    if same := others.filter(line=line, on=day.on).first():
        raise DocketThere(
            f"{same.number} is {operator}’s docket for {day.on:%-d %b %Y}. Open it and replace it.",
            field="on",
        )
    if day.starts_at is None:
        return
    crossing = others.filter(starts_at__lt=day.finishes_at, finishes_at__gt=day.starts_at).first()
    if crossing is not None:
        raise DayUnclear(
            f"{operator} worked with {crossing.line.cart.fleet_number} in that time, by {crossing.number}.",
            field="starts_at",
        )


def overtime_of(line: Line, day: Day) -> Decimal | None:
    """The hours over what the agreed rate calls a day; None where it says nothing of it."""
    agreed = terms_of(line)
    wet = agreed.terms().wet if agreed else None
    if wet is None or wet.overtime_after is None or day.starts_at is None or day.finishes_at is None:
        return None
    hours = worked_hours(day.finishes_at - day.starts_at - day.breaks)
    return max(hours - wet.overtime_after, Decimal(0))


def _writer(by: Staff | OperatorLink | None) -> Writer:
    return Writer(link=by) if isinstance(by, OperatorLink) else Writer(staff=by)


@transaction.atomic
def sign_daily(
    *, docket: DailyDocket, signed: Signed, by: Staff | OperatorLink | None = None, link: CustomerLink | None = None,
    at: datetime,
) -> DailySignature:  # fmt: skip
    """Have a docket signed that nobody signed when it was made: on somebody's phone (by), or through its hire's link.

    NotAllowed; DocketThere for one that is signed or replaced; SignatureWanting.
    """
    writer = _writer(by)
    # Sealed rows are not locked: the line is.
    Line.objects.select_for_update(of=("self",)).get(pk=docket.line_id)
    docket = DailyDocket.objects.for_list().get(pk=docket.pk)
    if link is None:
        _check_by(docket.line, docket.operator, writer)
    if docket.is_replaced:
        raise DocketThere(f"{docket.number} is replaced by {docket.replaced_by.number}. Sign that one.")
    if docket.is_signed:
        raise DocketThere(f"{docket.number} was signed by {docket.signature.name}.")
    signature = _sign(docket, signed, writer, link=link, at=at)
    words = f"{link.for_words}, by the customer’s link" if link else writer.words()
    _write(
        Event.DAILY_DOCKET_SIGNED, docket, {"signed_by": signature.name}, by=writer.staff, words=words, at=at
    )
    return signature


def _sign(
    docket: DailyDocket, signed: Signed, writer: Writer, *, link: CustomerLink | None = None, at: datetime
) -> DailySignature:
    is_drawn = signed.strokes not in ("", "[]")
    if not signed.name.strip():
        raise SignatureWanting(
            "Whoever signs for the customer gives a name, or say why nobody is there to sign."
        )
    if is_drawn and not is_drawing(signed.strokes):
        raise SignatureWanting("The drawn signature did not arrive whole. Wipe it and sign again.")
    signature = DailySignature(
        docket=docket, name=signed.name.strip(), kind="drawn" if is_drawn else "typed",
        strokes=signed.strokes if is_drawn else "", at=at, held_by=writer.staff, operator_link=writer.link, link=link,
    )  # fmt: skip
    try:
        with transaction.atomic():
            signature.save(force_insert=True)
    except IntegrityError as error:
        raise DocketThere(f"{docket.number} was signed this very moment.") from error
    return signature


def _next_number(at: datetime) -> str:
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBER_LOCK])
    year = yard_day(at).year
    last = DailyDocket.objects.filter(number__startswith=f"W{year}-").order_by("-number").first()
    return f"W{year}-{int(last.number.split('-')[1]) + 1 if last else 1:05d}"


def _write(
    event: Event, docket: DailyDocket, facts: dict[str, object], *, by: Staff | None, words: str, at: datetime
) -> None:
    about = {
        "number": docket.number,
        "agreement": docket.line.agreement.number,
        "operator": str(docket.operator),
    }
    write_journal(
        event=event,
        subject=("hire_line", docket.line_id),
        chains=[cart_chain(docket.line.cart_id), YARD],
        by=by,
        by_words=words,
        at=at,
        facts=about | facts,
    )
