"""Files that mean no good to a photo intake: over two hundred, each with what should become of it.

They are put together here from a seed, so two runs give the same bytes. Nothing in them does anything.
"""

import io
import random
import struct
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from tests.photo_samples import (
    plain,
    png_chunk,
    png_of,
    scene,
    webp_claiming,
    with_jpeg_segment,
    with_jpeg_size,
)

PAYLOAD = b"<script>alert('slake-payload')</script>"


@dataclass(frozen=True, slots=True)
class HostileFile:
    """A file to be refused with one of `refused_as`, or, where that is empty, taken in with nothing of it left.

    `may_pass` marks a file that is damaged so little that a decoder may make sense of it.
    """

    name: str
    raw: bytes
    refused_as: frozenset[str] = frozenset()
    may_pass: bool = False


def hostile_corpus() -> Iterator[HostileFile]:
    """Over two hundred files: no picture at all, two files in one, cut short, far too big, corrupt, and laden."""
    yield from _no_pictures()
    yield from _two_in_one()
    yield from _cut_short()
    yield from _too_big()
    yield from _laden()
    yield from _corrupt()


def _refused(name: str, raw: bytes, *codes: str) -> HostileFile:
    return HostileFile(name, raw, frozenset(f"photo-{code}" for code in codes))


def renamed_files() -> dict[str, tuple[bytes, str]]:
    """Files somebody might send under the name photo.jpg: what each is, its bytes, and how a refusal calls it."""
    svg = b'<svg xmlns="http://www.w3.org/2000/svg">' + PAYLOAD + b"</svg>"
    zipped = io.BytesIO()
    with zipfile.ZipFile(zipped, "w") as archive:
        archive.writestr("word/document.xml", "x" * 100)
    return {
        "pdf": (plain("PDF"), "a PDF"),
        "gif": (plain("GIF"), "a GIF"),
        "moving gif": (plain("GIF", save_all=True, append_images=[scene(320, 240, seed=2)]), "a GIF"),
        "gif with script": (b"GIF89a/*" + PAYLOAD + b"*/", "a GIF"),
        "eps": (plain("EPS"), "a PostScript drawing"),
        "eps with preview": (b"\xc5\xd0\xd3\xc6" + plain("EPS"), "a PostScript drawing"),
        "postscript": (b"%!PS-Adobe-3.0\n(/etc/passwd) run\n", "a PostScript drawing"),
        "svg": (svg, "an SVG drawing"),
        "svg with declaration": (b'<?xml version="1.0"?>\n' + svg, "an SVG drawing"),
        "html": (b"<html><body>" + PAYLOAD + b"</body></html>", "a web page"),
        "html after blanks": (b"\n\n   <!DOCTYPE html><html>" + PAYLOAD, "a web page"),
        "bare script": (PAYLOAD, "a web page"),
        "php": (b"<?php system($_GET['c']); ?>", "a program"),
        "program": (b"\x7fELF\x02\x01\x01" + bytes(64), "a program"),
        "windows program": (b"MZ\x90\x00" + bytes(64), "a program"),
        "office document": (zipped.getvalue(), "a zip or an office document"),
        "tiff": (plain("TIFF"), "a TIFF picture"),
        "big-endian tiff": (b"MM\x00*" + bytes(32), "a TIFF picture"),
        "bitmap": (plain("BMP"), "a bitmap"),
        "heic": (b"\x00\x00\x00\x18ftypheic" + bytes(64), "a HEIC picture"),
        "avif": (b"\x00\x00\x00\x18ftypavif" + bytes(64), "a HEIC picture"),
        "video": (b"\x00\x00\x00\x18ftypisom" + bytes(64), "a video"),
        "text": (b"left rear tyre, 3.2 mm\n", "something else"),
        "portable pixmap": (plain("PPM"), "something else"),
        "icon": (plain("ICO"), "something else"),
        "targa": (plain("TGA"), "something else"),
        "pcx": (plain("PCX"), "something else"),
        "dds": (plain("DDS"), "something else"),
        "sound": (b"RIFF\x24\x00\x00\x00WAVEfmt " + bytes(32), "something else"),
        "empty": (b"", "empty"),
        "blanks": (b" " * 64, "something else"),
        "one byte": (b"\xff", "something else"),
        "start marker alone": (b"\xff\xd8", "something else"),
        "zeros": (bytes(4096), "something else"),
    }


