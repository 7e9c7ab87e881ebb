"""What reaches the wire that no tablet writes: told in a sentence, nothing kept, nothing broken; and what is kept stays."""

import hashlib
import json
import uuid

import pytest
from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from fleet.models.defects import Defect
from fleet.models.photos import Photo
from inspections.models import Answer, AnswerPhoto, Edition, WalkRound, YardCheck
from people.roles import Role
from tests import photo_samples
from tests.factories import inspections as walk
from tests.factories.fleet import PhotoFactory
from tests.inspections.wire import put


@pytest.fixture
def body(cart):
    return walk.manifest(cart, at=timezone.now())


def refused(answer):
    assert answer.status_code == 422, answer.content[:300]
    assert answer["Content-Type"] == "application/problem+json"
    assert answer.json()["detail"].endswith((".", "!"))
    assert not WalkRound.objects.exists()
    assert not Answer.objects.exists()
    assert not Defect.objects.exists()
    return True


NOT_RECORDS = {
    "nothing": b"",
    "not JSON": b"walk: round",
    "a page": b"<!doctype html><title>Signed in</title>",
    "not UTF-8": b'{"version": "\xff\xfe"}',
    "a list": b"[]",
    "a string": b'"signed"',
    "null": b"null",
    "cut short": b'{"version":1,"id":"',
    "without end": b"[" * 100_000,
    "nested without end": b'{"version":1,"x":' + b'{"x":' * 900 + b"1" + b"}" * 901,
    "a number of thousands of digits": b'{"version":' + b"1" * 5000 + b"}",
}


@pytest.mark.parametrize("kind", NOT_RECORDS)
def test_what_is_no_record_is_refused(tablet, cart, kind):
    assert refused(put(tablet, NOT_RECORDS[kind], uuid.uuid4()))


def test_a_huge_body_is_refused_by_its_length(tablet, cart):
    answer = put(tablet, b" " * (4 * 1024 * 1024 + 1), uuid.uuid4())
    assert (answer.status_code, answer["Content-Type"]) == (413, "application/problem+json")


def _set(path, value):
    def change(body):
        *way, last = path
        for step in way:
            body = body[step]
        body[last] = value

    return change


def _drop(*path):
    def change(body):
        *way, last = path
        for step in way:
            body = body[step]
        del body[last]

    return change


FIRST = ("answers", 0)
WRONG = {
    "another version": _set(["version"], 3),
    "version as text": _set(["version"], "1"),
    "version true": _set(["version"], value=True),
    "no id": _drop("id"),
    "an id that is none": _set(["id"], "walk-7"),
    "cart as number": _set(["cart"], 7),
    "a purpose of its own": _set(["purpose"], "yearly"),
    "another rule set": _set(["rule_set"], "nz"),
    "no edition": _drop("edition"),
    "edition a list": _set(["edition"], []),
    "issue as text": _set(["edition", "number"], "1"),
    "issue as float": _set(["edition", "number"], 1.0),
    "hash not text": _set(["edition", "sha256"], 5),
    "no device": _set(["device"], None),
    "offset a float": _set(["device", "offset_ms"], 0.5),
    "offset beyond a browser's whole numbers": _set(["device", "offset_ms"], 2**53),
    "offset NaN": _set(["device", "offset_ms"], float("nan")),
    "a float nobody reads": _set(["weather"], 21.5),
    "infinity nobody reads": _set(["weather"], float("inf")),
    "half a surrogate nobody reads": _set(["weather"], "\ud800"),
    "a whole number too large nobody reads": _set(["weather"], 2**60),
    "time without offset": _set(["signed_at"], "2026-11-30T07:30:00"),
    "a time that is none": _set(["signed_at"], "yesterday"),
    "year 9999": _set(["signed_at"], "9999-12-31T23:59:59+00:00"),
    "year 9999 west": _set(["started_at"], "9999-12-31T23:59:59-12:00"),
    "year 1": _set(["started_at"], "0001-01-01T00:00:00+14:00"),
    "an answer in year 9999": _set([*FIRST, "at"], "9999-12-31T23:59:59+00:00"),
    "answers not a list": _set(["answers"], {}),
    "an answer that is text": _set([*FIRST], "good"),
    "too many answers": lambda body: body.update(answers=body["answers"] * 20),
    "numbered from nought": _set([*FIRST, "n"], 0),
    "a gap": lambda body: body["answers"].pop(1),
    "out of order": lambda body: body["answers"].reverse(),
    "number a float": _set([*FIRST, "n"], 1.0),
    "one check twice": lambda body: body["answers"].append(body["answers"][0] | {"n": len(body["answers"]) + 1}),
    "an answer of its own": _set([*FIRST, "answer"], "sound"),
    "a check nobody asks": _set([*FIRST, "check"], "no-such-check"),
    "no check": _set([*FIRST, "check"], ""),
    "check with a zero character": _set([*FIRST, "check"], "horn\x00"),
    "place too long": _set([*FIRST, "place"], "x" * 41),
    "value a number": _set([*FIRST, "value"], 3),
    "value a float": _set([*FIRST, "value"], 3.5),
    "value too long": _set([*FIRST, "value"], "1" * 41),
    "value with a zero character": _set([*FIRST, "value"], "1\x002"),
    "a grade of its own": _set([*FIRST, "grade"], "stop"),
    "why of its own": _set([*FIRST, "why"], "tired"),
    "words a list": _set([*FIRST, "words"], ["a"]),
    "words too long": _set([*FIRST, "words"], "a" * 2001),
    "words with a zero character": _set([*FIRST, "words"], "drips\x00"),
    "words with half a surrogate": _set([*FIRST, "words"], "drips \udfff"),
    "photos not a list": _set([*FIRST, "photos"], "a" * 64),
    "a photo by its name": _set([*FIRST, "photos"], ["photo1.jpg"]),
    "a photo by 64 zero characters": _set([*FIRST, "photos"], ["\x00" * 64]),
    "a photo in capitals": _set([*FIRST, "photos"], ["A" * 64]),
    "too many photos": _set([*FIRST, "photos"], ["a" * 64] * 13),
    "no signature": _drop("signature"),
    "signed by nobody": _set(["signature", "name"], "  "),
    "signed under nothing": _set(["signature", "statement"], ""),
    "signed some other way": _set(["signature", "kind"], "stamped"),
    "drawn without a stroke": _set(["signature", "strokes"], []),
    "drawn as one dot": _set(["signature", "strokes"], [[[1, 1, 0]]]),
    "typed with strokes": _set(["signature", "kind"], "typed"),
    "strokes with floats": _set(["signature", "strokes"], [[[1.5, 2, 0], [2, 2, 5]]]),
    "strokes with text": _set(["signature", "strokes"], [[["1", 2, 0], [2, 2, 5]]]),
    "strokes with two numbers": _set(["signature", "strokes"], [[[1, 2], [2, 2]]]),
    "strokes with true": _set(["signature", "strokes"], [[[True, 2, 0], [2, 2, 5]]]),
    "strokes of whole numbers no browser holds": _set(["signature", "strokes"], [[[2**60, 2, 0], [2, 2, 5]]]),
    "strokes without end": _set(["signature", "strokes"], [[[1, 1, n] for n in range(20_001)]]),
    "a name with a zero character": _set(["signature", "name"], "Marg\x00"),
}  # fmt: skip


