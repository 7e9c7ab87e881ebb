"""A tablet's clock that is wrong: its times are put right by what is known of it, and it is told when it matters."""

from datetime import UTC, datetime, timedelta

import pytest

from inspections.clocks import is_flagged, put_right
from inspections.models import WalkRound
from inspections.wording import clock_words
from people.templatetags.screen import moment
from tests.factories import inspections as walk
from tests.inspections.wire import put
from tests.pages import text_of

MINUTE = timedelta(minutes=1)
NOON = datetime(2026, 12, 1, 12, 0, tzinfo=UTC)


@pytest.mark.parametrize(
    ("offset", "flagged"),
    [(0, False), (300_000, False), (-300_000, False), (300_001, True), (-300_001, True), (2**53 - 1, True)],
)
def test_over_five_minutes_is_flagged(offset, flagged):
    assert is_flagged(timedelta(milliseconds=offset)) is flagged


@pytest.mark.parametrize(
    ("offset", "words"),
    [
        (5 * MINUTE, ""),
        (130 * MINUTE, "The tablet’s clock was 2 h 10 min slow; times are put right by it."),
        (-6 * MINUTE, "The tablet’s clock was 6 min fast; times are put right by it."),
        (-timedelta(days=3652, hours=2), "The tablet’s clock was 3652 days 2 h fast; times are put right by it."),
    ],
)  # fmt: skip
def test_it_is_told_in_words(offset, words):
    assert clock_words(offset).replace("\N{NO-BREAK SPACE}", " ") == words


def test_a_moment_is_put_right_and_never_after_it_arrived():
    early = NOON - timedelta(hours=3)
    assert put_right(early, offset=timedelta(hours=2), not_after=NOON) == NOON - timedelta(hours=1)
    assert put_right(early, offset=-timedelta(hours=2), not_after=NOON) == NOON - timedelta(hours=5)
    assert put_right(early, offset=timedelta(days=9), not_after=NOON) == NOON
    assert put_right(early, offset=timedelta(days=9_999_999), not_after=NOON) == NOON


def sent(tablet, cart, now, offset):
    """A record whose tablet was out by `offset`, signed an hour ago after twenty-five minutes."""
    body = walk.manifest(
        cart, at=now - timedelta(hours=1) - offset,
        device={"id": "t", "time_zone": "x", "offset_ms": offset // timedelta(milliseconds=1)},
    )  # fmt: skip
    return put(tablet, body).json()


@pytest.mark.parametrize("offset", [130 * MINUTE, -130 * MINUTE, timedelta(days=3650)])
def test_the_tablet_and_the_page_are_told_and_the_beginning_is_put_right(tablet, cart, now, offset):
    assert sent(tablet, cart, now, offset)["clock_flag"] is True
    kept = WalkRound.objects.get()
    assert kept.signed_at == now - timedelta(hours=1)
    assert kept.begun_at == now - timedelta(hours=1) - 25 * MINUTE
    page = text_of(tablet.get(f"/walk-rounds/{kept.pk}/"))
    for told in (clock_words(offset), f"<dt>Begun</dt><dd>{moment(kept.begun_at)}</dd>"):
        assert " ".join(told.split()) in page


def test_a_clock_that_is_near_enough_is_not_told(tablet, cart, now):
    assert sent(tablet, cart, now, 5 * MINUTE)["clock_flag"] is False
    assert "clock was" not in text_of(tablet.get(f"/walk-rounds/{WalkRound.objects.get().pk}/"))


def test_a_beginning_after_the_end_is_no_later_than_the_end(tablet, cart, now):
    body = walk.manifest(cart, at=now - timedelta(hours=1), started_at=now.isoformat())
    put(tablet, body)
    kept = WalkRound.objects.get()
    assert kept.begun_at == kept.signed_at < kept.started_at
