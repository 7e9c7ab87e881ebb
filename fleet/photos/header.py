"""What a picture file says about itself, read without decoding it: kind, size in pixels, whether its end is there.

Only slices and comparisons of bytes, so it is safe on anything anybody sends, and it costs next to nothing. It
runs before a decoder sees the file and again over what the decoder gives back.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

Kind = Literal["JPEG", "PNG", "WEBP"]

_PNG_MAGIC = b"\x89PNG\r\n\x1a\n"
_SOI, _EOI, _SOS, _APP0 = 0xD8, 0xD9, 0xDA, 0xE0
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_PROGRESSIVE = frozenset((0xC2, 0xC6, 0xCA, 0xCE))
_STANDALONE = frozenset((0x01, *range(0xD0, 0xD8)))
# Quantisation and Huffman tables, the frame, the restart interval and the scans: all a decoder needs.
_PIXEL_SEGMENTS = _FRAMES | {0xC4, 0xDB, 0xDD, _SOS, _EOI}
# Inside a scan 0xFF is followed by a stuffed zero or a restart marker until the scan ends.
_SCAN_END = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]")
# A camera writes some hundreds of segments or chunks; a file of millions would only waste our time.
_MOST_PIECES = 20_000

_LOOKS_LIKE = (
    (b"%PDF-", "a PDF"),
    (b"GIF8", "a GIF"),
    (b"%!PS", "a PostScript drawing"),
    (b"\xc5\xd0\xd3\xc6", "a PostScript drawing"),
    (b"II*\x00", "a TIFF picture"),
    (b"MM\x00*", "a TIFF picture"),
    (b"BM", "a bitmap"),
    (b"PK\x03\x04", "a zip or an office document"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
)
# Markers that other programs look for near the start of a file, and no camera writes there.
_FOREIGN = (
    (b"%pdf-", "a PDF"),
    (b"<svg", "an SVG drawing"),
    (b"<html", "a web page"),
    (b"<!doctype", "a web page"),
    (b"<script", "a web page"),
    (b"<?php", "a program"),
    (b"%!ps-adobe", "a PostScript drawing"),
)
_FOREIGN_WITHIN_BYTES = 1024
_HEIF_BRANDS = frozenset((b"heic", b"heix", b"hevc", b"mif1", b"msf1", b"heim", b"heis", b"avif"))


@dataclass(frozen=True, slots=True)
class Header:
    """A picture's own account of itself. `is_whole` is False when the end it promises is not there.

    `codec_bytes` is what the decoder keeps in memory besides the picture, whatever size is asked for: all the
    coefficients of a progressive JPEG; for WebP two canvases and a copy (measured: 16 bytes a pixel with the
    picture's own 4); next to nothing for the rest.
    """

    kind: Kind
    width: int
    height: int
    is_whole: bool
    codec_bytes: int = 0


@dataclass(frozen=True, slots=True)
class JpegSegment:
    """One marker segment: the marker's second byte, where the segment starts, and its payload."""

    marker: int
    at: int
    payload: bytes


def looks_like(raw: bytes) -> str:
    """What a file that is not an allowed picture seems to be, in words that follow "is"."""
    if not raw:
        return "empty"
    if raw[4:8] == b"ftyp":
        return "a HEIC picture" if raw[8:12] in _HEIF_BRANDS else "a video"
    start = raw[:64].lstrip()
    for magic, words in _LOOKS_LIKE:
        if start.startswith(magic):
            return words
    return foreign_content(raw) or "something else"


def foreign_content(raw: bytes) -> str | None:
    """What another program would take the file for by its first kilobyte, in words; None when nothing is there."""
    start = raw[:_FOREIGN_WITHIN_BYTES].lower()
    return next((words for marker, words in _FOREIGN if marker in start), None)


def read_header(raw: bytes) -> Header | None:
    """The header of a JPEG, PNG or WebP by its first bytes, never by a name; None for anything else.

    Width and height are 0 when the header breaks off before it gives them.
    """
    if raw.startswith(b"\xff\xd8\xff"):
        return _jpeg_header(raw)
    if raw.startswith(_PNG_MAGIC):
        return _png_header(raw)
    if raw.startswith(b"RIFF") and raw[8:12] == b"WEBP":
        return _webp_header(raw)
    return None


def jpeg_segments(raw: bytes) -> Iterator[JpegSegment]:
    """The marker segments of a JPEG in order, from just after the start up to and with the end marker.

    Stops early, without the end marker, where the file breaks off, stops making sense or goes on too long.
    """
    at = 2
    for _ in range(_MOST_PIECES):
        if raw[at : at + 1] != b"\xff" or at + 1 >= len(raw):
            return
        marker = raw[at + 1]
        if marker == 0xFF:
            at += 1
            continue
        if marker == _EOI:
            yield JpegSegment(marker, at, b"")
            return
        if marker in _STANDALONE:
            at += 2
            continue
        length = int.from_bytes(raw[at + 2 : at + 4], "big")
        end = at + 2 + length
        if length < 2 or end > len(raw):
            return
        yield JpegSegment(marker, at, raw[at + 4 : end])
        if marker == _SOS:
            scan_end = _SCAN_END.search(raw, end)
            if scan_end is None:
                return
            end = scan_end.start()
        at = end


def is_bare_jpeg(raw: bytes) -> bool:
    """Whether a JPEG holds pixels and nothing else: no comment, no EXIF, no profile, nothing after its end.

    The one extra allowed is the 14-byte JFIF head that many readers want, without its thumbnail.
    """
    if not raw.startswith(b"\xff\xd8\xff"):
        return False
    last = None
    for segment in jpeg_segments(raw):
        is_jfif = segment.marker == _APP0 and segment.payload[:5] == b"JFIF\0" and len(segment.payload) == 14
        if segment.marker not in _PIXEL_SEGMENTS and not is_jfif:
            return False
        last = segment
    return last is not None and last.marker == _EOI and last.at + 2 == len(raw)


def _jpeg_header(raw: bytes) -> Header:
    width = height = coefficient_bytes = 0
    is_whole = False
    for segment in jpeg_segments(raw):
        if segment.marker in _FRAMES and len(segment.payload) >= 6 and not width:
            height = int.from_bytes(segment.payload[1:3], "big")
            width = int.from_bytes(segment.payload[3:5], "big")
            if segment.marker in _PROGRESSIVE:
                coefficient_bytes = _coefficient_bytes(segment.payload, width, height)
        is_whole = segment.marker == _EOI
    return Header("JPEG", width, height, is_whole, coefficient_bytes)


def _coefficient_bytes(frame: bytes, width: int, height: int) -> int:
    samplings = [
        (frame[at + 1] >> 4, frame[at + 1] & 15)
        for at in range(6, 6 + 3 * frame[5], 3)
        if at + 2 < len(frame)
    ]
    widest = max((across for across, _ in samplings), default=0) or 1
    tallest = max((down for _, down in samplings), default=0) or 1
    total = 0
    for across, down in samplings:
        blocks_across = -(-width * across // (8 * widest))
        blocks_down = -(-height * down // (8 * tallest))
        total += blocks_across * blocks_down * 128
    return total


def _png_header(raw: bytes) -> Header:
    width = height = 0
    if raw[12:16] == b"IHDR" and len(raw) >= 24:
        width = int.from_bytes(raw[16:20], "big")
        height = int.from_bytes(raw[20:24], "big")
    at = len(_PNG_MAGIC)
    for _ in range(_MOST_PIECES):
        if at >= len(raw):
            break
        chunk = raw[at + 4 : at + 8]
        at += 12 + int.from_bytes(raw[at : at + 4], "big")
        if chunk == b"IEND":
            return Header("PNG", width, height, at <= len(raw))
    return Header("PNG", width, height, is_whole=False)


def _webp_header(raw: bytes) -> Header:
    is_whole = 8 + int.from_bytes(raw[4:8], "little") <= len(raw)
    width = height = 0
    chunk = raw[12:16]
    if chunk == b"VP8X" and len(raw) >= 30:
        width = 1 + int.from_bytes(raw[24:27], "little")
        height = 1 + int.from_bytes(raw[27:30], "little")
    elif chunk == b"VP8L" and len(raw) >= 25:
        bits = int.from_bytes(raw[21:25], "little")
        width = 1 + (bits & 0x3FFF)
        height = 1 + (bits >> 14 & 0x3FFF)
    elif chunk == b"VP8 " and len(raw) >= 30:
        width = int.from_bytes(raw[26:28], "little") & 0x3FFF
        height = int.from_bytes(raw[28:30], "little") & 0x3FFF
    return Header("WEBP", width, height, is_whole, codec_bytes=12 * width * height)