@pytest.mark.parametrize("kind", WRONG)
def test_what_no_tablet_writes_is_refused_in_a_sentence(tablet, body, kind):
    walk_id = body["id"]
    WRONG[kind](body)
    assert refused(put(tablet, body, walk_id))


def test_a_wheel_no_cart_has_is_refused(tablet, cart):
    body = walk.manifest(cart, "pre_hire", at=timezone.now())
    tread = next(one for one in body["answers"] if one["place"] == "2LO")
    tread["place"] = "the big one"
    assert refused(put(tablet, body))


def test_a_wheel_this_cart_has_not_is_kept_and_its_depth_asked_about(tablet, cart):
    body = walk.manifest(cart, "pre_hire", at=timezone.now())
    item = next(item for item in walk.sheet(cart, "pre_hire").items if item.check.limit_from == "tread")
    body["answers"].append(
        walk.sound_answer(item, len(body["answers"]) + 1, timezone.now()) | {"place": "7LO"}
    )
    assert put(tablet, body).status_code == 201
    assert cart.reading_questions.get().subject == "tread 7LO"


def test_sent_under_another_id_it_is_refused(tablet, body):
    assert refused(put(tablet, body, uuid.uuid4()))


@pytest.mark.parametrize("dead", ["1970-01-01T00:00:07+00:00", "2000-01-01T00:00:00+00:00"])
def test_a_tablet_whose_clock_died_is_still_believed_about_the_cart(tablet, cart, dead):
    body = walk.manifest(cart, at=timezone.now(), started_at=dead, signed_at=dead)
    assert put(tablet, body).status_code == 201
    page = tablet.get(f"/walk-rounds/{body['id']}/")
    assert page.status_code == 200


def test_what_a_person_wrote_comes_back_as_words_and_never_as_code(tablet, cart):
    words = "<script>alert(1)</script> & “quotes” 🚛"
    body = walk.manifest(cart, at=timezone.now())
    body["answers"][0] |= {"answer": "wrong", "grade": "watch", "words": words}
    body["signature"]["name"] = "<b>Marg</b>"
    assert put(tablet, body).status_code == 201
    page = tablet.get(f"/walk-rounds/{body['id']}/").content.decode()
    assert "<script>alert" not in page
    assert "<b>Marg</b>" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp;" in page


def test_members_nobody_knows_are_kept_as_signed(tablet, body):
    body["lamp"] = {"torch": True}
    assert put(tablet, body).status_code == 201
    assert json.loads(WalkRound.objects.get().manifest)["lamp"] == {"torch": True}


