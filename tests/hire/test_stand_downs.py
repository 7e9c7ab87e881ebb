"""Days stood down: told for any day the cart was out, claimed and answered, struck out, and each credited once in any order."""

import random
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.db import IntegrityError, transaction

from hire.actions import disputes, money
from hire.actions.disputes import CreditedAlready, Said
from hire.actions.gate import bring_back
from hire.actions.stand_down_claims import AnsweredAlready, agree_claim, claim_stand_down, refuse_claim
from hire.actions.stand_downs import (
    AlreadyStoodDown,
    GivenUpAlready,
    HireSettled,
    StoodDown,
    StruckAlready,
    ToldLater,
    WordsWanted,
    stand_down,
    strike_stand_down,
)
from hire.charge_facts import charges_to
from hire.daily_facts import missing_days
from hire.lapsed import lapsed_of
from hire.models.agreements import Line, StandDown
from hire.models.stand_downs import ClaimAnswer, StandDownClaim, StandDownStrike
from hire.promises import need_of
from hire.stand_down_rows import STAND_DOWN_HEAD, stand_down_rows, stand_down_table
from hire.watch import pre_starts_lapsed
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from people.roles import DESK, Role
from tests.at_once import at_once
from tests.factories.hire import LineFactory, OffHireFactory
from tests.factories.money import BODY, AgreedTermsFactory
from tests.factories.people import StaffFactory

ADELAIDE = ZoneInfo("Australia/Adelaide")
DAY = timedelta(days=1)
# A day is 290 whatever the stay.
TERMS = BODY | {"rates": {"1": "290.00"}, "rain_told_by": "07:00"}


def at(day, hour=15, minute=0):
    return datetime(2026, 3, day, hour, minute, tzinfo=ADELAIDE)


def on(day):
    return date(2026, 3, day)


def out_line(**kwargs):
    line = LineFactory(
        starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6), cart__fleet_number="WC-72", **kwargs
    )
    AgreedTermsFactory(line=line, body=TERMS, agreed_at=at(1))
    return line


@pytest.fixture
def line(db):
    return out_line()


def facts(day, hour=6):
    return StoodDown(told_at=at(day, hour), worked_hours=Decimal(0))


def rain(line, day, desk, *, now=None):
    return stand_down(
        line=line,
        on=on(day),
        why="Rain",
        told_by_words="Col Brandt",
        facts=facts(day),
        by=desk,
        at=now or at(17),
    )


def claimed(line, day, desk, *, now=None):
    return claim_stand_down(
        line=line,
        on=on(day),
        why="Rain",
        told_by_words="Col Brandt",
        facts=facts(day),
        by=desk,
        at=now or at(17),
    )


def agreed(claim, desk, *, now=None):
    found = {"worked_hours": claim.worked_hours, "lost_hours": claim.lost_hours, "cause": claim.cause}
    return agree_claim(claim=claim, **found, by=desk, at=now or at(17))


def struck(row, desk, *, now=None):
    return strike_stand_down(stand_down=row, why="Entered for the wrong cart", by=desk, at=now or at(17, 16))


def docket_to(line, day, desk):
    return money.make_docket(line=line, through=on(day), by=desk, at=at(day + 1))


def give_up(docket, desk, *days, outcome="part"):
    said = Said("It rained", "Aoife", "phone", docket.made_at)
    dispute = docket.disputes.open().first() or disputes.open_dispute(
        docket=docket, line_no=1, said=said, by=desk, at=docket.made_at
    )
    given = Decimal(290) * len(days) if outcome == "part" else None
    return disputes.decide_dispute(
        dispute=dispute, outcome=outcome, given_up=given, days=[on(day) for day in days] if days else None, words="Too wet",
        by=desk, at=at(18),
    )  # fmt: skip


def test_a_day_struck_out_is_charged_by_the_next_docket_and_may_be_told_anew(line, desk):
    row = rain(line, 5, desk, now=at(5))
    first = docket_to(line, 8, desk)
    assert first.net == 6 * 290
    strike = struck(row, desk, now=at(9))
    row.refresh_from_db()
    assert (row.why, row.made_at, strike.why) == ("Rain", at(5), "Entered for the wrong cart")
    second = docket_to(line, 9, desk)
    assert second.net == 2 * 290
    [note] = [one for one in second.body["notes"] if "struck out" in one]
    assert note == "Rain on 5 March 2026 was struck out on 9 March 2026: Entered for the wrong cart"
    assert rain(line, 5, desk).nth == 2
    assert docket_to(line, 10, desk).net == 0 * 290
    first.refresh_from_db()
    assert first.net == 6 * 290


