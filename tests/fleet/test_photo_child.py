"""The decoding process: what it may not do, what it may not answer, and every hostile file there is."""

import io
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import imagehash
import pytest
from PIL import Image, ImageCms

from fleet.photos import child, intake
from fleet.photos.frames import read_frame, write_frame
from fleet.photos.header import is_bare_jpeg, jpeg_segments, read_header
from fleet.photos.intake import take_in
from fleet.photos.refusals import CouldNotBeRead, PhotoRefused, TookTooLong, TookTooMuchMemory, TooManyPixels
from tests.hostile_photos import PAYLOAD, HostileFile, whole_corpus
from tests.photo_samples import camera_jpeg, leftovers, plain, png_of, scene, with_jpeg_segment

PROJECT = Path(__file__).parents[2]


def fate(file: HostileFile) -> str | None:
    """What went wrong with one hostile file, in words; None when it met the fate it should."""
    try:
        photo = take_in(file.raw, expected_sha256=None)
    except PhotoRefused as refusal:
        told = refusal.sentence.endswith(".") and refusal.sentence[0].isupper()
        return None if refusal.code in file.refused_as and told else f"{file.name}: refused as {refusal.code}"
    if file.refused_as and not file.may_pass:
        return f"{file.name}: taken in"
    clean = all(not leftovers(kept) and PAYLOAD not in kept for kept in (photo.stored, photo.print_copy))
    return None if clean else f"{file.name}: something of it was kept"


def test_the_whole_corpus_is_refused_or_made_harmless() -> None:
    corpus = whole_corpus()
    assert len(corpus) > 200
    assert len({file.name for file in corpus}) == len(corpus)
    with ThreadPoolExecutor(2) as pool:
        assert [words for words in pool.map(fate, corpus) if words] == []


def in_a_process(script: str) -> str:
    """Run a few lines in a process of their own, as the child runs, and give back what they print."""
    command = [sys.executable, "-s", "-c", script]
    return subprocess.run(command, env={}, cwd=PROJECT, capture_output=True, text=True, check=True).stdout


