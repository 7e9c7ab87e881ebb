"""A photo from outside comes in here: refused with a sentence, or made into pictures of our own.

What is kept is drawn anew from the decoded pixels, upright, at most 1,600 pixels long, without a byte of what
came with it: no position, no serial number, no second file behind the first. The original's SHA-256 is kept
beside the stored one's, so what a tablet signed can still be tied to what is stored.

Cheap checks come first, on bytes alone; only then does a decoder see the file, in a process of its own
(`fleet.photos.child`), and what that process answers is checked like anything else from outside.
"""

import hashlib
import re
import signal
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

from fleet.photos.frames import read_frame, write_frame
from fleet.photos.header import Header, foreign_content, is_bare_jpeg, looks_like, read_header
from fleet.photos.refusals import (
    CouldNotBeRead,
    CutShort,
    HashDiffers,
    NotAPicture,
    TookTooLong,
    TookTooMuchMemory,
    TooManyBytes,
    TooManyPixels,
    TwoFilesInOne,
)

MEBIBYTE = 2**20
_PROJECT = Path(__file__).parents[2]
# The child before it decodes (35 MB, measured) and the smaller pictures it makes.
_CHILD_OWN_BYTES = 64 * MEBIBYTE
_OUTPUT_BYTES = 8 * MEBIBYTE


@dataclass(frozen=True, slots=True)
class IntakeLimits:
    """What one photo may cost. Bytes, pixels and memory are caps; the sides are what it is brought down to."""

    most_bytes: int = 15_000_000
    most_pixels: int = 40_000_000
    long_side_px: int = 1600
    print_side_px: int = 600
    memory_bytes: int = 256 * MEBIBYTE
    cpu_seconds: int = 10
    wall_seconds: float = 30.0


@dataclass(frozen=True, slots=True)
class _Facts:
    """The child's answer once it has the right shape."""

    width: int
    height: int
    perceptual_hash: str
    taken: str
    offset: str
    had_position: bool

    @classmethod
    def from_answer(cls, facts: dict[str, Any]) -> "_Facts | None":
        match facts:
            case {
                "width": int(width),
                "height": int(height),
                "perceptual_hash": str(perceptual_hash),
                "taken": str(taken),
                "offset": str(offset),
                "had_position": bool(had_position),
            } if re.fullmatch(r"[0-9a-f]{16}", perceptual_hash):
                return cls(width, height, perceptual_hash, taken, offset, had_position)
            case _:
                return None


@dataclass(frozen=True, slots=True)
class TakenPhoto:
    """A photo as it is kept, and the few facts worth keeping of what came.

    `stored` and `print_copy` are JPEGs of pixels alone; `width` and `height` are those of `stored`. `taken_words`
    is the camera's own clock as written, "" when it says nothing; `taken_at` is that instant in UTC, or None
    when the camera did not note its offset, which most do not. A camera's clock may be wrong by years.
    """

    original_sha256: str
    stored_sha256: str
    stored: bytes
    print_copy: bytes
    width: int
    height: int
    perceptual_hash: str
    taken_at: datetime | None
    taken_words: str
    had_position: bool


DEFAULT_LIMITS = IntakeLimits()


def take_in(raw: bytes, *, expected_sha256: str | None, limits: IntakeLimits = DEFAULT_LIMITS) -> TakenPhoto:
    """Check a photo, redraw it and give back what is to be kept. Nothing is written anywhere.

    raw: the file as it came; expected_sha256: the hex digest the sender announced, None where there was none.
    Blocks for about a quarter of a second a photo, at most `limits.wall_seconds`. Raises a `PhotoRefused`
    (`fleet.photos.refusals`) whose sentence can be shown as it stands.
    """
    if len(raw) > limits.most_bytes:
        raise TooManyBytes(size_bytes=len(raw), most_bytes=limits.most_bytes)
    original_sha256 = hashlib.sha256(raw).hexdigest()
    if expected_sha256 is not None and expected_sha256.lower() != original_sha256:
        raise HashDiffers(announced_sha256=expected_sha256, found_sha256=original_sha256)
    header = _checked_header(raw, limits)
    facts, parts = _decode_apart(raw, header, limits)
    answer, stored, print_copy = _checked_answer(facts, parts, header, limits)
    taken_words, taken_at = _when(answer.taken, answer.offset)
    return TakenPhoto(
        original_sha256=original_sha256,
        stored_sha256=hashlib.sha256(stored).hexdigest(),
        stored=stored,
        print_copy=print_copy,
        width=answer.width,
        height=answer.height,
        perceptual_hash=answer.perceptual_hash,
        taken_at=taken_at,
        taken_words=taken_words,
        had_position=answer.had_position,
    )


