"""A flow and evenness test from the tablet: kept once, as the same record the desk's page makes, and refused in words."""

import json
import uuid
from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.actions.spraying import record_evenness
from fleet.models.defects import Defect
from fleet.models.evenness import EvennessSignature, EvennessTest
from inspections.reference import reference_for
from people.canonical import canonical_text, sha256_hex
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.roles import Role
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory
from tests.factories.people import StaffFactory
from tests.factories.spraying import SpraySheetFactory
from tests.pages import text_of

ONE_OUT = ("40", "40", "40", "32")
MINUTE = timedelta(minutes=1)


def record(sheet, at, *, litres=ONE_OUT, author, how="sign_in", **changed):
    """A test as the page signs it, its last head caught a minute before."""
    heads = list(sheet.heads.all())
    catches = [
        {
            "head": str(head.pk),
            "name": head.name,
            "litres": one,
            "seconds": "15",
            "at": (at - (len(heads) - n) * MINUTE).isoformat(),
        }
        for n, (head, one) in enumerate(zip(heads, litres, strict=True))
    ]
    body = {
        "version": 1,
        "kind": "heads_test",
        "id": str(uuid.uuid4()),
        "cart": str(sheet.cart_id),
        "sheet": str(sheet.pk),
        "started_at": (at - 9 * MINUTE).isoformat(),
        "signed_at": at.isoformat(),
        "author": {"id": str(author.pk), "name": author.full_name, "how": how},
        "device": {"id": "one", "time_zone": "Australia/Adelaide", "offset_ms": 0},
        "pressure_kpa": "200",
        "pressure_at": (at - 8 * MINUTE).isoformat(),
        "catches": catches,
        "words": "Wind from the side.",
        "signature": {
            "kind": "typed",
            "name": author.full_name,
            "statement": "I caught them.",
            "strokes": [],
        },
    }
    return body | changed


def put(tablet, body, record_id=None):
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    return tablet.put(f"/sync/heads-test/{record_id or body['id']}", raw, content_type="application/json")


@pytest.fixture
def sheet(db):
    return SpraySheetFactory()


@pytest.fixture
def hand(people):
    return people[Role.YARD_HAND]


def test_it_makes_the_very_record_that_the_desks_page_makes(tablet, sheet, hand, now):
    body = record(sheet, now, author=hand)
    answer = put(tablet, body)
    assert answer.status_code == 201
    [test] = EvennessTest.objects.all()
    other = SpraySheetFactory()
    desk = record_evenness(
        sheet=other, done_at=now - MINUTE, pressure_kpa=Decimal(200), words="Wind from the side.", by=hand, at=now,
        caught={head.pk: (Decimal(one), Decimal(15)) for head, one in zip(other.heads.all(), ONE_OUT, strict=True)},
    )  # fmt: skip
    assert test.result() == desk.result()
    same = ("pressure_kpa", "tolerance_pct", "words", "recorded_by_id", "done_at")
    assert [getattr(test, name) for name in same] == [getattr(desk, name) for name in same]
    told = {test.pk: None, desk.pk: None}
    for defect in Defect.objects.all():
        told[defect.source_id] = (defect.title, defect.words, defect.grade, defect.told_by_words)
    assert told[test.pk] == told[desk.pk] != None  # noqa: E711
    entry = Entry.objects.get(event="fleet.heads.tested", subject_id=test.pk)
    assert test.signature.record_sha256 in entry.text
    assert list(faults_in_journal()) == []


def test_the_receipt_says_what_it_came_to_and_what_follows(tablet, sheet, hand, now):
    body = record(sheet, now, author=hand)
    told = put(tablet, body).json()
    assert told["sha256"] == sha256_hex(canonical_text(body))
    assert (told["id"], told["outcome"]) == (body["id"], "out")
    assert told["headline"] == "Christiansen 92.1 %, low quarter 84.2 %."
    assert told["sentences"] == ["fan 60: Clean and measure again: Side right.", "The workshop is told."]
    again = put(tablet, record(sheet, now + MINUTE, author=hand)).json()
    assert again["sentences"][-1] == "The defect that an earlier test told is still open."
    assert Defect.objects.count() == 1
    good = put(tablet, record(sheet, now + 2 * MINUTE, litres=["40"] * 4, author=hand)).json()
    assert (good["outcome"], len(good["sentences"])) == ("good", 1)
    assert told["page"] == reverse(
        "fleet:evenness_detail", args=[EvennessTest.objects.earliest("done_at").pk]
    )