class TestTheCage:
    def test_the_decoder_knows_nothing_of_the_rest(self) -> None:
        loaded = in_a_process("import sys, fleet.photos.child; print(*sys.modules)").split()
        assert "PIL.Image" in loaded
        foreign = {"django", "psycopg", "celery", "redis", "socket", "ssl", "numpy"}
        assert foreign.isdisjoint(name.partition(".")[0] for name in loaded)

    @pytest.mark.parametrize(
        "deed",
        [
            pytest.param("open('/etc/hostname')", id="read a file"),
            pytest.param("open('/tmp/slake-cage', 'w')", id="write a file"),
            pytest.param("socket.socket()", id="open a socket"),
            pytest.param("socket.create_connection(('127.0.0.1', 9))", id="connect"),
            pytest.param("os.pipe()", id="open a pipe"),
            pytest.param("subprocess.run(['/bin/true'])", id="start a program"),
        ],
    )
    def test_once_shut_in_nothing_can_be_opened(self, deed: str) -> None:
        script = f"""
import os, socket, subprocess
from fleet.photos import child
child.shut_in()
try:
    {deed}
except OSError as error:
    print(error.errno)
"""
        assert in_a_process(script).split() == [str(24)]  # EMFILE

    def test_it_starts_with_nothing_of_ours_in_its_environment(self, monkeypatch: pytest.MonkeyPatch) -> None:
        seen: dict[str, Any] = {}
        real_run = subprocess.run

        def watched(*args: Any, **options: Any) -> subprocess.CompletedProcess[bytes]:
            seen.update(options)
            return real_run(*args, **options)

        monkeypatch.setattr(subprocess, "run", watched)
        monkeypatch.setenv("SLAKE_SECRET_KEY", "not for the decoder")
        take_in(plain(), expected_sha256=None)
        assert os.environ["SLAKE_SECRET_KEY"]
        assert seen["env"] == {}
        assert seen["stderr"] == subprocess.DEVNULL

    def test_running_out_of_memory_in_the_decoder_is_said_so(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(intake, "_memory_needed_bytes", lambda *_: 0)
        limits = intake.IntakeLimits(memory_bytes=96 * 2**20)
        with pytest.raises(TookTooMuchMemory):
            take_in(png_of(5000, 5000, bit_depth=8, colour=2), expected_sha256=None, limits=limits)

    @pytest.mark.parametrize(
        ("exit_code", "refusal", "how"),
        [
            pytest.param(-24, TookTooLong, None, id="out of processor time"),
            pytest.param(-9, TookTooMuchMemory, None, id="killed by the machine"),
            pytest.param(-11, CouldNotBeRead, "exit -11", id="decoder crashed"),
            pytest.param(1, CouldNotBeRead, "exit 1", id="decoder failed"),
            pytest.param(0, CouldNotBeRead, "The frame is cut short.", id="no answer"),
        ],
    )
    def test_how_it_ends_decides_what_is_said(
        self, monkeypatch: pytest.MonkeyPatch, exit_code: int, refusal: type[PhotoRefused], how: str | None
    ) -> None:
        ended = subprocess.CompletedProcess[bytes]([], exit_code)
        monkeypatch.setattr(subprocess, "run", lambda *_, **__: ended)
        with pytest.raises(refusal) as raised:
            take_in(plain(), expected_sha256=None)
        assert getattr(raised.value, "how", None) == how


SOUND_FACTS: dict[str, Any] = {
    "width": 320,
    "height": 240,
    "perceptual_hash": "00ff00ff00ff00ff",
    "taken": "",
    "offset": "",
    "had_position": False,
}


class TestWhatItMayAnswer:
    def answer(
        self, monkeypatch: pytest.MonkeyPatch, facts: dict[str, Any], *parts: bytes
    ) -> intake.TakenPhoto:
        monkeypatch.setattr(intake, "_decode_apart", lambda *_: (facts, parts))
        return take_in(plain(), expected_sha256=None)

    def test_a_sound_answer_is_believed(self, monkeypatch: pytest.MonkeyPatch) -> None:
        photo = self.answer(monkeypatch, SOUND_FACTS, plain(), plain())
        assert photo.perceptual_hash == "00ff00ff00ff00ff"

    @pytest.mark.parametrize(
        "parts",
        [
            pytest.param((), id="no pictures"),
            pytest.param((plain(),), id="one picture"),
            pytest.param((plain(), plain(), plain()), id="three pictures"),
            pytest.param((plain("PNG"), plain()), id="another kind"),
            pytest.param((PAYLOAD, plain()), id="no picture at all"),
            pytest.param((plain(size=(321, 240)), plain()), id="another size than it says"),
            pytest.param((plain() + PAYLOAD, plain()), id="something behind the picture"),
            pytest.param((with_jpeg_segment(plain(), 0xFE, PAYLOAD), plain()), id="a comment in the picture"),
            pytest.param((camera_jpeg(width=320, height=240, orientation=1), plain()), id="metadata"),
            pytest.param((plain(), plain(size=(601, 10))), id="print copy too long"),
            pytest.param((plain(), plain() + b"x"), id="something behind the print copy"),
        ],
    )
    def test_pictures_it_could_not_have_drawn_are_refused(
        self, monkeypatch: pytest.MonkeyPatch, parts: tuple[bytes, ...]
    ) -> None:
        with pytest.raises(CouldNotBeRead, match="damaged"):
            self.answer(monkeypatch, SOUND_FACTS, *parts)

    @pytest.mark.parametrize(
        "odd",
        [
            pytest.param({"width": "320"}, id="a size in words"),
            pytest.param({"width": 1601, "height": 1200}, id="too long a side"),
            pytest.param({"perceptual_hash": "00FF00FF00FF00FF"}, id="hash in capitals"),
            pytest.param({"perceptual_hash": "'; drop table"}, id="hash of another kind"),
            pytest.param({"taken": None}, id="no clock"),
            pytest.param({"had_position": 1}, id="a number for yes"),
        ],
    )
    def test_facts_of_the_wrong_shape_are_refused(
        self, monkeypatch: pytest.MonkeyPatch, odd: dict[str, Any]
    ) -> None:
        with pytest.raises(CouldNotBeRead):
            self.answer(monkeypatch, SOUND_FACTS | odd, plain(), plain())

    @pytest.mark.parametrize(
        ("word", "refusal"),
        [
            ("memory", TookTooMuchMemory),
            ("pixels", TooManyPixels),
            ("damaged", CouldNotBeRead),
            ("?", CouldNotBeRead),
        ],
    )
    def test_its_own_refusals_are_passed_on(
        self, monkeypatch: pytest.MonkeyPatch, word: str, refusal: type[PhotoRefused]
    ) -> None:
        with pytest.raises(refusal):
            self.answer(monkeypatch, {"refused": word})


class TestHowItDraws:
    def test_the_difference_hash_is_the_published_one(self) -> None:
        for seed in range(1, 6):
            picture = scene(600, 450, seed=seed)
            assert child.difference_hash(picture) == str(imagehash.dhash(picture))

    def test_a_flat_picture_has_an_empty_hash(self) -> None:
        assert child.difference_hash(Image.new("RGB", (600, 450), (9, 9, 9))) == "0" * 16

    @pytest.mark.parametrize("size", [(4000, 3000), (5001, 2999), (3999, 7001), (4100, 3)])
    def test_reducing_in_strips_gives_what_reducing_at_once_gives(self, size: tuple[int, int]) -> None:
        picture = scene(40, 30).resize(size)
        target = child.fitted(size, 400)
        factor = int(min(size[0] / target[0], size[1] / target[1]) / 1.25)
        at_once = picture.reduce(factor).resize(target, Image.Resampling.HAMMING)
        assert child.shrunk(picture, target).tobytes() == at_once.tobytes()

    def test_colours_are_kept_when_their_profile_is_dropped(self) -> None:
        srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        swapped = srgb.replace(b"rXYZ", b"?XYZ").replace(b"bXYZ", b"rXYZ").replace(b"?XYZ", b"bXYZ")
        swapped = swapped.replace("sRGB".encode("utf-16-be"), "Wide".encode("utf-16-be"))
        red = Image.new("RGB", (8, 8), (200, 20, 20))
        assert child.in_srgb(red, srgb).getpixel((4, 4)) == (200, 20, 20)
        assert child.in_srgb(red, swapped).getpixel((4, 4)) == pytest.approx((20, 20, 200), abs=2)

    @pytest.mark.parametrize("profile", [None, b"", b"junk" * 40], ids=["none", "empty", "junk"])
    def test_a_profile_that_says_nothing_changes_nothing(self, profile: bytes | None) -> None:
        red = Image.new("RGB", (8, 8), (200, 20, 20))
        assert child.in_srgb(red, profile).getpixel((4, 4)) == (200, 20, 20)


class TestFramesAndHeaders:
    def test_a_frame_comes_back_as_it_went(self) -> None:
        stream = io.BytesIO()
        write_frame(stream, {"a": [1, "é"]}, b"", b"\x00" * 300)
        stream.seek(0)
        assert read_frame(stream) == ({"a": [1, "é"]}, (b"", b"\x00" * 300))

    @pytest.mark.parametrize("cut", [0, 3, 10, 25, 400], ids=lambda cut: f"at {cut}")
    def test_a_frame_cut_short_is_refused(self, cut: int) -> None:
        stream = io.BytesIO()
        write_frame(stream, {"words": "fifteen or so"}, b"\x00" * 400)
        with pytest.raises(ValueError, match="cut short"):
            read_frame(io.BytesIO(stream.getvalue()[:cut]))

    def test_facts_have_to_be_an_object(self) -> None:
        with pytest.raises(ValueError, match="not an object"):
            read_frame(io.BytesIO(b"\x00\x00\x00\x02[]"))

    @pytest.mark.parametrize(
        ("kind", "options"),
        [
            ("JPEG", {}),
            ("JPEG", {"progressive": True}),
            ("PNG", {}),
            ("WEBP", {}),
            ("WEBP", {"lossless": True}),
            ("WEBP", {"exif": b"Exif\x00\x00"}),
        ],
        ids=str,
    )
    def test_a_header_is_read_as_pillow_reads_it(self, kind: str, options: dict[str, Any]) -> None:
        header = read_header(plain(kind, size=(317, 211), **options))
        assert header is not None
        assert (header.kind, header.width, header.height, header.is_whole) == (kind, 317, 211, True)

    @pytest.mark.parametrize(
        ("subsampling", "per_pixel"), [(0, 6), (1, 4), (2, 3)], ids=["4:4:4", "4:2:2", "4:2:0"]
    )
    def test_what_a_progressive_jpeg_holds_in_memory(self, subsampling: int, per_pixel: int) -> None:
        header = read_header(plain(size=(640, 480), progressive=True, subsampling=subsampling))
        assert header is not None
        assert header.codec_bytes == 640 * 480 * per_pixel

    def test_a_bare_jpeg_is_pixels_and_nothing_else(self) -> None:
        assert is_bare_jpeg(plain())
        assert not is_bare_jpeg(plain()[:-2])
        assert not is_bare_jpeg(plain() + b"\x00")
        assert not is_bare_jpeg(plain("PNG"))
        assert not is_bare_jpeg(with_jpeg_segment(plain(), 0xE0, b"JFXX\x00" + bytes(9)))

    def test_the_walk_over_a_jpeg_ends_at_its_end(self) -> None:
        assert [segment.marker for segment in jpeg_segments(plain() + plain())][-1] == 0xD9

    def test_the_walk_over_a_file_of_crumbs_is_given_up(self) -> None:
        crumbs = b"\xff\xd8" + b"\xff\xfe\x00\x02" * 100_000
        assert len(list(jpeg_segments(crumbs + b"\xff\xd9"))) == 20_000
