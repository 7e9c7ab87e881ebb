"""Pictures to try the photo intake with: a real-looking camera JPEG, and small sound or doctored pictures.

Everything is drawn or put together here from a seed, so two runs give the same bytes. The camera, its owner and its
place are invented.
"""

import io
import random
import struct
import zlib

from PIL import Image, ImageCms, ImageDraw, JpegImagePlugin

# Strings a camera or its owner leaves in a file; none may be found in what is stored.
CAMERA_SERIAL = "SLK-CAM-0047112"
CAMERA_OWNER = "Odette Varga-Quill"
CAMERA_NOTE = "left rear, taken by hand"
CAMERA_TRACES = (
    CAMERA_SERIAL.encode(),
    CAMERA_OWNER.encode(),
    CAMERA_NOTE.encode(),
    b"Exif",
    b"http://ns.adobe",
)

# How the sensor's rows lie for each EXIF orientation, seen from the upright picture.
_AS_HELD = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


def scene(width: int = 900, height: int = 1200, *, seed: int = 1) -> Image.Image:
    """A yard with a water cart in it, upright, in RGB: sky, dirt, a tank on wheels, mud, the grain of a sensor."""
    chance = random.Random(seed)
    small = Image.new("RGB", (60, 80), (168, 196, 214))
    draw = ImageDraw.Draw(small)
    draw.rectangle((0, 46, 60, 80), fill=(158, 112, 74))
    for _ in range(40):
        x, y = chance.randrange(60), chance.randrange(50, 80)
        tone = chance.randrange(-24, 24)
        draw.ellipse((x, y, x + 7, y + 2), fill=(150 + tone, 106 + tone, 70 + tone))
    picture = small.resize((width, height), Image.Resampling.BICUBIC)
    _draw_cart(ImageDraw.Draw(picture), width, height, chance)
    grain = Image.frombytes("L", (256, 256), chance.randbytes(256 * 256)).resize((width, height))
    return Image.blend(picture, Image.merge("RGB", (grain, grain, grain)), 0.08)


