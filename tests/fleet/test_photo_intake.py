"""What the intake keeps of a photo, and what it refuses: by its bytes, by its header, by the decoder."""

import hashlib
import io
import random
import re
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import imagehash
import pytest
from PIL import Image, ImageChops

from fleet.photos.header import is_bare_jpeg, looks_like
from fleet.photos.intake import DEFAULT_LIMITS, IntakeLimits, TakenPhoto, take_in
from fleet.photos.refusals import (
    CouldNotBeRead,
    CutShort,
    HashDiffers,
    NotAPicture,
    PhotoRefused,
    TookTooLong,
    TookTooMuchMemory,
    TooManyBytes,
    TooManyPixels,
    TwoFilesInOne,
)
from tests.hostile_photos import renamed_files
from tests.photo_samples import (
    CAMERA_TRACES,
    camera_jpeg,
    leftovers,
    plain,
    png_of,
    scan_bomb,
    scene,
    with_jpeg_segment,
    with_jpeg_size,
)


def taken(raw: bytes, limits: IntakeLimits = DEFAULT_LIMITS) -> TakenPhoto:
    return take_in(raw, expected_sha256=None, limits=limits)


def opened(raw: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(raw))
    image.load()
    return image


def mean_difference(one: Image.Image, other: Image.Image) -> float:
    difference = ImageChops.difference(one.convert("RGB"), other.convert("RGB")).convert("L")
    counts = difference.histogram()
    return sum(value * count for value, count in enumerate(counts)) / (one.width * one.height)


class TestWhatIsKept:
    def test_a_camera_photo_is_turned_shrunk_and_stripped(self) -> None:
        raw = camera_jpeg(width=3024, height=4032, orientation=6)
        photo = taken(raw)
        assert (photo.width, photo.height) == (1200, 1600) == opened(photo.stored).size
        assert max(opened(photo.print_copy).size) == 600
        assert mean_difference(opened(photo.stored), scene(3024, 4032).resize((1200, 1600))) < 6
        for kept in (photo.stored, photo.print_copy):
            assert leftovers(kept) == []
            assert not any(trace in kept for trace in CAMERA_TRACES)
        assert all(trace in raw for trace in CAMERA_TRACES)

    def test_both_hashes_are_kept(self) -> None:
        raw = camera_jpeg(width=300, height=400)
        photo = take_in(raw, expected_sha256=hashlib.sha256(raw).hexdigest().upper())
        assert photo.original_sha256 == hashlib.sha256(raw).hexdigest()
        assert photo.stored_sha256 == hashlib.sha256(photo.stored).hexdigest() != photo.original_sha256

    @pytest.mark.parametrize("orientation", range(1, 9))
    def test_a_photo_stands_upright_however_the_camera_was_held(self, orientation: int) -> None:
        photo = taken(camera_jpeg(width=300, height=400, orientation=orientation))
        assert (photo.width, photo.height) == (300, 400)
        assert mean_difference(opened(photo.stored), scene(300, 400)) < 8

    @pytest.mark.parametrize(
        ("size", "kept"),
        [
            pytest.param((1599, 1000), (1599, 1000), id="under"),
            pytest.param((1600, 1000), (1600, 1000), id="on"),
            pytest.param((1601, 1000), (1600, 999), id="over"),
            pytest.param((20, 10), (20, 10), id="small stays small"),
            pytest.param((6000, 2), (1600, 1), id="a thread keeps a pixel"),
        ],
    )
    def test_the_long_side_comes_down_to_1600_and_never_up(
        self, size: tuple[int, int], kept: tuple[int, int]
    ) -> None:
        photo = taken(plain("PNG", size=size))
        assert (photo.width, photo.height) == kept == opened(photo.stored).size

    @pytest.mark.parametrize(
        ("raw", "colour"),
        [
            pytest.param(plain("JPEG", mode="CMYK"), None, id="four-colour JPEG"),
            pytest.param(plain("JPEG", mode="L"), None, id="grey JPEG"),
            pytest.param(plain("JPEG", progressive=True), None, id="progressive JPEG"),
            pytest.param(plain("PNG", mode="P"), None, id="palette PNG"),
            pytest.param(plain("PNG", mode="1"), None, id="black and white PNG"),
            pytest.param(plain("WEBP"), None, id="WebP"),
            pytest.param(plain("WEBP", mode="RGBA", lossless=True), None, id="lossless WebP"),
            pytest.param(
                png_of(64, 64, bit_depth=8, colour=6), (255, 255, 255), id="see-through lies on white"
            ),
            pytest.param(png_of(64, 64, bit_depth=16, colour=0), (0, 0, 0), id="sixteen-bit grey"),
        ],
    )
    def test_every_kind_of_allowed_picture_comes_out_as_a_plain_jpeg(
        self, raw: bytes, colour: tuple[int, int, int] | None
    ) -> None:
        stored = taken(raw).stored
        assert opened(stored).mode == "RGB"
        assert is_bare_jpeg(stored)
        assert colour in (None, opened(stored).getpixel((10, 10)))

    def test_sixteen_bit_grey_keeps_its_tones(self) -> None:
        kept = io.BytesIO()
        Image.new("I;16", (64, 64), 0x8000).save(kept, "PNG")
        assert opened(taken(kept.getvalue()).stored).getpixel((10, 10)) == (128, 128, 128)

    @pytest.mark.parametrize("colour", [0, 2, 6], ids=["grey", "colour", "colour with transparency"])
    def test_a_40_megapixel_picture_fits_in_the_memory_given(self, colour: int) -> None:
        photo = taken(png_of(8000, 5000, bit_depth=8, colour=colour))
        assert (photo.width, photo.height) == (1600, 1000)

    def test_a_second_picture_behind_the_first_is_left_behind(self) -> None:
        kept = io.BytesIO()
        scene(320, 240).save(kept, "MPO", save_all=True, append_images=[scene(320, 240, seed=2)])
        photo = taken(kept.getvalue())
        assert (photo.width, photo.height) == (320, 240)
        assert len(photo.stored) < len(kept.getvalue())