def test_the_same_again_is_the_same_answer_and_a_changed_one_is_refused(tablet, sheet, hand, now):
    body = record(sheet, now, author=hand)
    first, again = put(tablet, body), put(tablet, dict(reversed(body.items())))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert EvennessTest.objects.count() == Entry.objects.filter(event="fleet.heads.tested").count() == 1
    changed = put(tablet, body | {"words": "Added afterwards"})
    assert changed.status_code == 422
    assert "The signed one stands" in changed.json()["detail"]
    assert EvennessTest.objects.get().words == "Wind from the side."
    held = tablet.get("/sync/held", {"id": [body["id"], str(uuid.uuid4())]}).json()["held"]
    assert held == {body["id"]: first.json()["sha256"]}


def test_another_record_of_the_very_moment_is_refused(tablet, sheet, hand, now):
    """Its receipt would speak of a record that was never kept."""
    body = record(sheet, now, author=hand)
    put(tablet, body)
    answer = put(tablet, body | {"id": str(uuid.uuid4())})
    assert answer.status_code == 422
    assert answer.json()["detail"] == "A test of this cart's heads is on record for that time."


@pytest.mark.django_db(transaction=True)
def test_many_copies_at_once_are_one_record():
    person, sheet = StaffFactory(role="yard_hand"), SpraySheetFactory()
    body = record(sheet, timezone.now(), author=person)
    tablets = [Client() for _ in range(12)]
    for each in tablets:
        each.force_login(person)
    answers = at_once(*[lambda tablet=tablet: put(tablet, body) for tablet in tablets])
    assert sorted(answer.status_code for answer in answers) == [200] * 11 + [201]
    assert len({answer.content for answer in answers}) == 1
    assert (EvennessTest.objects.count(), Defect.objects.count()) == (1, 1)


