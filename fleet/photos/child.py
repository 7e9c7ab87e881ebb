"""The only place where a stranger's picture is decoded: a process of its own that can do nothing else.

Run by `fleet.photos.intake` as `python -m fleet.photos.child MEMORY_BYTES CPU_SECONDS OUTPUT_BYTES`, one picture a
process, with an empty environment. It takes memory, processor time and output from itself before it reads a
byte, and the right to open anything (file, socket, pipe) or to start anything before it decodes one. The request
and the answer are frames (`fleet.photos.frames`): one part in; two out, the picture and its print copy, or none
and the word why not. No Django here.
"""

import io
import re
import resource
import sys
import warnings
from typing import Any, NamedTuple

# Pillow loads its parts when they are first wanted, and by then nothing can be opened: hence all of them here.
from PIL import (
    Image,
    ImageCms,
    ImageOps,
    JpegImagePlugin,
    MpoImagePlugin,
    PngImagePlugin,
    TiffImagePlugin,
    WebPImagePlugin,
)

from fleet.photos.frames import read_frame, write_frame

LOADED = (JpegImagePlugin, MpoImagePlugin, PngImagePlugin, TiffImagePlugin, WebPImagePlugin)
FORMATS = ("JPEG", "PNG", "WEBP")
JPEG_QUALITY = 85
WHITE = (255, 255, 255)
_STRIP_PIXELS = 2_000_000
_LEAST_GAP = 1.25
_EXIF_IFD, _GPS_IFD = 0x8769, 0x8825
_TAKEN, _TAKEN_OFFSET = 0x9003, 0x9011
_LATITUDE, _LONGITUDE = 2, 4
_ORIENTATION_CARRIERS = ("exif", "Raw profile type exif", "xmp", "XML:com.adobe.xmp")


class CameraFacts(NamedTuple):
    """What is kept of a photo's metadata: when by the camera's clock, its offset from UTC, and whether where."""

    taken: str
    offset: str
    had_position: bool


def main(arguments: list[str]) -> None:
    """Read one request, answer it, end. Every failure of a decoder becomes a word in the answer."""
    memory_bytes, cpu_seconds, output_bytes = (int(argument) for argument in arguments)
    _limit(resource.RLIMIT_AS, memory_bytes)
    # A second between the two, so that the signal says which limit it was.
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_seconds, cpu_seconds + 1))
    _limit(resource.RLIMIT_FSIZE, output_bytes)
    _limit(resource.RLIMIT_CORE, 0)
    job, (raw,) = read_frame(sys.stdin.buffer)
    shut_in()
    try:
        facts, parts = _developed(raw, job)
    except MemoryError:
        facts, parts = {"refused": "memory"}, ()
    except (Image.DecompressionBombError, Image.DecompressionBombWarning):
        facts, parts = {"refused": "pixels"}, ()
    except Exception as error:  # noqa: BLE001 - decoders raise what they like, and the parent wants a word
        facts, parts = {"refused": "damaged", "detail": type(error).__name__}, ()
    write_frame(sys.stdout.buffer, facts, *parts)


def shut_in() -> None:
    """Give up, for good, opening anything more: no file, socket or pipe, and nothing started."""
    Image.preinit()
    _limit(resource.RLIMIT_NPROC, 0)
    _limit(resource.RLIMIT_NOFILE, 0)


def _limit(what: int, value: int) -> None:
    resource.setrlimit(what, (value, value))


def _developed(raw: bytes, job: dict[str, Any]) -> tuple[dict[str, Any], tuple[bytes, ...]]:
    Image.MAX_IMAGE_PIXELS = job["max_pixels"]
    warnings.simplefilter("ignore")
    warnings.simplefilter("error", Image.DecompressionBombWarning)
    image = Image.open(io.BytesIO(raw), formats=FORMATS)
    if list(image.size) != job["announced_px"]:
        raise ValueError("The decoder sees another size than the header gave.")
    target = fitted(image.size, job["long_side_px"])
    image.draft(None, target)
    image.load()
    camera = camera_facts(image)
    picture = upright(in_srgb(shrunk(image, target), image.info.get("icc_profile")), image.info)
    print_size = fitted(picture.size, job["print_side_px"])
    print_copy = picture.resize(print_size, Image.Resampling.HAMMING, reducing_gap=1.0)
    facts = {
        "width": picture.width,
        "height": picture.height,
        "perceptual_hash": difference_hash(print_copy),
        **camera._asdict(),
    }
    return facts, (as_jpeg(picture), as_jpeg(print_copy))


