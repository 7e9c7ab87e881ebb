"""A handover and a return entered later than they happened: the charge goes by what happened, and both times are shown."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions.gate import StoppedThen, bring_back, hand_over
from hire.actions.gate_times import NotThatTime
from hire.actions.money import make_docket
from hire.charge_facts import charges_to
from hire.dispute_record import record_page
from hire.late_entries import late_words
from hire.models.agreements import Line
from inspections.certificates.actions import paper_of
from inspections.certificates.models import Certificate
from people.journal.models import Entry
from people.roles import Role
from tests.factories.hire import LineFactory, OffHireFactory, given
from tests.factories.money import AgreedTermsFactory

pytestmark = pytest.mark.django_db

ADELAIDE = ZoneInfo("Australia/Adelaide")
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)


def march(day, hour=16, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ADELAIDE)


def out_since_monday(**kwargs):
    """Out from Monday 2 March 2026 at six, at 290 a day and 1,450 a week; back by the end of the month."""
    line = LineFactory(starts_at=march(2, 6), ends_at=march(30), out_at=march(2, 6), **kwargs)
    AgreedTermsFactory(line=line, rule="as agreed")
    return line


def back(line, happened_at, *, by, at):
    return bring_back(
        line=line, where_words="Wash bay", keys_words="Board", happened_at=happened_at, by=by, at=at
    )


def test_back_on_friday_and_entered_on_monday_is_charged_to_friday(hand):
    line = back(out_since_monday(), march(6), by=hand, at=march(9, 8, 10))
    assert (line.back_at, line.back_entered_at) == (march(6), march(9, 8, 10))
    found = charges_to(line, line.agreed_terms.get(), through=None)
    assert (found.through, found.hire_days, found.is_last) == (date(2026, 3, 6), 5, True)
    cart = line.cart.fleet_number
    assert (
        f"{cart} was back in the yard on 6 March 2026 at 16:00, entered 9 March 2026 at 08:10." in found.notes
    )


def test_a_docket_made_meanwhile_is_put_right_by_the_next(hand, desk):
    line = out_since_monday()
    first = make_docket(line=line, through=date(2026, 3, 8), by=desk, at=march(9, 7))
    back(line, march(6), by=hand, at=march(9, 8))
    second = make_docket(line=line, by=desk, at=march(9, 9))
    alone = back(out_since_monday(), None, by=hand, at=march(6))
    whole = charges_to(alone, alone.agreed_terms.get(), through=None)
    assert second.net < 0
    assert first.net + second.net == whole.net
    assert second.body["notes"][-1].endswith("entered 9 March 2026 at 08:00.")
    first.refresh_from_db()
    assert first.through == date(2026, 3, 8)


def test_a_handover_entered_later_counts_from_when_it_happened(line, desk, at):
    left = at - 20 * MINUTE
    hand_over(line=line, given=given(happened_at=left), by=desk, at=at)
    line.refresh_from_db()
    assert (line.handed_over_at, line.left_entered_at, line.handover.at) == (left, at, left)
    paper = paper_of(Certificate.objects.get(kind="receipt"))
    assert datetime.fromisoformat(paper.handed_over_at) == left
    assert [*late_words(line)] == [one for one in paper.notes if "entered" in one]
    entry = Entry.objects.filter(event="hire.line.handed_over").first()
    assert entry.at == at
    assert f'"happened_at":"{left:%Y-%m-%dT%H:%M}' in entry.text
    assert "(entered " in record_page([line], at).decode()


def test_a_few_minutes_are_no_late_entry(line, desk, at):
    hand_over(line=line, given=given(happened_at=at - 10 * MINUTE), by=desk, at=at)
    line.refresh_from_db()
    assert [*late_words(line)] == []
    assert "(entered " not in record_page([line], at).decode()


def test_it_leaves_after_its_checks_and_not_in_time_to_come(line, desk, at):
    """The gate-out check was signed half an hour before."""
    with pytest.raises(NotThatTime):
        hand_over(line=line, given=given(happened_at=at + MINUTE), by=desk, at=at)
    with pytest.raises(StoppedThen, match="No gate-out check has been signed"):
        hand_over(line=line, given=given(happened_at=at - 31 * MINUTE), by=desk, at=at)
    # The minute of the check is typed without its seconds.
    signed = at - 30 * MINUTE
    hand_over(line=line, given=given(happened_at=signed - timedelta(seconds=40)), by=desk, at=at)
    line.refresh_from_db()
    assert line.handed_over_at == signed


def test_it_does_not_leave_into_its_last_hire(line, desk, hand, at):
    LineFactory(
        cart=line.cart, starts_at=at - 5 * DAY, ends_at=at - DAY, out_at=at - 5 * DAY, came_back_at=at - 10 * MINUTE
    )  # fmt: skip
    with pytest.raises(NotThatTime, match="came back from its last hire"):
        hand_over(line=line, given=given(happened_at=at - 20 * MINUTE), by=desk, at=at)


@pytest.mark.parametrize(
    ("told", "says"),
    [
        (march(2, 5, 59), "was handed over"),
        (march(9, 8, 1), "still to come"),
        (march(5, 11), "left the site"),
    ],
)
def test_it_comes_back_after_it_left_and_not_in_time_to_come(hand, told, says):
    line = out_since_monday()
    OffHireFactory(line=line, called_at=march(5, 9), left_site_at=march(5, 12))
    with pytest.raises(NotThatTime, match=says):
        back(line, told, by=hand, at=march(9, 8))
    assert Line.objects.get(pk=line.pk).is_out


def test_the_database_keeps_the_order(hand):
    line = back(out_since_monday(), march(6), by=hand, at=march(9, 8))
    for field in ("left_entered_at", "back_entered_at"):
        with pytest.raises(IntegrityError, match="hire_line_entered_after"), transaction.atomic():
            Line.objects.filter(pk=line.pk).update(**{field: march(1)})


def test_the_page_asks_when_and_shows_both_times(client, people):
    client.force_login(people[Role.YARD_HAND])
    now = timezone.now().replace(second=0, microsecond=0)
    line = LineFactory(starts_at=now - 5 * DAY, out_at=now - 5 * DAY)
    address = reverse("hire:back", args=[line.pk])
    typed = {"where_words": "Wash bay", "keys_words": "Board"}
    local = (now - 5 * DAY - HOUR).astimezone(ADELAIDE)
    wrong = client.post(address, typed | {"happened_at": f"{local:%Y-%m-%dT%H:%M}"})
    assert wrong.status_code == 422
    assert "was handed over" in wrong.content.decode()
    local = (now - 2 * DAY).astimezone(ADELAIDE)
    client.post(address, typed | {"happened_at": f"{local:%Y-%m-%dT%H:%M}"})
    line.refresh_from_db()
    assert line.back_at == now - 2 * DAY
    assert ", entered <time" in client.get(reverse("hire:line_detail", args=[line.pk])).content.decode()


def test_left_empty_it_is_now(hand):
    line = back(out_since_monday(), None, by=hand, at=march(6))
    assert (line.back_at, line.back_entered_late_at) == (march(6), None)
    assert charges_to(line, line.agreed_terms.get(), through=None).notes == ()