def caught(body, **figures):
    return body | {"catches": [body["catches"][0] | figures, *body["catches"][1:]]}


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        (lambda body: caught(body, litres="10000"), "Litres of Rear left: 10000 was entered. It takes at most 9,999.99"),
        (lambda body: caught(body, litres="40.255"), "Litres of Rear left: 40.255 was entered."),
        (lambda body: caught(body, seconds="0"), "has to be above zero"),
        (lambda body: caught(body, seconds="15.55"), "Seconds of Rear left: 15.55 was entered. It takes at most"),
        (lambda body: caught(body, litres="-1"), "Litres of Rear left: -1 was entered."),
        (lambda body: caught(body, head=str(uuid.uuid4())), "a head that these spray figures do not have"),
        (lambda body: body | {"catches": [body["catches"][0]] * 2}, "two catches of one head"),
        (lambda body: body | {"catches": []}, "No head was caught."),
        (lambda body: body | {"pressure_kpa": "0"}, "The pressure has to be above zero"),
        (lambda body: body | {"pressure_kpa": "1000000"}, "Pressure at the heads, kPa: 1000000 was entered."),
        (lambda body: body | {"pressure_kpa": 200.5}, "measured values travel as text"),
        (
            lambda body: body | {"catches": [one | {"litres": "0"} for one in body["catches"]]},
            "at least one cup with water in it",
        ),
        (lambda body: body | {"version": 2}, "in a form this version of Slake cannot read"),
        (lambda body: body | {"words": "x" * 161}, "no proper “words”"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_words_and_nothing_is_kept(tablet, sheet, hand, wrong, sentence):
    answer = put(tablet, wrong(record(sheet, timezone.now(), author=hand)))
    assert answer.status_code == 422
    assert sentence in answer.json()["detail"]
    assert not EvennessTest.objects.exists()
    assert not EvennessSignature.objects.exists()


def test_another_id_another_cart_and_who_may_not(tablet, sheet, people, now, client):
    body = record(sheet, now, author=people[Role.YARD_HAND])
    assert put(tablet, body, uuid.uuid4()).status_code == 422
    assert put(tablet, body | {"cart": str(CartFactory().pk)}).status_code == 404
    assert put(tablet, b"{", uuid.uuid4()).status_code == 422
    client.force_login(people[Role.HIRE_DESK])
    assert put(client, body).status_code == 403
    client.logout()
    assert put(client, body).status_code == 401
    assert not EvennessTest.objects.exists()


def test_other_heads_before_the_test_are_refused_and_later_figures_only_told(tablet, sheet, hand, now):
    """Judged against heads that were off the cart, a good one would look worn; what came after changes nothing of it."""
    other = SpraySheetFactory(cart=sheet.cart, version=2, recorded_at=now - 3 * MINUTE, head_kpa=250)
    body = record(sheet, now, author=hand)
    answer = put(tablet, body)
    assert answer.status_code == 422
    assert "Figures 2, with other heads, were on record before it was done" in answer.json()["detail"]
    assert not EvennessTest.objects.exists()
    before = record(sheet, now - 4 * MINUTE, author=hand)
    told = put(tablet, before).json()
    assert told["sentences"][-1] == (
        "Judged against spray figures 1, as caught: figures 2 came before it arrived."
    )
    test = EvennessTest.objects.get()
    assert test.sheet == sheet
    assert told["sentences"][-1] in text_of(tablet.get(reverse("fleet:evenness_detail", args=[test.pk])))
    assert put(tablet, record(other, now, author=hand)).status_code == 201


def test_figures_that_change_nothing_about_the_heads_refuse_nothing(tablet, sheet, hand, now):
    SpraySheetFactory(cart=sheet.cart, version=2, recorded_at=now - 30 * MINUTE, fill_l_min=900)
    assert put(tablet, record(sheet, now, author=hand)).status_code == 201


def test_the_clock_is_put_right_and_nothing_is_done_after_it_came(tablet, sheet, hand, now):
    slow = {"id": "one", "time_zone": "Australia/Adelaide", "offset_ms": 600_000}
    told = put(tablet, record(sheet, now - 30 * MINUTE, author=hand, device=slow)).json()
    test = EvennessTest.objects.get()
    assert test.done_at == now - 21 * MINUTE
    assert test.signature.signed_at == now - 20 * MINUTE
    assert told["clock_flag"]
    fast = record(sheet, now + timedelta(days=400), author=hand)
    assert put(tablet, fast).status_code == 201
    test = EvennessTest.objects.latest("recorded_at")
    assert test.done_at == test.signature.signed_at == test.recorded_at


def test_it_is_kept_under_whoever_signed_and_says_who_sent_it(tablet, sheet, people, now):
    hand, fitter = people[Role.YARD_HAND], people[Role.FITTER]
    put(tablet, record(sheet, now, author=fitter, how="name"))
    test = EvennessTest.objects.get()
    assert (test.recorded_by, test.signature.sent_by) == (fitter, hand)
    entry = Entry.objects.get(event="fleet.heads.tested")
    assert (entry.by, entry.by_words) == (hand, f"{fitter.full_name}, sent by {hand.full_name}")
    page = text_of(tablet.get(reverse("fleet:evenness_detail", args=[test.pk])))
    assert f"signed on a tablet by <b>{fitter.full_name}, fitter</b>" in page
    assert f"Sent by {hand.full_name}; the name under it was not confirmed" in page
    stranger = SimpleNamespace(pk=uuid.uuid4(), full_name="Mika Orr")
    put(tablet, record(sheet, now + MINUTE, author=stranger))
    test = EvennessTest.objects.latest("recorded_at")
    assert test.recorded_by == hand
    assert (
        test.signature.author_words
        == f"{stranger.full_name}, not on this yard’s list; sent by {hand.full_name}"
    )


def test_the_list_carries_the_heads_in_force_in_as_many_queries_for_many_carts(hand, now):
    walk.edition()
    counts = []
    for number in (3, 9):
        for _ in range(number):
            old = SpraySheetFactory(cart=CartFactory(tyres=True))
            SpraySheetFactory(cart=old.cart, version=2)
        with CaptureQueriesContext(connection) as queries:
            told = reference_for(hand, csrf="", at=now)
        counts.append(len(queries))
    assert counts[0] == counts[1]
    assert told["purposes"]["heads_test"]["tolerance_pct"] == "10"
    assert {cart["spray"]["version"] for cart in told["carts"]} == {2}
    spray = told["carts"][0]["spray"]
    assert [head["name"] for head in spray["heads"]] == ["Rear left", "Rear right", "Side left", "Side right"]
    assert spray["heads"][0]["nominal_l_min"] == "160.0"
    CartFactory(fleet_number="BARE", tyres=True)
    [bare] = [one for one in reference_for(hand, csrf="", at=now)["carts"] if one["fleet_number"] == "BARE"]
    assert bare["spray"] is None
    # An older page walks by `sheets` alone: of the test it must learn nothing there.
    assert "heads_test" not in bare["sheets"]
