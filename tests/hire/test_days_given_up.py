"""A day is credited once: by a stand-down or by the outcome of a dispute, whichever was first, and by the charge itself at last."""

import random
from datetime import date, datetime
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, connection, transaction
from django.urls import reverse

from hire.actions import disputes, money
from hire.actions.disputes import CreditedAlready, DaysNotSaid, Said
from hire.actions.stand_downs import AlreadyStoodDown, GivenUpAlready, StoodDown, stand_down
from hire.models.agreements import StandDown
from hire.models.disputes import DisputeOutcome, GivenUpDay
from tests.at_once import at_once
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory
from tests.factories.people import StaffFactory
from tests.pages import text_of

ADELAIDE = ZoneInfo("Australia/Adelaide")
# A day is 290 whatever the stay, and a waiver of 10.
TERMS = BODY | {"rates": {"1": "290.00"}, "waiver_day": "10.00", "cover": "waiver", "rain_told_by": "07:00"}


def at(day, hour=15, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ADELAIDE)


def on(day):
    return date(2026, 3, day)


def out_line():
    line = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6), cart__fleet_number="WC-71")
    AgreedTermsFactory(line=line, body=TERMS, agreed_at=at(1))
    return line


@pytest.fixture
def line():
    return out_line()


def docket_to(line, day, desk):
    return money.make_docket(line=line, through=on(day), by=desk, at=at(day + 1))


def rain(line, day, desk, *, told=6, now=None):
    facts = StoodDown(told_at=at(day, told), worked_hours=Decimal(0))
    return stand_down(
        line=line, on=on(day), why="Rain", told_by_words="Col Brandt", facts=facts, by=desk, at=now or at(17)
    )


def give_up(docket, desk, *days, line_no=1, outcome="part", amount=None, unsaid=False):
    said = Said("It rained", "Aoife", "phone", docket.made_at)
    dispute = docket.disputes.open().filter(line_no=line_no).first() or disputes.open_dispute(
        docket=docket, line_no=line_no, said=said, by=desk, at=docket.made_at
    )
    given_up = amount if amount or outcome != "part" else Decimal(290) * max(len(days), 1)
    named = None if unsaid else [on(day) for day in days]
    return disputes.decide_dispute(
        dispute=dispute, outcome=outcome, given_up=given_up, days=named, words="Too wet", by=desk, at=at(18)
    )


@pytest.mark.django_db
def test_stood_down_first_the_day_is_not_given_up_besides(desk, line):
    docket = docket_to(line, 8, desk)
    rain(line, 5, desk)
    with pytest.raises(CreditedAlready) as refused:
        give_up(docket, desk, 5, 6)
    assert refused.value.sentence == (
        "5 March 2026 is taken off the hire already: it is stood down for rain, told by Col Brandt. Given up besides, it would be "
        "credited twice: give up the rest in part, without that day."
    )
    assert refused.value.field == "days"
    assert give_up(docket, desk, 6).given_up == 290
    # Seven days more, less the one stood down and the one given up, each with its waiver but the one given up.
    assert docket_to(line, 15, desk).net == 7 * 300 - 300 - 290


@pytest.mark.django_db
def test_given_up_first_the_day_is_not_stood_down_besides(desk, line):
    docket = docket_to(line, 8, desk)
    give_up(docket, desk, 5)
    with pytest.raises(GivenUpAlready) as refused:
        rain(line, 5, desk)
    assert refused.value.sentence == (
        f"5 March 2026 of WC-71 was given up already in the dispute of “Hire, 2 March 2026 to 8 March 2026” on {docket.number}, "
        f"290.00 by {desk.full_name}, 18 March 2026. Stood down besides, it would be credited twice: leave it as it is."
    )
    rain(line, 6, desk)
    second = docket_to(line, 15, desk)
    assert second.net == 7 * 300 - 300 - 290
    [credit] = [one for one in second.body["lines"] if one["key"].startswith("dispute")]
    assert "290.00 of 2,030.00" in credit["working"]
    assert f"on {docket.number} for 5 March 2026 given up by" in credit["working"]


