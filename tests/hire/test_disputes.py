"""Disputes: a docket line, both sides' words with what they rest on, a named outcome, the credit on the next docket."""

import csv
import io
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import partial
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, connection, transaction
from django.urls import reverse
from django.utils import timezone

from hire.actions import disputes as acts
from hire.actions import money
from hire.actions.disputes import Said
from hire.models.disputes import Dispute, DisputeOutcome
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.refusals import NotAllowed
from tests.at_once import at_once
from tests.factories.hire import LineFactory
from tests.factories.money import (
    AgreedTermsFactory,
    BesideChargeFactory,
    DisputeFactory,
    DisputeOutcomeFactory,
    DisputeWordFactory,
)
from tests.factories.people import StaffFactory
from tests.pages import text_of
from tests.photo_samples import camera_jpeg

ADELAIDE = ZoneInfo("Australia/Adelaide")


def at(day, hour=15):
    return datetime(2026, 3, day, hour, tzinfo=ADELAIDE)


def said(day=9, words="It was brought back by us", **more):
    return Said(words=words, by_words="Aoife Merrin", how="phone", told_at=at(day), **more)


@pytest.fixture
def made(desk):
    """A week on a docket, with two trips of delivery at 180: lines 1 and 2."""
    line = LineFactory(starts_at=at(2, 6), ends_at=at(23), out_at=at(2, 6))
    AgreedTermsFactory(line=line)
    beside = BesideChargeFactory(line=line)
    docket = money.make_docket(line=line, through=date(2026, 3, 8), by=desk, at=at(9))
    return line, docket, beside


def dispute_of(docket, desk, line_no=2):
    return acts.open_dispute(docket=docket, line_no=line_no, said=said(), by=desk, at=at(9))


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("outcome", "typed", "given_up"),
    [("stands", None, 0), ("part", Decimal(180), 180), ("given_up", None, 360), ("given_up", Decimal(360), 360)],
)  # fmt: skip
def test_what_is_given_up_is_credited_once_by_the_next_docket(desk, made, outcome, typed, given_up):
    line, docket, _ = made
    dispute = dispute_of(docket, desk)
    row = acts.decide_dispute(
        dispute=dispute, outcome=outcome, given_up=typed, words="Seen on the run sheet", by=desk, at=at(10)
    )
    assert row.given_up == given_up
    second = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    assert second.net == 1450 - given_up
    third = money.make_docket(line=line, through=date(2026, 3, 22), by=desk, at=at(23))
    assert third.net == 1450
    credited = [one for one in second.body["lines"] if one["key"] == f"dispute {dispute.pk}"]
    assert bool(credited) is bool(given_up)
    for one in credited:
        assert one["what"] == f"Given up: Delivery, {docket.number}"
        assert f"given up by {desk.full_name}, 10 March 2026: Seen on the run sheet" in one["working"]
    # The sealed one stays as it was made.
    docket.refresh_from_db()
    assert docket.net == 1450 + 360


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("outcome", "typed"),
    [
        ("part", None), ("part", Decimal(360)), ("part", Decimal(361)), ("part", Decimal(0)), ("given_up", Decimal(10)),
        ("stands", Decimal(10)),
    ],
)  # fmt: skip
def test_an_amount_that_does_not_fit_the_outcome_is_refused(desk, made, outcome, typed):
    dispute = dispute_of(made[1], desk)
    with pytest.raises(acts.NotThatMuch):
        acts.decide_dispute(dispute=dispute, outcome=outcome, given_up=typed, words="x", by=desk, at=at(10))
    assert Dispute.objects.open().count() == 1


