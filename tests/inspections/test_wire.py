"""The wire of the capture page: what is signed is kept once, whoever sends it and however often."""

import json
import uuid
from datetime import timedelta
from functools import partial

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from fleet.models.carts import Cart, MeterReading, ReadingQuestion
from fleet.models.defects import Defect
from fleet.models.photos import Photo
from fleet.models.wheels import TreadReading
from inspections.models import Answer, Edition, WalkRound
from people.canonical import canonical_text, sha256_hex
from people.journal.models import Entry
from people.journal.verify import faults_in_journal
from people.outbox.models import Message
from people.roles import Role
from tests.at_once import at_once
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, PhotoFactory
from tests.factories.people import StaffFactory
from tests.inspections.wire import key_of, put


def test_a_sound_cart_is_kept_and_comes_out_ready(tablet, cart, people, now):
    body = walk.manifest(cart, "pre_hire", at=now)
    answer = put(tablet, body)
    told = answer.json()
    assert answer.status_code == 201
    assert (told["outcome"], told["reasons"], told["id"]) == ("ready", [], body["id"])
    assert told["sha256"] == sha256_hex(canonical_text(body))
    assert told["page"] == reverse("inspections:walk_round_detail", args=[body["id"]])
    kept = WalkRound.objects.get()
    assert json.loads(kept.manifest) == body
    assert (kept.author, kept.cart, kept.purpose, kept.not_done) == (
        people[Role.YARD_HAND],
        cart,
        "pre_hire",
        0,
    )
    assert kept.answers.count() == len(body["answers"])
    assert not Defect.objects.exists()
    assert not ReadingQuestion.objects.exists()


def test_signing_writes_the_journal_and_leaves_work_for_the_papers(tablet, cart, now):
    body = walk.manifest(cart, "pre_hire", at=now)
    put(tablet, body)
    entry = Entry.objects.get(event="inspections.walk_round.signed")
    assert (entry.chain, str(entry.subject_id)) == (f"cart:{cart.pk}", body["id"])
    assert WalkRound.objects.get().manifest_sha256 in entry.text
    assert list(faults_in_journal()) == []
    assert str(Message.objects.get(kind="walk_round.signed").subject_id) == body["id"]


def test_readings_are_derived(tablet, cart, now):
    put(tablet, walk.manifest(cart, "pre_hire", at=now))
    assert {reading.meter.kind for reading in MeterReading.objects.all()} >= {"engine_hours", "km"}
    assert TreadReading.objects.filter(fitting__wheel_position__cart=cart).count() == 10
    reading = MeterReading.objects.get(meter__kind="engine_hours")
    assert str(reading.value) == walk.meter_value("engine_hours", now)
    assert reading.source_kind == "walk_round"