@pytest.mark.django_db
def test_a_line_given_up_whole_gives_up_every_day_it_charged(desk, line):
    """The 4th was stood down before the docket, which is made without it; the 6th after it."""
    rain(line, 4, desk, now=at(4, 7))
    docket = docket_to(line, 8, desk)
    rain(line, 6, desk)
    with pytest.raises(CreditedAlready, match="6 March 2026 is taken off the hire already"):
        give_up(docket, desk, outcome="given_up")
    assert not DisputeOutcome.objects.exists()
    StandDown.objects.filter(on=on(6)).delete()
    row = give_up(docket, desk, outcome="given_up")
    assert row.given_up == 6 * 290
    assert [day.on.day for day in row.days.all()] == [2, 3, 5, 6, 7, 8]
    with pytest.raises(GivenUpAlready, match="6 March 2026"):
        rain(line, 6, desk)
    assert docket_to(line, 15, desk).net == 7 * 300 - 6 * 290


@pytest.mark.django_db
def test_rain_told_late_may_be_given_up_and_stays_so_under_other_terms(desk, line):
    docket = docket_to(line, 8, desk)
    rain(line, 5, desk, told=9)
    give_up(docket, desk, 5)
    AgreedTermsFactory(line=line, body=TERMS | {"rain_told_by": "12:00"}, agreed_at=at(19))
    second = money.make_docket(line=line, through=on(15), by=desk, at=at(20))
    assert second.net == 7 * 300 - 290
    assert (
        "Rain on 5 March 2026 is not taken off: it was given up in a dispute, and is credited so."
        in second.body["notes"]
    )


@pytest.mark.django_db
def test_terms_that_take_a_day_off_only_since_the_docket_are_no_reason_to_give_it_up_too(desk, line):
    rain(line, 5, desk, told=9, now=at(5, 10))
    docket = docket_to(line, 8, desk)
    AgreedTermsFactory(line=line, body=TERMS | {"rain_told_by": "12:00"}, agreed_at=at(16))
    with pytest.raises(CreditedAlready, match="5 March 2026"):
        give_up(docket, desk, outcome="given_up")


@pytest.mark.django_db
def test_a_part_of_the_hire_says_for_which_days_or_for_none(desk, line):
    docket = docket_to(line, 8, desk)
    with pytest.raises(DaysNotSaid, match="for no single day"):
        give_up(docket, desk, unsaid=True)
    give_up(docket, desk, amount=Decimal(100))
    assert not GivenUpDay.objects.exists()
    rain(line, 5, desk)
    assert docket_to(line, 15, desk).net == 7 * 300 - 300 - 100
    with pytest.raises(CreditedAlready, match="gives no day up"):
        give_up(docket, desk, 5, outcome="stands")


@pytest.mark.django_db
def test_several_lines_and_days_over_dockets_that_are_sealed(desk, line):
    first, second = docket_to(line, 8, desk), docket_to(line, 15, desk)
    sealed = [first.body, second.body]
    waiver = 1 + next(n for n, one in enumerate(first.body["lines"]) if one["key"] == "waiver")
    give_up(first, desk, 5, 7)
    give_up(first, desk, 5, line_no=waiver, amount=Decimal(10))
    give_up(second, desk, 10, 12)
    for docket, days, why in (
        (first, (10,), "does not charge 10 March 2026 by the day"),
        (second, (8, 9), "does not charge 8 March 2026 by the day"),
        (first, (6, 7), "7 March 2026 was given up already in the dispute of “Hire, 2 March"),
        (second, (12,), "12 March 2026 was given up already"),
    ):
        with pytest.raises(CreditedAlready, match=why):
            give_up(docket, desk, *days)
    for day in (5, 7, 10, 12):
        with pytest.raises(GivenUpAlready, match=f"{day} March 2026"):
            rain(line, day, desk)
    for docket, body in zip((first, second), sealed, strict=True):
        docket.refresh_from_db()
        assert docket.body == body
    assert docket_to(line, 19, desk).net == 4 * 300 - 4 * 290 - 10


