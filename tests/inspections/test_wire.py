"""The wire of the capture page: what is signed is kept once, judged, its readings derived and its defects told."""

import json
import threading
import uuid
from datetime import timedelta
from decimal import Decimal

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
from people.roles import WALKERS, Role
from tests.factories import inspections as walk
from tests.factories.fleet import CartFactory, ExtinguisherFactory, PhotoFactory
from tests.factories.people import StaffFactory

HORN, TREAD = "horn", "tread"


def put(client, body, walk_id=None):
    raw = body if isinstance(body, bytes) else json.dumps(body).encode()
    walk_id = walk_id or (body["id"] if isinstance(body, dict) else uuid.uuid4())
    return client.put(f"/sync/walk-round/{walk_id}", raw, content_type="application/json")


@pytest.fixture
def now():
    return timezone.now()


@pytest.fixture
def cart(db):
    made = CartFactory(fleet_number="RG07", tyres=True)
    ExtinguisherFactory(cart=made)
    walk.edition()
    return made


@pytest.fixture
def client(client, people):
    client.force_login(people[Role.YARD_HAND])
    return client


def key_of(cart, purpose, *, family=None, answer=None, required=None, limited=False):
    """The key and place of the first look of a sheet that is what a test needs."""
    for item in walk.sheet(cart, purpose).items:
        check = item.check
        if family is not None and check.family != family:
            continue
        if answer is not None and check.answer != answer:
            continue
        if required is not None and check.required != required:
            continue
        if limited and item.limit is None:
            continue
        return check.key, item.place
    raise LookupError((purpose, family, answer))


def tread_look(cart):
    item = next(item for item in walk.sheet(cart, "pre_hire").items if item.check.limit_from == "tread")
    return item.check.key, item.place


def test_a_sound_cart_is_kept_and_comes_out_ready(client, cart, people, now):
    body = walk.manifest(cart, "pre_hire", at=now)
    answer = put(client, body)
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


def test_signing_writes_the_journal_and_leaves_work_for_the_papers(client, cart, now):
    body = walk.manifest(cart, "pre_hire", at=now)
    put(client, body)
    entry = Entry.objects.get(event="inspections.walk_round.signed")
    assert (entry.chain, str(entry.subject_id)) == (f"cart:{cart.pk}", body["id"])
    assert WalkRound.objects.get().manifest_sha256 in entry.text
    assert list(faults_in_journal()) == []
    assert str(Message.objects.get(kind="walk_round.signed").subject_id) == body["id"]


def test_readings_are_derived(client, cart, now):
    put(client, walk.manifest(cart, "pre_hire", at=now))
    assert {reading.meter.kind for reading in MeterReading.objects.all()} >= {"engine_hours", "km"}
    assert TreadReading.objects.filter(fitting__wheel_position__cart=cart).count() == 10
    reading = MeterReading.objects.get(meter__kind="engine_hours")
    assert str(reading.value) == walk.meter_value("engine_hours", now)
    assert reading.source_kind == "walk_round"


def test_what_is_wrong_is_a_defect_at_once(client, cart, now):
    photo = PhotoFactory()
    key, place = key_of(cart, "pre_hire", answer="sound", required=True)
    wrong = {
        "answer": "wrong",
        "grade": "do_not_use",
        "words": "Does not sound",
        "photos": [photo.original_sha256],
    }
    told = put(client, walk.manifest(cart, "pre_hire", at=now, answers={(key, place): wrong})).json()
    assert told["outcome"] == "held"
    assert [reason["grade"] for reason in told["reasons"]] == ["do_not_use"]
    defect = Defect.objects.get()
    assert (defect.check_key, defect.place, defect.grade, defect.state) == (
        key,
        place,
        "do_not_use",
        "reported",
    )
    assert defect.words == "Does not sound"
    assert list(defect.photos.all()) == [photo]
    assert defect.told_by_words.endswith(", yard hand")
    assert [step.after_state for step in defect.steps.all()] == ["reported"]


@pytest.mark.parametrize(
    ("grade", "outcome"), [("watch", "ready"), ("by_date", "conditions"), ("do_not_use", "held")]
)
def test_the_outcome_follows_the_worst_grade(client, cart, now, grade, outcome):
    key, place = key_of(cart, "daily", answer="sound")
    answers = {(key, place): {"answer": "wrong", "grade": grade}}
    assert put(client, walk.manifest(cart, at=now, answers=answers)).json()["outcome"] == outcome