def test_the_same_record_again_is_the_same_answer(tablet, cart, now):
    body = walk.manifest(cart, "pre_hire", at=now)
    first, again = put(tablet, body), put(tablet, body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert WalkRound.objects.count() == 1
    assert Entry.objects.filter(event="inspections.walk_round.signed").count() == 1
    # Members in another order are the same record: the hash is of the canonical form.
    assert put(tablet, dict(reversed(body.items()))).status_code == 200


def test_a_record_changed_after_signing_is_refused_and_the_first_stands(tablet, cart, now):
    body = walk.manifest(cart, at=now)
    put(tablet, body)
    before = WalkRound.objects.get().manifest
    body["answers"][0]["words"] = "Added afterwards"
    answer = put(tablet, body)
    assert answer.status_code == 422
    assert "The signed one stands" in answer.json()["detail"]
    assert WalkRound.objects.get().manifest == before


def test_no_flipped_byte_of_a_kept_record_is_taken_for_it(tablet, cart, now):
    """One bit of one byte here and there, from the first to the last: refused each time, and the first stands."""
    body = walk.manifest(cart, at=now)
    raw = json.dumps(body).encode()
    assert put(tablet, raw, body["id"]).status_code == 201
    before = WalkRound.objects.get().manifest
    for where in [*range(0, len(raw), 97), len(raw) - 1]:
        changed = bytearray(raw)
        changed[where] ^= 1
        assert put(tablet, bytes(changed), body["id"]).status_code in (400, 422), where
    assert WalkRound.objects.get().manifest == before
    assert put(tablet, raw, body["id"]).status_code == 200


def tablets_of(person, number):
    tablets = [Client() for _ in range(number)]
    for each in tablets:
        each.force_login(person)
    return tablets


@pytest.mark.django_db(transaction=True)
def test_a_hundred_copies_are_one_record_and_a_hundred_equal_answers():
    """From fifty at once, each sending again as soon as it has its answer: the database takes no hundred connections."""
    now = timezone.now()
    person, author, cart = StaffFactory(), StaffFactory(), CartFactory(tyres=True)
    key, place = key_of(cart, "daily", answer="sound")
    wrong = {(key, place): {"answer": "wrong", "grade": "watch"}}
    body = walk.manifest(cart, at=now, answers=wrong, **walk.signed_by(author))
    pairs = at_once(
        *[lambda tablet=tablet: (put(tablet, body), put(tablet, body)) for tablet in tablets_of(person, 50)]
    )
    answers = [answer for pair in pairs for answer in pair]
    assert sorted(answer.status_code for answer in answers) == [200] * 99 + [201]
    assert len({answer.content for answer in answers}) == 1
    assert (WalkRound.objects.count(), Defect.objects.count()) == (1, 1)
    assert Answer.objects.count() == len(body["answers"])
    assert Entry.objects.filter(event="inspections.walk_round.signed").count() == 1
    assert list(faults_in_journal()) == []


@pytest.mark.django_db(transaction=True)
def test_of_two_records_under_one_id_at_once_one_stands_and_the_other_is_refused():
    now = timezone.now()
    cart = CartFactory()
    body = walk.manifest(cart, at=now)
    changed = body | {"answers": [body["answers"][0] | {"words": "Otherwise"}, *body["answers"][1:]]}
    senders = zip(tablets_of(StaffFactory(), 20), [body, changed] * 10, strict=True)
    answers = at_once(*[partial(put, tablet, sent) for tablet, sent in senders])
    kept = WalkRound.objects.get().manifest_sha256
    assert sorted(answer.status_code for answer in answers) == [200] * 9 + [201] + [422] * 10
    assert {answer.json()["sha256"] for answer in answers if answer.status_code != 422} == {kept}


@pytest.mark.parametrize(
    "wrong", [{"number": 7}, {"sha256": "0" * 64}, {"number": 2**53 - 1}, {"number": -1}]
)
def test_an_issue_never_published_is_refused(tablet, cart, now, wrong):
    body = walk.manifest(cart, at=now)
    body["edition"] |= wrong
    answer = put(tablet, body)
    assert answer.status_code == 422
    assert "never published here" in answer.json()["detail"]
    assert not WalkRound.objects.exists()


def test_an_older_issue_is_still_taken(tablet, cart, people, now):
    body = walk.manifest(cart, at=now)
    Edition(
        number=2, content=Edition.objects.get().content, sha256="1" * 64, published_at=now, why="Later"
    ).save(force_insert=True)
    assert put(tablet, body).status_code == 201
    assert WalkRound.objects.get().edition.number == 1


def test_an_unknown_cart_is_not_found(tablet, cart, now):
    body = walk.manifest(cart, at=now) | {"cart": str(uuid.uuid4())}
    answer = put(tablet, body)
    assert (answer.status_code, answer["Content-Type"]) == (404, "application/problem+json")


def test_photos_are_waited_for(tablet, cart, now):
    key, place = key_of(cart, "daily", answer="sound")
    missing = sorted(["a" * 64, "b" * 64])
    there = PhotoFactory()
    change = {"answer": "wrong", "grade": "watch", "photos": [*missing, there.original_sha256]}
    body = walk.manifest(cart, at=now, answers={(key, place): change})
    answer = put(tablet, body)
    assert (answer.status_code, answer.json()["photos_missing"]) == (409, missing)
    assert not WalkRound.objects.exists()
    for sha256 in missing:
        PhotoFactory(original_sha256=sha256)
    assert put(tablet, body).status_code == 201
    photos = Answer.objects.get(check_key=key, place=place).photos.order_by("number")
    assert [row.photo.original_sha256 for row in photos] == change["photos"]


def test_the_tablets_clock_is_put_right_by_its_known_offset(tablet, cart, now):
    put(
        tablet,
        walk.manifest(
            cart, at=now - timedelta(hours=2), device={"id": "t", "time_zone": "x", "offset_ms": 3_600_000}
        ),
    )
    kept = WalkRound.objects.get()
    assert kept.device_signed_at == now - timedelta(hours=2)
    assert kept.signed_at == now - timedelta(hours=1)


@pytest.mark.parametrize("offset_ms", [2**53 - 1, 10 * 365 * 86_400_000])
def test_nothing_is_signed_after_it_arrived(tablet, cart, now, offset_ms):
    device = {"id": "t", "time_zone": "x", "offset_ms": offset_ms}
    put(tablet, walk.manifest(cart, at=now, device=device))
    kept = WalkRound.objects.get()
    assert kept.signed_at == kept.received_at


def test_signed_out_is_told_in_json_and_never_sent_elsewhere(db, now):
    for method, path in (
        ("get", "/sync/reference"),
        ("put", f"/sync/walk-round/{uuid.uuid4()}"),
        ("put", f"/sync/photo/{'a' * 64}"),
    ):
        answer = getattr(Client(), method)(path)
        assert (answer.status_code, answer["Content-Type"]) == (401, "application/problem+json")
        assert answer.json()["detail"].startswith("You are signed out.")


def test_without_its_token_the_tablet_is_told_in_json(people, cart, now):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(people[Role.YARD_HAND])
    body = walk.manifest(cart, at=now)
    answer = put(strict, body)
    assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json")
    token = strict.get("/sync/reference").json()["csrf"]
    answer = strict.put(
        f"/sync/walk-round/{body['id']}", json.dumps(body), content_type="application/json", headers={"X-CSRFToken": token}
    )  # fmt: skip
    assert answer.status_code == 201


def queries_of(tablet):
    with CaptureQueriesContext(connection) as seen:
        document = tablet.get("/sync/reference").json()
    return len(seen), document


def test_the_reference_has_all_a_tablet_needs_in_the_agreed_shape(tablet, cart, people, now):
    defect_key, place = key_of(cart, "daily", answer="sound")
    put(
        tablet,
        walk.manifest(cart, at=now, answers={(defect_key, place): {"answer": "wrong", "grade": "watch"}}),
    )
    _, document = queries_of(tablet)
    assert set(document) == {
        "version", "server_time", "csrf", "person", "rule_set", "time_zone", "edition", "purposes", "grades", "stations",
        "passes", "why_not", "phrases", "checks", "carts", "site", "signed_in_at", "people",
    }  # fmt: skip
    person = people[Role.YARD_HAND]
    assert document["person"] == {"id": str(person.pk), "name": person.full_name, "role": "yard_hand"}
    assert (document["version"], document["rule_set"], document["time_zone"]) == (
        1,
        "au",
        "Australia/Adelaide",
    )
    one = document["carts"][0]
    assert set(one) == {
        "id", "fleet_number", "plate", "make_model", "right_to_go", "leaves_at", "leaves_words", "where", "hire", "defects",
        "sheets", "purposes_due", "lap", "spray",
    }  # fmt: skip
    assert set(one["right_to_go"]) == {"state", "sentence"}
    assert set(one["defects"][0]) == {
        "id", "title", "grade", "station", "place", "told_words", "state_words", "second_look",
    }  # fmt: skip
    assert set(one["sheets"]) == set(document["purposes"]) - {"heads_test"}
    for purpose, sheet in one["sheets"].items():
        assert set(sheet) == {"looks", "minutes", "items"} | ({"lot"} if purpose == "pre_hire" else set())
        assert sheet["looks"] == len(sheet["items"]) > 0
        for item in sheet["items"]:
            assert set(item) == {"check", "place", "place_label", "limit"}
            assert item["check"] in document["checks"]
            assert item["limit"] is None or set(item["limit"]) == {"op", "value", "high", "unit", "grade"}
            assert item["limit"] is None or isinstance(item["limit"]["value"], str)
    check = next(iter(document["checks"].values()))
    assert set(check) == {
        "title", "look_for", "sound", "if_not", "grade", "answer", "unit", "choices", "station", "pass", "required",
        "may_be_absent", "photo",
    }  # fmt: skip
    assert [station["key"] for station in document["stations"]][:2] == ["cab", "front"]
    assert one["lap"] == f"/carts/{cart.pk}/lap.svg"


def test_the_reference_costs_the_same_for_three_carts_and_for_twelve(tablet, cart):
    CartFactory.create_batch(2, tyres=True)
    queries_of(tablet)
    few, document = queries_of(tablet)
    assert len(document["carts"]) == 3
    CartFactory.create_batch(9, tyres=True)
    many, document = queries_of(tablet)
    assert (len(document["carts"]), many) == (12, few)


def test_before_the_first_issue_the_tablet_is_told_why(tablet, db):
    assert not Edition.objects.exists()
    answer = tablet.get("/sync/reference")
    assert (answer.status_code, answer["Content-Type"]) == (409, "application/problem+json")


@pytest.mark.parametrize(
    "path",
    ["/sync/reference", f"/sync/photo/{'a' * 64}", "/sync/walk-round/6b6eb5eb-5834-4d0c-a399-34970e015b76"],
)
def test_the_wire_never_answers_with_a_page(tablet, path):
    answer = tablet.post(path, b"x", content_type="application/octet-stream")
    assert (answer.status_code, answer["Content-Type"]) == (405, "application/problem+json")
    assert answer["Allow"] in ("GET", "PUT", "GET, PUT")


def test_a_retired_carts_record_is_still_kept(tablet, cart, now):
    body = walk.manifest(cart, at=now)
    Cart.objects.filter(pk=cart.pk).update(retired_on=now.date() - timedelta(days=1))
    assert put(tablet, body).status_code == 201


def test_photo_rows_are_not_made_by_a_record(tablet, cart, now):
    put(tablet, walk.manifest(cart, at=now))
    assert not Photo.objects.exists()
