"""What the desk is told of quotes: one sent by email that did not get there."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.db.models import Exists, OuterRef, Q

from fleet.alerts.rules import Condition
from fleet.sentences import past_words
from hire.models.quotes import QuoteLetter
from hire.watch_desk import LETTER_GRACE
from people.roles import Role
from people.yard import yard_day


def quotes_stuck(at: datetime) -> Iterator[Condition]:
    """Quotes that stand whose newest letter came back, or could not be sent for a while; another letter, or the end of the quote,
    clears it. One query."""
    later = QuoteLetter.objects.filter(quote=OuterRef("quote"), made_at__gt=OuterRef("made_at"))
    letters = QuoteLetter.objects.filter(
        Q(came_back_at__isnull=False) | Q(sent_at=None, made_at__lt=at - LETTER_GRACE),
        ~Exists(later),
        quote__valid_until__gte=yard_day(at),
    )
    for one in letters.select_related("quote").order_by("made_at"):
        came, quote = one.came_back_at, one.quote
        said = (
            f"It came back {past_words(came, at=at)}: {one.came_back_words}"
            if came
            else "It is not sent yet."
        )
        yield Condition(
            subject_kind="quote",
            subject_id=quote.pk,
            cart_id=quote.cart_id,
            rank="today",
            for_role=Role.HIRE_DESK,
            what=f"{quote.number} did not get to {one.to_name}, {one.to_address}.",
            how_we_know=f"Written {past_words(one.made_at, at=at)}. {said}",
            if_not="The caller waits for a quote that is not coming, and asks another yard.",
            due_at=came or one.made_at,
            act="Ring them and send it anew",
        )