class TestWhenAndWhere:
    @pytest.mark.parametrize(
        ("written", "offset", "words", "at"),
        [
            pytest.param(
                "2026:03:02 06:41:10", None, "2026-03-02 06:41:10", None, id="no offset, no instant"
            ),
            pytest.param(
                "2026:03:02 06:41:10",
                "+10:30",
                "2026-03-02 06:41:10 +10:30",
                datetime(2026, 3, 1, 20, 11, 10, tzinfo=UTC),
                id="half-hour offset, over midnight",
            ),
            pytest.param(
                "2024:02:29 23:59:59",
                "-05:00",
                "2024-02-29 23:59:59 -05:00",
                datetime(2024, 3, 1, 4, 59, 59, tzinfo=UTC),
                id="leap day",
            ),
            pytest.param("2026:02:29 10:00:00", None, "", None, id="a day that never was"),
            pytest.param("0000:00:00 00:00:00", None, "", None, id="a clock never set"),
            pytest.param("<b>yesterday</b>", None, "", None, id="words"),
            pytest.param(
                "2026:03:02 06:41:10", "+99:00", "2026-03-02 06:41:10", None, id="impossible offset"
            ),
            pytest.param("0001:01:01 00:00:00", "+10:30", "0001-01-01 00:00:00", None, id="before all time"),
            pytest.param(None, None, "", None, id="nothing written"),
        ],
    )
    def test_the_cameras_clock(
        self, written: str | None, offset: str | None, words: str, at: datetime | None
    ) -> None:
        photo = taken(camera_jpeg(width=60, height=80, taken=written, offset=offset))
        assert (photo.taken_words, photo.taken_at) == (words, at)

    @pytest.mark.parametrize("has_position", [True, False])
    def test_whether_a_position_came_with_it(self, *, has_position: bool) -> None:
        assert taken(camera_jpeg(width=60, height=80, has_position=has_position)).had_position is has_position

    def test_a_picture_without_notes_has_neither(self) -> None:
        photo = taken(plain("PNG"))
        assert (photo.taken_words, photo.taken_at, photo.had_position) == ("", None, False)


class TestPerceptualHash:
    def test_it_is_the_published_difference_hash(self) -> None:
        photo = taken(camera_jpeg(width=900, height=1200))
        theirs = imagehash.dhash(opened(photo.print_copy))
        assert imagehash.hex_to_hash(photo.perceptual_hash) - theirs <= 2

    def test_it_survives_shrinking_and_re_encoding_and_tells_pictures_apart(self) -> None:
        def hashed(picture: Image.Image, **options: int) -> imagehash.ImageHash:
            kept = io.BytesIO()
            picture.save(kept, "JPEG", **options)
            return imagehash.hex_to_hash(taken(kept.getvalue()).perceptual_hash)

        first = hashed(scene(900, 1200))
        assert first - hashed(scene(900, 1200).resize((450, 600)), quality=40) <= 6
        assert first - hashed(Image.radial_gradient("L").resize((900, 1200))) >= 12