def fitted(size: tuple[int, int], long_side: int) -> tuple[int, int]:
    """The size with its long side brought down to `long_side`; never enlarged, never under one pixel."""
    longest = max(size)
    if longest <= long_side:
        return size
    width, height = (max(1, round(side * long_side / longest)) for side in size)
    return width, height


def shrunk(image: Image.Image, target: tuple[int, int]) -> Image.Image:
    """The picture in RGB at the target size, never holding a second full-size copy of it.

    A large one is first reduced by whole numbers, a strip at a time, to no less than 1.25 times the target.
    """
    factor = int(min(image.width / target[0], image.height / target[1]) / _LEAST_GAP)
    if factor > 1:
        reduced = Image.new("RGB", (-(-image.width // factor), -(-image.height // factor)))
        rows = factor * max(1, _STRIP_PIXELS // (image.width * factor))
        for top in range(0, image.height, rows):
            strip = image.crop((0, top, image.width, min(image.height, top + rows)))
            reduced.paste(flat(strip).reduce(factor), (0, top // factor))
        image = reduced
    picture = flat(image)
    return picture if picture.size == target else picture.resize(target, Image.Resampling.HAMMING)


def flat(image: Image.Image) -> Image.Image:
    """The picture in plain RGB: what was see-through lies on white, sixteen bits a colour become eight."""
    if image.mode.startswith("I"):
        image = image.convert("I").point(lambda value: value / 256).convert("L")
    if image.has_transparency_data:
        layered = image if image.mode == "RGBA" else image.convert("RGBA")
        image = Image.new("RGB", image.size, WHITE)
        image.paste(layered, mask=layered.getchannel("A"))
    return image if image.mode == "RGB" else image.convert("RGB")


def in_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """The picture's colours as they look without the profile that is about to be dropped (phones use wide ones)."""
    if not profile:
        return picture
    try:
        own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        # The usual case, and its conversion to itself would cost as much as the decoding.
        if own.profile.xcolor_space.strip() != "RGB" or "sRGB" in ImageCms.getProfileDescription(own):
            return picture
        return ImageCms.profileToProfile(picture, own, ImageCms.createProfile("sRGB")) or picture
    except (ImageCms.PyCMSError, OSError, ValueError):
        return picture


def upright(picture: Image.Image, info: dict[str | tuple[int, int], Any]) -> Image.Image:
    """The picture turned the way it was held, by what the camera noted, and rid of everything but its pixels."""
    picture.info = {key: info[key] for key in _ORIENTATION_CARRIERS if key in info}
    try:
        turned = ImageOps.exif_transpose(picture)
    except MemoryError:
        raise
    except Exception:  # noqa: BLE001 - broken notes are no reason to lose a sound picture
        turned = picture
    turned.info = {}
    return turned


def camera_facts(image: Image.Image) -> CameraFacts:
    """When and whether where, by the file's EXIF; empty words where it says nothing readable."""
    try:
        exif = image.getexif()
        details, position = exif.get_ifd(_EXIF_IFD), exif.get_ifd(_GPS_IFD)
    except MemoryError:
        raise
    except Exception:  # noqa: BLE001 - as above
        return CameraFacts("", "", had_position=False)
    return CameraFacts(
        _plain(details.get(_TAKEN)),
        _plain(details.get(_TAKEN_OFFSET)),
        _LATITUDE in position and _LONGITUDE in position,
    )


def _plain(value: object) -> str:
    words = value.strip("\0 ") if isinstance(value, str) else ""
    return words if re.fullmatch(r"[0-9:+\- ]{1,32}", words) else ""


def difference_hash(picture: Image.Image) -> str:
    """Sixteen hex digits that stay alike when a picture is shrunk, re-encoded or brightened.

    64 bits: whether each cell of an 8 x 8 grid is brighter than the one to its left, row by row. A featureless
    picture (a lens cap, a dark night) gives noise or all zeros, so equal hashes suggest and never prove.
    """
    grey = picture.convert("L").resize((9, 8), Image.Resampling.LANCZOS).tobytes()
    bits = 0
    for row in range(8):
        for column in range(8):
            at = row * 9 + column
            bits = bits << 1 | (grey[at + 1] > grey[at])
    return f"{bits:016x}"


def as_jpeg(picture: Image.Image) -> bytes:
    """The picture as a JPEG of pixels alone."""
    kept = io.BytesIO()
    picture.save(kept, "JPEG", quality=JPEG_QUALITY)
    return kept.getvalue()


if __name__ == "__main__":
    main(sys.argv[1:])