@pytest.mark.django_db
def test_the_carts_of_a_swap_are_one_hire_for_it(desk, line):
    """WC-71 broke on the 10th and is still on site; the docket is of the cart that took its place."""
    other = LineFactory(agreement=line.agreement, starts_at=at(10), ends_at=at(23), out_at=at(10, 16))
    OffHireFactory(
        line=line, called_at=at(10), stops_at=at(10), made_at=at(10), replaced_by=other, replaced_why="Pump seized"
    )  # fmt: skip
    docket = docket_to(other, 12, desk)
    assert docket.line == other
    rain(line, 6, desk)
    with pytest.raises(CreditedAlready, match="6 March 2026"):
        give_up(docket, desk, 6)
    give_up(docket, desk, 5)
    give_up(docket, desk, 11)
    for one, day in ((line, 5), (other, 11)):
        with pytest.raises(GivenUpAlready, match=f"{day} March 2026"):
            rain(one, day, desk)


@pytest.mark.django_db
@pytest.mark.parametrize("seed", range(4))
def test_whatever_the_order_each_day_is_credited_once(desk, line, seed):
    first, second = docket_to(line, 8, desk), docket_to(line, 15, desk)
    chance, conceded = random.Random(seed), set()
    refusals = 0
    for _ in range(16):
        day = chance.randint(2, 15)
        by_rain = partial(rain, line, day, desk)
        by_dispute = partial(give_up, first if day <= 8 else second, desk, day)
        try:
            chance.choice((by_rain, by_dispute))()
        except (GivenUpAlready, CreditedAlready, AlreadyStoodDown):
            refusals += 1
            assert day in conceded
        else:
            assert day not in conceded
            conceded.add(day)
    assert refusals
    last = docket_to(line, 16, desk)
    waiver = 10 * StandDown.objects.count()
    assert first.net + second.net + last.net == 15 * 300 - 290 * len(conceded) - waiver


@pytest.mark.django_db(transaction=True)
def test_of_a_stand_down_and_a_dispute_at_once_one_credits():
    desk, line = StaffFactory(role="hire_desk"), out_line()
    docket = docket_to(line, 8, desk)
    outcomes = at_once(partial(rain, line, 5, desk), partial(give_up, docket, desk, 5))
    kinds = {type(one) for one in outcomes}
    assert kinds in ({StandDown, CreditedAlready}, {GivenUpAlready, DisputeOutcome})


@pytest.mark.django_db
def test_the_database_has_a_day_of_a_charge_once_and_for_good(desk, line):
    day = give_up(docket_to(line, 8, desk), desk, 5).days.get()
    with pytest.raises(IntegrityError, match="hire_givenupday_once"), transaction.atomic():
        GivenUpDay.objects.create(outcome=day.outcome, line=line, line_key="hire", on=day.on)
    with (
        pytest.raises(Exception, match=r"sealed|written once"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("DELETE FROM hire_givenupday WHERE id = %s", [day.pk])


@pytest.mark.django_db
def test_the_days_are_ticked_where_it_is_decided(client, desk, line):
    client.force_login(desk)
    docket = docket_to(line, 8, desk)
    said = Said("It rained", "Aoife", "phone", docket.made_at)
    dispute = disputes.open_dispute(docket=docket, line_no=1, said=said, by=desk, at=docket.made_at)
    address = reverse("hire:dispute_decide", args=[dispute.pk])
    typed = {"outcome": "part", "given_up": "290", "words": "Too wet"}
    for days, why in (
        ([], "Say for which days"),
        (["none", "2026-03-05"], "leave one of the two"),
        (["2026-03-09"], "not one of the available choices"),
    ):
        page = client.post(address, typed | {"days": days})
        assert page.status_code == 422
        assert why in str(page.context["form"].errors["days"])
    page = text_of(client.post(address, typed | {"days": ["2026-03-05"]}, follow=True))
    assert "290.00 before tax, for 5 March 2026, credited by the next docket" in page