def test_the_usual_grade_stands_where_none_was_picked(client, cart, now):
    key, place = key_of(cart, "daily", answer="sound")
    put(client, walk.manifest(cart, at=now, answers={(key, place): {"answer": "wrong", "grade": None}}))
    usual = next(item.check.grade for item in walk.sheet(cart, "daily").items if item.check.key == key)
    assert Defect.objects.get().grade == usual


def test_the_same_thing_found_again_is_one_defect_until_it_is_worse(client, cart, now):
    key, place = key_of(cart, "daily", answer="sound")

    def find(grade, minutes):
        moment = now - timedelta(minutes=30 - minutes)
        put(
            client,
            walk.manifest(cart, at=moment, answers={(key, place): {"answer": "wrong", "grade": grade}}),
        )
        return sorted(Defect.objects.values_list("grade", flat=True))

    assert find("by_date", 0) == ["by_date"]
    assert find("by_date", 5) == ["by_date"]
    assert find("watch", 10) == ["by_date"]
    assert find("do_not_use", 15) == ["by_date", "do_not_use"]
    assert WalkRound.objects.count() == 4


def test_a_value_outside_its_limit_is_a_defect_though_it_was_called_good(client, cart, now):
    item = next(
        item for item in walk.sheet(cart, "pre_hire").items
        if item.check.answer == "measure" and item.limit is not None and item.check.limit_from != "tread" and item.limit.op == ">="
    )  # fmt: skip
    low = str(item.limit.value - Decimal("0.1"))
    body = walk.manifest(cart, "pre_hire", at=now, answers={(item.check.key, item.place): {"value": low}})
    told = put(client, body).json()
    assert Defect.objects.get().grade == item.limit.grade
    assert item.limit.words in told["reasons"][0]["sentence"]
    edge = walk.manifest(
        cart, "pre_hire", at=now, answers={(item.check.key, item.place): {"value": str(item.limit.value)}}
    )
    assert put(client, edge).json()["outcome"] == "ready"


@pytest.mark.parametrize(("depth", "grade"), [("1.4", "do_not_use"), ("2.9", "by_date"), ("3.0", None)])
def test_tread_under_the_legal_depth_forbids_use_and_under_the_yards_own_sets_a_date(
    client, cart, now, depth, grade
):
    """Legal 1.5 mm (au) by fleet.tread_limits, which names its source rows; the yard's own 3.0 mm is common practice,
    no source."""
    look = next(
        item for item in walk.sheet(cart, "pre_hire").items if item.check.limit_from == "tread" and item.place == "2LO"
    )  # fmt: skip
    put(client, walk.manifest(cart, "pre_hire", at=now, answers={(look.check.key, "2LO"): {"value": depth}}))
    assert list(Defect.objects.values_list("grade", flat=True)) == ([grade] if grade else [])


def test_a_required_look_that_could_not_be_made_holds(client, cart, now):
    key, place = key_of(cart, "pre_hire", answer="sound", required=True)
    cannot = {"answer": "could_not_check", "why": "dark"}
    told = put(client, walk.manifest(cart, "pre_hire", at=now, answers={(key, place): cannot})).json()
    assert told["outcome"] == "held"
    assert told["reasons"][0]["grade"] == "not_done"
    assert WalkRound.objects.get().not_done == 1
    assert not Defect.objects.exists()


def test_a_required_look_left_out_holds(client, cart, now):
    key, _ = key_of(cart, "pre_hire", answer="sound", required=True)
    told = put(client, walk.manifest(cart, "pre_hire", at=now, leave_out=[key])).json()
    assert (told["outcome"], told["reasons"][0]["grade"]) == ("held", "not_done")


def test_not_on_this_cart_is_no_way_round_a_look_that_must_be_there(client, cart, now):
    items = walk.sheet(cart, "pre_hire").items
    must = next(item.check.key for item in items if item.check.required and not item.check.may_be_absent)
    body = walk.manifest(cart, "pre_hire", at=now, answers={must: {"answer": "not_on_cart"}})
    assert put(client, body).json()["outcome"] == "held"
    may = next((item.check.key for item in items if item.check.may_be_absent), None)
    if may:
        body = walk.manifest(cart, "pre_hire", at=now, answers={may: {"answer": "not_on_cart"}})
        assert put(client, body).json()["outcome"] == "ready"


@pytest.mark.parametrize("value", ["abc", "", None, "3,5", "1e3", "NaN", "٣"])
def test_a_reading_nobody_can_read_is_kept_and_counts_as_not_taken(client, cart, now, value):
    look = tread_look(cart)
    answer = put(client, walk.manifest(cart, "pre_hire", at=now, answers={look: {"value": value}}))
    assert (answer.status_code, answer.json()["outcome"]) == (201, "held")
    assert Answer.objects.get(check_key=look[0], place=look[1]).value == (value or "")
    assert TreadReading.objects.count() == 9


