"""Delivering notices: claimed with SKIP LOCKED and committed before anything leaves, marked as sent after.

Neither a mail server nor a gateway can be made part of our transaction. Killed between what was sent and its mark, a
delivery looks as one that was never sent; it is sent again as the same message (one Message-ID, one idempotency key). So a
notice may come twice in that window, and none is lost.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.db.models import Case, Exists, IntegerField, OuterRef, When

from fleet.alerts.callout import call_out
from fleet.alerts.models import Alert, Delivery
from fleet.alerts.owing import yard_hours
from fleet.alerts.timing import is_working

log = logging.getLogger("slake.alerts")

# Cut off so often in the middle, something about it kills whoever sends it.
MOST_UNKNOWN_ENDS = 5
# After this it is news no more; the page has it.
TRIED_FOR = timedelta(days=3)
LONGEST_WAIT = {"stop": timedelta(minutes=2), "today": timedelta(minutes=15)}


def _send_email(delivery: Delivery) -> None:
    host = urlsplit(settings.PUBLIC_ADDRESS).hostname or "slake.invalid"
    EmailMessage(
        delivery.notice.subject.replace("\n", " "),
        delivery.notice.body,
        settings.DEFAULT_FROM_EMAIL,
        [delivery.address],
        headers={"Message-ID": f"<{delivery.pk}@{host}>", "Auto-Submitted": "auto-generated"},
    ).send()


def _send_callout(delivery: Delivery) -> None:
    call_out(
        url=settings.CALLOUT_URL,
        token=settings.CALLOUT_TOKEN,
        to=delivery.address,
        text=delivery.notice.spoken,
        key=str(delivery.pk),
    )


WAYS: dict[str, Callable[[Delivery], None]] = {"email": _send_email, "callout": _send_callout}


@transaction.atomic
def claim_next(*, at: datetime) -> Delivery | None:
    """Take the next delivery that waits, stops first, and commit to trying it. None when nothing waits.

    One whose last claim never ended is tried again; what nobody needs any more, or was tried too long, is given up.
    """
    waiting = Delivery.objects.waiting(at=at).select_for_update(of=("self",), skip_locked=True)
    if not is_working(at, hours=yard_hours()):
        # What could not be sent by day waits for the next one.
        waiting = waiting.filter(notice__rank="stop")
    # Where a mail server is slow, the call-out of a stop does not wait behind it.
    first = Case(When(notice__rank="stop", then=0), default=1, output_field=IntegerField())
    for delivery in waiting.select_related("notice").order_by(first, "channel", "available_at", "pk")[:50]:
        if delivery.claimed_at is not None:
            delivery.unknown_ends += 1
        if reason := _hopeless(delivery, at=at):
            delivery.given_up_at, delivery.last_error = at, reason
            delivery.save(update_fields=["given_up_at", "last_error", "unknown_ends"])
            continue
        delivery.claimed_at = at
        delivery.available_at = at + timedelta(seconds=settings.NOTICE_LEASE_SECONDS)
        delivery.tries += 1
        delivery.save(update_fields=["claimed_at", "available_at", "tries", "unknown_ends"])
        return delivery
    return None


def _hopeless(delivery: Delivery, *, at: datetime) -> str:
    """Why it is not worth another try, or ""."""
    if delivery.unknown_ends >= MOST_UNKNOWN_ENDS:
        return f"Cut off {delivery.unknown_ends} times while it was being sent: it may have arrived."
    if at - delivery.notice.made_at > TRIED_FOR:
        return f"Tried {delivery.tries} times. {delivery.last_error}"[:300]
    tellings = delivery.notice.tellings.all()
    still_open = Alert.objects.filter(pk=OuterRef("alert_id"), cleared_at=None)
    if delivery.tries and delivery.notice.rank and not tellings.filter(Exists(still_open)).exists():
        return "Everything in it cleared before it could be sent."
    return ""


def deliver_next(*, at: datetime) -> bool:
    """Send the next delivery that waits. True when there was one, whether or not it could be sent."""
    delivery = claim_next(at=at)
    if delivery is None:
        return False
    try:
        WAYS[delivery.channel](delivery)
    except Exception as error:  # noqa: BLE001 - whatever a mail server or a gateway may do, the notice stays owed
        facts = {"channel": delivery.channel, "tries": delivery.tries, "error": type(error).__name__}
        log.warning("alerts.delivery_failed", extra={"facts": facts})
        Delivery.objects.filter(pk=delivery.pk).update(
            # The end is known: it was not taken. So this is no claim without an end.
            claimed_at=None,
            available_at=at + _wait(delivery),
            last_error=f"{type(error).__name__}: {error}"[:300],
        )
    else:
        Delivery.objects.filter(pk=delivery.pk).update(sent_at=at, claimed_at=None, last_error="")
    return True


def _wait(delivery: Delivery) -> timedelta:
    longest = LONGEST_WAIT.get(delivery.notice.rank, timedelta(hours=1))
    return min(longest, timedelta(seconds=15 * 2 ** min(delivery.tries - 1, 10)))