def _draw_cart(draw: ImageDraw.ImageDraw, width: int, height: int, chance: random.Random) -> None:
    def box(left: float, top: float, right: float, bottom: float) -> tuple[int, int, int, int]:
        return (int(left * width), int(top * height), int(right * width), int(bottom * height))

    paint = tuple(chance.randrange(120, 240) for _ in "rgb")
    draw.rounded_rectangle(box(0.22, 0.34, 0.92, 0.58), radius=width // 12, fill=paint, outline=(40, 40, 40))
    draw.rectangle(box(0.05, 0.38, 0.21, 0.62), fill=(222, 222, 216), outline=(40, 40, 40))
    draw.rectangle(box(0.07, 0.40, 0.17, 0.48), fill=(70, 92, 104))
    draw.rectangle(box(0.05, 0.60, 0.94, 0.63), fill=(52, 52, 52))
    for middle in (0.14, 0.66, 0.82):
        draw.ellipse(box(middle - 0.07, 0.58, middle + 0.07, 0.69), fill=(24, 24, 24))
        draw.ellipse(box(middle - 0.03, 0.61, middle + 0.03, 0.66), fill=(150, 150, 150))
    for _ in range(60):
        x, y, size = chance.uniform(0.1, 0.9), chance.uniform(0.5, 0.68), chance.uniform(0.004, 0.02)
        draw.ellipse(box(x, y, x + size, y + size * 0.7), fill=(118, 82, 52))


def camera_jpeg(
    *,
    width: int = 3024,
    height: int = 4032,
    orientation: int = 6,
    taken: str | None = "2026:03:02 06:41:10",
    offset: str | None = None,
    has_position: bool = True,
    picture: Image.Image | None = None,
    seed: int = 1,
) -> bytes:
    """A photo as a phone writes it: the sensor's rows plus a note how it was held, time, place, serial and owner.

    width, height: of the upright picture; orientation: 1 to 8; offset: from UTC, like "+10:30", which most cameras
    leave out; picture: drawn by `scene` when not given.
    """
    upright = picture.convert("RGB") if picture else scene(width, height, seed=seed)
    as_held = upright.transpose(_AS_HELD[orientation]) if orientation in _AS_HELD else upright
    exif = Image.Exif()
    exif.update(
        {0x010F: "Invented Optics", 0x0110: "Field Model 3", 0x0112: orientation, 0x013B: CAMERA_OWNER}
    )
    details = exif.get_ifd(0x8769)
    details.update({0xA431: CAMERA_SERIAL, 0x829A: 0.004, 0x8827: 125})
    if taken is not None:
        details[0x9003] = taken
    if offset is not None:
        details[0x9011] = offset
    if has_position:
        exif.get_ifd(0x8825).update({1: "S", 2: (34.0, 31.0, 12.5), 3: "E", 4: (138.0, 44.0, 51.0)})
    kept = io.BytesIO()
    as_held.save(
        kept,
        "JPEG",
        quality=88,
        exif=exif,
        comment=CAMERA_NOTE,
        icc_profile=ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
        xmp=b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><about>http://ns.adobe.com/ '
        + CAMERA_SERIAL.encode()
        + b"</about></x:xmpmeta>",
    )
    return kept.getvalue()


def plain(
    kind: str = "JPEG", *, size: tuple[int, int] = (320, 240), mode: str = "RGB", **options: object
) -> bytes:
    """A small sound picture of a kind Pillow can write."""
    kept = io.BytesIO()
    scene(*size).convert(mode).save(kept, kind, **options)
    return kept.getvalue()


def with_jpeg_size(raw: bytes, width: int, height: int) -> bytes:
    """The JPEG with another size written in its frame header, as a bomb would claim."""
    at = next(at for at in range(2, len(raw) - 9) if raw[at] == 0xFF and raw[at + 1] in (0xC0, 0xC2))
    return raw[: at + 5] + struct.pack(">HH", height, width) + raw[at + 9 :]


def with_jpeg_segment(raw: bytes, marker: int, payload: bytes) -> bytes:
    """The JPEG with one more segment right behind its start marker."""
    return raw[:2] + bytes((0xFF, marker)) + struct.pack(">H", len(payload) + 2) + payload + raw[2:]


def png_of(width: int, height: int, *, bit_depth: int = 1, colour: int = 0, extra: bytes = b"") -> bytes:
    """A sound PNG of one flat colour, of any size, put together without ever holding its pixels."""
    samples = {0: 1, 2: 3, 6: 4}[colour]
    row = b"\0" + b"\0" * ((width * samples * bit_depth + 7) // 8)
    squeeze = zlib.compressobj(1)
    body = b"".join(squeeze.compress(row) for _ in range(height)) + squeeze.flush()
    head = png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, bit_depth, colour, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + extra + png_chunk(b"IDAT", body) + png_chunk(b"IEND", b"")


def png_chunk(name: bytes, body: bytes) -> bytes:
    """One PNG chunk with its length and checksum."""
    return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))


def webp_claiming(width: int, height: int) -> bytes:
    """A WebP whose extended header claims a canvas of that size."""
    canvas = bytes(4) + (width - 1).to_bytes(3, "little") + (height - 1).to_bytes(3, "little")
    lossy = plain("WEBP")[12:]
    body = b"WEBP" + b"VP8X" + struct.pack("<I", 10) + canvas + lossy
    return b"RIFF" + struct.pack("<I", len(body)) + body


def scan_bomb(side: int, *, scans: int) -> bytes:
    """A small progressive JPEG that has its decoder go over the whole picture again and again."""
    kept = io.BytesIO()
    Image.new("L", (side, side), 90).save(kept, "JPEG", progressive=True)
    raw = kept.getvalue()
    last_table = raw.rindex(b"\xff\xc4")
    return raw[:-2] + raw[last_table:-2] * scans + raw[-2:]


def leftovers(raw: bytes) -> list[str]:
    """What a stored JPEG carries besides pixels, found by Pillow's own reader and not by ours."""
    image = Image.open(io.BytesIO(raw))
    assert isinstance(image, JpegImagePlugin.JpegImageFile)
    segments = [name for name, body in image.applist if not (name == "APP0" and body.startswith(b"JFIF\0"))]
    notes = [key for key in image.info if key not in {"jfif", "jfif_version", "jfif_unit", "jfif_density"}]
    tail = [] if raw.endswith(b"\xff\xd9") else ["something behind the end"]
    return segments + [str(note) for note in notes] + tail
