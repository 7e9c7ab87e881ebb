"""What the desk is told ahead: a booking without its cart, a site without its pack, an order number that runs low, letters that did
not get there, and carts that are back with things undecided."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, time, timedelta

from django.db.models import Q

from fleet.alerts.rules import Condition
from fleet.gear import GEAR
from fleet.sentences import moment_words, past_words
from hire.back_undecided import undecided
from hire.letter_rows import troubles
from hire.models.agreements import Line
from hire.models.bookings import Booking
from hire.models.contacts import Letter
from hire.order_use import order_uses
from hire.packs_due import pack_wanted_by, packs_wanted
from hire.suiting import asked_words
from hire.working_days import days_after, days_before
from people.roles import Role
from people.yard import at_local, day_bounds, yard_day, yard_policy

# A letter that is not out by now is stuck. Common practice, no source.
LETTER_GRACE = timedelta(minutes=15)
# So many things found are named in an alert.
NAMED = 3


def bookings_near(at: datetime) -> Iterator[Condition]:
    """Open bookings that leave within the yard's working days and have no cart. One query."""
    policy = yard_policy()
    days, working, closed = policy.booking_lead_days, policy.working_days, policy.closed_days
    until = day_bounds(days_after(yard_day(at), days, working=working, closed=closed))[1]
    near = Booking.objects.open().filter(period__startswith__lt=until, period__endswith__gt=at)
    for booking in near.for_list():
        leaves = booking.period.lower
        wanted_by = days_before(yard_day(leaves), days, working=working, closed=closed)
        yield Condition(
            subject_kind="booking",
            subject_id=booking.pk,
            cart_id=None,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{booking.customer.name} leaves {moment_words(leaves, at=at)} and has no cart yet.",
            how_we_know=f"Booked for {booking.place_of_work}; asked: {asked_words(booking.enquiry(), names=GEAR)}. "
            "No cart is promised for it.",
            if_not="Later than that there is no time to make one ready, or to hire one in.",
            due_at=min(at_local(wanted_by, time(12)), leaves),
            act="Choose its cart",
        )


def packs_due(at: datetime) -> Iterator[Condition]:
    """Sites that ask for papers and have no pack that stands, within the days they want it ahead. Five queries."""
    for line in packs_wanted(at=at):
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{line.agreement.place_of_work} has no site pack for {line.cart.fleet_number} yet.",
            how_we_know=f"It leaves {moment_words(line.promised.lower, at=at)} on {line.agreement.number}. No pack "
            "is written down as sent, or the last one was sent back.",
            if_not=f"{line.agreement.customer.name} may turn the cart away at the gate.",
            due_at=at_local(pack_wanted_by(line), time(12)),
            act="Make the site pack and send it",
        )


def orders_low(at: datetime) -> Iterator[Condition]:
    """Order numbers used up to the yard's part of their value. Six queries."""
    for one in order_uses(at=at):
        if one.pct < yard_policy().order_low_pct:
            continue
        about, value = one.agreement, one.agreement.order_value
        yield Condition(
            subject_kind="hire_line",
            subject_id=one.line.pk,
            cart_id=None,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"Order {about.order_number} of {about.customer.name} {'is used up' if one.pct >= 100 else 'runs low'}: "
            f"about {one.used:,.2f} of {value:,.2f}.",
            how_we_know=f"{about.number}: {one.on_dockets:,.2f} on dockets, and about {one.about:,.2f} of hire days on none "
            "yet, before tax.",
            if_not="Their accounts send the next docket back.",
            act="Ask for more on the order, or a new one",
        )


def letters_stuck(at: datetime) -> Iterator[Condition]:
    """Papers by email that came back, or that could not be sent for a while. Two queries."""
    wants = Letter.objects.filter(settled_at=None).filter(
        Q(came_back_at__isnull=False) | Q(sent_at=None, made_at__lt=at - LETTER_GRACE)
    )
    letters = list(
        wants.select_related("line__cart", "line__agreement", "certificate", "pack").order_by("made_at")
    )
    wrong = troubles([one for one in letters if one.came_back_at is None])
    for one in letters:
        came = one.came_back_at
        said = (
            f"It came back {past_words(came, at=at)}: {one.came_back_words}"
            if came
            else wrong.get(one.pk, "It waits for the worker.")
        )
        yield Condition(
            subject_kind="letter",
            subject_id=one.pk,
            cart_id=one.line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{one.paper_number} did not get to {one.to_name}, {one.to_address}.",
            how_we_know=f"Written {past_words(one.made_at, at=at)}. {said}",
            if_not=f"{one.line.agreement.place_of_work} waits for a paper that is not coming.",
            due_at=came or one.made_at,
            act="Ring them and mend the address",
        )


def returns_undecided(at: datetime) -> Iterator[Condition]:
    """Carts that came back with things found which nobody has decided within the yard's working days. Twelve queries."""
    policy = yard_policy()
    for one in undecided(Line.objects.all(), at=at):
        line, things = one.line, one.things
        assert line.back_at is not None
        by = days_after(
            yard_day(line.back_at), policy.decide_days, working=policy.working_days, closed=policy.closed_days
        )
        if yard_day(at) < by:
            continue
        more = f", and {len(things) - NAMED} more" if len(things) > NAMED else ""
        yield Condition(
            subject_kind="hire_line",
            subject_id=line.pk,
            cart_id=line.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{line.cart.fleet_number} is back from {line.agreement.customer.name}, and what was found is not decided: "
            f"{'; '.join(things[:NAMED])}{more}.",
            how_we_know=f"Back {past_words(line.back_at, at=at)} on {line.agreement.number}; neither charged nor let go.",
            if_not="What is charged late is argued about, and what stood there before is forgotten.",
            due_at=at_local(by, time(12)),
            act="Charge it or let it go",
        )