SEALED = (WalkRound, Answer, AnswerPhoto, Edition, Photo)


@pytest.mark.parametrize("model", SEALED)
def test_what_is_signed_refuses_every_change(tablet, cart, model):
    photo = PhotoFactory()
    body = walk.manifest(cart, at=timezone.now())
    body["answers"][0]["photos"] = [photo.original_sha256]
    put(tablet, body)
    row = model.objects.first()
    for change in (
        row.save,
        lambda: model.objects.all().update(id=row.pk),
        lambda: model._base_manager.filter(pk=row.pk)._raw_delete("default"),
    ):
        with pytest.raises(DatabaseError, match="rows are sealed"), transaction.atomic():
            change()
    assert model.objects.filter(pk=row.pk).exists()


def _at(walk_round, **changed):
    return Answer(
        walk_round=walk_round, number=900, check_key="horn", title="Horn", station="cab", answer="good",
        answered_at=timezone.now(), **changed,
    )  # fmt: skip


def test_the_database_keeps_the_rules_by_itself(tablet, cart, body, people):
    put(tablet, body)
    signed = WalkRound.objects.get()
    known = signed.answers.first()
    photo = PhotoFactory()
    AnswerPhoto.objects.create(answer=known, photo=photo, number=1)
    cases = {
        "inspections_answer_number_once": lambda: _with(_at(signed), number=known.number),
        "inspections_answer_once_a_place": lambda: _with(
            _at(signed), check_key=known.check_key, place=known.place
        ),
        "inspections_answer_known": lambda: _with(_at(signed), answer="sound"),
        "inspections_answerphoto_number_once": lambda: AnswerPhoto.objects.create(
            answer=known, photo=PhotoFactory(), number=1
        ),
        "inspections_yardcheck_says_something": lambda: YardCheck.objects.create(
            key="x", changed_at=timezone.now(), changed_by=people[Role.FLEET_MANAGER]
        ),
        "inspections_walkround_purpose_known": lambda: _with(_copy(signed), purpose="yearly"),
    }
    for constraint, going_round in cases.items():
        with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
            going_round()


def _with(row, **changed):
    for name, value in changed.items():
        setattr(row, name, value)
    row.save(force_insert=True)


def _copy(row):
    copy = WalkRound.objects.get(pk=row.pk)
    copy.pk = copy.id = uuid.uuid4()
    return copy


def put_photo(tablet, raw, *, sha256=None, content_type="image/jpeg"):
    sha256 = sha256 or hashlib.sha256(raw).hexdigest()
    return tablet.put(f"/sync/photo/{sha256}", raw, content_type=content_type)


def test_a_photo_is_taken_in_once_and_redrawn(tablet, db):
    raw = photo_samples.camera_jpeg(width=600, height=800, orientation=6)
    first, again = put_photo(tablet, raw), put_photo(tablet, raw)
    assert (first.status_code, again.status_code) == (201, 200)
    told = first.json()
    assert told == again.json()
    assert (told["width"], told["height"]) == (600, 800)
    kept = Photo.objects.get()
    assert (kept.original_sha256, str(kept.pk)) == (told["sha256"], told["id"])
    assert kept.stored_sha256 != kept.original_sha256
    picture = tablet.get(f"/photos/{kept.pk}.jpg")
    assert hashlib.sha256(picture.content).hexdigest() == kept.stored_sha256
    assert photo_samples.leftovers(picture.content) == []


def hostile():
    sound = photo_samples.camera_jpeg(width=600, height=800)
    return {
        "a renamed PDF": b"%PDF-1.7\n1 0 obj <<>> endobj\n%%EOF",
        "a page": b"<html><script>alert(1)</script></html>",
        "nothing": b"",
        "cut short": sound[: len(sound) // 2],
        "200 megapixels claimed": photo_samples.with_jpeg_size(sound, 20_000, 10_000),
        "200 megapixels of PNG": photo_samples.png_of(20_000, 10_000),
    }


@pytest.mark.parametrize("kind", hostile())
def test_what_is_no_photo_is_refused_in_a_sentence(tablet, db, kind):
    answer = put_photo(tablet, hostile()[kind])
    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
    assert answer.json()["detail"]
    assert not Photo.objects.exists()


def test_a_photo_of_thirty_megabytes_is_refused_before_it_is_read(tablet, db):
    answer = put_photo(tablet, b"\xff\xd8\xff" + b"0" * (30 * 1024 * 1024))
    assert answer.status_code == 413
    assert "15 MB" in answer.json()["detail"]


@pytest.mark.parametrize("sha256", ["0" * 64, "A" * 64, "f" * 63, "not-a-hash"])
def test_a_photo_under_another_hash_is_refused(tablet, db, sha256):
    answer = put_photo(tablet, photo_samples.camera_jpeg(width=600, height=800), sha256=sha256)
    assert answer.status_code == 422
    assert not Photo.objects.exists()