def _no_pictures() -> Iterator[HostileFile]:
    for name, (raw, _words) in renamed_files().items():
        yield _refused(f"renamed {name}", raw, "not-a-picture")


def _two_in_one() -> Iterator[HostileFile]:
    jpeg, png, webp = plain(), plain("PNG"), plain("WEBP")
    foreign = {
        "pdf": b"%PDF-1.7\n1 0 obj",
        "svg": b"<svg onload=x>",
        "html": b"<HTML><body>",
        "doctype": b"<!DOCTYPE html>",
        "script": PAYLOAD,
        "php": b"<?php echo 1; ?>",
        "postscript": b"%!PS-Adobe-3.0 EPSF",
    }
    for name, words in foreign.items():
        for place, marker in (("comment", 0xFE), ("application segment", 0xEF), ("exif", 0xE1)):
            prefix = b"Exif\0\0" if marker == 0xE1 else b""
            yield _refused(
                f"{name} in jpeg {place}", with_jpeg_segment(jpeg, marker, prefix + words), "two-files-in-one"
            )
        chunk = png_chunk(b"tEXt", b"Comment\0" + words)
        yield _refused(f"{name} in png text", png[:33] + chunk + png[33:], "two-files-in-one")
        for kind, raw in (("jpeg", jpeg), ("png", png), ("webp", webp)):
            yield _refused(f"{name} before {kind}", words + raw, "not-a-picture")
            yield HostileFile(f"{name} behind {kind}", raw + words)
    zipped = renamed_files()["office document"][0]
    for name, tail in (
        ("zip", zipped),
        ("video", b"\0\0\0\x18ftypmp42" + bytes(500)),
        ("jpeg", jpeg),
        ("program", b"MZ" * 99),
    ):
        for kind, raw in (("jpeg", jpeg), ("png", png), ("webp", webp)):
            yield HostileFile(f"{name} behind {kind}", raw + tail)
    yield _refused("gif head on a jpeg", b"GIF89a" + jpeg, "not-a-picture")


def _cut_short() -> Iterator[HostileFile]:
    sound = {
        "jpeg": plain(),
        "progressive jpeg": plain(progressive=True),
        "png": plain("PNG"),
        "webp": plain("WEBP"),
    }
    for kind, raw in sound.items():
        for part in range(1, 10):
            cut = raw[: len(raw) * part // 10]
            yield _refused(f"{kind} cut at {part} tenths", cut, "cut-short")
        for missing in (1, 2):
            yield _refused(f"{kind} without its last {missing}", raw[:-missing], "cut-short")
        yield _refused(f"{kind} start alone", raw[:12], "cut-short")
    jpeg = sound["jpeg"]
    half = jpeg[: len(jpeg) // 2]
    yield _refused("jpeg, half and zeros", half + bytes(len(half)), "cut-short")
    yield HostileFile(
        "jpeg, half and an end", half + b"\xff\xd9", frozenset(("photo-damaged",)), may_pass=True
    )


def _too_big() -> Iterator[HostileFile]:
    jpeg, progressive = plain(), plain(progressive=True, subsampling=0)
    yield _refused("200-megapixel png", png_of(20_000, 10_000), "too-many-pixels")
    for width, height in ((16_384, 12_208), (65_535, 65_535), (40_000, 1_001), (65_500, 612)):
        yield _refused(
            f"jpeg claiming {width} x {height}", with_jpeg_size(jpeg, width, height), "too-many-pixels"
        )
        yield _refused(
            f"progressive claiming {width} x {height}",
            with_jpeg_size(progressive, width, height),
            "too-many-pixels",
        )
        head = png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 6, 0, 0, 0))
        yield _refused(
            f"png claiming {width} x {height}", png_of(1, 1)[:8] + head + png_of(1, 1)[33:], "too-many-pixels"
        )
        yield _refused(f"webp claiming {width} x {height}", webp_claiming(width, height), "too-many-pixels")
    yield _refused(
        "progressive of 40 megapixels", with_jpeg_size(progressive, 7_000, 5_700), "took-too-much-memory"
    )
    yield _refused("webp of 40 megapixels", webp_claiming(7_000, 5_700), "took-too-much-memory")
    grey_below = with_jpeg_size(jpeg, 6_000, 6_000)
    yield HostileFile(
        "jpeg claiming more than it has", grey_below, frozenset(("photo-damaged",)), may_pass=True
    )
    yield _refused("jpeg of no height", with_jpeg_size(jpeg, 320, 0), "damaged")
    yield _refused("30 megabytes", jpeg + bytes(30_000_000 - len(jpeg)), "too-many-bytes")
    yield _refused("14 megabytes of filling", b"\xff\xd8" + b"\xff" * 14_000_000, "cut-short")
    yield _refused("a million empty segments", b"\xff\xd8" + b"\xff\xfe\x00\x02" * 1_000_000, "cut-short")
    yield _refused(
        "a million empty chunks", png_of(1, 1)[:33] + png_chunk(b"aaAa", b"") * 1_000_000, "cut-short"
    )