@pytest.mark.parametrize("value", ["17.1", "-1", "99999999999999999999999999999999999"])
def test_an_odd_depth_is_kept_and_asked_about(client, cart, now, value):
    """The factory's tyre had 16.0 mm when new; a millimetre over is allowed for (common practice, no source)."""
    look = tread_look(cart)
    assert (
        put(client, walk.manifest(cart, "pre_hire", at=now, answers={look: {"value": value}})).status_code
        == 201
    )
    asked = ReadingQuestion.objects.get()
    assert asked.subject == f"tread {look[1]}"
    assert value in asked.question
    assert Answer.objects.get(check_key=look[0], place=look[1]).value == value
    assert not TreadReading.objects.filter(fitting__wheel_position__code=look[1]).exists()


def test_a_meter_lower_than_last_time_is_kept_and_asked_about(client, cart, now):
    earlier = now - timedelta(hours=3)
    put(client, walk.manifest(cart, at=earlier))
    key, place = key_of(cart, "daily", family="engine-hours")
    lower = walk.manifest(cart, at=now, answers={(key, place): {"value": "10.0"}})
    assert put(client, lower).status_code == 201
    asked = ReadingQuestion.objects.get()
    assert asked.subject == "meter engine_hours"
    assert "lower than" in asked.question
    assert MeterReading.objects.filter(meter__kind="engine_hours").count() == 1


def test_the_same_record_again_is_the_same_answer(client, cart, now):
    body = walk.manifest(cart, "pre_hire", at=now)
    first, again = put(client, body), put(client, body)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert WalkRound.objects.count() == 1
    assert Entry.objects.filter(event="inspections.walk_round.signed").count() == 1
    # Members in another order are the same record: the hash is of the canonical form.
    assert put(client, dict(reversed(body.items()))).status_code == 200


def test_a_record_changed_after_signing_is_refused_and_the_first_stands(client, cart, now):
    body = walk.manifest(cart, at=now)
    put(client, body)
    before = WalkRound.objects.get().manifest
    body["answers"][0]["words"] = "Added afterwards"
    answer = put(client, body)
    assert answer.status_code == 422
    assert "The signed one stands" in answer.json()["detail"]
    assert WalkRound.objects.get().manifest == before


