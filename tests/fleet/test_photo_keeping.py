"""A photo is taken in once, however often and by however many it is sent."""

import hashlib
from functools import partial

import pytest

from fleet.actions import photos
from fleet.actions.photos import keep_photo
from fleet.models.photos import Photo
from fleet.photos import store
from fleet.photos.refusals import HashDiffers, NotAPicture
from people.journal.models import Entry
from people.roles import Role
from tests.at_once import at_once
from tests.factories.people import StaffFactory
from tests.fleet.journal import entries_of
from tests.photo_samples import camera_jpeg


@pytest.fixture(scope="module")
def raw():
    return camera_jpeg()


@pytest.mark.django_db
def test_a_photo_is_kept_under_both_its_hashes(raw, people, at):
    hand = people[Role.YARD_HAND]
    digest = hashlib.sha256(raw).hexdigest()
    photo = keep_photo(raw=raw, expected_sha256=digest, by=hand, at=at)
    assert (photo.original_sha256, photo.received_from, photo.received_at) == (digest, hand, at)
    kept = store.open(photo.stored_name).getvalue()
    assert hashlib.sha256(kept).hexdigest() == photo.stored_sha256 != digest
    assert len(kept) == photo.size_bytes
    assert len(store.open(photo.print_name).getvalue()) < len(kept)
    [(event, facts)] = entries_of(None)
    assert event == "fleet.photo.taken_in"
    assert facts["original_sha256"] == digest


@pytest.mark.django_db
def test_the_same_file_again_changes_nothing_and_is_not_decoded(raw, people, at, monkeypatch):
    first = keep_photo(raw=raw, expected_sha256=None, by=people[Role.YARD_HAND], at=at)
    monkeypatch.setattr(photos, "take_in", lambda *_args, **_kwargs: pytest.fail("decoded again"))
    again = keep_photo(raw=raw, expected_sha256=first.original_sha256.upper(), by=people[Role.FITTER], at=at)
    assert again == first
    assert again.received_from == people[Role.YARD_HAND]
    assert len(entries_of(None)) == 1


@pytest.mark.django_db
def test_a_customers_phone_is_named_as_such(raw, at):
    keep_photo(raw=raw, expected_sha256=None, by=None, at=at)
    assert Entry.objects.get().by_words == "A customer’s phone"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("before", "expected", "refusal"),
    [(b"", "0" * 64, HashDiffers), (b"%PDF-1.7 ", None, NotAPicture)],
    ids=["changed on its way", "a renamed PDF"],
)
def test_what_is_no_photo_leaves_nothing_behind(raw, at, before, expected, refusal):
    with pytest.raises(refusal):
        keep_photo(raw=before + raw, expected_sha256=expected, by=StaffFactory(), at=at)
    assert not Photo.objects.exists()
    assert not Entry.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_two_tablets_sending_one_photo_at_once_share_its_row(raw, at):
    send = partial(keep_photo, raw=raw, expected_sha256=None, by=StaffFactory(), at=at)
    first, second = at_once(send, send)
    assert first == second == Photo.objects.get()
    assert len(entries_of(None)) == 1