def _laden() -> Iterator[HostileFile]:
    """Sound pictures with something in their metadata: a decompression bomb, a loop, junk, or a note to run."""
    squeezed = zlib.compress(bytes(50_000_000), 9)
    bombs = {
        "zTXt": b"Comment\0\0" + squeezed,
        "iTXt": b"Comment\0\x01\0\0\0" + squeezed,
        "iCCP": b"profile\0\0" + squeezed,
    }
    for name, body in bombs.items():
        raw = png_of(64, 64, bit_depth=8, colour=2, extra=png_chunk(name.encode(), body))
        yield HostileFile(
            f"png with {name} bomb",
            raw,
            frozenset(("photo-damaged", "photo-took-too-much-memory")),
            may_pass=True,
        )
    looping = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x69\x87\x04\0\x01\0\0\0\x08\0\0\0\x08\0\0\0"
    for name, note in {
        "exif pointing at itself": looping,
        "exif of junk": b"Exif\0\0" + bytes(range(256)) * 20,
        "exif claiming millions": b"Exif\0\0MM\0*\0\0\0\x08\xff\xff" + bytes(40),
        "exif of orientation 99": b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x63\0\0\0\0\0\0\0",
        "late script": b"Exif\0\0" + bytes(2_000) + PAYLOAD,
    }.items():
        yield HostileFile(f"jpeg with {name}", with_jpeg_segment(plain(), 0xE1, note))
    profile = b"ICC_PROFILE\0\x01\x01" + random.Random(7).randbytes(3_000)
    yield HostileFile("jpeg with a profile of junk", with_jpeg_segment(plain(), 0xE2, profile))
    mpf = b"MPF\0II*\0\x08\0\0\0\x01\0\x01\xb0\x04\0\x01\0\0\0\xff\xff\xff\xff\0\0\0\0"
    yield HostileFile("jpeg claiming four thousand million frames", with_jpeg_segment(plain(), 0xE2, mpf))
    frames = [scene(64, 64, seed=seed) for seed in range(2, 12)]
    for kind in ("PNG", "WEBP"):
        yield HostileFile(f"moving {kind}", plain(kind, size=(64, 64), save_all=True, append_images=frames))


def _corrupt() -> Iterator[HostileFile]:
    chance = random.Random(11)
    sound = {
        "jpeg": plain(),
        "png": plain("PNG"),
        "webp": plain("WEBP"),
        "lossless webp": plain("WEBP", lossless=True),
    }
    anything = frozenset(
        f"photo-{code}" for code in ("damaged", "cut-short", "too-many-pixels", "took-too-much-memory")
    )
    for kind, raw in sound.items():
        for turn in range(15):
            spoilt = bytearray(raw)
            for _ in range(1 + turn * 3):
                spoilt[chance.randrange(12, 700 if turn % 2 else len(raw))] = chance.randrange(256)
            yield HostileFile(f"{kind} spoilt {turn}", bytes(spoilt), anything, may_pass=True)


@cache
def whole_corpus() -> tuple[HostileFile, ...]:
    """The corpus made once a run."""
    return tuple(hostile_corpus())