@pytest.mark.django_db
def test_never_more_than_the_line_over_several_disputes(desk, made):
    _, docket, _ = made
    first = dispute_of(docket, desk)
    with pytest.raises(acts.DisputedAlready, match=r"“Delivery” of D.* is disputed already"):
        dispute_of(docket, desk)
    acts.decide_dispute(dispute=first, outcome="part", given_up=Decimal(200), words="x", by=desk, at=at(10))
    again = dispute_of(docket, desk)
    with pytest.raises(acts.NotThatMuch, match=r"160\.00 of the line is left"):
        acts.decide_dispute(
            dispute=again, outcome="part", given_up=Decimal(160), words="x", by=desk, at=at(10)
        )
    row = acts.decide_dispute(dispute=again, outcome="given_up", words="x", by=desk, at=at(11))
    assert row.given_up == 160
    with pytest.raises(acts.DecidedAlready):
        acts.add_words(dispute=again, side="ours", said=said(), by=desk, at=at(12))
    with pytest.raises(acts.DecidedAlready):
        acts.decide_dispute(dispute=again, outcome="stands", words="x", by=desk, at=at(12))


@pytest.mark.django_db
def test_a_charge_is_never_credited_twice(desk, made):
    _, docket, beside = made
    dispute = dispute_of(docket, desk)
    acts.decide_dispute(dispute=dispute, outcome="part", given_up=Decimal(10), words="x", by=desk, at=at(10))
    with pytest.raises(money.GivenUpAlready, match="given up in a dispute"):
        money.strike_beside(beside=beside, why="x", by=desk, at=at(11))


@pytest.mark.django_db
def test_what_is_struck_out_is_not_given_up_besides(desk, made):
    _, docket, beside = made
    dispute = dispute_of(docket, desk)
    money.strike_beside(beside=beside, why="x", by=desk, at=at(10))
    with pytest.raises(acts.NotThatMuch, match="credits it by itself"):
        acts.decide_dispute(dispute=dispute, outcome="given_up", words="x", by=desk, at=at(11))
    acts.decide_dispute(dispute=dispute, outcome="stands", words="Struck out", by=desk, at=at(11))


@pytest.mark.django_db
def test_a_credit_a_line_that_is_none_and_words_to_come_are_refused(desk, made):
    line, docket, beside = made
    money.strike_beside(beside=beside, why="x", by=desk, at=at(10))
    second = money.make_docket(line=line, through=date(2026, 3, 15), by=desk, at=at(16))
    for number in (0, 3):
        with pytest.raises(acts.NotDisputable, match="lines 1 to 2"):
            dispute_of(docket, desk, line_no=number)
    with pytest.raises(acts.NotDisputable, match="is no charge"):
        dispute_of(second, desk)
    with pytest.raises(acts.ToldLater):
        acts.open_dispute(docket=docket, line_no=1, said=said(20), by=desk, at=at(9))
    with pytest.raises(NotAllowed):
        dispute_of(docket, StaffFactory(role="fitter"))
    assert not Dispute.objects.exists()


@pytest.mark.django_db
def test_every_step_is_in_the_journal_with_its_words(desk, made):
    dispute = dispute_of(made[1], desk)
    record = ("docket", made[1].pk, "Docket")
    acts.add_words(
        dispute=dispute, side="ours", said=said(10, "Two trips", record=record), by=desk, at=at(10)
    )
    acts.decide_dispute(dispute=dispute, outcome="stands", words="Both signed", by=desk, at=at(11))
    events = set(Entry.objects.filter(subject_id=dispute.pk).values_list("event", flat=True))
    assert events == {"hire.dispute.opened", "hire.dispute.said", "hire.dispute.decided"}
    assert Entry.objects.filter(subject_id=dispute.pk, text__contains="brought back by us").exists()


@pytest.mark.django_db
def test_the_database_keeps_disputes_whole_and_sealed(desk):
    dispute = DisputeFactory()
    for make, name in (
        (lambda: DisputeFactory(line_amount=Decimal(-1)), "hire_dispute_of_a_charge"),
        (lambda: DisputeWordFactory(record_kind="docket"), "hire_disputeword_record_whole"),
        (
            lambda: DisputeWordFactory(told_at=at(9) + timedelta(days=900)),
            "hire_disputeword_told_before_written",
        ),
        (lambda: DisputeOutcomeFactory(given_up=Decimal(5)), "hire_disputeoutcome_amount"),
    ):
        with pytest.raises(IntegrityError, match=name), transaction.atomic():
            make()
    with (
        pytest.raises(Exception, match=r"sealed|written once"),
        transaction.atomic(),
        connection.cursor() as cursor,
    ):
        cursor.execute("UPDATE hire_disputeword SET words = 'x' WHERE dispute_id = %s", [dispute.pk])