class TestRefusals:
    def test_bytes_up_to_the_cap(self) -> None:
        raw = plain()
        on, under = (
            replace(DEFAULT_LIMITS, most_bytes=len(raw)),
            replace(DEFAULT_LIMITS, most_bytes=len(raw) - 1),
        )
        assert taken(raw, on).width == 320
        with pytest.raises(TooManyBytes) as refusal:
            taken(raw, under)
        assert (refusal.value.size_bytes, refusal.value.most_bytes) == (len(raw), len(raw) - 1)

    @pytest.mark.parametrize(
        ("size_bytes", "words"),
        [(30_000_000, "30.0 MB"), (15_000_001, "15.1 MB")],
        ids=["30 MB", "a byte over"],
    )
    def test_a_file_too_big_is_told_so_in_megabytes(self, size_bytes: int, words: str) -> None:
        with pytest.raises(TooManyBytes) as refusal:
            taken(bytes(size_bytes))
        assert f"is {words} and the most that can be taken in is 15 MB" in refusal.value.sentence

    def test_bytes_other_than_announced(self) -> None:
        raw, other = plain(), hashlib.sha256(b"other").hexdigest()
        with pytest.raises(HashDiffers, match="what came is not what was sent") as refusal:
            take_in(raw, expected_sha256=other)
        assert refusal.value.announced_sha256 == other
        assert refusal.value.found_sha256 == hashlib.sha256(raw).hexdigest()

    @pytest.mark.parametrize("name", renamed_files())
    def test_a_renamed_file_is_called_what_it_is(self, name: str) -> None:
        raw, words = renamed_files()[name]
        with pytest.raises(NotAPicture) as refusal:
            taken(raw)
        assert refusal.value.found == words == looks_like(raw)
        assert refusal.value.sentence.startswith(f"This file is {words}, not a photo.")

    def test_a_picture_that_is_also_a_pdf(self) -> None:
        with pytest.raises(TwoFilesInOne, match="a PDF hidden in it") as refusal:
            taken(with_jpeg_segment(plain(), 0xFE, b"%PDF-1.7"))
        assert refusal.value.found == "a PDF"

    def test_a_jpeg_that_breaks_off(self) -> None:
        raw = camera_jpeg(width=900, height=1200)
        with pytest.raises(CutShort, match="its end is missing") as refusal:
            taken(raw[: len(raw) * 2 // 3])
        assert refusal.value.size_bytes == len(raw) * 2 // 3

    @pytest.mark.parametrize(
        ("most_pixels", "passes"), [(76_800, True), (76_799, False)], ids=["on the cap", "one over"]
    )
    def test_pixels_up_to_the_cap(self, most_pixels: int, *, passes: bool) -> None:
        limits = replace(DEFAULT_LIMITS, most_pixels=most_pixels)
        if passes:
            assert taken(plain(size=(320, 240)), limits).width == 320
            return
        with pytest.raises(TooManyPixels) as refusal:
            taken(plain(size=(320, 240)), limits)
        assert (refusal.value.width, refusal.value.height) == (320, 240)

    def test_a_bomb_of_200_megapixels(self) -> None:
        with pytest.raises(TooManyPixels, match=r"20000 x 10000 pixels .* 40 million"):
            taken(png_of(20_000, 10_000))

    def test_pixels_of_junk(self) -> None:
        raw = plain("PNG")
        with pytest.raises(CouldNotBeRead, match=r"damaged and can't be read"):
            taken(raw[:100] + random.Random(5).randbytes(50) + raw[150:])

    def test_more_memory_than_the_decoder_is_given(self) -> None:
        with pytest.raises(TookTooMuchMemory, match="7000 x 5700 pixels needs too much memory") as refusal:
            taken(with_jpeg_size(plain(progressive=True, subsampling=0), 7000, 5700))
        assert refusal.value.most_bytes == 256 * 2**20

    def test_more_work_than_the_decoder_is_given(self) -> None:
        with pytest.raises(TookTooLong, match="took too long") as refusal:
            taken(scan_bomb(4000, scans=400), replace(DEFAULT_LIMITS, cpu_seconds=1))
        assert refusal.value.cpu_seconds == 1

    def test_more_time_by_the_clock_than_the_decoder_is_given(self) -> None:
        with pytest.raises(TookTooLong) as refusal:
            taken(plain(), replace(DEFAULT_LIMITS, wall_seconds=0.001))
        assert refusal.value.wall_seconds == 0.001

    def test_the_page_lists_every_refusal(self) -> None:
        page = (Path(__file__).parents[2] / "docs" / "photos.md").read_text(encoding="utf-8")
        listed = re.findall(r"^\| (photo-[a-z-]+) \|", page, flags=re.MULTILINE)
        assert sorted(listed) == sorted(refusal.code for refusal in PhotoRefused.__subclasses__())
        assert len(set(listed)) == len(listed)