def test_it_is_struck_out_once_with_words_by_the_desk(line, desk, people):
    row = rain(line, 5, desk)
    with pytest.raises(WordsWanted):
        strike_stand_down(stand_down=row, why="  ", by=desk, at=at(17))
    for role in set(Role) - DESK:
        with pytest.raises(NotAllowed):
            struck(row, people[role])
    struck(row, desk)
    with pytest.raises(StruckAlready, match="5 March 2026 of WC-72 is struck out already"):
        struck(row, desk)
    entry = Entry.objects.get(event="hire.stand_down.struck")
    assert "Entered for the wrong cart" in entry.text
    assert list(faults_in_journal()) == []


def test_a_day_is_told_after_the_cart_is_back_until_the_last_docket(line, desk, hand):
    bring_back(line=line, where_words="Wash bay", keys_words="Board", by=hand, at=at(6))
    rain(line, 5, desk, now=at(7))
    for day, says in (
        (7, "was not out on 7 March 2026. Give a day of its hire: 2 March 2026 to 6 March"),
        (1, "out"),
    ):
        with pytest.raises(AlreadyStoodDown, match=says):
            rain(line, day, desk, now=at(8))
    claim = claimed(line, 3, desk, now=at(7))
    last = money.make_docket(line=Line.objects.get(pk=line.pk), by=desk, at=at(9))
    assert (last.is_last, last.net) == (True, 4 * 290)
    for tell in (rain, claimed):
        with pytest.raises(HireSettled, match=f"{last.number} is the last docket"):
            tell(line, 4, desk)
    # What was claimed before may still be agreed, and what was wrong struck out: the next docket puts it right.
    agreed(claim, desk)
    assert money.make_docket(line=line, by=desk, at=at(18)).net == -290
    struck(claim.answer.stand_down, desk, now=at(19))
    assert money.make_docket(line=line, by=desk, at=at(20)).net == 290


def test_a_day_of_a_swapped_hire_is_of_the_cart_that_was_out(line, desk):
    other = LineFactory(agreement=line.agreement, starts_at=at(10), ends_at=at(23), out_at=at(10, 16))
    OffHireFactory(
        line=line, called_at=at(10), stops_at=at(10), made_at=at(10), replaced_by=other, replaced_why="Pump seized"
    )  # fmt: skip
    Line.objects.filter(pk=line.pk).update(back_at=at(11))
    assert rain(other, 6, desk).line == line
    assert rain(line, 13, desk).line == other
    assert docket_to(other, 15, desk).net == 12 * 290


def test_a_claim_changes_nothing_until_it_is_agreed(line, desk):
    now = at(6, 12)
    claim = claimed(line, 5, desk, now=now)

    def charged():
        return charges_to(line, line.agreed_terms.get(), through=on(6))

    def owed():
        return on(5) in [one.shift.on for one in lapsed_of([line], at=now)[line.pk]]

    assert (charged().net, owed()) == (5 * 290, True)
    assert "Rain on 5 March 2026 is claimed and not agreed: it is charged." in charged().notes
    row = agreed(claim, desk, now=now)
    assert (charged().net, owed(), charged().notes) == (4 * 290, False, ())
    assert (row.told_at, row.made_at, row.made_by) == (at(5, 6), now, desk)
    struck(row, desk, now=now)
    assert (charged().net, owed()) == (5 * 290, True)
    with pytest.raises(AnsweredAlready, match=f"was agreed by {desk.full_name} already"):
        agreed(claim, desk)


