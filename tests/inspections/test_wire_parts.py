"""A photo in parts over the wire: it goes on where it stopped, and what arrives is the photo or nothing."""

import hashlib

import pytest
from django.test import Client

from fleet.actions.photo_parts import MOST_UNFINISHED, PART_MOST_BYTES
from fleet.models.photos import Photo, PhotoPart
from people.roles import Role
from tests.factories.people import StaffFactory
from tests.photo_samples import camera_jpeg

PART = 10_000


@pytest.fixture(scope="module")
def raw():
    return camera_jpeg(width=600, height=800)


@pytest.fixture
def sha256(raw):
    return hashlib.sha256(raw).hexdigest()


def put(tablet, sha256, start, total, content):
    return tablet.put(
        f"/sync/photo/{sha256}", content, content_type="application/octet-stream",
        headers={"Upload-Offset": str(start), "Upload-Length": str(total)},
    )  # fmt: skip


def send(tablet, raw, *, sha256=None, start=0, part=PART):
    """Send what is left of a photo from `start` on; every answer."""
    sha256 = sha256 or hashlib.sha256(raw).hexdigest()
    return [
        put(tablet, sha256, begin, len(raw), raw[begin : begin + part])
        for begin in range(start, len(raw), part)
    ]


def progress(tablet, sha256):
    answer = tablet.get(f"/sync/photo/{sha256}")
    assert answer.status_code == 200
    return answer.json()


def refused(answer, status, code=None):
    told = answer.json()
    assert (answer.status_code, answer["Content-Type"]) == (status, "application/problem+json"), told
    assert told["detail"].endswith(".")
    assert code is None or told["code"] == code
    return told


def test_parts_become_the_photo_they_were_cut_from(tablet, raw, sha256):
    assert progress(tablet, sha256) == {"sha256": sha256, "offset": 0, "complete": False}
    *before, last = send(tablet, raw)
    assert len(before) > 2
    assert [answer.status_code for answer in before] == [202] * len(before)
    assert [answer.json() for answer in before] == [
        {"offset": PART * number} for number in range(1, len(before) + 1)
    ]
    assert last.status_code == 201
    kept = Photo.objects.get()
    assert last.json() == {"sha256": sha256, "id": str(kept.pk), "width": 600, "height": 800}
    assert not PhotoPart.objects.exists()
    assert progress(tablet, sha256)["complete"] is True
    # The very same photo, however it comes again, is the one that was kept.
    for answer in (
        send(tablet, raw)[0],
        tablet.put(f"/sync/photo/{sha256}", raw, content_type="image/jpeg"),
        put(tablet, sha256, 0, len(raw), b""),
    ):
        assert (answer.status_code, answer.json()) == (200, last.json())
    assert not PhotoPart.objects.exists()


def test_after_a_break_it_goes_on_where_it_stopped(tablet, raw, sha256):
    first = put(tablet, sha256, 0, len(raw), raw[:PART])
    assert first.status_code == 202
    here = progress(tablet, sha256)
    assert here == {"sha256": sha256, "offset": PART, "complete": False}
    assert send(tablet, raw, start=here["offset"], part=7_001)[-1].status_code == 201


def test_a_photo_in_one_part_is_taken_in_at_once(tablet, raw, sha256):
    assert len(raw) <= PART_MOST_BYTES
    [answer] = send(tablet, raw, part=len(raw))
    assert answer.status_code == 201


def test_a_wrong_offset_is_told_the_right_one_and_changes_nothing(tablet, raw, sha256):
    put(tablet, sha256, 0, len(raw), raw[:PART])
    for start, content in (
        (PART + 1, raw[PART + 1 : 2 * PART]),
        (PART - 1, raw[PART - 1 : 2 * PART]),
        (0, raw[1:PART]),
    ):
        told = refused(put(tablet, sha256, start, len(raw), content), 409, "photo-wrong-offset")
        assert told["offset"] == PART
    # The same start with one byte flipped is not the part that is here.
    flipped = bytes([raw[0] ^ 1]) + raw[1:PART]
    assert refused(put(tablet, sha256, 0, len(raw), flipped), 409)["offset"] == PART
    assert progress(tablet, sha256)["offset"] == PART


def test_a_part_that_is_here_already_is_no_error(tablet, raw, sha256):
    for start in (0, PART):
        put(tablet, sha256, start, len(raw), raw[start : start + PART])
    for start in (0, PART, 0):
        again = put(tablet, sha256, start, len(raw), raw[start : start + PART])
        assert (again.status_code, again.json()) == (202, {"offset": 2 * PART})
    assert PhotoPart.objects.count() == 2


@pytest.mark.parametrize("where", [0, 17, PART - 1, PART, 2 * PART + 5, -1])
def test_one_flipped_byte_drops_the_parts_and_says_so(tablet, raw, sha256, where):
    changed = bytearray(raw)
    changed[where] ^= 1
    answers = send(tablet, bytes(changed), sha256=sha256)
    refused(answers[-1], 422, "photo-hash-differs")
    assert not Photo.objects.exists()
    assert progress(tablet, sha256) == {"sha256": sha256, "offset": 0, "complete": False}
    assert send(tablet, raw)[-1].status_code == 201


