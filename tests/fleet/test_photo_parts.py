"""Parts of a photo in the database: put down once, joined once, forgotten after a week."""

import contextlib
import hashlib
import threading
from datetime import timedelta
from functools import partial

import pytest
from celery import current_app
from django.conf import settings

from fleet.actions import photo_parts
from fleet.actions.photo_parts import Part, Received, forget_old_parts, received_of, take_part
from fleet.models.photos import Photo, PhotoPart
from fleet.photos.refusals import PhotoRefused
from fleet.tasks import forget_old_photo_parts
from people.journal.models import Entry
from tests.at_once import at_once
from tests.factories.people import StaffFactory
from tests.photo_samples import camera_jpeg

PART, DAY = 20_000, timedelta(days=1)


@pytest.fixture(scope="module")
def raw():
    return camera_jpeg(width=600, height=800)


def part_of(raw, start, *, size=PART):
    return Part(hashlib.sha256(raw).hexdigest(), start, len(raw), raw[start : start + size])


def put_down(*, by, at, number=1, start=0):
    return PhotoPart.objects.create(
        sha256=f"{number:064x}", sender=by.pk, start=start, content=b"0" * 9, received_at=at
    )


@pytest.mark.django_db
def test_the_last_part_is_never_a_row_so_that_a_kill_leaves_it_to_be_sent_again(raw, at, monkeypatch):
    by, parts = StaffFactory(), [part_of(raw, start) for start in range(0, len(raw), PART)]
    for part in parts[:-1]:
        assert take_part(part=part, by=by, at=at).photo is None
    sound = photo_parts.keep_photo

    def killed(**_):
        raise SystemExit

    monkeypatch.setattr(photo_parts, "keep_photo", killed)
    with pytest.raises(SystemExit):
        take_part(part=parts[-1], by=by, at=at)
    assert received_of(sha256=parts[0].sha256, by=by) == Received(parts[-1].start)
    monkeypatch.setattr(photo_parts, "keep_photo", sound)
    assert take_part(part=parts[-1], by=by, at=at).photo == Photo.objects.get()


@pytest.fixture
def meeting(monkeypatch):
    """Whoever has read where an upload ends waits a moment for a second reader: without the lock they meet there."""
    barrier, read = threading.Barrier(2), photo_parts._end_of

    def read_and_wait(*args):
        end = read(*args)
        with contextlib.suppress(threading.BrokenBarrierError):
            barrier.wait(timeout=1)
        return end

    monkeypatch.setattr(photo_parts, "_end_of", read_and_wait)


@pytest.mark.django_db(transaction=True)
def test_one_part_sent_six_times_at_once_is_put_down_once(raw, at, meeting):
    by = StaffFactory()
    act = partial(take_part, part=part_of(raw, 0), by=by, at=at)
    assert at_once(*[act] * 6) == [Received(PART)] * 6
    assert PhotoPart.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_two_cuts_of_one_photo_at_once_do_not_mix(raw, at, meeting):
    """The one that comes second is told where to go on: never a gap, never an overlap."""
    by = StaffFactory()
    sizes = (1000, 2000, 3000)
    given = at_once(*[partial(take_part, part=part_of(raw, 0, size=size), by=by, at=at) for size in sizes])
    [kept] = PhotoPart.objects.all()
    assert {one.offset for one in given} == {len(kept.content)}
    assert sorted(type(one).__name__ for one in given) == ["Received", "WrongOffset", "WrongOffset"]


@pytest.mark.django_db(transaction=True)
def test_the_last_part_sent_six_times_at_once_is_one_photo(raw, at):
    by, other = StaffFactory(), StaffFactory()
    parts = [part_of(raw, start) for start in range(0, len(raw), PART)]
    for part in parts[:-1]:
        for person in (by, other):
            take_part(part=part, by=person, at=at)
    given = at_once(*[partial(take_part, part=parts[-1], by=person, at=at) for person in (by, other) * 3])
    assert given == [Received(0, Photo.objects.get())] * 6
    assert Entry.objects.filter(event="fleet.photo.taken_in").count() == 1
    # What the slower of two left behind goes with the next question or the sweep; nothing of it is joined again.
    assert take_part(part=parts[1], by=other, at=at).photo == Photo.objects.get()
    assert not PhotoPart.objects.filter(sender=other.pk).exists()


@pytest.mark.django_db(transaction=True)
def test_a_flipped_byte_sent_beside_the_sound_one_harms_only_itself(raw, at):
    by, other = StaffFactory(), StaffFactory()
    sound = [part_of(raw, start) for start in range(0, len(raw), PART)]
    bad = Part(sound[0].sha256, 0, len(raw), bytes([raw[0] ^ 1]) + raw[1:PART])
    for person, first in ((by, sound[0]), (other, bad)):
        for part in (first, *sound[1:-1]):
            take_part(part=part, by=person, at=at)
    mine, theirs = at_once(*[partial(take_part, part=sound[-1], by=person, at=at) for person in (by, other)])
    assert mine == Received(0, Photo.objects.get())
    assert isinstance(theirs, PhotoRefused) or theirs == mine


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("age", "is_forgotten"),
    [(7 * DAY - timedelta(seconds=1), False), (7 * DAY, True), (30 * DAY, True)],
)
def test_a_photo_left_alone_for_a_week_is_forgotten(at, age, is_forgotten):
    put_down(by=StaffFactory(), at=at - age)
    assert forget_old_parts(at=at) == is_forgotten
    assert PhotoPart.objects.exists() is not is_forgotten
    assert forget_old_parts(at=at) == 0


@pytest.mark.django_db
def test_a_photo_that_still_comes_keeps_its_old_beginning_and_others_go(at):
    by, other = StaffFactory(), StaffFactory()
    put_down(by=by, at=at - 9 * DAY)
    put_down(by=by, at=at - DAY, start=9)
    # The same photo of another person, and another photo of the same person.
    put_down(by=other, at=at - 9 * DAY)
    put_down(by=by, at=at - 9 * DAY, number=2)
    put_down(by=by, at=at - 8 * DAY, number=2, start=9)
    assert forget_old_parts(at=at) == 2
    assert list(PhotoPart.objects.values_list("sender", "start")) == [(by.pk, 0), (by.pk, 9)]


@pytest.mark.django_db
def test_the_beat_knows_the_sweep_and_the_sweep_knows_the_hour(at):
    put_down(by=StaffFactory(), at=at - 3650 * DAY)
    [name] = [entry["task"] for entry in settings.CELERY_BEAT_SCHEDULE.values() if "photo" in entry["task"]]
    assert current_app.tasks[name].name == forget_old_photo_parts.name
    forget_old_photo_parts()
    assert not PhotoPart.objects.exists()