def test_a_claim_refused_keeps_its_words_and_another_may_follow(line, desk):
    claim = claimed(line, 5, desk)
    with pytest.raises(AlreadyStoodDown, match="claimed already"):
        claimed(line, 5, desk)
    with pytest.raises(WordsWanted):
        refuse_claim(claim=claim, why=" ", by=desk, at=at(17))
    refuse_claim(claim=claim, why="It worked six hours", by=desk, at=at(17))
    with pytest.raises(AnsweredAlready, match="refused"):
        agreed(claim, desk)
    found = charges_to(line, line.agreed_terms.get(), through=on(6))
    assert found.net == 5 * 290
    assert "Rain on 5 March 2026 was claimed and refused: It worked six hours" in found.notes
    assert claimed(line, 5, desk).nth == 2


def test_what_is_claimed_was_told_and_is_no_further_than_tomorrow(line, desk):
    with pytest.raises(AlreadyStoodDown, match="too far ahead"):
        claim_stand_down(line=line, on=on(7), why="Rain", told_by_words="A", by=desk, at=at(5))
    claim_stand_down(line=line, on=on(6), why="Rain", told_by_words="A", by=desk, at=at(5))
    with pytest.raises(ToldLater):
        claim_stand_down(
            line=line, on=on(5), why="Rain", told_by_words="A", facts=StoodDown(told_at=at(6)), by=desk, at=at(5)
        )  # fmt: skip


def test_a_claimed_day_that_is_stood_down_or_given_up_meanwhile_is_not_agreed(line, desk):
    first, second = claimed(line, 5, desk), claimed(line, 6, desk)
    rain(line, 5, desk)
    with pytest.raises(AlreadyStoodDown, match="stood down for 5 Mar already"):
        agreed(first, desk)
    give_up(docket_to(line, 8, desk), desk, 6)
    with pytest.raises(GivenUpAlready, match="6 March 2026"):
        agreed(second, desk)
    with pytest.raises(GivenUpAlready, match="6 March 2026"):
        claimed(line, 6, desk)
    refuse_claim(claim=second, why="Given up in the dispute", by=desk, at=at(18))


def test_a_docket_made_without_a_day_struck_since_gives_it_not_up(line, desk):
    """The docket to the 8th does not charge the 5th; the one to the 15th does, once the day is struck out."""
    row = rain(line, 5, desk, now=at(5))
    first = docket_to(line, 8, desk)
    struck(row, desk, now=at(9, 16))
    second = docket_to(line, 15, desk)
    with pytest.raises(
        CreditedAlready, match=f"{first.number} was made without 5 March 2026, stood down then"
    ):
        give_up(first, desk, 5)
    whole = give_up(first, desk, outcome="given_up")
    assert [day.on.day for day in whole.days.all()] == [2, 3, 4, 6, 7, 8]
    # Rightly claimed after all, it is credited, for nobody gave it up.
    agreed(claimed(line, 5, desk), desk)
    third = docket_to(line, 16, desk)
    assert first.net + second.net + third.net == 15 * 290 - 6 * 290 - 290


@pytest.mark.parametrize("seed", range(4))
def test_whatever_the_order_each_day_is_credited_once(line, desk, seed):
    chance, stood, given = random.Random(seed), {}, set()
    early = {day: rain(line, day, desk, now=at(day)) for day in (3, 4)}
    stood.update(early)
    dockets = [docket_to(line, 8, desk), docket_to(line, 15, desk)]
    without, claims = {3, 4}, {}
    for _ in range(40):
        day = chance.randint(2, 15)
        what = chance.choice(("rain", "claim", "answer", "strike", "give"))
        if what == "strike" and day in stood:
            struck(stood.pop(day), desk)
            continue
        if what == "answer" and day in claims:
            claim = claims.pop(day)
            try:
                stood[day] = agreed(claim, desk)
            except (AlreadyStoodDown, GivenUpAlready):
                refuse_claim(claim=claim, why="No", by=desk, at=at(17))
            continue
        try:
            if what == "rain":
                stood[day] = rain(line, day, desk)
            elif what == "claim":
                claims[day] = claimed(line, day, desk)
            elif what == "give":
                give_up(dockets[day > 8], desk, day)
                given.add(day)
        except (AlreadyStoodDown, GivenUpAlready, CreditedAlready):
            assert day in stood or day in given or day in claims or day in without
        except disputes.NotThatMuch:
            # The last of a line is not given up in part.
            continue
        assert not stood.keys() & given
    last = docket_to(line, 16, desk)
    assert sum(one.net for one in (*dockets, last)) == 290 * (15 - len(stood) - len(given))


