"""A hire promised by hand closer to another than the yard's turn-round: promised all the same, and said."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from hire.beside import beside
from people.templatetags.screen import typed_moment
from people.yard import yard_policy
from tests.factories.fleet import CartFactory
from tests.factories.hire import AT, CustomerFactory, LineFactory
from tests.pages import text_of

pytestmark = pytest.mark.django_db
HOUR, DAY, MINUTE = timedelta(hours=1), timedelta(days=1), timedelta(minutes=1)
TURN = yard_policy().turn_round


def pair(gap, **made):
    """Two hires of one cart, the second so long after the first."""
    first = LineFactory(**made)
    starts = first.promised.upper + gap
    return first, LineFactory(cart=first.cart, starts_at=starts, ends_at=starts + DAY)


@pytest.mark.parametrize(
    ("gap", "words"),
    [
        (0 * HOUR, "At the very moment that"),
        (2 * HOUR, "Only 2\N{NO-BREAK SPACE}h after"),
        (TURN - MINUTE, "Only 3\N{NO-BREAK SPACE}h 59\N{NO-BREAK SPACE}min after"),
        (TURN, None),
        (TURN + MINUTE, None),
    ],
)
def test_less_than_the_turn_round_is_said_of_both(gap, words):
    first, then = pair(gap)
    after, before = beside(then, at=AT), beside(first, at=AT)
    if words is None:
        assert (after, before) == ([], [])
        return
    assert after == [f"{words} {first.agreement.number} comes back: no time to wash and check it."]
    ahead = words.replace("after", "before").replace("Only", "only").replace("At", "at")
    assert before == [f"Comes back {ahead} {then.agreement.number} leaves: no time to wash and check it."]


def test_what_is_over_or_has_left_hurries_nobody():
    first, then = pair(HOUR)
    assert beside(then, at=first.promised.upper) == []
    first.handed_over_at = first.promised.lower
    first.save()
    # Out, it comes back only then, whatever the hour is.
    assert beside(then, at=first.promised.upper)
    first.back_at = first.promised.upper - HOUR
    first.save()
    assert beside(then, at=AT) == beside(first, at=AT) == []
    other, last = pair(HOUR)
    last.cancelled_at = AT
    last.save()
    assert beside(other, at=AT) == beside(last, at=AT) == []


def test_it_stands_on_the_notice_and_on_the_page_of_the_hire(client, desk):
    first = LineFactory(cart=CartFactory(), starts_at=timezone.now().replace(second=0, microsecond=0) + DAY)
    client.force_login(desk)
    starts = first.promised.upper + 2 * HOUR
    typed = {
        "customer": CustomerFactory().pk, "cart": first.cart.pk, "place_of_work": "x", "order_number": "", "leaves_by": "road",
        "works_on": "site", "pre_start_book": "ours", "shift": "day", "water": "any",
        "starts_at": typed_moment(starts), "ends_at": typed_moment(starts + DAY),
    }  # fmt: skip
    done = client.post(reverse("hire:line_add"), typed)
    assert done.status_code == 302
    words = f"Only 2 h after {first.agreement.number} comes back: no time to wash and check it."
    assert text_of(client.get(done.url)).count(words) == 2
    assert text_of(client.get(done.url)).count(words) == 1


def test_a_changed_period_says_it_before_it_is_kept(client, desk):
    first, then = pair(10 * DAY, starts_at=timezone.now().replace(second=0, microsecond=0) + DAY)
    client.force_login(desk)
    starts = first.promised.upper + HOUR
    typed = {"starts_at": typed_moment(starts), "ends_at": typed_moment(starts + DAY)}
    page = client.post(reverse("hire:line_move", args=[then.pk]), typed)
    assert page.context["beside"]
    assert f"after {first.agreement.number} comes back" in text_of(page)
    assert "Nothing stands in its way" not in text_of(page)