@pytest.mark.django_db(transaction=True)
def test_twenty_copies_at_once_are_one_record():
    now = timezone.now()
    person, cart = StaffFactory(), CartFactory(tyres=True)
    key, place = key_of(cart, "daily", answer="sound")
    body = walk.manifest(cart, at=now, answers={(key, place): {"answer": "wrong", "grade": "watch"}})
    gate, answers = threading.Barrier(20), []

    def send():
        try:
            one = Client()
            one.force_login(person)
            gate.wait(30)
            answers.append(put(one, body))
        finally:
            connection.close()

    threads = [threading.Thread(target=send) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(answer.status_code for answer in answers) == [200] * 19 + [201]
    assert len({answer.content for answer in answers}) == 1
    assert (WalkRound.objects.count(), Defect.objects.count()) == (1, 1)
    assert Answer.objects.count() == len(body["answers"])
    assert list(faults_in_journal()) == []


@pytest.mark.parametrize(
    "wrong", [{"number": 7}, {"sha256": "0" * 64}, {"number": 2**53 - 1}, {"number": -1}]
)
def test_an_issue_never_published_is_refused(client, cart, now, wrong):
    body = walk.manifest(cart, at=now)
    body["edition"] |= wrong
    answer = put(client, body)
    assert answer.status_code == 422
    assert "never published here" in answer.json()["detail"]
    assert not WalkRound.objects.exists()


def test_an_older_issue_is_still_taken(client, cart, people, now):
    body = walk.manifest(cart, at=now)
    Edition(
        number=2, content=Edition.objects.get().content, sha256="1" * 64, published_at=now, why="Later"
    ).save(force_insert=True)
    assert put(client, body).status_code == 201
    assert WalkRound.objects.get().edition.number == 1


def test_an_unknown_cart_is_not_found(client, cart, now):
    body = walk.manifest(cart, at=now) | {"cart": str(uuid.uuid4())}
    answer = put(client, body)
    assert (answer.status_code, answer["Content-Type"]) == (404, "application/problem+json")


def test_photos_are_waited_for(client, cart, now):
    key, place = key_of(cart, "daily", answer="sound")
    missing = sorted(["a" * 64, "b" * 64])
    there = PhotoFactory()
    change = {"answer": "wrong", "grade": "watch", "photos": [*missing, there.original_sha256]}
    body = walk.manifest(cart, at=now, answers={(key, place): change})
    answer = put(client, body)
    assert (answer.status_code, answer.json()["photos_missing"]) == (409, missing)
    assert not WalkRound.objects.exists()
    for sha256 in missing:
        PhotoFactory(original_sha256=sha256)
    assert put(client, body).status_code == 201
    photos = Answer.objects.get(check_key=key, place=place).photos.order_by("number")
    assert [row.photo.original_sha256 for row in photos] == change["photos"]


def test_the_tablets_clock_is_put_right_by_its_known_offset(client, cart, now):
    put(
        client,
        walk.manifest(
            cart, at=now - timedelta(hours=2), device={"id": "t", "time_zone": "x", "offset_ms": 3_600_000}
        ),
    )
    kept = WalkRound.objects.get()
    assert kept.device_signed_at == now - timedelta(hours=2)
    assert kept.signed_at == now - timedelta(hours=1)


@pytest.mark.parametrize("offset_ms", [2**53 - 1, 10 * 365 * 86_400_000])
def test_nothing_is_signed_after_it_arrived(client, cart, now, offset_ms):
    device = {"id": "t", "time_zone": "x", "offset_ms": offset_ms}
    put(client, walk.manifest(cart, at=now, device=device))
    kept = WalkRound.objects.get()
    assert kept.signed_at == kept.received_at


@pytest.mark.parametrize("role", sorted(set(Role) - WALKERS))
def test_who_does_not_walk_carts_is_refused_in_json(client, cart, people, now, role):
    client.force_login(people[role])
    answer = put(client, walk.manifest(cart, at=now))
    assert (answer.status_code, answer["Content-Type"]) == (403, "application/problem+json")


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


def queries_of(client):
    with CaptureQueriesContext(connection) as seen:
        document = client.get("/sync/reference").json()
    return len(seen), document


def test_the_reference_has_all_a_tablet_needs_in_the_agreed_shape(client, cart, people, now):
    defect_key, place = key_of(cart, "daily", answer="sound")
    put(
        client,
        walk.manifest(cart, at=now, answers={(defect_key, place): {"answer": "wrong", "grade": "watch"}}),
    )
    _, document = queries_of(client)
    assert set(document) == {
        "version", "server_time", "csrf", "person", "rule_set", "time_zone", "edition", "purposes", "grades", "stations",
        "passes", "why_not", "phrases", "checks", "carts",
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
        "sheets", "purposes_due", "lap",
    }  # fmt: skip
    assert set(one["right_to_go"]) == {"state", "sentence"}
    assert set(one["defects"][0]) == {"id", "title", "grade", "station", "place", "told_words", "state_words"}
    assert set(one["sheets"]) == set(document["purposes"])
    for sheet in one["sheets"].values():
        assert set(sheet) == {"looks", "minutes", "items"}
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


def test_the_reference_costs_the_same_for_three_carts_and_for_twelve(client, cart):
    CartFactory.create_batch(2, tyres=True)
    queries_of(client)
    few, document = queries_of(client)
    assert len(document["carts"]) == 3
    CartFactory.create_batch(9, tyres=True)
    many, document = queries_of(client)
    assert (len(document["carts"]), many) == (12, few)


def test_before_the_first_issue_the_tablet_is_told_why(client, db):
    assert not Edition.objects.exists()
    answer = client.get("/sync/reference")
    assert (answer.status_code, answer["Content-Type"]) == (409, "application/problem+json")


@pytest.mark.parametrize(
    "path",
    ["/sync/reference", f"/sync/photo/{'a' * 64}", "/sync/walk-round/6b6eb5eb-5834-4d0c-a399-34970e015b76"],
)
def test_the_wire_never_answers_with_a_page(client, path):
    answer = client.post(path, b"x", content_type="application/octet-stream")
    assert (answer.status_code, answer["Content-Type"]) == (405, "application/problem+json")
    assert answer["Allow"] in ("GET", "PUT")


def test_a_retired_carts_record_is_still_kept(client, cart, now):
    body = walk.manifest(cart, at=now)
    Cart.objects.filter(pk=cart.pk).update(retired_on=now.date() - timedelta(days=1))
    assert put(client, body).status_code == 201


def test_photo_rows_are_not_made_by_a_record(client, cart, now):
    put(client, walk.manifest(cart, at=now))
    assert not Photo.objects.exists()