@pytest.mark.django_db(transaction=True)
def test_of_two_answers_at_once_one_counts():
    desk, line = StaffFactory(role="hire_desk"), out_line()
    claim = claimed(line, 5, desk)
    outcomes = at_once(
        partial(agreed, claim, desk), partial(refuse_claim, claim=claim, why="No", by=desk, at=at(17))
    )
    assert {type(one) for one in outcomes} in ({StandDown, AnsweredAlready}, {ClaimAnswer, AnsweredAlready})


@pytest.mark.django_db(transaction=True)
def test_of_two_tellings_and_two_strikes_at_once_one_counts():
    desk, line = StaffFactory(role="hire_desk"), out_line()
    told = at_once(*[partial(rain, line, 5, desk)] * 2)
    assert {type(one) for one in told} == {StandDown, AlreadyStoodDown}
    row = StandDown.objects.get()
    gone = at_once(*[partial(struck, row, desk)] * 2)
    assert {type(one) for one in gone} == {StandDownStrike, StruckAlready}


def test_the_watch_and_the_rest_pass_a_struck_day_by(line, desk):
    """Everything that reads days stood down reads those that stand: the watch, the pre-start wanted now, daily dockets."""
    now = at(5, 12)
    rows = [rain(line, day, desk, now=now) for day in (2, 3, 4, 5)]

    def seen():
        owed = [one.subject_id for one in pre_starts_lapsed(now)]
        missing = [one.on.day for one in missing_days([line], at=at(6))]
        return owed, need_of(line.pk, at=now).shift_from is not None, missing

    assert seen() == ([], False, [])
    struck(rows[-1], desk, now=now)
    assert seen() == ([line.pk], True, [5])


def test_the_rows_and_the_file_say_what_became_of_each_day(line, desk):
    struck(rain(line, 5, desk), desk)
    rain(line, 5, desk, now=at(17, 17))
    agreed(claimed(line, 6, desk), desk)
    refuse_claim(claim=claimed(line, 7, desk), why="It worked", by=desk, at=at(17))
    claimed(line, 8, desk)
    rows = stand_down_rows([line])
    assert [(row.on.day, row.state) for row in rows] == [
        (5, "struck"), (5, "stands"), (6, "stands"), (7, "refused"), (8, "claimed"),
    ]  # fmt: skip
    table = [dict(zip(STAND_DOWN_HEAD, row, strict=True)) for row in stand_down_table(rows)]
    assert [row["Words"] for row in table] == ["Entered for the wrong cart", "", "", "It worked", ""]
    assert {row["Cart"] for row in table} == {"WC-72"}


def test_the_database_refuses_what_goes_round_the_actions(line, desk):
    row, claim = rain(line, 5, desk), claimed(line, 6, desk)
    refusals = {
        "hire_standdown_once_a_day": lambda: StandDown.objects.create(
            line=line, on=on(5), why="x", told_at=at(5), told_by_words="y"
        ),
        "hire_standdownstrike_says_why": lambda: StandDownStrike.objects.create(
            stand_down=row, why="", made_at=at(6), made_by=desk
        ),
        "hire_standdownclaim_in_turn": lambda: StandDownClaim.objects.create(
            line=line,
            on=on(6),
            kind="rain",
            why="x",
            told_at=at(5),
            told_by_words="y",
            made_at=at(6),
            made_by=desk,
        ),
        "hire_standdownclaim_told_or_by_link": lambda: StandDownClaim.objects.create(
            line=line, on=on(7), kind="rain", why="x", told_at=at(5), told_by_words="y", made_at=at(6)
        ),
        "hire_standdownclaim_told_before_written": lambda: StandDownClaim.objects.create(
            line=line,
            on=on(7),
            kind="rain",
            why="x",
            told_at=at(7),
            told_by_words="y",
            made_at=at(6),
            made_by=desk,
        ),
        "hire_claimanswer_refusal_says_why": lambda: ClaimAnswer.objects.create(
            claim=claim, made_at=at(6), made_by=desk
        ),
    }
    for name, write in refusals.items():
        with pytest.raises(IntegrityError, match=name), transaction.atomic():
            write()
