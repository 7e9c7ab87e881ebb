"""Photos that look alike: how far apart two hashes lie, and which ones the database finds near a given one."""

import io
import itertools
import random

import pytest
from PIL import Image, ImageOps

from config.demo.pictures import photo
from fleet.photos.alike import photos_alike
from fleet.photos.child import difference_hash
from fleet.photos.likeness import distance
from inspections.sign_rules import Rules
from tests.factories.fleet import PhotoFactory

HASH = "3c7e0f1182b4d6a9"


def turned(*points: int) -> str:
    return f"{int(HASH, 16) ^ sum(1 << point for point in points):016x}"


@pytest.mark.parametrize(
    ("one", "other", "points"),
    [
        (HASH, HASH, 0),
        (HASH, turned(0), 1),
        (HASH, turned(0, 21, 42, 63), 4),
        (HASH, "0" * 16, None),
        ("f" * 16, "f" * 16, None),
        (f"{0xFF:016x}", f"{0xFF:016x}", 0),
        (f"{0x7F:016x}", f"{0x7F:016x}", None),
        (HASH, "", None),
        (HASH, "no hash", None),
    ],
)
def test_distance(one, other, points):
    assert distance(one, other) == points
    assert distance(other, one) == points


@pytest.mark.django_db
@pytest.mark.parametrize("points", range(8))
def test_everything_near_is_found_and_nothing_else(points):
    """Wherever the turned points lie: in one piece of the hash, spread over all, or at its ends."""
    chance = random.Random(points)
    hashes = [HASH, "0" * 16, "f" * 16]
    hashes += [turned(*chance.sample(range(64), count)) for count in (1, 2, 3, 4, 5, 7, 9) for _ in range(6)]
    hashes += [turned(*range(count)) for count in (1, 2, 3, 4, 5, 7, 9)]
    kept = {PhotoFactory(perceptual_hash=one).pk: one for one in hashes}
    near = photos_alike([HASH], points=points)
    by_hand = {
        pk for pk, one in kept.items() if (apart := distance(HASH, one)) is not None and apart <= points
    }
    assert set(near[HASH]) == by_hand
    assert len(near[HASH]) == len(by_hand)


@pytest.mark.django_db
def test_one_query_however_many_photos(django_assert_num_queries):
    for _ in range(30):
        PhotoFactory()
    with django_assert_num_queries(1):
        assert len(photos_alike([HASH, turned(3), turned(5)], points=3)) == 3
    with django_assert_num_queries(0):
        assert photos_alike([], points=3) == {}


@pytest.mark.parametrize("points", [-1, 16])
def test_a_distance_no_piece_would_find_is_refused(points):
    with pytest.raises(ValueError, match="Between 0 and 15"):
        photos_alike([HASH], points=points)


def test_a_copy_stays_within_the_yards_figure_and_another_picture_does_not():
    """Drawn pictures as the demo has them: each at half its size, and each beside the others of the same kind of thing."""
    most = Rules().photo_points
    pictures = [ImageOps.exif_transpose(Image.open(io.BytesIO(photo(seed)))) for seed in range(12)]
    hashes = [difference_hash(picture) for picture in pictures]
    for picture, whole in zip(pictures, hashes, strict=True):
        half = picture.resize((picture.width // 2, picture.height // 2))
        assert (distance(difference_hash(half), whole) or 0) <= most
    for one, other in itertools.combinations(range(12), 2):
        assert (distance(hashes[one], hashes[other]) or 64) > most, (one, other)