@pytest.mark.django_db(transaction=True)
def test_of_two_who_decide_at_once_one_does():
    desk, dispute = StaffFactory(role="hire_desk"), DisputeFactory()
    decide = partial(acts.decide_dispute, dispute=dispute, words="x", by=desk, at=timezone.now())
    outcomes = at_once(partial(decide, outcome="given_up"), partial(decide, outcome="stands"))
    assert {type(one) for one in outcomes} == {DisputeOutcome, acts.DecidedAlready}
    assert list(faults_in_journal()) == []


@pytest.mark.django_db
def test_a_dispute_by_hand_from_the_docket_to_the_credit(client, desk, made):
    line, docket, _ = made
    client.force_login(desk)
    address = reverse("hire:dispute_open", args=[docket.pk])
    typed = {
        "line_no": "2", "words": "It was brought back by us", "by_words": "Aoife", "how": "phone", "told_at": "2099-01-01T09:00",
        "record": f"docket.{docket.pk}", "photo": SimpleUploadedFile("gate.jpg", camera_jpeg(), "image/jpeg"),
    }  # fmt: skip
    wrong = client.post(address, typed)
    assert wrong.status_code == 422
    assert "brought back by us" in wrong.content.decode()
    kept = wrong.context["form"]["kept_photo"].value()
    typed |= {"told_at": "2026-03-09T09:00", "photo": "", "kept_photo": kept}
    page = text_of(client.post(address, typed, follow=True))
    assert "The photo," in page
    assert f"Docket {docket.number}" in page
    dispute = Dispute.objects.get()
    decide = reverse("hire:dispute_decide", args=[dispute.pk])
    assert client.post(decide, {"outcome": "part", "words": "x"}).status_code == 422
    page = text_of(
        client.post(decide, {"outcome": "part", "given_up": "180", "words": "One trip"}, follow=True)
    )
    assert "The next docket credits 180.00" in page
    assert "Given up: Delivery" in text_of(client.get(reverse("hire:charges", args=[line.pk])))
    assert "given up in part, 180.00" in text_of(client.get(reverse("hire:docket_detail", args=[docket.pk])))


@pytest.mark.django_db
def test_the_list_is_narrowed_in_its_address_saved_and_asks_as_much_for_many(
    client, desk, django_assert_max_num_queries
):
    client.force_login(desk)
    address = reverse("hire:dispute_list")
    assert "Nothing is disputed" in text_of(client.get(address))
    one = DisputeFactory(line_what="Delivery")
    DisputeOutcomeFactory(dispute__line_what="Cleaning", words="Both signed")
    page = text_of(client.get(address))
    assert "Delivery" in page
    assert "Cleaning" not in page
    assert "Cleaning" in text_of(client.get(f"{address}?state=decided"))
    assert "No dispute fits" in text_of(client.get(f"{address}?q=nobody"))
    assert "Delivery" in text_of(client.get(f"{address}?q={one.docket.number}&state=nonsense"))
    rows = list(
        csv.DictReader(io.StringIO(client.get(f"{address}?state=all&as=csv").content.decode("utf-8-sig")))
    )
    assert {row["Outcome"] for row in rows} == {"open", "It stands"}
    assert rows[0]["They say"] == "Aoife Merrin: It stood all week"
    with django_assert_max_num_queries(12) as few:
        client.get(address)
    DisputeFactory.create_batch(20)
    with django_assert_max_num_queries(len(few)):
        client.get(address)