@pytest.mark.parametrize("where", [0, 17, 9_000, -1])
def test_one_flipped_byte_of_a_whole_photo_is_refused_and_the_sound_one_taken(tablet, raw, sha256, where):
    changed = bytearray(raw)
    changed[where] ^= 1
    answer = tablet.put(f"/sync/photo/{sha256}", bytes(changed), content_type="image/jpeg")
    refused(answer, 422, "photo-hash-differs")
    assert not Photo.objects.exists()
    assert tablet.put(f"/sync/photo/{sha256}", raw, content_type="image/jpeg").status_code == 201


def test_what_is_no_picture_is_dropped_like_one_that_came_whole(tablet):
    page = b"<html>" + b"x" * 3 * PART
    refused(send(tablet, page)[-1], 422, "photo-not-a-picture")
    assert not PhotoPart.objects.exists()


def test_a_part_is_at_most_256_kib(tablet, raw, sha256):
    most = b"0" * PART_MOST_BYTES
    assert PART_MOST_BYTES == 262_144
    assert put(tablet, sha256, 0, PART_MOST_BYTES + 9, most).status_code == 202
    refused(put(tablet, sha256, PART_MOST_BYTES, 2 * PART_MOST_BYTES + 9, most + b"0"), 413)
    assert progress(tablet, sha256)["offset"] == PART_MOST_BYTES


def test_a_photo_over_the_cap_is_refused_at_its_first_part(tablet, sha256):
    assert put(tablet, sha256, 0, 15_000_000, b"0" * 9).status_code == 202
    refused(put(tablet, "b" * 64, 0, 15_000_001, b"0" * 9), 413, "photo-too-many-bytes")
    assert PhotoPart.objects.count() == 1


def test_more_than_was_announced_is_refused_and_what_is_here_stands(tablet, raw, sha256):
    put(tablet, sha256, 0, len(raw), raw[:PART])
    refused(put(tablet, sha256, PART, PART + 3, raw[PART : PART + 4]), 422, "photo-longer-than-announced")
    assert progress(tablet, sha256)["offset"] == PART


@pytest.mark.parametrize(
    "headers",
    [
        {"Upload-Offset": "0"},
        {"Upload-Length": "9"},
        {"Upload-Offset": "-1", "Upload-Length": "9"},
        {"Upload-Offset": "0", "Upload-Length": "9.0"},
        {"Upload-Offset": "", "Upload-Length": "9"},
        {"Upload-Offset": "０", "Upload-Length": "9"},
        {"Upload-Offset": "0", "Upload-Length": "9" * 400},
    ],
)  # fmt: skip
def test_half_a_part_is_no_part(tablet, sha256, headers):
    sent = {name: value.encode().decode("latin-1") for name, value in headers.items()}
    answer = tablet.put(f"/sync/photo/{sha256}", b"0", content_type="image/jpeg", headers=sent)
    refused(answer, 400)
    assert not PhotoPart.objects.exists()


def test_sixty_four_half_sent_photos_are_as_many_as_one_person_has(tablet, raw, sha256, people):
    for number in range(MOST_UNFINISHED):
        assert put(tablet, f"{number:064x}", 0, 20, b"0" * 9).status_code == 202
    told = refused(put(tablet, sha256, 0, len(raw), raw[:PART]), 429, "photo-too-many-unfinished")
    assert "64" in told["detail"]
    # What is begun goes on, what comes in one piece comes in, and another person is not held up.
    assert put(tablet, f"{5:064x}", 9, 20, b"0" * 9).status_code == 202
    other = Client()
    other.force_login(people[Role.FITTER])
    assert put(other, sha256, 0, len(raw), raw[:PART]).status_code == 202
    assert tablet.put(f"/sync/photo/{sha256}", raw, content_type="image/jpeg").status_code == 201


def test_two_people_sending_one_photo_each_have_their_own_way_and_one_photo(tablet, raw, sha256):
    other = Client()
    other.force_login(StaffFactory(role=Role.FITTER.value))
    assert put(tablet, sha256, 0, len(raw), raw[:PART]).status_code == 202
    # A part of the one is nothing to the other, whose own bytes may even be wrong.
    assert progress(other, sha256)["offset"] == 0
    assert put(other, sha256, 0, len(raw), b"0" * 99).status_code == 202
    assert (progress(tablet, sha256)["offset"], progress(other, sha256)["offset"]) == (PART, 99)
    last = send(tablet, raw, start=PART)[-1]
    assert last.status_code == 201
    assert progress(other, sha256)["complete"] is True
    answer = put(other, sha256, 99, len(raw), raw[99:PART])
    assert (answer.status_code, answer.json()) == (200, last.json())
    assert Photo.objects.count() == 1
    assert not PhotoPart.objects.exists()


def test_parts_want_the_token_and_a_walker(people, raw, sha256):
    strict = Client(enforce_csrf_checks=True)
    refused(put(strict, sha256, 0, len(raw), raw[:PART]), 403)
    refused(put(Client(), sha256, 0, len(raw), raw[:PART]), 401)
    refused(Client().get(f"/sync/photo/{sha256}"), 401)
    strict.force_login(people[Role.YARD_HAND])
    refused(put(strict, sha256, 0, len(raw), raw[:PART]), 403)
    desk = Client()
    desk.force_login(people[Role.HIRE_DESK])
    refused(put(desk, sha256, 0, len(raw), raw[:PART]), 403)
    assert not PhotoPart.objects.exists()


def test_what_is_no_hash_is_neither_sent_nor_asked_about(tablet):
    for answer in (put(tablet, "a" * 63, 0, 9, b"0"), tablet.get(f"/sync/photo/{'A' * 64}")):
        refused(answer, 422)