def _checked_header(raw: bytes, limits: IntakeLimits) -> Header:
    header = read_header(raw)
    if header is None:
        raise NotAPicture(found=looks_like(raw))
    if (found := foreign_content(raw)) is not None:
        raise TwoFilesInOne(found=found)
    if header.width * header.height > limits.most_pixels:
        raise TooManyPixels(width=header.width, height=header.height, most_pixels=limits.most_pixels)
    if not header.is_whole:
        raise CutShort(size_bytes=len(raw))
    if not header.width or not header.height:
        raise CouldNotBeRead(how="no size in the header")
    # libjpeg and libwebp say "damaged" when memory runs out, so what they need is reckoned beforehand.
    if _memory_needed_bytes(raw, header, limits) > limits.memory_bytes:
        raise TookTooMuchMemory(width=header.width, height=header.height, most_bytes=limits.memory_bytes)
    return header


def _memory_needed_bytes(raw: bytes, header: Header, limits: IntakeLimits) -> int:
    picture_bytes = 4 * header.width * header.height
    if header.kind == "JPEG" and max(header.width, header.height) >= 2 * limits.long_side_px:
        # A JPEG is decoded at half size or less when twice the wanted size or more.
        picture_bytes //= 4
    return _CHILD_OWN_BYTES + len(raw) + header.codec_bytes + picture_bytes


def _decode_apart(
    raw: bytes, header: Header, limits: IntakeLimits
) -> tuple[dict[str, Any], tuple[bytes, ...]]:
    """Have the child decode the picture; its answer as it gave it, to be believed by nobody yet."""
    request = BytesIO()
    job = {
        "announced_px": [header.width, header.height],
        "max_pixels": limits.most_pixels,
        "long_side_px": limits.long_side_px,
        "print_side_px": limits.print_side_px,
    }
    write_frame(request, job, raw)
    allowances = (limits.memory_bytes, limits.cpu_seconds, _OUTPUT_BYTES)
    # The answer goes to a file and not a pipe, so that the kernel bounds what the child can make us read.
    with tempfile.TemporaryFile() as answer:
        try:
            ended = subprocess.run(
                [sys.executable, "-s", "-m", "fleet.photos.child", *map(str, allowances)],
                input=request.getbuffer(),
                stdout=answer,
                stderr=subprocess.DEVNULL,
                env={},
                cwd=_PROJECT,
                timeout=limits.wall_seconds,
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise TookTooLong(cpu_seconds=limits.cpu_seconds, wall_seconds=limits.wall_seconds) from None
        if ended.returncode == -signal.SIGXCPU:
            raise TookTooLong(cpu_seconds=limits.cpu_seconds, wall_seconds=limits.wall_seconds)
        if ended.returncode == -signal.SIGKILL:
            # Nothing of ours sends this: the machine itself ran out.
            raise _too_much_memory(header, limits)
        if ended.returncode:
            raise CouldNotBeRead(how=f"exit {ended.returncode}")
        answer.seek(0)
        try:
            return read_frame(answer)
        except (ValueError, RecursionError) as error:
            raise CouldNotBeRead(how=str(error)) from error


def _checked_answer(
    facts: dict[str, Any], parts: tuple[bytes, ...], header: Header, limits: IntakeLimits
) -> tuple[_Facts, bytes, bytes]:
    match facts.get("refused"):
        case None:
            pass
        case "memory":
            raise _too_much_memory(header, limits)
        case "pixels":
            raise TooManyPixels(width=header.width, height=header.height, most_pixels=limits.most_pixels)
        case _:
            raise CouldNotBeRead(how=str(facts.get("detail", ""))[:80])
    # A decoder that was broken into would answer what it likes, so nothing passes that it could not have drawn.
    answer = _Facts.from_answer(facts)
    if answer is None or len(parts) != 2:
        raise CouldNotBeRead(how="answer without its facts")
    stored, print_copy = parts
    if not _is_ours(stored, limits.long_side_px, (answer.width, answer.height)):
        raise CouldNotBeRead(how="answer with another picture")
    if not _is_ours(print_copy, limits.print_side_px):
        raise CouldNotBeRead(how="answer with another print copy")
    return answer, stored, print_copy


def _is_ours(picture: bytes, long_side_px: int, size: tuple[int, int] | None = None) -> bool:
    header = read_header(picture) if is_bare_jpeg(picture) else None
    if header is None or min(header.width, header.height) < 1:
        return False
    return max(header.width, header.height) <= long_side_px and size in (None, (header.width, header.height))


def _too_much_memory(header: Header, limits: IntakeLimits) -> TookTooMuchMemory:
    return TookTooMuchMemory(width=header.width, height=header.height, most_bytes=limits.memory_bytes)


def _when(taken: str, offset: str) -> tuple[str, datetime | None]:
    """The camera's clock as words, and as an instant where its offset is known. EXIF writes 2026:03:02 06:41:10."""
    if not re.fullmatch(r"\d{4}:\d\d:\d\d \d\d:\d\d:\d\d", taken):
        return "", None
    words = taken.replace(":", "-", 2)
    try:
        datetime.fromisoformat(words)
    except ValueError:
        return "", None
    if not re.fullmatch(r"[+-]\d\d:\d\d", offset):
        return words, None
    try:
        return f"{words} {offset}", datetime.fromisoformat(words + offset).astimezone(UTC)
    except (ValueError, OverflowError):
        return words, None
